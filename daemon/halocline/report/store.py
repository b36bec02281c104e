"""The record on disk: what the link said, each row and event exactly once, with its holes admitted."""

import contextlib
import json
import logging
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, NamedTuple

from sqlite_utils import Database

from halocline.link.client import BEGINNING, Position
from halocline.plant.vocabulary import ACTUATORS, CHANNELS, DERIVED
from halocline.report.schema import RUN_FIGURES, SAMPLE_COLUMNS, migrations

RETENTION_STEP = 2000
LONGEST_ROW_S = 5.0
BUSY_S = 5.0

_INSERT_SAMPLE = "INSERT OR IGNORE INTO samples VALUES (" + ",".join("?" * len(SAMPLE_COLUMNS)) + ")"
_INSERT_EVENT = "INSERT OR IGNORE INTO events (boot, seq, mono_s, wall_s, kind, body) VALUES (?,?,?,?,?,?)"


_NONSENSE = (KeyError, TypeError, ValueError, AttributeError, OverflowError)

log = logging.getLogger(__name__)


class StoreError(Exception):
    """The record cannot be opened, read or written."""


class DamagedError(StoreError):
    """The file is there, but it is not a record any more."""


class Entry(NamedTuple):
    """Something the link said: a hello of a boot, a row or an event, with the boot it belongs to."""

    kind: Literal["hello", "row", "event"]
    boot: str
    content: Mapping[str, Any]


@dataclass(slots=True)
class Written:
    """What one batch did to the record."""

    recorded: int = 0
    lost: int = 0
    unreadable: int = 0


@dataclass(slots=True)
class _Known:
    """What is in the record already; copied for a batch and kept only when the batch is on disk."""

    boot_ids: dict[str, int] = field(default_factory=dict)
    last_seq: dict[int, int] = field(default_factory=dict)
    offsets: dict[int, float] = field(default_factory=dict)
    newest: int = 0
    last_mono_s: float | None = None

    def copy(self) -> "_Known":
        return _Known(dict(self.boot_ids), dict(self.last_seq), dict(self.offsets), self.newest, self.last_mono_s)


def connect_to_read(path: Path) -> sqlite3.Connection:
    """A connection that cannot change the record. Raises StoreError."""
    try:
        connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, timeout=BUSY_S)
    except sqlite3.Error as error:
        raise StoreError(f"{path}: the record cannot be read: {error}") from None
    connection.row_factory = sqlite3.Row
    return connection


class Store:
    """The only connection that writes. Used by one thread. Raises StoreError."""

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            with contextlib.closing(sqlite3.connect(path, timeout=BUSY_S)) as connection:
                connection.execute("PRAGMA journal_mode=WAL")
                migrations.apply(Database(connection))
            self._connection = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None, check_same_thread=False)
            self._connection.execute("PRAGMA synchronous=FULL")
            self._known = self._read_known()
        except OSError as error:
            raise StoreError(f"{path.parent}: cannot be used for the record: {error.strerror}") from None
        except sqlite3.OperationalError as error:
            raise StoreError(f"{path}: the record cannot be opened: {error}") from None
        except sqlite3.DatabaseError as error:
            raise DamagedError(f"{path}: the record is damaged: {error}") from None

    def close(self) -> None:
        """Ends the connection."""
        self._connection.close()

    @property
    def position(self) -> Position:
        """The last row or event recorded."""
        for boot, number in self._known.boot_ids.items():
            if number == self._known.newest:
                return Position(boot, self._known.last_seq.get(number, 0))
        return BEGINNING

    def write(self, batch: Sequence[Entry]) -> Written:
        """Records a batch in one transaction: all of it is on disk afterwards, or none and StoreError."""
        known = self._known.copy()
        written = Written()
        try:
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                for entry in batch:
                    self._write_or_pass_over(entry, known, written)
                self._connection.executemany(
                    "UPDATE boots SET last_seq = ? WHERE id = ?",
                    [(seq, boot) for boot, seq in known.last_seq.items()],
                )
                self._connection.execute("COMMIT")
            except BaseException:
                with contextlib.suppress(sqlite3.Error):
                    self._connection.execute("ROLLBACK")
                raise
        except sqlite3.OperationalError as error:
            raise StoreError(f"{self.path}: the record cannot be written: {error}") from None
        except sqlite3.DatabaseError as error:
            raise DamagedError(f"{self.path}: the record is damaged: {error}") from None
        self._known = known
        return written

    def forget_samples_before(self, wall_s: float, max_bytes: float) -> int:
        """Deletes one small step of the oldest samples beyond the promised age or size; returns how many."""
        size = self._one("SELECT page_count * page_size FROM pragma_page_count, pragma_page_size")
        free = self._one("SELECT freelist_count * page_size FROM pragma_freelist_count, pragma_page_size")
        limit = "1" if size - free > max_bytes else "wall_s < :before"
        cursor = self._connection.execute(
            f"DELETE FROM samples WHERE (boot, seq) IN (SELECT boot, seq FROM samples WHERE {limit}"
            " ORDER BY boot, seq LIMIT :step)",
            {"before": wall_s, "step": RETENTION_STEP},
        )
        return cursor.rowcount

    def _one(self, query: str) -> float:
        return float(self._connection.execute(query).fetchone()[0])

    def _read_known(self) -> _Known:
        known = _Known()
        query = "SELECT id, boot, last_seq, wall_offset_s FROM boots ORDER BY id"
        for number, boot, last_seq, offset in self._connection.execute(query):
            known.boot_ids[boot] = number
            known.last_seq[number] = last_seq or 0
            known.newest = number
            if offset is not None:
                known.offsets[number] = offset
        return known

    def _write_or_pass_over(self, entry: Entry, known: _Known, written: Written) -> None:
        """One entry that makes no sense must not keep all later ones out of the record."""
        try:
            self._write_entry(entry, known, written)
        except (*_NONSENSE, sqlite3.ProgrammingError, sqlite3.InterfaceError) as error:
            written.unreadable += 1
            log.warning("record: a %s made no sense: %r", entry.kind, error)

    def _write_entry(self, entry: Entry, known: _Known, written: Written) -> None:
        boot = self._boot_id(entry.boot, known)
        content = entry.content
        if entry.kind == "hello":
            self._connection.execute(
                "UPDATE boots SET host_boot = ?, version = ?, simulated = ? WHERE id = ?",
                (content.get("host_boot"), content.get("version"), bool(content.get("simulated")), boot),
            )
            return
        seq = content["seq"]
        last = known.last_seq.get(boot, 0)
        if seq <= last:
            return
        if seq > last + 1:
            written.lost += seq - last - 1
            self._admit_hole(boot, last + 1, seq - 1, "gone")
        known.last_seq[boot] = seq
        self._date(boot, content, known)
        if entry.kind == "row":
            self._write_row(boot, content, known)
        else:
            self._write_event(boot, content)
        written.recorded += 1

    def _boot_id(self, boot: str, known: _Known) -> int:
        number = known.boot_ids.get(boot)
        if number is None:
            if known.newest:
                self._admit_hole(known.newest, known.last_seq[known.newest] + 1, None, "restart")
                self._end_open_runs(known.newest)
            cursor = self._connection.execute("INSERT INTO boots (boot, last_seq) VALUES (?, 0)", (boot,))
            number = known.boot_ids[boot] = known.newest = int(cursor.lastrowid or 0)
            known.last_seq[number] = 0
            known.last_mono_s = None
        return number

    def _admit_hole(self, boot: int, first: int, last: int | None, reason: str) -> None:
        self._connection.execute("INSERT OR IGNORE INTO holes VALUES (?,?,?,?)", (boot, first, last, reason))

    def _date(self, boot: int, content: Mapping[str, Any], known: _Known) -> None:
        """Once the clock is known, what this boot recorded before is dated backwards, one time."""
        wall_s, mono_s = content.get("wall_s"), content.get("mono_s")
        if wall_s is None or mono_s is None or boot in known.offsets:
            return
        offset = known.offsets[boot] = wall_s - mono_s
        self._connection.execute("UPDATE boots SET wall_offset_s = ? WHERE id = ?", (offset, boot))
        for table in ("samples", "events", "alarms"):
            self._connection.execute(
                f"UPDATE {table} SET wall_s = mono_s + ? WHERE boot = ? AND wall_s IS NULL", (offset, boot)
            )
        for end in ("started", "ended"):
            self._connection.execute(
                f"UPDATE runs SET {end}_wall_s = {end}_mono_s + ? WHERE boot = ? AND {end}_wall_s IS NULL",
                (offset, boot),
            )

    def _write_row(self, boot: int, row: Mapping[str, Any], known: _Known) -> None:
        self._connection.execute(_INSERT_SAMPLE, sample_values(boot, row))
        mono_s = row["mono_s"]
        passed_s = 0.0 if known.last_mono_s is None else mono_s - known.last_mono_s
        known.last_mono_s = mono_s
        if 0.0 < passed_s <= LONGEST_ROW_S:
            running = [output for output in row.get("out", ()) if output in ACTUATORS]
            self._count((f"{output}_s", passed_s) for output in running)

    def _count(self, steps: Iterable[tuple[str, float]]) -> None:
        self._connection.executemany(
            "INSERT INTO counters (name, value) VALUES (?, ?)"
            " ON CONFLICT (name) DO UPDATE SET value = value + excluded.value",
            steps,
        )

    def _write_event(self, boot: int, event: Mapping[str, Any]) -> None:
        moment = (boot, event["seq"], event.get("mono_s"), event.get("wall_s"))
        kind = str(event.get("kind"))
        self._connection.execute(_INSERT_EVENT, (*moment, kind, json.dumps(event, ensure_ascii=False)))
        if kind == "alarm":
            details = json.dumps(event.get("values") or {})
            self._connection.execute(
                "INSERT OR IGNORE INTO alarms VALUES (?,?,?,?,?,?,?,?)",
                (*moment, event.get("id"), event.get("to"), event.get("priority"), details),
            )
        elif kind == "run_started":
            self._start_run(boot, event)
        elif kind == "run_ended":
            self._end_run(boot, event)
        elif kind == "flush_ended":
            self._count([("flushes", 1.0), ("flush_l", float(event.get("litres") or 0.0))])
            self._connection.execute(
                "UPDATE runs SET flush_l = ? WHERE boot = ? AND run = ?",
                (event.get("litres"), boot, str(event.get("run"))),
            )

    def _start_run(self, boot: int, event: Mapping[str, Any]) -> None:
        run = event["run"]
        self._connection.execute(
            "INSERT OR IGNORE INTO runs (boot, run, started_mono_s, started_wall_s, asked, target_l)"
            " VALUES (?,?,?,?,?,?)",
            (
                boot,
                str(run["id"]),
                event.get("mono_s"),
                event.get("wall_s"),
                json.dumps(run.get("why") or {}),
                run.get("target_l"),
            ),
        )

    def _end_run(self, boot: int, event: Mapping[str, Any]) -> None:
        run = event["run"]
        self._connection.execute(
            "INSERT OR IGNORE INTO runs (boot, run, started_mono_s) VALUES (?,?,?)",
            (boot, str(run["id"]), run.get("started_mono_s")),
        )
        figures = ", ".join(f"{figure} = COALESCE(?, {figure})" for figure in RUN_FIGURES)
        self._connection.execute(
            f"UPDATE runs SET ended_mono_s = ?, ended_wall_s = ?, why = ?, first_out = ?, {figures}"
            " WHERE boot = ? AND run = ?",
            (
                event.get("mono_s"),
                event.get("wall_s"),
                json.dumps(run.get("why")),
                run.get("first_out"),
                *(run.get(figure) for figure in RUN_FIGURES),
                boot,
                str(run["id"]),
            ),
        )
        litres, energy_wh = float(run.get("litres") or 0.0), float(run.get("energy_wh") or 0.0)
        self._count([("runs", 1.0), ("product_l", litres), ("energy_wh", energy_wh)])

    def _end_open_runs(self, boot: int) -> None:
        """A run whose end control did not live to tell ends with the last row that knew of it."""
        self._connection.execute(
            """
            UPDATE runs SET ended_mono_s = last.mono_s, ended_wall_s = last.wall_s, litres = last.run_litres,
                seconds = last.mono_s - started_mono_s, energy_wh = last.run_energy_wh
            FROM (SELECT run AS of, mono_s, wall_s, run_litres, run_energy_wh, max(seq) FROM samples
                  WHERE boot = :boot AND run IS NOT NULL GROUP BY run) AS last
            WHERE boot = :boot AND run = last.of AND why IS NULL
            """,
            {"boot": boot},
        )
        self._connection.execute(
            "UPDATE runs SET why = ? WHERE boot = ? AND why IS NULL",
            (json.dumps({"id": "control_lost", "values": {}}), boot),
        )


def sample_values(boot: int, row: Mapping[str, Any]) -> tuple[Any, ...]:
    """A link row as the values of `SAMPLE_COLUMNS`."""
    channels, derived, run = row.get("ch") or {}, row.get("d") or {}, row.get("run") or {}
    values: list[Any] = [
        boot,
        row["seq"],
        row["mono_s"],
        row.get("wall_s"),
        row.get("state"),
        ",".join(row.get("out") or ()),
        str(run["id"]) if run else None,
        run.get("litres"),
        run.get("energy_wh"),
    ]
    for channel in CHANNELS:
        value, low, high, raw, quality = channels.get(channel) or (None, None, None, None, None)
        values += (value, low, high, raw, None if quality == "good" else quality)
    values += (derived.get(name) for name in DERIVED)
    return tuple(values)


def set_aside(path: Path) -> Path:
    """Moves a damaged record out of the way, with its journal, and says where it is now."""
    number = 1
    while (aside := path.with_name(f"{path.name}.damaged-{number}")).exists():
        number += 1
    path.rename(aside)
    for suffix in ("-wal", "-shm"):
        journal = path.with_name(path.name + suffix)
        if journal.exists():
            journal.rename(aside.with_name(aside.name + suffix))
    return aside
