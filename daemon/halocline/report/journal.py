"""What the record tells in lists: runs, alarms, counters, holes."""

import contextlib
import json
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halocline.report.schema import RUN_FIGURES
from halocline.report.store import StoreError, connect_to_read

MAX_LISTED = 500


@dataclass(frozen=True, slots=True)
class Run:
    """One run as recorded; `why` is None while it goes on. Times are Unix seconds or None without a clock."""

    id: int
    run: str
    boot: str
    started_s: float | None
    ended_s: float | None
    asked: Mapping[str, Any]
    target_l: float | None
    why: Mapping[str, Any] | None
    first_out: str | None
    figures: Mapping[str, float | None]


@dataclass(frozen=True, slots=True)
class AlarmChange:
    """One step in the life of an alarm."""

    boot: str
    seq: int
    mono_s: float | None
    wall_s: float | None
    alarm: str
    state: str
    priority: str
    values: Mapping[str, Any]


class Journal:
    """Reads the record, a connection a question. Raises StoreError when it cannot be read."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def runs(self, limit: int = MAX_LISTED) -> list[Run]:
        """The newest runs, newest first."""
        with self._reading() as connection:
            rows = connection.execute(f"{_RUNS} ORDER BY runs.id DESC LIMIT ?", (limit,))
            return [_run(row) for row in rows]

    def run(self, name: str) -> Run | None:
        """A run by its number in the record, or by the id control gave it (the newest of that id)."""
        number = int(name) if name.isascii() and name.isdigit() and len(name) < 16 else -1
        with self._reading() as connection:
            query = f"{_RUNS} WHERE runs.run = ? OR runs.id = ? ORDER BY runs.run = ? DESC, runs.id DESC LIMIT 1"
            row = connection.execute(query, (name, number, name)).fetchone()
        return None if row is None else _run(row)

    def alarms(self, limit: int = MAX_LISTED) -> list[AlarmChange]:
        """The newest steps in the lives of alarms, newest first."""
        query = (
            "SELECT alarms.*, boots.boot AS boot_name FROM alarms"
            " JOIN boots ON boots.id = alarms.boot ORDER BY alarms.boot DESC, seq DESC LIMIT ?"
        )
        with self._reading() as connection:
            return [
                AlarmChange(
                    boot=row["boot_name"],
                    seq=row["seq"],
                    mono_s=row["mono_s"],
                    wall_s=row["wall_s"],
                    alarm=row["alarm"],
                    state=row["state"],
                    priority=row["priority"],
                    values=json.loads(row["details"]),
                )
                for row in connection.execute(query, (limit,))
            ]

    def counters(self) -> dict[str, float]:
        """Seconds of each actuator, runs, litres, energy, flushes, since the record began."""
        with self._reading() as connection:
            return dict(connection.execute("SELECT name, value FROM counters").fetchall())

    def last_event(self, kind: str) -> dict[str, Any] | None:
        """The newest event of a kind, with its `wall_s` as the record knows it now."""
        query = "SELECT body, wall_s FROM events WHERE kind = ? ORDER BY boot DESC, seq DESC LIMIT 1"
        with self._reading() as connection:
            row = connection.execute(query, (kind,)).fetchone()
        return None if row is None else {**json.loads(row["body"]), "wall_s": row["wall_s"]}

    def holes(self, limit: int = MAX_LISTED) -> list[dict[str, Any]]:
        """What the record has not got: numbers of a boot; `to_seq` None where nobody knows how many."""
        query = (
            "SELECT boots.boot AS boot, from_seq, to_seq, reason FROM holes"
            " JOIN boots ON boots.id = holes.boot ORDER BY boots.id DESC, from_seq DESC LIMIT ?"
        )
        with self._reading() as connection:
            return [dict(row) for row in connection.execute(query, (limit,))]

    @contextlib.contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        with contextlib.closing(connect_to_read(self._path)) as connection:
            try:
                yield connection
            except sqlite3.Error as error:
                raise StoreError(f"{self._path}: the record cannot be read: {error}") from None


_RUNS = "SELECT runs.*, boots.boot AS boot_name FROM runs JOIN boots ON boots.id = runs.boot"


def _run(row: sqlite3.Row) -> Run:
    return Run(
        id=row["id"],
        run=row["run"],
        boot=row["boot_name"],
        started_s=row["started_wall_s"],
        ended_s=row["ended_wall_s"],
        asked=json.loads(row["asked"] or "{}"),
        target_l=row["target_l"],
        why=json.loads(row["why"]) if row["why"] else None,
        first_out=row["first_out"],
        figures={figure: row[figure] for figure in RUN_FIGURES},
    )
