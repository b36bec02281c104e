"""What is kept for how long, given up in small steps; and the ballast that gives the last room on a full disk.

Ages are times that were recorded, never the clock's: a clock that is wrong by a year makes nothing old.
"""

import contextlib
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

from halocline.plant.settings import RecordSettings
from halocline.report.schema import rollup_table

Change = Callable[..., int]

STEP_ROWS = 2000
DAY_S = 86400.0
SAMPLES = 0
"""The level of the samples themselves, among those of the roll-ups."""

BALLAST_BYTES = 16_000_000
BALLAST_SHARE = 0.05


def forget_step(connection: sqlite3.Connection, promise: RecordSettings) -> int:
    """Deletes at most `STEP_ROWS` rows that nobody was promised, in a transaction; how many there were."""
    with transaction(connection):
        if too_large(connection, promise.max_size_mb * 1e6):
            return _forget_for_size(connection)
        return _forget_for_age(connection, promise)


def forget_oldest(connection: sqlite3.Connection) -> int:
    """Gives up a step of the oldest samples to make room, promised or not; how many there were."""
    with transaction(connection):
        return _forget_samples(connection, None)


@contextlib.contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """All or nothing; on disk when it ends."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        with contextlib.suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise


def too_large(connection: sqlite3.Connection, max_bytes: float) -> bool:
    """Whether what is in use is above the limit; free pages inside the file are used again first."""
    query = (
        "SELECT (page_count - freelist_count) * page_size"
        " FROM pragma_page_count, pragma_freelist_count, pragma_page_size"
    )
    (used,) = connection.execute(query).fetchone()
    return bool(used > max_bytes)


def _forget_for_size(connection: sqlite3.Connection) -> int:
    """Seconds go first, then ten seconds, then minutes; quarters of an hour and longer are never given up."""
    return (
        _forget_samples(connection, None)
        or _forget_rollup(connection, 10, None)
        or _forget_rollup(connection, 60, None)
    )


def _forget_for_age(connection: sqlite3.Connection, promise: RecordSettings) -> int:
    count = 0
    samples_end = _end_of_samples(connection, promise.seconds_days * DAY_S)
    if samples_end is not None:
        count += _forget_samples(connection, samples_end)
    for level_s, days in ((10, promise.seconds_days), (60, promise.minutes_days), (900, promise.quarters_days)):
        before_s = _end_of_rollups(connection, days * DAY_S)
        if before_s is not None and count < STEP_ROWS:
            count += _forget_rollup(connection, level_s, before_s)
    return count


def _end_of_samples(connection: sqlite3.Connection, kept_s: float) -> tuple[int, float] | None:
    """The boot and its monotonic second before which samples are older than `kept_s` of recorded time."""
    edge = "SELECT mono_s FROM samples WHERE boot = ? ORDER BY seq {0} LIMIT 1"
    left_s = kept_s
    for (boot,) in connection.execute("SELECT id FROM boots ORDER BY id DESC").fetchall():
        first = connection.execute(edge.format("ASC"), (boot,)).fetchone()
        if first is None:
            continue
        (last_s,) = connection.execute(edge.format("DESC"), (boot,)).fetchone()
        if last_s - first[0] > left_s:
            return boot, last_s - left_s
        left_s -= max(last_s - first[0], 0.0)
    return None


def _end_of_rollups(connection: sqlite3.Connection, kept_s: float) -> int | None:
    """The beginning of the day before which everything is older than `kept_s` of recorded time."""
    left_s = kept_s
    for start_s, rows in connection.execute("SELECT start_s, rows FROM rollup_86400s ORDER BY start_s DESC"):
        left_s -= rows
        if left_s <= 0:
            return int(start_s)
    return None


def _forget_samples(connection: sqlite3.Connection, end: tuple[int, float] | None) -> int:
    oldest = connection.execute(
        "SELECT boot, seq, mono_s, wall_s FROM samples ORDER BY boot, seq LIMIT ?", (STEP_ROWS,)
    ).fetchall()
    gone = [row for row in oldest if end is None or (row[0], row[2]) < end]
    if not gone:
        return 0
    boot, seq, _, _ = gone[-1]
    connection.execute("DELETE FROM samples WHERE (boot, seq) <= (?, ?)", (boot, seq))
    _note(connection, SAMPLES, max((row[3] for row in gone if row[3] is not None), default=None))
    return len(gone)


def _forget_rollup(connection: sqlite3.Connection, level_s: int, before_s: int | None) -> int:
    table = rollup_table(level_s)
    limit = "" if before_s is None else f"WHERE start_s < {before_s}"
    oldest = connection.execute(f"SELECT start_s FROM {table} {limit} ORDER BY start_s LIMIT {STEP_ROWS}").fetchall()
    if not oldest:
        return 0
    (last_s,) = oldest[-1]
    connection.execute(f"DELETE FROM {table} WHERE start_s <= ?", (last_s,))
    _note(connection, level_s, last_s + level_s)
    return len(oldest)


def _note(connection: sqlite3.Connection, level_s: int, before_s: float | None) -> None:
    if before_s is not None:
        connection.execute("INSERT OR REPLACE INTO forgotten (level_s, before_s) VALUES (?, ?)", (level_s, before_s))


def forgotten(connection: sqlite3.Connection) -> dict[int, float]:
    """Level → the moment before which it has been given up, for all levels that have given up something."""
    return dict(connection.execute("SELECT level_s, before_s FROM forgotten").fetchall())


class Ballast:
    """A file that only takes up room, so that there is some when the disk is full and everything else needs it."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def reserve(self) -> bool:
        """Takes the room if there is plenty; whether the ballast is there now. Never raises."""
        try:
            if self._path.exists():
                return True
            disk = shutil.disk_usage(self._path.parent)
            size = int(min(BALLAST_BYTES, disk.total * BALLAST_SHARE))
            if disk.free < 4 * size:
                return False
            self._fill(size)
        except OSError:
            return False
        return True

    def _fill(self, size: int) -> None:
        making = self._path.with_name(f"{self._path.name}.new")
        making.unlink(missing_ok=True)
        try:
            with making.open("xb") as file:
                os.posix_fallocate(file.fileno(), 0, size)
            making.rename(self._path)
        except OSError:
            making.unlink(missing_ok=True)
            raise

    def release(self) -> bool:
        """Gives the room back; whether there was any to give. Never raises."""
        try:
            self._path.unlink()
        except OSError:
            return False
        return True
