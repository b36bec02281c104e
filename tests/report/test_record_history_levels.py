"""Which roll-up answers: coarse enough to be quick, exact at the ends, and older than what was given up."""

import contextlib
import math
import sqlite3
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.report.history import history, sources
from halocline.report.retention import SAMPLES
from halocline.report.schema import LEVELS
from halocline.report.store import Entry, Store

WALL_S = 1_790_000_000.0
DAY_S = 86400.0


def row(seq, value, *, wall_s, low=None, high=None, state="producing"):
    content = {
        "seq": seq,
        "mono_s": wall_s - WALL_S + 1e6,
        "wall_s": wall_s,
        "state": state,
        "ch": {"feed_pressure": [value, low, high, 1.0, "good"]},
        "d": {},
        "out": [],
    }
    return Entry("row", "b1", content)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "record.sqlite3"


def write(path, rows):
    with contextlib.closing(Store(path)) as store:
        for begin in range(0, len(rows), 500):
            store.write(rows[begin : begin + 500])
    with contextlib.closing(Store(path)) as store:
        while store.backlog:
            store.write([])


@pytest.mark.parametrize(
    ("bucket_s", "level_s"),
    [(1.0, 0), (9.9, 0), (10.0, 10), (60.0, 60), (899.0, 60), (900.0, 900), (7200.0, 7200), (86400.0, 86400)],
)
def test_the_coarsest_roll_up_with_a_row_for_every_point_answers(bucket_s, level_s):
    span_s = 30 * DAY_S
    longest = max(sources(0.0, span_s, bucket_s, {}), key=lambda part: part[2] - part[1])
    assert longest == (level_s, 0.0, span_s)


def test_what_was_given_up_is_answered_by_the_next_coarser_one():
    given_up = {SAMPLES: 20 * DAY_S, 10: 20 * DAY_S, 60: 10 * DAY_S}
    parts = sources(0.0, 30 * DAY_S, 1.0, given_up)
    assert parts == [(0, 20 * DAY_S, 30 * DAY_S), (60, 10 * DAY_S, 20 * DAY_S), (900, 0.0, 10 * DAY_S)]


spans = st.tuples(st.floats(0, 1e8), st.floats(1, 1.6e8), st.floats(1, 1e6))
gone = st.dictionaries(st.sampled_from([SAMPLES, 10, 60, 900]), st.floats(0, 2e8))


@given(spans, gone)
def test_the_parts_cover_the_span_once_and_are_few(span, given_up):
    from_s, length_s, bucket_s = span
    to_s = from_s + length_s
    parts = sorted(sources(from_s, to_s, bucket_s, given_up), key=lambda part: part[1])
    assert parts[0][1] == from_s
    assert parts[-1][2] == to_s
    for (_, _, end_s), (_, begin_s, _) in pairwise(parts):
        assert end_s == begin_s
    for level_s, begin_s, end_s in parts:
        assert begin_s < end_s
        assert level_s == SAMPLES or level_s <= max(bucket_s, 900.0) or level_s in LEVELS
    assert len(parts) <= 14 * 5


def test_a_long_span_is_exact_at_both_ends(path):
    write(path, [row(n, float(n), wall_s=WALL_S + n) for n in range(1, 4001)])
    found = history(path, "feed_pressure", WALL_S + 1003.0, WALL_S + 3007.0, 2)
    assert (min(found.low), max(found.high)) == (1003.0, 3006.0)
    assert found.mean == pytest.approx([1503.5, 2505.5], abs=60.0)


def test_a_spike_is_seen_from_any_distance(path):
    rows = [row(n, 1.0, wall_s=WALL_S + n * 100) for n in range(1, 2000)]
    rows[1250] = row(1251, 1.0, wall_s=WALL_S + 1251 * 100, low=-0.9, high=3.9)
    write(path, rows)
    for length_s in (2 * 86400.0, 1e6, 1e7, 1.5e8):
        found = history(path, "feed_pressure", WALL_S + 1e5, WALL_S + 1e5 + length_s, 10)
        assert max(high for high in found.high if high is not None) == 3.9
        assert min(low for low in found.low if low is not None) == -0.9


def test_rows_at_rest_are_one_line_and_not_one_gap_after_the_other(path):
    write(path, [row(n, 1.0, wall_s=WALL_S + n, state="standby") for n in range(1, 601)])
    found = history(path, "feed_pressure", WALL_S, WALL_S + 600, 600)
    assert None not in found.mean
    assert len(found.time) == 61


def test_a_night_without_power_is_a_gap_in_a_year(path):
    days = [row(n + 1, 1.0, wall_s=WALL_S + n * 600.0) for n in range(150)]
    later = [row(200 + n, 2.0, wall_s=WALL_S + 20 * DAY_S + n * 600.0) for n in range(150)]
    write(path, [*days, *later])
    found = history(path, "feed_pressure", WALL_S - 100 * DAY_S, WALL_S + 100 * DAY_S, 200)
    assert [mean for mean in found.mean if mean is not None] == pytest.approx([1.0, 1.0, 2.0, 2.0], abs=0.01)
    assert found.mean.count(None) == 1


def test_seconds_that_were_given_up_are_shown_by_their_minutes(path):
    write(path, [row(n, float(n % 7), wall_s=WALL_S + n) for n in range(1, 1201)])
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("DELETE FROM samples WHERE wall_s < ?", (WALL_S + 600,))
        connection.execute("DELETE FROM rollup_10s WHERE start_s < ?", (WALL_S + 600,))
        connection.executemany("INSERT INTO forgotten VALUES (?, ?)", [(0, WALL_S + 600), (10, WALL_S + 600)])
        connection.commit()
    found = history(path, "feed_pressure", WALL_S, WALL_S + 1200, 1200)
    old = [
        (low, high) for time, low, high in zip(found.time, found.low, found.high, strict=True) if time < WALL_S + 600
    ]
    assert 9 <= len(old) <= 12
    assert all(extremes == (0.0, 6.0) for extremes in old)
    assert len(found.time) > 600


values = st.lists(st.floats(-5, 5).map(lambda value: round(value, 3)), min_size=2, max_size=120)


@given(values, st.integers(1, 90), st.integers(1, 50), st.integers(0, 3000), st.integers(1, 9000))
def test_extremes_are_those_of_the_rows_in_the_span_whatever_answers(
    new_record, measured, step_s, points, from_s, length_s
):
    path = new_record()
    write(path, [row(n + 1, value, wall_s=WALL_S + n * step_s) for n, value in enumerate(measured)])
    begin_s, end_s = WALL_S + from_s, WALL_S + from_s + length_s
    found = history(path, "feed_pressure", begin_s, end_s, points)
    inside = [value for n, value in enumerate(measured) if begin_s <= WALL_S + n * step_s < end_s]
    assert max((v for v in found.high if v is not None), default=None) == max(inside, default=None)
    assert min((v for v in found.low if v is not None), default=None) == min(inside, default=None)
    assert list(found.time) == sorted(found.time)
    assert all(math.isfinite(time) for time in found.time)
