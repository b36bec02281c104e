"""A record of an earlier version: copied first where there is room, then changed in one transaction.

The change alters names and adds tables, never a number, and the journal undoes it whole when power fails. The copy is
for going back to the earlier version, so a card without room for one does not keep the boat from its record.
"""

import contextlib
import logging
import shutil
import sqlite3
from dataclasses import dataclass
from pathlib import Path

from halocline.report.database_open import TROUBLE, StoreError, connect_to_read, connect_to_write, migrations_of, said
from halocline.report.record_copy import copy_record
from halocline.report.schema import MIGRATIONS, REWRITING

ROOM_FACTOR = 2.0
"""A copy is made where as much is free again afterwards: the record goes on growing."""

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Kept:
    """A record that was brought up to date: where its copy is, None where there was no room."""

    copy: Path | None


def missing_migrations(path: Path) -> tuple[str, ...]:
    """What a record of an earlier version lacks, oldest first; nothing for one of now, and for what is no record."""
    if not path.exists():
        return ()
    try:
        with contextlib.closing(connect_to_read(path)) as connection:
            done = migrations_of(connection)
    except (*TROUBLE, StoreError):
        return ()
    return tuple(name for name in MIGRATIONS if name not in done) if done else ()


def keep_copy(path: Path) -> Kept | None:
    """Copies a record in which names are about to be changed; None where nothing written is. Never raises."""
    changes = [name for name in missing_migrations(path) if name in REWRITING]
    if not changes:
        return None
    copy = path.with_name(f"{path.name}.before-{changes[0]}")
    if copy.exists():
        return Kept(copy)
    try:
        if not room_for_copy(path):
            return Kept(None)
        copy_record(path, copy)
    except (StoreError, OSError) as error:
        log.warning("record: no copy could be made before the change: %s", error)
        return Kept(None)
    return Kept(copy)


def room_for_copy(path: Path) -> bool:
    """Whether a copy leaves room for the record to grow. Raises OSError."""
    return shutil.disk_usage(path.parent).free >= ROOM_FACTOR * path.stat().st_size


def brought_up_to_date(path: Path) -> None:
    """Changes a record that nobody uses, leaving no journal beside it. Raises StoreError."""
    try:
        with contextlib.closing(connect_to_write(path)) as connection:
            connection.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.Error as error:
        raise said(path, "opened", error) from None
