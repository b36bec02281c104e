"""What the record tells in lists: runs, alarms, work by hand, calibrations, counters, holes."""

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from halocline.link.captures import CAPTURE
from halocline.report.database_open import DamagedError, reading
from halocline.report.row_accounting import Gap, gaps
from halocline.report.schema import CUT_OFF, RUN_FIGURES

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
    started_mono_s: float | None = None
    ended_mono_s: float | None = None
    origin: str | None = None
    who: str | None = None
    configuration: Mapping[str, Any] = field(default_factory=dict)
    simulated: bool = False
    energy_basis: str | None = None

    @property
    def cut_off(self) -> bool:
        """Whether nobody told its end: its figures are what it had reached at least."""
        return self.why is not None and self.why.get("id") == CUT_OFF


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


@dataclass(frozen=True, slots=True)
class Happened:
    """An event as recorded: what control said of it, and when that was as the record knows it now."""

    boot: str
    seq: int
    mono_s: float | None
    wall_s: float | None
    kind: str
    body: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Work:
    """Something done by hand: `counters` as they stood then; `details`: what it is about and what was read, of a
    calibration its arguments."""

    boot: str
    seq: int
    wall_s: float | None
    kind: str
    note: str
    who: str | None
    counters: Mapping[str, float] = field(default_factory=dict)
    details: Mapping[str, Any] = field(default_factory=dict)
    order: tuple[int, int] = (0, 0)
    """Later than those whose order is less, whatever the clock says."""


class Journal:
    """Reads the record, a connection a question. Raises StoreError when it cannot be read."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def runs(self, limit: int = MAX_LISTED) -> list[Run]:
        """The newest runs, newest first."""
        with reading(self._path) as connection:
            rows = connection.execute(f"{_RUNS} ORDER BY runs.id DESC LIMIT ?", (limit,))
            return [_run(row) for row in rows]

    def run(self, name: str) -> Run | None:
        """A run by its number in the record, or by the id control gave it (the newest of that id)."""
        number = int(name) if name.isascii() and name.isdigit() and len(name) < 16 else -1
        with reading(self._path) as connection:
            query = f"{_RUNS} WHERE runs.run = ? OR runs.id = ? ORDER BY runs.run = ? DESC, runs.id DESC LIMIT 1"
            row = connection.execute(query, (name, number, name)).fetchone()
        return None if row is None else _run(row)

    def alarms(self, limit: int = MAX_LISTED) -> list[AlarmChange]:
        """The newest steps in the lives of alarms, newest first."""
        return [_alarm(row) for row in self._newest("alarms", limit)]

    def events(self, limit: int = MAX_LISTED, *, before: tuple[str, int] | None = None) -> list[Happened]:
        """The newest events, newest first; older than the one of that boot and number when `before` names one.
        Without the pieces of captures, which are for programs: `export captures` tells them."""
        return [
            Happened(row["boot_name"], row["seq"], row["mono_s"], row["wall_s"], row["kind"], parsed(row["body"]))
            for row in self._newest("events", limit, before, f"kind <> '{CAPTURE}'")
        ]

    def alarms_of(self, run: Run) -> list[AlarmChange]:
        """What alarms did during a run, oldest first."""
        query = (
            "SELECT alarms.*, boots.boot AS boot_name FROM alarms JOIN boots ON boots.id = alarms.boot"
            " WHERE boots.boot = ? AND mono_s BETWEEN ? AND ? ORDER BY seq LIMIT ?"
        )
        started_s = run.started_mono_s if run.started_mono_s is not None else 0.0
        ended_s = run.ended_mono_s if run.ended_mono_s is not None else 9e15
        with reading(self._path) as connection:
            return [_alarm(row) for row in connection.execute(query, (run.boot, started_s, ended_s, MAX_LISTED))]

    def work(self, limit: int = MAX_LISTED) -> list[Work]:
        """The newest work done by hand, newest first."""
        return [
            Work(
                row["boot_name"],
                row["seq"],
                row["wall_s"],
                row["kind"],
                row["note"],
                row["who"],
                counters=parsed(row["counters"]),
                details=parsed(row["details"]),
                order=(row["boot"], row["seq"]),
            )
            for row in self._newest("work", limit)
        ]

    def commissioning(self) -> list[Happened]:
        """Every step of a commissioning that was signed, oldest first."""
        query = (
            "SELECT events.*, boots.boot AS boot_name FROM work JOIN events ON events.boot = work.boot"
            " AND events.seq = work.seq JOIN boots ON boots.id = events.boot"
            " WHERE work.kind = 'commissioned' ORDER BY events.boot, events.seq"
        )
        with reading(self._path) as connection:
            return [
                Happened(row["boot_name"], row["seq"], row["mono_s"], row["wall_s"], row["kind"], parsed(row["body"]))
                for row in connection.execute(query)
            ]

    def calibrations(self, limit: int = MAX_LISTED) -> list[Work]:
        """The newest calibrations, newest first; `kind` is the channel, or membrane."""
        return [
            Work(
                row["boot_name"],
                row["seq"],
                row["wall_s"],
                row["channel"] or "",
                "",
                row["who"],
                details=parsed(row["details"]),
                order=(row["boot"], row["seq"]),
            )
            for row in self._newest("calibrations", limit)
        ]

    def _newest(
        self, table: str, limit: int, before: tuple[str, int] | None = None, which: str = "1"
    ) -> list[sqlite3.Row]:
        older = "1"
        values: tuple[Any, ...] = (limit,)
        if before is not None:
            older = f"({table}.boot, seq) < (SELECT id, ? FROM boots WHERE boot = ?)"
            values = (before[1], before[0], limit)
        query = (
            f"SELECT {table}.*, boots.boot AS boot_name FROM {table} JOIN boots ON boots.id = {table}.boot"
            f" WHERE {which} AND {older} ORDER BY {table}.boot DESC, seq DESC LIMIT ?"
        )
        with reading(self._path) as connection:
            return connection.execute(query, values).fetchall()

    def clock_settings(self, limit: int = MAX_LISTED) -> list[dict[str, Any]]:
        """When the clock became known or was set to something else, newest first: clock = `mono_s` + `wall_offset_s`
        from there on."""
        query = (
            "SELECT boots.boot AS boot, seq, mono_s, wall_s, clock_settings.wall_offset_s FROM clock_settings"
            " JOIN boots ON boots.id = clock_settings.boot ORDER BY boots.id DESC, seq DESC LIMIT ?"
        )
        with reading(self._path) as connection:
            return [dict(row) for row in connection.execute(query, (limit,))]

    def counters(self) -> dict[str, float]:
        """Seconds of each actuator, runs, litres, energy, flushes, since the record began."""
        with reading(self._path) as connection:
            return dict(connection.execute("SELECT name, value FROM counters").fetchall())

    def last_event(self, kind: str) -> dict[str, Any] | None:
        """The newest event of a kind, with its `wall_s` as the record knows it now."""
        query = "SELECT body, wall_s FROM events WHERE kind = ? ORDER BY boot DESC, seq DESC LIMIT 1"
        with reading(self._path) as connection:
            row = connection.execute(query, (kind,)).fetchone()
        return None if row is None else {**parsed(row["body"]), "wall_s": row["wall_s"]}

    def unaccounted(self) -> list[Gap]:
        """What is missing or altered although no hole is admitted: something has changed the file. Reads every row."""
        try:
            with reading(self._path) as connection:
                return list(gaps(connection))
        except (TypeError, ValueError, OverflowError) as error:
            raise DamagedError(f"{self._path}: the record is damaged: {error}") from None

    def holes(self, limit: int = MAX_LISTED) -> list[dict[str, Any]]:
        """What the record has not got: numbers of a boot; `to_seq` None where nobody knows how many."""
        query = (
            "SELECT boots.boot AS boot, from_seq, to_seq, reason FROM holes"
            " JOIN boots ON boots.id = holes.boot ORDER BY boots.id DESC, from_seq DESC LIMIT ?"
        )
        with reading(self._path) as connection:
            return [dict(row) for row in connection.execute(query, (limit,))]


def parsed(text: str | None) -> dict[str, Any]:
    """A JSON object on file; an empty one where it is damaged, which must not hide the rest of the list."""
    try:
        content = json.loads(text or "{}")
    except (ValueError, TypeError):
        return {}
    return content if isinstance(content, dict) else {}


_RUNS = (
    "SELECT runs.*, boots.boot AS boot_name, boots.configuration, boots.simulated FROM runs"
    " JOIN boots ON boots.id = runs.boot"
)


def _run(row: sqlite3.Row) -> Run:
    return Run(
        id=row["id"],
        run=row["run"],
        boot=row["boot_name"],
        started_s=row["started_wall_s"],
        ended_s=row["ended_wall_s"],
        asked=parsed(row["asked"]),
        target_l=row["target_l"],
        why={"id": "unreadable", **parsed(row["why"])} if row["why"] else None,
        first_out=row["first_out"],
        figures={figure: row[figure] for figure in RUN_FIGURES},
        started_mono_s=row["started_mono_s"],
        ended_mono_s=row["ended_mono_s"],
        origin=row["origin"],
        who=row["who"],
        configuration=parsed(row["configuration"]),
        simulated=bool(row["simulated"]),
        energy_basis=row["energy_basis"],
    )


def _alarm(row: sqlite3.Row) -> AlarmChange:
    return AlarmChange(
        boot=row["boot_name"],
        seq=row["seq"],
        mono_s=row["mono_s"],
        wall_s=row["wall_s"],
        alarm=row["alarm"],
        state=row["state"],
        priority=row["priority"],
        values=parsed(row["details"]),
    )
