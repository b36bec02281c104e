"""Copies of the record: made while it is written, checked before they count, and checked before one is put back."""

import contextlib
import os
import shutil
import sqlite3
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from halocline.report.database_open import (
    BESIDE,
    FORBIDS,
    TROUBLE,
    StoreError,
    WriterLock,
    connect_to_read,
    demand_there,
    head_forbids_writing,
    migrations_of,
    said,
)
from halocline.report.record_copy import Progress, copy_record, sync
from halocline.report.schema import MIGRATIONS
from halocline.report.schema_upgrade import brought_up_to_date
from halocline.report.store import set_aside

NAME = "halocline-%Y%m%dT%H%M%SZ.sqlite3"
PATTERN = "halocline-????????T??????Z*.sqlite3"


@dataclass(frozen=True, slots=True)
class Contents:
    """What a record holds: rows of each kind, and of when."""

    samples: int
    events: int
    runs: int
    first_s: float | None
    last_s: float | None


def back_up(record: Path, folder: Path, keep: int, progress: Progress = lambda _: None) -> tuple[Path, Contents]:
    """Copies the record into a folder, checks the copy, and then removes all but the newest `keep` copies there.

    The recorder goes on meanwhile. Raises StoreError; then no copy is left and no older one has been removed.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        copy = _free_name(folder)
        _demand_room(record, folder)
        copy_record(record, copy, progress)
    except OSError as error:
        raise StoreError(f"{folder}: no backup can be made there: {error.strerror or error}") from None
    contents = verify(copy)
    for old in sorted(folder.glob(PATTERN))[:-keep]:
        with contextlib.suppress(OSError):
            old.unlink()
    return copy, contents


def verify(path: Path) -> Contents:
    """Reads every page of a record. Raises StoreError when it is not whole, no record, or of a later version."""
    demand_there(path)
    if head_forbids_writing(path):
        raise StoreError(f"{path}: is damaged: {FORBIDS}")
    with contextlib.closing(connect_to_read(path)) as connection:
        try:
            if problems := _problems(connection):
                raise StoreError(f"{path}: {problems}")
            count = [connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in _COUNTED]
            first_s, last_s = connection.execute(
                "SELECT min(start_s), max(start_s) + 10 FROM (SELECT start_s FROM rollup_86400s UNION ALL"
                " SELECT max(start_s) FROM rollup_10s)"
            ).fetchone()
        except TROUBLE as error:
            raise said(path, "read", error) from None
    samples, events, runs = count
    return Contents(samples, events, runs, first_s, last_s)


_COUNTED = ("samples", "events", "runs")


def restore(backup: Path, record: Path, progress: Progress = lambda _: None) -> tuple[Path | None, Contents]:
    """Puts a copy in the record's place, checked and brought up to date; returns where the former record is now.

    At every moment either the former or the new record is in place. Raises StoreError, also while a recorder runs.
    """
    verify(backup)
    lock = None
    try:
        record.parent.mkdir(parents=True, exist_ok=True)
        lock = WriterLock(record)
        _demand_room(backup, record.parent)
        new = record.with_name(f"{record.name}.restoring")
        _remove_journal(new)
        copy_record(backup, new, progress)
        brought_up_to_date(new)
        contents = verify(new)
        former = _replace(record, new)
    except OSError as error:
        raise StoreError(f"{record.parent}: nothing was changed: {error.strerror or error}") from None
    finally:
        if lock is not None:
            lock.release()
    return former, contents


def _problems(connection: sqlite3.Connection) -> str | None:
    found = [str(line) for (line,) in connection.execute("PRAGMA integrity_check(3)")]
    if found != ["ok"]:
        return f"is damaged: {'; '.join(found)}"
    done = migrations_of(connection)
    if not done:
        return "is no record of Halocline"
    if unknown := done - set(MIGRATIONS):
        return f"was made by a later version ({', '.join(sorted(unknown))})"
    return None


def _free_name(folder: Path) -> Path:
    while True:
        path = folder / datetime.now(UTC).strftime(NAME)
        if not path.exists():
            return path
        time.sleep(0.1)


def _demand_room(source: Path, folder: Path) -> None:
    needed = source.stat().st_size * 1.02
    free = shutil.disk_usage(folder).free
    if needed > free:
        raise StoreError(f"{folder}: {needed / 1e6:.0f} MB are needed and {free / 1e6:.0f} MB are free")


def _remove_journal(path: Path) -> None:
    """What a power cut left of an earlier try would be played into the new file."""
    for suffix in BESIDE:
        path.with_name(path.name + suffix).unlink(missing_ok=True)


def _replace(record: Path, new: Path) -> Path | None:
    if not record.exists():
        new.rename(record)
        sync(record.parent)
        return None
    if _folded_into_one(record):
        former = next(_names(record))
        os.link(record, former)
        new.rename(record)
    else:
        former = set_aside(record, "replaced")
        new.rename(record)
    sync(record.parent)
    return former


def _folded_into_one(record: Path) -> bool:
    """Writes the journal into the file and removes it: a journal left there would be played into the new record."""
    try:
        with contextlib.closing(sqlite3.connect(record, isolation_level=None)) as connection:
            connection.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.Error:
        return False
    return not record.with_name(f"{record.name}-wal").exists()


def _names(record: Path) -> Iterator[Path]:
    number = 1
    while True:
        name = record.with_name(f"{record.name}.replaced-{number}")
        if not name.exists():
            yield name
        number += 1
