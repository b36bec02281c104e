"""Any channel over any span as a few points, each with its lowest, mean and highest value; gaps stay gaps."""

import math
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from halocline.plant.vocabulary import CHANNELS, DERIVED
from halocline.report.batch import Entry, not_rolled_up
from halocline.report.database_open import reading
from halocline.report.journal import Run
from halocline.report.retention import SAMPLES, forgotten
from halocline.report.samples import sample_of
from halocline.report.schema import LEVELS, PLACE, rollup_table

MAX_POINTS = 2000
LEAST_BUCKET_S = 1.0
GAP_S = 5.0
_LEVELS = (SAMPLES, *LEVELS)
GAP_POINTS = 2.5

UNITS: Mapping[str, str] = {**{channel.id: channel.unit for channel in CHANNELS.values()}, **DERIVED}


class HistoryError(Exception):
    """The question makes no sense."""


class Undated(NamedTuple):
    """How to place the rows of a boot whose clock is not set yet: time = monotonic seconds + offset."""

    boot: str
    offset_s: float


class Bucket(NamedTuple):
    """What lies between two moments: its mean time, None values where nothing good was measured, and for how long
    its longest row speaks."""

    time_s: float
    low: float | None
    mean: float | None
    high: float | None
    row_s: float = 1.0


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
    with reading(path) as connection:
        buckets = read_buckets(connection, channel, from_s, to_s, bucket_s, held, undated)
    filled = tuple(_with_gaps(buckets, bucket_s))
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


def read_buckets(
    connection: sqlite3.Connection,
    channel: str,
    from_s: float,
    to_s: float,
    bucket_s: float,
    held: Sequence[Entry] = (),
    undated: Undated | None = None,
) -> list[Bucket]:
    """The buckets that hold anything, in order of time."""
    found = _Buckets(connection, channel, from_s, to_s, bucket_s)
    for level_s, begin_s, end_s in sources(from_s, to_s, bucket_s, forgotten(connection)):
        if level_s == SAMPLES:
            found.read_samples(begin_s, end_s)
        else:
            found.read_rollup(level_s, begin_s, end_s)
    found.read_unrolled(undated)
    found.add_held(held, undated)
    return found.buckets()


def run_buckets(connection: sqlite3.Connection, channel: str, run: Run, length_s: float, points: int) -> list[Bucket]:
    """A run's buckets, their times seconds since its beginning by the monotonic clock; from the roll-ups once its
    seconds have been given up."""
    if run.started_mono_s is None:
        return []
    found = _Buckets(connection, channel, 0.0, length_s + 1.0, max((length_s + 1.0) / points, LEAST_BUCKET_S))
    found.read_boot(run.boot, -run.started_mono_s)
    buckets = found.buckets()
    if not buckets and run.started_s is not None:
        from_s, width_s = run.started_s, max((length_s + 1.0) / points, LEVELS[0])
        dated = read_buckets(connection, channel, from_s, from_s + length_s + 1.0, width_s)
        buckets = [bucket._replace(time_s=bucket.time_s - from_s) for bucket in dated]
    return list(_with_gaps(buckets, found.width_s))


def sources(
    from_s: float, to_s: float, bucket_s: float, forgotten_s: Mapping[int, float]
) -> list[tuple[int, float, float]]:
    """Which level answers for which part of a span: the coarsest that has a row for every bucket; where that has been
    given up the next coarser one; and where its rows would reach over an end of the span, finer ones."""
    first = max(place for place, level_s in enumerate(_LEVELS) if level_s <= bucket_s)
    parts: list[tuple[int, float, float]] = []
    end_s = to_s
    for place in range(first, len(_LEVELS)):
        begin_s = max(from_s, min(forgotten_s.get(_LEVELS[place], from_s), end_s))
        if begin_s < end_s:
            parts += _exactly(place, begin_s, end_s, forgotten_s)
        end_s = begin_s
    return parts


def _exactly(
    place: int, begin_s: float, end_s: float, forgotten_s: Mapping[int, float]
) -> list[tuple[int, float, float]]:
    level_s = _LEVELS[place]
    if place == 0 or begin_s < forgotten_s.get(_LEVELS[place - 1], begin_s):
        return [(level_s, begin_s, end_s)]
    inner_begin_s, inner_end_s = math.ceil(begin_s / level_s) * level_s, math.floor(end_s / level_s) * level_s
    if inner_begin_s >= inner_end_s:
        return _exactly(place - 1, begin_s, end_s, forgotten_s)
    parts = [(level_s, float(inner_begin_s), float(inner_end_s))]
    if begin_s < inner_begin_s:
        parts += _exactly(place - 1, begin_s, inner_begin_s, forgotten_s)
    if inner_end_s < end_s:
        parts += _exactly(place - 1, inner_end_s, end_s, forgotten_s)
    return parts


class _Buckets:
    def __init__(
        self, connection: sqlite3.Connection, channel: str, from_s: float, to_s: float, bucket_s: float
    ) -> None:
        self._connection = connection
        self._channel = channel
        self._from_s, self._to_s, self.width_s = from_s, to_s, bucket_s
        self._sums: dict[int, _Sum] = {}
        self._unrolled = not_rolled_up(connection)
        self._rolled = "".join(f" AND NOT (boot = {boot} AND seq > {seq})" for boot, _, seq, _ in self._unrolled)
        self._columns = (channel, f"{channel}_min", f"{channel}_max") if channel in CHANNELS else (channel,) * 3

    def read_samples(self, begin_s: float, end_s: float) -> None:
        self._read("wall_s", f"wall_s >= :begin AND wall_s < :end{self._rolled}", {"begin": begin_s, "end": end_s})

    def read_unrolled(self, live: Undated | None) -> None:
        """Rows that no roll-up has got yet, and those of the boot that has no clock yet."""
        for boot, offset_s, rolled_seq, to_seq in self._unrolled:
            self._read_mono(boot, offset_s, rolled_seq + 1, to_seq)
        if live is not None:
            query = "SELECT id, last_seq FROM boots WHERE boot = ? AND wall_offset_s IS NULL"
            for boot, to_seq in self._connection.execute(query, (live.boot,)).fetchall():
                self._read_span(boot, live.offset_s, to_seq)

    def read_boot(self, boot: str, offset_s: float) -> None:
        """Rows of one boot, dated or not: time = monotonic seconds + offset."""
        found = self._connection.execute("SELECT id, last_seq FROM boots WHERE boot = ?", (boot,)).fetchone()
        if found is not None:
            self._read_span(found[0], offset_s, found[1])

    def _read_span(self, boot: int, offset_s: float, to_seq: int) -> None:
        """Rows by their boot's time alone."""
        first = self._seq_at(boot, self._from_s - offset_s, to_seq + 1)
        last = self._seq_at(boot, self._to_s - offset_s, to_seq + 1)
        self._read(
            "mono_s + :offset",
            "boot = :boot AND seq >= :first AND seq < :last",
            {"offset": offset_s, "boot": boot, "first": first, "last": last},
        )

    def _read_mono(self, boot: int, offset_s: float, from_seq: int, to_seq: int) -> None:
        """Rows by their own time where they have one, else by their boot's."""
        self._read(
            "coalesce(wall_s, mono_s + :offset)",
            "boot = :boot AND seq BETWEEN :first AND :last"
            " AND coalesce(wall_s, mono_s + :offset) >= :begin AND coalesce(wall_s, mono_s + :offset) < :end",
            {"offset": offset_s, "boot": boot, "first": from_seq, "last": to_seq}
            | {"begin": self._from_s, "end": self._to_s},
        )

    def read_rollup(self, level_s: int, begin_s: float, end_s: float) -> None:
        name, half_s = self._channel, level_s / 2
        query = (
            f"SELECT avg(start_s) + {half_s}, sum(n), sum(mean * n) / sum(n), min(low), max(high)"
            f" FROM (SELECT start_s, {name} AS mean, {name}_min AS low, {name}_max AS high,"
            f" CASE WHEN {name} IS NOT NULL THEN coalesce({name}_n, rows) END AS n"
            f" FROM {rollup_table(level_s)} WHERE start_s >= :begin AND start_s < :end)"
            " GROUP BY CAST((start_s + :half - :from) / :width AS INTEGER)"
        )
        values = {"from": self._from_s, "width": self.width_s, "half": half_s}
        values |= {"begin": begin_s - half_s, "end": end_s - half_s}
        for time_s, count, mean, low, high in self._connection.execute(query, values):
            self._add(time_s, count or 0, mean, low, high, level_s)

    def add_held(self, held: Iterable[Entry], undated: Undated | None) -> None:
        query = "SELECT coalesce(max(seq), 0) FROM samples WHERE boot = (SELECT id FROM boots WHERE boot = ?)"
        recorded: dict[str, int] = {}
        for entry in held:
            if entry.boot not in recorded:
                recorded[entry.boot] = self._connection.execute(query, (entry.boot,)).fetchone()[0]
            time_s = _time_s(entry, undated)
            if time_s is None or entry.content["seq"] <= recorded[entry.boot]:
                continue
            if self._from_s <= time_s < self._to_s:
                sample = sample_of(0, entry.content, time_s)
                value, low, high = (sample[PLACE[column]] for column in self._columns)
                self._add(time_s, 1, value, low, high, 1.0)

    def buckets(self) -> list[Bucket]:
        return [self._sums[number].bucket() for number in sorted(self._sums)]

    def _seq_at(self, boot: int, mono_s: float, to_seq: int) -> int:
        """The first number of a boot at or after a monotonic second; numbers and seconds rise together."""
        query = "SELECT seq, mono_s FROM samples WHERE boot = ? AND seq >= ? ORDER BY seq LIMIT 1"
        low, high = 0, int(to_seq)
        while low < high:
            middle = (low + high) // 2
            row = self._connection.execute(query, (boot, middle)).fetchone()
            if row is None or row[0] >= to_seq or row[1] >= mono_s:
                high = middle
            else:
                low = row[0] + 1
        return low

    def _read(self, time: str, where: str, values: Mapping[str, float]) -> None:
        value, low, high = self._columns
        query = (
            f"SELECT avg({time}), sum(CASE WHEN {value} IS NOT NULL THEN rows END),"
            f" sum({value} * rows) / sum(CASE WHEN {value} IS NOT NULL THEN rows END),"
            f" min(coalesce({low}, {value})), max(coalesce({high}, {value})), max(rows) FROM samples WHERE {where}"
            f" GROUP BY CAST(({time} - :from) / :width AS INTEGER)"
        )
        for time_s, count, mean, least, most, rows in self._connection.execute(
            query, {**values, "from": self._from_s, "width": self.width_s}
        ):
            self._add(time_s, count or 0, mean, least, most, rows)

    def _add(
        self, time_s: float, count: int, mean: float | None, low: float | None, high: float | None, row_s: float
    ) -> None:
        number = int((time_s - self._from_s) / self.width_s)
        if number not in self._sums:
            self._sums[number] = _Sum(time_s)
        known = self._sums[number]
        known.row_s = max(known.row_s, row_s)
        if mean is not None:
            known.add(count, mean, mean if low is None else low, mean if high is None else high)


class _Sum:
    __slots__ = ("_count", "_high", "_low", "_time_s", "_total", "row_s")

    def __init__(self, time_s: float) -> None:
        self._time_s = time_s
        self._count = 0
        self._total = 0.0
        self._low = float("inf")
        self._high = float("-inf")
        self.row_s = 1.0

    def add(self, count: int, mean: float, low: float, high: float) -> None:
        self._count += count
        self._total += count * mean
        self._low = min(self._low, low)
        self._high = max(self._high, high)

    def bucket(self) -> Bucket:
        if self._count == 0:
            return Bucket(self._time_s, None, None, None, self.row_s)
        return Bucket(self._time_s, self._low, self._total / self._count, self._high, self.row_s)


def _time_s(entry: Entry, undated: Undated | None) -> float | None:
    wall_s: float | None = entry.content.get("wall_s")
    if wall_s is None and undated is not None and undated.boot == entry.boot:
        return float(entry.content["mono_s"]) + undated.offset_s
    return wall_s


def _with_gaps(buckets: Iterable[Bucket], bucket_s: float) -> Iterator[Bucket]:
    last: Bucket | None = None
    for bucket in buckets:
        if last is not None:
            longest_s = max(GAP_POINTS * max(bucket_s, last.row_s, bucket.row_s), GAP_S)
            if bucket.time_s - last.time_s > longest_s:
                yield Bucket((last.time_s + bucket.time_s) / 2, None, None, None)
        last = bucket
        yield bucket
