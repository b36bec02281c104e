"""Opening the record: to read without being able to change it, or as its one writer."""

import contextlib
import fcntl
import os
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from halocline.plant.own_files import open_lock
from halocline.plant.regular_file import refuse_other_kinds
from halocline.report.retention import transaction
from halocline.report.schema import LISTS, MIGRATIONS, TABLES, declared

BUSY_S = 5.0
CACHE_KB = 4096
JOURNAL_KEPT_BYTES = 8_000_000
NO_ROOM_BYTES = 262_144


class StoreError(Exception):
    """The record cannot be opened, read or written. `trouble` names the kind, by which the remedy is told."""

    trouble = "other"


class DamagedError(StoreError):
    """The file is there, but it is not a record any more."""

    trouble = "damaged"


class FullError(StoreError):
    """The disk has no room left."""

    trouble = "full"


class ReadOnlyError(StoreError):
    """The disk or the file lets nobody write."""

    trouble = "read_only"


class InUseError(StoreError):
    """Another program has the record."""

    trouble = "in_use"


class LaterError(StoreError):
    """A later version has changed the record."""

    trouble = "later"


EARLIER = "the record was made by an earlier version; start halocline once, and it is brought up to date"

TROUBLE = (sqlite3.Error, UnicodeDecodeError)
"""What SQLite's module raises; the second where it would quote bytes of a damaged file."""


IN_USE = ("SQLITE_BUSY", "SQLITE_LOCKED", "SQLITE_PROTOCOL")
NOT_THE_FILE = (
    *("SQLITE_INTERRUPT", "SQLITE_NOMEM"),
    *("SQLITE_IOERR", "SQLITE_CANTOPEN", "SQLITE_FULL", "SQLITE_READONLY", "SQLITE_PERM", "SQLITE_AUTH"),
)
"""Errors that the disk, the folder or another program can be the reason of. Every other one, met while a record is
opened by commands that are always the same, is the file's."""


def said(path: Path, doing: str, error: Exception) -> StoreError:
    """The StoreError that tells what SQLite's error means. `doing` is a participle: opened, read, written."""
    name = getattr(error, "sqlite_errorname", None) or ""
    if name.startswith("SQLITE_FULL") or (name.startswith(("SQLITE_IOERR", "SQLITE_CANTOPEN")) and no_room(path)):
        return FullError(f"{path}: the disk is full")
    if name.startswith("SQLITE_READONLY"):
        if head_forbids_writing(path) and may_write(path):
            return DamagedError(f"{path}: the record is damaged: {FORBIDS}")
        return ReadOnlyError(f"{path}: the disk or the file is read-only, so the record cannot be {doing}")
    if name.startswith(IN_USE):
        return InUseError(f"{path}: another program has the record, so it cannot be {doing}: {error}")
    if name.startswith(NOT_THE_FILE):
        return StoreError(f"{path}: the record cannot be {doing}: {error}")
    if (
        doing != "opened"
        and isinstance(error, sqlite3.OperationalError)
        and not name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB"))
    ):
        return StoreError(f"{path}: the record cannot be {doing}: {error}")
    return DamagedError(f"{path}: the record is damaged: {error}")


FORBIDS = "its head says that it may not be written"
_WRITE_VERSION_AT, _LAST_WRITE_VERSION = 18, 2
"""Where SQLite's file format says which way of writing a file needs, and the last way there is. A file that asks for a
later one is only read (https://www.sqlite.org/fileformat2.html, "file format version numbers")."""


def head_forbids_writing(path: Path) -> bool:
    """Whether SQLite reads this file and writes it nowhere, though it can be opened without a word."""
    try:
        with path.open("rb") as file:
            head = file.read(_WRITE_VERSION_AT + 1)
    except OSError:
        return False
    return len(head) > _WRITE_VERSION_AT and head[_WRITE_VERSION_AT] > _LAST_WRITE_VERSION


def may_write(path: Path) -> bool:
    """Whether the system lets this process write the file and make others beside it."""
    return os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)


def no_room(path: Path) -> bool:
    """Whether so little is free where the record lies that nothing can be written."""
    try:
        return shutil.disk_usage(path.parent).free < NO_ROOM_BYTES
    except OSError:
        return False


BESIDE = ("-wal", "-shm")
"""What SQLite puts beside a record."""


def demand_regular(path: Path, *suffixes: str) -> None:
    """Raises StoreError where SQLite would wait for what it opens. `suffixes`: what is looked at beside it."""
    for part in (path, *(path.with_name(path.name + suffix) for suffix in suffixes)):
        try:
            refuse_other_kinds(part)
        except PermissionError:
            continue  # SQLite may not open it either, and its word for it is known
        except OSError as error:
            raise StoreError(f"{part}: {error.strerror}") from None


def demand_there(path: Path) -> None:
    """Raises StoreError where what a person named is not there, or no file."""
    demand_regular(path)
    if not path.exists():
        raise StoreError(f"{path}: there is no such file")


def connect_to_read(path: Path) -> sqlite3.Connection:
    """A connection that cannot change the record. Raises StoreError."""
    demand_regular(path, *BESIDE)
    try:
        connection = _reading(path, "mode=ro")
    except TROUBLE as error:
        if not path.exists() or os.access(path.parent, os.W_OK):
            raise said(path, "read", error) from None
        # Where nothing can be written SQLite cannot share the journal's index, and nobody else can change the file.
        try:
            connection = _reading(path, "immutable=1")
        except TROUBLE as again:
            raise said(path, "read", again) from None
    connection.row_factory = sqlite3.Row
    connection.text_factory = as_far_as_it_reads
    return connection


def as_far_as_it_reads(text: bytes) -> str:
    """A letter that the card has changed must not keep a whole list from being read."""
    return text.decode(errors="replace")


def _reading(path: Path, how: str) -> sqlite3.Connection:
    connection = sqlite3.connect(f"{path.resolve().as_uri()}?{how}", uri=True, timeout=BUSY_S)
    try:
        connection.execute("SELECT 1 FROM sqlite_master").fetchone()
    except TROUBLE:
        connection.close()
        raise
    return connection


@contextlib.contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """One consistent view of the record; SQLite's errors become StoreError."""
    with contextlib.closing(connect_to_read(path)) as connection:
        try:
            connection.execute("BEGIN")
            if set(MIGRATIONS) - (migrations_of(connection) or set(MIGRATIONS)):
                raise StoreError(f"{path}: {EARLIER}")
            yield connection
        except TROUBLE as error:
            raise said(path, "read", error) from None


def connect_to_write(path: Path) -> sqlite3.Connection:
    """The connection of the record's only writer; makes the record if there is none, brings an old one up to date.

    Raises sqlite3.Error, and LaterError for a record that a later version has changed.
    """
    demand_regular(path, *BESIDE)
    connection = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None, check_same_thread=False)
    connection.text_factory = as_far_as_it_reads
    try:
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=FULL")
        connection.execute(f"PRAGMA cache_size={-CACHE_KB}")
        connection.execute(f"PRAGMA journal_size_limit={JOURNAL_KEPT_BYTES}")
        done = migrations_of(connection)
        if unknown := done - set(MIGRATIONS):
            raise LaterError(f"{path}: the record was made by a later version ({', '.join(sorted(unknown))})")
        with transaction(connection):
            if set(MIGRATIONS) - done:
                _migrate(connection)
            _demand_known_columns(path, connection)
            _add_missing_columns(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def migrations_of(connection: sqlite3.Connection) -> set[str]:
    """The migrations a record has had; none for a file that is no record."""
    query = "SELECT name FROM sqlite_master WHERE name = '_sqlite_migrations'"
    if connection.execute(query).fetchone() is None:
        return set()
    found = connection.execute("SELECT name FROM _sqlite_migrations WHERE migration_set = 'record'")
    return {str(name) for (name,) in found}


def _migrate(connection: sqlite3.Connection) -> None:
    from halocline.report.migrations import migrate  # noqa: PLC0415

    migrate(connection)


def _demand_known_columns(path: Path, connection: sqlite3.Connection) -> None:
    """A column whose name has a broken bit would look like one that is missing, and its values would be lost to sight.

    Raises DamagedError, and LaterError where nothing is missing: a later version's quantity has its columns there.
    """
    for table, columns in (*TABLES.items(), *LISTS.items()):
        found = {str(name) for (name,) in connection.execute("SELECT name FROM pragma_table_info(?)", (table,))}
        if not found:
            raise DamagedError(f"{path}: the record is damaged: no such table: {table}")
        strange = sorted(found - set(columns))
        if strange and table in TABLES and not set(columns) - found:
            raise LaterError(f"{path}: the record was made by a later version ({table} has a column {strange[0]!r})")
        if strange:
            raise DamagedError(f"{path}: the record is damaged: {table} has a column {strange[0]!r}")
        if table in LISTS and len(found) != len(columns):
            raise DamagedError(f"{path}: the record is damaged: {table} lacks a column")


def _add_missing_columns(connection: sqlite3.Connection) -> None:
    """A quantity that a later version knows gets its columns in a record made before."""
    for table, columns in TABLES.items():
        known = {name for (name,) in connection.execute("SELECT name FROM pragma_table_info(?)", (table,))}
        for name, kind in declared(columns).items():
            if name not in known:
                connection.execute(f'ALTER TABLE {table} ADD COLUMN "{name}" {kind}')


def remove(path: Path) -> None:
    """Removes a record with its journal. Raises OSError."""
    for suffix in ("", *BESIDE):
        path.with_name(path.name + suffix).unlink(missing_ok=True)


class WriterLock:
    """Held by whoever may write the record; let go by the system when its process ends, however it ends."""

    def __init__(self, path: Path) -> None:
        try:
            self._file = os.fdopen(open_lock(path.with_name(f"{path.name}.lock")), "rb")
        except OSError as error:
            raise StoreError(str(error) if error.strerror is None else f"{path}.lock: {error.strerror}") from None
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            self._file.close()
            raise InUseError(
                f"{path}: another program writes this record. End the halocline that uses this folder first"
            ) from None

    def release(self) -> None:
        """Lets go."""
        self._file.close()
