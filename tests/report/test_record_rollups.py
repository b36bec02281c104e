import contextlib
import math
import sqlite3

from hypothesis import given
from hypothesis import strategies as st

from halocline.report import rollups
from halocline.report.samples import sample_of
from halocline.report.schema import LEVELS, QUANTITIES, rollup_table
from halocline.report.store import Entry, Store

WALL_S = 1_790_000_000.0
PRESSURE = QUANTITIES.index("vessel_pressure")


def row(seq, value, *, wall_s, low=None, high=None, tds=None, boot="b1", mono_s=None):
    content = {
        "seq": seq,
        "mono_s": float(seq) if mono_s is None else mono_s,
        "wall_s": wall_s,
        "state": "producing",
        "ch": {"vessel_pressure": [value, low, high, 2.0, "good" if value is not None else "stale"]},
        "d": {} if tds is None else {"product_tds_mg_l": tds},
        "out": [],
        "run": None,
    }
    return Entry("row", boot, content)


def rolled(path, level_s, quantity="vessel_pressure"):
    """start → (rows, how many had a value, lowest, mean, highest)."""
    query = (
        f"SELECT start_s, rows, coalesce({quantity}_n, rows), {quantity}_min, {quantity}, {quantity}_max"
        f" FROM {rollup_table(level_s)} ORDER BY start_s"
    )
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return {start_s: tuple(rest) for start_s, *rest in connection.execute(query)}


def recorded(path, entries, cut=500):
    """Everything written and rolled up."""
    with contextlib.closing(Store(path)) as store:
        for begin in range(0, len(entries), cut):
            store.write(entries[begin : begin + cut])
    with contextlib.closing(Store(path)) as store:
        while store.backlog:
            store.write([])
    return path


def test_each_level_keeps_the_lowest_the_mean_and_the_highest(tmp_path):
    rows = [row(n, 50.0 + n % 2, wall_s=WALL_S + n, low=49.0, high=52.0) for n in range(1, 121)]
    rows[70] = row(71, 51.0, wall_s=WALL_S + 71, low=1.0, high=63.9)
    path = recorded(tmp_path / "record.sqlite3", rows)
    for level_s in LEVELS:
        found = rolled(path, level_s)
        assert sum(rows for rows, *_ in found.values()) == 120
        assert min(low for _, _, low, _, _ in found.values()) == 1.0
        assert max(high for *_, high in found.values()) == 63.9
        mean = sum(n * mean for _, n, _, mean, _ in found.values()) / 120
        assert math.isclose(mean, 50.5)


def test_a_value_that_was_not_known_counts_for_nothing(tmp_path):
    rows = [row(1, 50.0, wall_s=WALL_S), row(2, None, wall_s=WALL_S + 1), row(3, 60.0, wall_s=WALL_S + 2)]
    path = recorded(tmp_path / "record.sqlite3", rows)
    assert list(rolled(path, 60).values()) == [(3, 2, 50.0, 55.0, 60.0)]


def test_roll_ups_follow_the_samples_by_ten_minutes_at_most(tmp_path):
    path = tmp_path / "record.sqlite3"
    with contextlib.closing(Store(path)) as store:
        store.write([row(1, 50.0, wall_s=WALL_S + 1)])
        store.write([row(n, 50.0, wall_s=WALL_S + n) for n in range(2, 601)])
        assert sum(rows for rows, *_ in rolled(path, 10).values()) == 1
        store.write([row(601, 50.0, wall_s=WALL_S + 601)])
        assert sum(rows for rows, *_ in rolled(path, 10).values()) == 601


def test_a_clock_that_is_set_back_adds_to_what_is_there(tmp_path):
    hour = [row(n, 50.0, wall_s=WALL_S + n) for n in range(1, 11)]
    again = [row(n, 60.0, wall_s=WALL_S + n - 10) for n in range(11, 21)]
    path = recorded(tmp_path / "record.sqlite3", [*hour, *again])
    ((rows, n, low, mean, high),) = rolled(path, 86400).values()
    assert (rows, n, low, mean, high) == (20, 20, 50.0, 55.0, 60.0)


values = st.none() | st.floats(-100, 100).map(lambda value: round(value, 4))
steps = st.lists(st.tuples(values, st.integers(0, 400)), min_size=1, max_size=60)


@given(steps, st.integers(1, 60))
def test_roll_ups_are_those_of_all_samples_however_they_came(new_record, steps, cut):
    entries, wall_s = [], WALL_S
    for n, (value, step_s) in enumerate(steps, 1):
        wall_s += step_s
        entries.append(row(n, value, wall_s=wall_s, tds=value, mono_s=wall_s - WALL_S))
    path = recorded(new_record(), entries, cut)
    for level_s in LEVELS:
        expected = {}
        for entry in entries:
            expected.setdefault(int(entry.content["wall_s"] // level_s * level_s), []).append(entry)
        for quantity in ("vessel_pressure", "product_tds_mg_l"):
            found = rolled(path, level_s, quantity)
            assert list(found) == sorted(expected)
            for start_s, group in expected.items():
                known = [value for entry in group if (value := entry.content["ch"]["vessel_pressure"][0]) is not None]
                rows, n, low, mean, high = found[start_s]
                assert rows == len(group)
                if known:
                    assert (n, low, high) == (len(known), min(known), max(known))
                    assert math.isclose(mean, sum(known) / len(known), abs_tol=1e-9)
                else:
                    assert (low, mean, high) == (None, None, None)


parts = st.none() | st.tuples(st.integers(1, 90), st.floats(-9, 0), st.floats(-9, 9), st.floats(0, 9)).map(
    lambda part: rollups.Part(*part)
)
summaries = st.tuples(st.integers(90, 900), parts).map(
    lambda made: rollups.Summary(made[0], (made[1],) + (None,) * (len(QUANTITIES) - 1))
)


@given(summaries)
def test_what_is_written_is_what_is_read(summary):
    found = rollups.from_row(rollups.to_row(60, summary))
    part, again = summary.parts[0], found.parts[0]
    assert found.rows == summary.rows
    if part is None:
        assert again is None
    else:
        assert (again.n, again.low, again.high) == (part.n, part.low, part.high)
        assert math.isclose(again.total, part.total, abs_tol=1e-9)


@given(st.lists(summaries, min_size=1, max_size=6), st.randoms())
def test_the_order_in_which_roll_ups_are_added_does_not_matter(several, random):
    shuffled = list(several)
    random.shuffle(shuffled)
    first, second = rollups.combine(several), rollups.combine(shuffled)
    assert first.rows == second.rows
    assert (first.parts[0] is None) == (second.parts[0] is None)
    if first.parts[0] is not None:
        assert (first.parts[0].n, first.parts[0].low, first.parts[0].high) == (
            second.parts[0].n,
            second.parts[0].low,
            second.parts[0].high,
        )
        assert math.isclose(first.parts[0].total, second.parts[0].total, abs_tol=1e-9)


def test_folded_rows_weigh_as_many_as_they_stand_for():
    one = sample_of(1, row(1, 10.0, wall_s=WALL_S).content, WALL_S)
    nine = (*sample_of(1, row(2, 20.0, wall_s=WALL_S + 9).content, WALL_S + 9)[:-1], 9)
    part = rollups.summarise([one, nine]).parts[PRESSURE]
    assert (part.n, part.total / part.n) == (10, 19.0)


def test_rows_that_are_nonsense_on_file_do_not_keep_the_others_from_being_rolled_up(new_record):
    path = new_record()
    with contextlib.closing(Store(path)) as store:
        store.write([row(1, 50.0, wall_s=WALL_S + 1)])
        store.write([row(seq, 50.0, wall_s=WALL_S + seq) for seq in range(2, 21)])
    with contextlib.closing(sqlite3.connect(path)) as connection:
        for seq, change in ((5, "rows = NULL"), (6, "wall_s = 'noise'"), (7, "vessel_pressure = x'00'")):
            connection.execute(f"UPDATE samples SET {change} WHERE seq = ?", (seq,))
        connection.execute("UPDATE rollup_60s SET rows = NULL, vessel_pressure = 'noise'")
        connection.commit()
    recorded(path, [row(21, 50.0, wall_s=WALL_S + 21)])
    assert sum(rows for rows, *_ in rolled(path, 86400).values()) == 18
    assert sum(rows for rows, *_ in rolled(path, 60).values()) == 17
