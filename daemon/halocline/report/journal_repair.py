"""A record whose journal SQLite would play in part only: mended before it is opened, and what was there is kept."""

import contextlib
import os
import shutil
import sqlite3
from dataclasses import dataclass
from pathlib import Path

from halocline.report import write_ahead
from halocline.report.database_open import TROUBLE, remove
from halocline.report.quarantine import REJECTED
from halocline.report.record_copy import sync
from halocline.report.write_ahead import Frame, WriteAhead


@dataclass(frozen=True, slots=True)
class Mended:
    """What was found: where the journal as it was is kept (None: no room), how many commits SQLite would have left
    out, and whether they are in the record now, the whole of which was read to know it."""

    kept: Path | None
    commits: int
    saved: bool


def needs_mending(record: Path) -> bool:
    """Whether something committed stands behind the place where SQLite stops reading. Never raises."""
    journal = write_ahead.readable(record)
    return journal is not None and journal.rejected > 0


def mend(record: Path) -> Mended | None:
    """Mends the journal of a record that nobody has open; None when there is nothing to mend. Raises OSError.

    At every moment either the journal as it was or one that was tried is beside the record.
    """
    journal = write_ahead.read(record)
    if journal is None or not journal.rejected or not record.exists():
        return None
    kept = _kept(record)
    for frames in write_ahead.mended(journal):
        if _tried(record, journal, frames):
            return Mended(kept, journal.rejected, saved=True)
    return Mended(kept, journal.rejected, saved=False)


def _kept(record: Path) -> Path | None:
    source = write_ahead.beside(record)
    number = 1
    while (kept := source.with_name(f"{source.name}.{REJECTED}-{number}")).exists():
        number += 1
    try:
        shutil.copyfile(source, kept)
        sync(kept)
    except OSError:
        kept.unlink(missing_ok=True)
        return None
    return kept


def _tried(record: Path, journal: WriteAhead, frames: tuple[Frame, ...]) -> bool:
    """Plays these frames over the record under another name; whether all of it is whole, and so the journal now."""
    trying = record.with_name(f"{record.name}.trying")
    try:
        remove(trying)
        os.link(record, trying)
        write_ahead.beside(trying).write_bytes(write_ahead.written(journal, frames))
        if not _is_whole(trying):
            return False
        sync(write_ahead.beside(trying))
        record.with_name(f"{record.name}-shm").unlink(missing_ok=True)
        write_ahead.beside(trying).rename(write_ahead.beside(record))
        sync(record.parent)
    finally:
        remove(trying)
    return True


def _is_whole(path: Path) -> bool:
    try:
        with contextlib.closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as connection:
            return bool(connection.execute("PRAGMA integrity_check(1)").fetchone() == ("ok",))
    except TROUBLE:
        return False
