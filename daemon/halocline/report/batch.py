"""One batch on its way into the record, within one transaction."""

import json
import logging
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal, NamedTuple

from halocline.plant.thresholds import GONE_BAR
from halocline.plant.vocabulary import ACTUATORS
from halocline.report import rollups
from halocline.report.event_recorder import EventRecorder
from halocline.report.health.periods import keep_step
from halocline.report.row_checksum import MARKERS
from halocline.report.samples import Sample, folded, sample_of
from halocline.report.schema import MARK, PLACE, SAMPLE_COLUMNS

LONGEST_ROW_S = 5.0
CLOCK_SET_BY_S = 2.0
ROLL_EVERY_ROWS = 600
"""Ten minutes: roll-ups can always be made of the samples, and each time they are written costs the card six pages."""
ROLL_STEP = 1000

_NAMES = ",".join(SAMPLE_COLUMNS)
_INSERT = f"INSERT OR IGNORE INTO samples ({_NAMES},{MARK}) VALUES ({','.join('?' * (len(SAMPLE_COLUMNS) + 1))})"
_mark = MARKERS["samples"]
_WALL, _MONO = PLACE["wall_s"], PLACE["mono_s"]
_NONSENSE = (KeyError, TypeError, ValueError, AttributeError, OverflowError)

log = logging.getLogger(__name__)


class Entry(NamedTuple):
    """Something the link said: a hello of a boot, what is in force there, a row or an event, with its boot."""

    kind: Literal["hello", "configuration", "row", "event"]
    boot: str
    content: Mapping[str, Any]


@dataclass(slots=True)
class Written:
    """What one batch did to the record."""

    recorded: int = 0
    lost: int = 0
    unreadable: int = 0


@dataclass(frozen=True, slots=True)
class Boot:
    """A start of control as the record knows it. `offset_s` dates what has no clock, `clock_s` is the newest row's
    clock less its monotonic time, `unrolled` counts rows that the roll-ups have not got."""

    id: int
    last_seq: int = 0
    offset_s: float | None = None
    clock_s: float | None = None
    last_mono_s: float | None = None
    unrolled: int = 0


@dataclass(slots=True)
class Known:
    """What is in the record already; copied for a batch and kept only when the batch is on disk."""

    boots: dict[str, Boot] = field(default_factory=dict)
    newest: str = ""
    backlog: bool = True
    pressed: str = ""
    """The newest boot's run that goes on, or has left pressure behind."""
    lost_end: int = 0
    """The newest boot, while its last numbers stand in a hole without an end."""

    def copy(self) -> "Known":
        """A copy that can be changed."""
        return Known(dict(self.boots), self.newest, self.backlog, self.pressed, self.lost_end)


class Batch:
    """Takes entries in order, then `finish`."""

    def __init__(self, connection: sqlite3.Connection, known: Known) -> None:
        self._connection = connection
        self._chronicle = EventRecorder(connection)
        self._known = known
        self._samples: list[Sample] = []
        self._steps: dict[str, float] = {}
        self._peaks: dict[tuple[int, str], float] = {}
        self._touched: set[str] = set()
        self.written = Written()

    def add(self, entry: Entry) -> None:
        """One entry. One that makes no sense must not keep all later ones out of the record."""
        try:
            self._take(entry)
        except (*_NONSENSE, sqlite3.ProgrammingError, sqlite3.InterfaceError) as error:
            self.written.unreadable += 1
            boot, seq = self._known.boots.get(entry.boot), entry.content.get("seq")
            if boot is not None and seq == boot.last_seq:
                self._admit_hole(boot.id, seq, seq, "unreadable")
            log.warning("record: a %s made no sense: %r", entry.kind, error)

    def finish(self) -> None:
        """Writes what was gathered."""
        self._write_samples()
        for (boot, run), highest_bar in self._peaks.items():
            self._chronicle.raise_peak(boot, run, highest_bar)
        self._connection.executemany(
            "UPDATE boots SET last_seq = ? WHERE id = ?",
            [(boot.last_seq, boot.id) for name, boot in self._known.boots.items() if name in self._touched],
        )
        self._roll_up()

    def _roll_up(self) -> None:
        newest = self._known.boots.get(self._known.newest)
        if newest is not None and newest.offset_s is not None and newest.unrolled >= ROLL_EVERY_ROWS:
            self._known.backlog = True
        if self._known.backlog:
            self._known.backlog = roll_step(self._connection) or keep_step(self._connection)
            if newest is not None and not self._known.backlog:
                self._known.boots[self._known.newest] = replace(newest, unrolled=0)

    def _take(self, entry: Entry) -> None:
        boot = self._boot(entry.boot)
        if entry.kind == "hello":
            self._hello(boot, entry.content)
        elif entry.kind == "configuration":
            self._configuration(boot, entry.content)
        else:
            self._number(entry, boot)

    def _hello(self, boot: Boot, content: Mapping[str, Any]) -> None:
        self._connection.execute(
            "UPDATE boots SET host_boot = ?, version = ?, simulated = ? WHERE id = ?",
            (content.get("host_boot"), content.get("version"), bool(content.get("simulated")), boot.id),
        )
        if isinstance(content.get("configuration"), dict):
            self._configuration(boot, content["configuration"])

    def _configuration(self, boot: Boot, content: Mapping[str, Any]) -> None:
        self._connection.execute(
            "UPDATE boots SET configuration = json_patch(coalesce(configuration, '{}'), ?) WHERE id = ?",
            (json.dumps(content, ensure_ascii=False, sort_keys=True), boot.id),
        )

    def _number(self, entry: Entry, boot: Boot) -> None:
        content, seq = entry.content, entry.content["seq"]
        if seq <= boot.last_seq:
            return
        self._close_end(boot)
        if seq > boot.last_seq + 1:
            self.written.lost += seq - boot.last_seq - 1
            self._admit_hole(boot.id, boot.last_seq + 1, seq - 1, "gone")
        boot = self._keep(entry.boot, replace(boot, last_seq=seq))
        boot = self._keep(entry.boot, self._clocked(boot, content))
        wall_s = content.get("wall_s")
        if wall_s is None and boot.offset_s is not None and content.get("mono_s") is not None:
            wall_s = content["mono_s"] + boot.offset_s
        if entry.kind == "row":
            sample = sample_of(boot.id, content, wall_s)
            self._samples.append(sample)
            self._note_peak(sample)
            self._keep(entry.boot, self._counted(boot, content))
        else:
            if content.get("kind") in ("log", "command"):
                self._write_counters()
            self._chronicle.write(boot.id, content, wall_s)
        self.written.recorded += 1

    def _note_peak(self, sample: Sample) -> None:
        """Of the unfiltered extremes of every row, also of those after the end that still have pressure."""
        highest_bar = sample[PLACE["vessel_pressure_max"]]
        self._known.pressed = run = pressed_run(self._known.pressed, sample)
        if run and highest_bar is not None:
            key = (sample[PLACE["boot"]], run)
            self._peaks[key] = max(highest_bar, self._peaks.get(key, highest_bar))

    def _keep(self, name: str, boot: Boot) -> Boot:
        self._known.boots[name] = boot
        self._touched.add(name)
        return boot

    def _boot(self, name: str) -> Boot:
        boot = self._known.boots.get(name)
        if boot is None:
            former = self._known.boots.get(self._known.newest)
            if former is not None:
                self._write_samples()
                self._admit_hole(former.id, former.last_seq + 1, None, "restart")
                self._chronicle.end_open_runs(former.id)
                self._known.backlog = True
            cursor = self._connection.execute("INSERT INTO boots (boot, last_seq) VALUES (?, 0)", (name,))
            boot = self._keep(name, Boot(int(cursor.lastrowid or 0)))
            self._known.newest, self._known.pressed = name, ""
        return boot

    def _close_end(self, boot: Boot) -> None:
        """Control still had what a damaged journal lost the end of, or the hole's other end is known now."""
        if boot.id == self._known.lost_end:
            self._known.lost_end = 0
            self._connection.execute("DELETE FROM holes WHERE boot = ? AND to_seq IS NULL", (boot.id,))

    def _admit_hole(self, boot: int, first: int, last: int | None, reason: str) -> None:
        self._connection.execute(
            "INSERT OR IGNORE INTO holes (boot, from_seq, to_seq, reason) VALUES (?,?,?,?)", (boot, first, last, reason)
        )

    def _clocked(self, boot: Boot, content: Mapping[str, Any]) -> Boot:
        """Once the clock is known, what this boot recorded before is dated backwards, one time; a clock that is set
        later moves nothing that is recorded."""
        wall_s, mono_s = content.get("wall_s"), content.get("mono_s")
        if wall_s is None or mono_s is None:
            return boot
        clock_s = wall_s - mono_s
        if boot.offset_s is None:
            self._date(boot, clock_s)
            boot = replace(boot, offset_s=clock_s)
        elif boot.clock_s is not None and abs(clock_s - boot.clock_s) <= CLOCK_SET_BY_S:
            return replace(boot, clock_s=clock_s)
        self._connection.execute(
            "INSERT OR IGNORE INTO clock_settings (boot, seq, mono_s, wall_s, wall_offset_s) VALUES (?,?,?,?,?)",
            (boot.id, content["seq"], mono_s, wall_s, clock_s),
        )
        return replace(boot, clock_s=clock_s)

    def _date(self, boot: Boot, offset_s: float) -> None:
        """What is in lists at once; the samples when they are rolled up, a step at a time."""
        self._connection.execute("UPDATE boots SET wall_offset_s = ? WHERE id = ?", (offset_s, boot.id))
        self._chronicle.date(boot.id, offset_s)
        self._known.backlog = True

    def _counted(self, boot: Boot, row: Mapping[str, Any]) -> Boot:
        mono_s = row["mono_s"]
        passed_s = 0.0 if boot.last_mono_s is None else mono_s - boot.last_mono_s
        if 0.0 < passed_s <= LONGEST_ROW_S:
            for output in row.get("out") or ():
                if output in ACTUATORS:
                    self._steps[f"{output}_s"] = self._steps.get(f"{output}_s", 0.0) + passed_s
        return replace(boot, last_mono_s=mono_s, unrolled=boot.unrolled + 1)

    def _write_counters(self) -> None:
        self._chronicle.count(self._steps)
        self._steps = {}

    def _write_samples(self) -> None:
        self._connection.executemany(_INSERT, ((*row, _mark(row)) for row in folded(self._samples)))
        self._samples = []
        self._write_counters()


def pressed_run(run: str, sample: Sample) -> str:
    """The run that this row's pressure belongs to, after `run` was that of the row before; "" for none.

    A trip ends a run at once, and its pressure may rise on for a moment: the highest of a run is looked for until the
    pressure is gone.
    """
    if sample[PLACE["run"]] is not None:
        return str(sample[PLACE["run"]])
    highest_bar = sample[PLACE["vessel_pressure_max"]]
    gone = highest_bar is not None and highest_bar < GONE_BAR
    return "" if gone or sample[PLACE["state"]] != "tripped" else run


def roll_step(connection: sqlite3.Connection) -> bool:
    """Rolls up the next samples of a boot whose clock is known, and dates those recorded before it was, within the
    caller's transaction; whether there are more."""
    waiting = connection.execute(f"{_WAITING} LIMIT 1").fetchone()
    if waiting is None:
        return False
    boot, offset_s, rolled_seq, to_seq = waiting
    found = connection.execute(
        f"SELECT {_NAMES},{MARK} FROM samples WHERE boot = ? AND seq > ? AND seq <= ? ORDER BY seq LIMIT ?",
        (boot, rolled_seq, to_seq, ROLL_STEP),
    ).fetchall()
    rows = [(row, _dated(row, offset_s), mark) for *row, mark in found]
    rollups.add(connection, (dated for _, dated, _ in rows))
    until_seq = rows[-1][0][PLACE["seq"]] if len(rows) == ROLL_STEP else to_seq
    connection.executemany(
        f"UPDATE samples SET wall_s = ?, {MARK} = ? WHERE boot = ? AND seq = ?",
        [
            # A row that does not say what was written must not be made to look as if it did.
            (dated[_WALL], mark if _mark.is_altered(row, mark) else _mark(dated), boot, row[PLACE["seq"]])
            for row, dated, mark in rows
            if row[_WALL] is None and dated[_WALL] is not None
        ],
    )
    connection.execute("UPDATE boots SET rolled_seq = ? WHERE id = ?", (until_seq, boot))
    return connection.execute(f"{_WAITING} LIMIT 1").fetchone() is not None


_WAITING = (
    "SELECT id, wall_offset_s, rolled_seq, last_seq FROM boots"
    " WHERE wall_offset_s IS NOT NULL AND rolled_seq < last_seq"
)


def not_rolled_up(connection: sqlite3.Connection) -> list[tuple[int, float, int, int]]:
    """What the roll-ups have not got of boots whose clock is known: boot, its offset, after which number, to which."""
    return [tuple(row) for row in connection.execute(_WAITING)]


def _dated(row: Sequence[Any], offset_s: float) -> Sample:
    if row[_WALL] is not None or row[_MONO] is None:
        return tuple(row)
    return (*row[:_WALL], row[_MONO] + offset_s, *row[_WALL + 1 :])
