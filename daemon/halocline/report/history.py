"""Any channel over any span as a few points, each with its lowest, mean and highest value; gaps stay gaps."""

import contextlib
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from halocline.plant.vocabulary import CHANNELS, DERIVED
from halocline.report.schema import SAMPLE_COLUMNS
from halocline.report.store import Entry, StoreError, connect_to_read, sample_values

MAX_POINTS = 2000
LEAST_BUCKET_S = 1.0
GAP_S = 5.0

UNITS: Mapping[str, str] = {**{channel.id: channel.unit for channel in CHANNELS.values()}, **DERIVED}


class HistoryError(Exception):
    """The question makes no sense."""


class Undated(NamedTuple):
    """How to place the rows of a boot whose clock is not set yet: time = monotonic seconds + offset."""

    boot: str
    offset_s: float


class Bucket(NamedTuple):
    """What lies between two moments: its mean time, and None values where nothing good was measured."""

    time_s: float
    low: float | None
    mean: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class History:
    """The answer, as columns. A point of None says that there is a gap here."""

    channel: str
    unit: str
    from_s: float
    to_s: float
    bucket_s: float
    time: tuple[float, ...]
    low: tuple[float | None, ...]
    mean: tuple[float | None, ...]
    high: tuple[float | None, ...]


def history(
    path: Path,
    channel: str,
    from_s: float,
    to_s: float,
    points: int,
    *,
    held: Sequence[Entry] = (),
    undated: Undated | None = None,
) -> History:
    """At most about `points` buckets of `channel` from `from_s` to `to_s` (Unix seconds).

    `held` are rows not on disk yet. Raises HistoryError for a question without sense, StoreError when the
    record cannot be read.
    """
    if channel not in UNITS:
        raise HistoryError(f"there is no channel {channel!r}; there are {', '.join(sorted(UNITS))}")
    if not 1 <= points <= MAX_POINTS:
        raise HistoryError(f"points has to be 1 to {MAX_POINTS}")
    if not to_s > from_s:
        raise HistoryError("'to' has to be later than 'from'")
    bucket_s = max((to_s - from_s) / points, LEAST_BUCKET_S)
    with _reading(path) as connection:
        found = _Buckets(connection, channel, from_s, to_s, bucket_s)
        found.read_dated()
        if undated is not None:
            found.read_undated(undated)
        found.add_held(held, undated)
    filled = tuple(_with_gaps(found.buckets(), bucket_s))
    return History(
        channel,
        UNITS[channel],
        from_s,
        to_s,
        bucket_s,
        tuple(bucket.time_s for bucket in filled),
        tuple(bucket.low for bucket in filled),
        tuple(bucket.mean for bucket in filled),
        tuple(bucket.high for bucket in filled),
    )


class _Buckets:
    def __init__(
        self, connection: sqlite3.Connection, channel: str, from_s: float, to_s: float, bucket_s: float
    ) -> None:
        self._connection = connection
        self._span = {"from": from_s, "to": to_s, "width": bucket_s}
        self._sums: dict[int, _Sum] = {}
        own = (channel, f"{channel}_min", f"{channel}_max") if channel in CHANNELS else (channel,) * 3
        self._columns = own
        self._places = tuple(SAMPLE_COLUMNS.index(column) for column in own)

    def read_dated(self) -> None:
        self._read("wall_s", "wall_s >= :from AND wall_s < :to", {})

    def read_undated(self, undated: Undated) -> None:
        self._read(
            "mono_s + :offset",
            "boot = (SELECT id FROM boots WHERE boot = :boot) AND wall_s IS NULL"
            " AND mono_s + :offset >= :from AND mono_s + :offset < :to",
            {"offset": undated.offset_s, "boot": undated.boot},
        )

    def add_held(self, held: Iterable[Entry], undated: Undated | None) -> None:
        query = "SELECT coalesce(max(seq), 0) FROM samples WHERE boot = (SELECT id FROM boots WHERE boot = ?)"
        recorded: dict[str, int] = {}
        for entry in held:
            if entry.boot not in recorded:
                recorded[entry.boot] = self._connection.execute(query, (entry.boot,)).fetchone()[0]
            time_s = _time_s(entry, undated)
            if time_s is None or entry.content["seq"] <= recorded[entry.boot]:
                continue
            if self._span["from"] <= time_s < self._span["to"]:
                values = sample_values(0, entry.content)
                value, low, high = (values[place] for place in self._places)
                self._add(time_s, 1, value, low, high)

    def buckets(self) -> list[Bucket]:
        return [self._sums[number].bucket() for number in sorted(self._sums)]

    def _read(self, time: str, where: str, more: Mapping[str, object]) -> None:
        value, low, high = self._columns
        query = (
            f"SELECT avg({time}), count({value}), avg({value}), min(coalesce({low}, {value})),"
            f" max(coalesce({high}, {value})) FROM samples WHERE {where}"
            f" GROUP BY CAST(({time} - :from) / :width AS INTEGER)"
        )
        for row in self._connection.execute(query, {**self._span, **more}):
            self._add(*row)

    def _add(self, time_s: float, count: int, mean: float | None, low: float | None, high: float | None) -> None:
        number = int((time_s - self._span["from"]) / self._span["width"])
        if number not in self._sums:
            self._sums[number] = _Sum(time_s)
        if mean is not None:
            self._sums[number].add(count, mean, mean if low is None else low, mean if high is None else high)


class _Sum:
    __slots__ = ("_count", "_high", "_low", "_time_s", "_total")

    def __init__(self, time_s: float) -> None:
        self._time_s = time_s
        self._count = 0
        self._total = 0.0
        self._low = float("inf")
        self._high = float("-inf")

    def add(self, count: int, mean: float, low: float, high: float) -> None:
        self._count += count
        self._total += count * mean
        self._low = min(self._low, low)
        self._high = max(self._high, high)

    def bucket(self) -> Bucket:
        if self._count == 0:
            return Bucket(self._time_s, None, None, None)
        return Bucket(self._time_s, self._low, self._total / self._count, self._high)


def _time_s(entry: Entry, undated: Undated | None) -> float | None:
    wall_s: float | None = entry.content.get("wall_s")
    if wall_s is None and undated is not None and undated.boot == entry.boot:
        return float(entry.content["mono_s"]) + undated.offset_s
    return wall_s


def _with_gaps(buckets: Iterable[Bucket], bucket_s: float) -> Iterable[Bucket]:
    longest_s = max(2.5 * bucket_s, GAP_S)
    last_s: float | None = None
    for bucket in buckets:
        if last_s is not None and bucket.time_s - last_s > longest_s:
            yield Bucket((last_s + bucket.time_s) / 2, None, None, None)
        last_s = bucket.time_s
        yield bucket


@contextlib.contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    with contextlib.closing(connect_to_read(path)) as connection:
        try:
            connection.execute("BEGIN")
            yield connection
        except sqlite3.Error as error:
            raise StoreError(f"{path}: the record cannot be read: {error}") from None
