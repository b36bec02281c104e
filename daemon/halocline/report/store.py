"""The record on disk: what the link said, each row and event exactly once, with its holes admitted."""

import contextlib
import logging
import sqlite3
from collections.abc import Sequence
from pathlib import Path

from halocline.link.client import BEGINNING, Position
from halocline.plant.settings import RecordSettings
from halocline.report import retention
from halocline.report.batch import Batch, Boot, Entry, Known, Written, pressed_run
from halocline.report.database_open import (
    BESIDE,
    FORBIDS,
    TROUBLE,
    DamagedError,
    FullError,
    StoreError,
    WriterLock,
    connect_to_write,
    head_forbids_writing,
    may_write,
    said,
)
from halocline.report.journal_repair import mend
from halocline.report.quarantine import DAMAGED
from halocline.report.row_accounting import Gap, gaps
from halocline.report.schema import SAMPLE_COLUMNS
from halocline.report.schema_upgrade import keep_copy

log = logging.getLogger(__name__)

__all__ = ["DamagedError", "Entry", "FullError", "Store", "StoreError", "Written", "set_aside"]


LOOKED_AT = 5000
"""So many of the newest numbers are counted at each opening, an hour and more of water: what a power cut can harm."""


class Store:
    """The only connection that writes. Used by one thread. Raises StoreError."""

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._lock = WriterLock(path)
        except OSError as error:
            raise StoreError(f"{path.parent}: cannot be used for the record: {error.strerror}") from None
        try:
            self.mended = mend(path)
        except OSError as error:
            log.warning("record: its journal could not be looked at: %s", error)
            self.mended = None
        self.kept = keep_copy(path)
        with contextlib.ExitStack() as on_failure:
            on_failure.callback(self._lock.release)
            try:
                self._connection = connect_to_write(path)
                on_failure.callback(self._connection.close)
                self._look_through()
            except TROUBLE as error:
                raise said(path, "opened", error) from None
            except (TypeError, ValueError, OverflowError) as error:
                raise DamagedError(f"{path}: the record is damaged: {error}") from None
            on_failure.pop_all()

    def _look_through(self) -> None:
        self._known = _read_known(self._connection)
        if self.mended is not None and not self.mended.saved:
            self._admit_lost_end()
        found = tuple(gaps(self._connection, newest=LOOKED_AT))
        self.taken = tuple(gap for gap in found if gap.is_hole)
        self.altered = sum(gap.missing for gap in found if gap.altered)
        self._admit(self.taken)
        if self.fold() and head_forbids_writing(self.path) and may_write(self.path):
            # SQLite opens it without a word and refuses the first row.
            raise DamagedError(f"{self.path}: the record is damaged: {FORBIDS}")

    def close(self) -> None:
        """Ends the connection."""
        self._connection.close()
        self._lock.release()

    @property
    def position(self) -> Position:
        """The last row or event recorded."""
        newest = self._known.newest
        return Position(newest, self._known.boots[newest].last_seq) if newest else BEGINNING

    @property
    def backlog(self) -> bool:
        """Whether rows wait to be dated or rolled up, a step with each `write`."""
        return self._known.backlog

    def write(self, batch: Sequence[Entry]) -> Written:
        """Records a batch in one transaction: all of it is on disk afterwards, or none and StoreError."""
        known = self._known.copy()
        try:
            with retention.transaction(self._connection):
                writing = Batch(self._connection, known)
                for entry in batch:
                    writing.add(entry)
                writing.finish()
        except TROUBLE as error:
            raise said(self.path, "written", error) from None
        self._known = known
        return writing.written

    def forget_step(self, promise: RecordSettings) -> int:
        """Deletes one small step of what is older or larger than promised; returns how many rows."""
        return self._change(retention.forget_step, promise)

    def forget_oldest(self) -> int:
        """Gives up one small step of the oldest samples, to make room; returns how many rows."""
        return self._change(retention.forget_oldest)

    def fold(self) -> bool:
        """Brings the journal into the file; False when a reader of an older state kept a part of it back.

        Raises StoreError.
        """
        try:
            busy, frames, folded = self._connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
        except TROUBLE as error:
            raise said(self.path, "written", error) from None
        return not busy and frames == folded

    def _admit_lost_end(self) -> None:
        """What SQLite could not play came after the newest number; nobody knows how much it was."""
        if self._known.newest:
            newest = self._known.boots[self._known.newest]
            self._known.lost_end = newest.id
            self._connection.execute(
                "INSERT OR IGNORE INTO holes (boot, from_seq, to_seq, reason) VALUES (?, ?, NULL, 'damaged')",
                (newest.id, newest.last_seq + 1),
            )

    def _admit(self, taken: Sequence[Gap]) -> None:
        self._connection.executemany(
            "INSERT OR IGNORE INTO holes (boot, from_seq, to_seq, reason)"
            " SELECT id, ?, ?, 'damaged' FROM boots WHERE boot = ?",
            [(gap.from_seq, gap.to_seq, gap.boot) for gap in taken],
        )

    def check(self) -> None:
        """Reads the whole file. Raises DamagedError for one that is not whole."""
        try:
            (found,) = self._connection.execute("PRAGMA integrity_check(1)").fetchone()
        except TROUBLE as error:
            raise said(self.path, "read", error) from None
        if found != "ok":
            raise DamagedError(f"{self.path}: the record is damaged: {found}")

    def altered_rows(self) -> int:
        """How many rows say something else than was written. Reads the whole record. Raises StoreError."""
        try:
            return sum(gap.missing for gap in gaps(self._connection) if gap.altered)
        except TROUBLE as error:
            raise said(self.path, "read", error) from None

    def _change(self, change: "retention.Change", *arguments: RecordSettings) -> int:
        try:
            return change(self._connection, *arguments)
        except TROUBLE as error:
            raise said(self.path, "written", error) from None


def _read_known(connection: sqlite3.Connection) -> Known:
    known = Known()
    query = "SELECT id, boot, coalesce(last_seq, 0), wall_offset_s FROM boots ORDER BY id"
    for number, name, last_seq, offset_s in connection.execute(query):
        known.boots[name] = Boot(number, last_seq, offset_s, offset_s)
        known.newest = name
    if known.newest:
        newest = known.boots[known.newest]
        last = connection.execute(
            "SELECT mono_s, wall_s - mono_s FROM samples WHERE boot = ? ORDER BY seq DESC LIMIT 1", (newest.id,)
        ).fetchone()
        if last is not None:
            clock_s = newest.offset_s if last[1] is None else last[1]
            known.boots[known.newest] = Boot(newest.id, newest.last_seq, newest.offset_s, clock_s, last[0])
        open_end = connection.execute("SELECT 1 FROM holes WHERE boot = ? AND to_seq IS NULL", (newest.id,)).fetchone()
        known.lost_end = 0 if open_end is None else newest.id
        known.pressed = _pressed(connection, newest.id)
    return known


def _pressed(connection: sqlite3.Connection, boot: int) -> str:
    """The boot's newest run, if the newest row has not seen its pressure gone."""
    run = connection.execute("SELECT run FROM runs WHERE boot = ? ORDER BY id DESC LIMIT 1", (boot,)).fetchone()
    query = f"SELECT {', '.join(SAMPLE_COLUMNS)} FROM samples WHERE boot = ? ORDER BY seq DESC LIMIT 1"
    newest = connection.execute(query, (boot,)).fetchone()
    if run is None:
        return ""
    return str(run[0]) if newest is None else pressed_run(str(run[0]), newest)


def set_aside(path: Path, why: str = DAMAGED) -> Path:
    """Moves a record out of the way, with its journal, and says where it is now."""
    number = 1
    while (aside := path.with_name(f"{path.name}.{why}-{number}")).exists():
        number += 1
    path.rename(aside)
    for suffix in BESIDE:
        journal = path.with_name(path.name + suffix)
        if journal.exists():
            journal.rename(aside.with_name(aside.name + suffix))
    return aside
