import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.report.history import HistoryError, Undated, history
from halocline.report.store import Entry, Store, StoreError

WALL_S = 1_790_000_000.0


def row(seq, value, *, wall_s=None, mono_s=None, low=None, high=None, derived=None, boot="b1"):
    channels = {"vessel_pressure": [value, low, high, 2.0, "good" if value is not None else "stale"]}
    content = {
        "seq": seq,
        "mono_s": float(seq) if mono_s is None else mono_s,
        "wall_s": wall_s,
        "state": "producing",
        "ch": channels,
        "d": {} if derived is None else {"product_tds_mg_l": derived},
        "out": [],
        "run": None,
    }
    return Entry("row", boot, content)


@pytest.fixture
def recorded(tmp_path):
    path = tmp_path / "record.sqlite3"

    def record(*entries):
        with contextlib.closing(Store(path)) as store:
            store.write(entries)
        return path

    return record


def test_a_spike_survives_however_few_points_are_asked_for(recorded):
    rows = [row(n, 50.0, wall_s=WALL_S + n, low=49.5, high=50.5) for n in range(1, 1000)]
    rows[500] = row(501, 52.0, wall_s=WALL_S + 501, low=3.0, high=63.5)
    found = history(recorded(*rows), "vessel_pressure", WALL_S, WALL_S + 1000, 5)
    assert len(found.time) == 5
    assert max(found.high) == 63.5
    assert min(found.low) == 3.0
    assert found.mean[0] == 50.0
    assert found.unit == "bar"
    assert found.bucket_s == 200.0


def test_a_pause_in_the_record_is_a_gap_and_not_a_line(recorded):
    rows = [row(1, 50.0, wall_s=WALL_S), row(2, 50.0, wall_s=WALL_S + 1), row(3, 51.0, wall_s=WALL_S + 61)]
    found = history(recorded(*rows), "vessel_pressure", WALL_S, WALL_S + 100, 100)
    assert found.mean == (50.0, 50.0, None, 51.0)
    assert list(found.time) == [WALL_S, WALL_S + 1, WALL_S + 31, WALL_S + 61]


def test_a_reading_that_was_not_good_is_a_gap(recorded):
    rows = [row(1, 50.0, wall_s=WALL_S), row(2, None, wall_s=WALL_S + 1), row(3, 51.0, wall_s=WALL_S + 2)]
    found = history(recorded(*rows), "vessel_pressure", WALL_S, WALL_S + 10, 10)
    assert found.mean == found.low == found.high == (50.0, None, 51.0)


def test_rows_that_are_not_on_disk_yet_belong_to_it_once(recorded):
    path = recorded(row(1, 50.0, wall_s=WALL_S), row(2, 52.0, wall_s=WALL_S + 1))
    held = [row(2, 52.0, wall_s=WALL_S + 1), row(3, 54.0, wall_s=WALL_S + 2), row(4, 1.0, wall_s=WALL_S + 99)]
    found = history(path, "vessel_pressure", WALL_S, WALL_S + 10, 1, held=held)
    assert (found.mean, found.low, found.high) == ((52.0,), (50.0,), (54.0,))


def test_rows_of_a_boot_without_a_clock_are_placed_by_its_monotonic_time(recorded):
    path = recorded(row(1, 50.0), row(2, 51.0))
    where = Undated("b1", WALL_S)
    found = history(path, "vessel_pressure", WALL_S, WALL_S + 10, 10, held=[row(3, 52.0)], undated=where)
    assert found.mean == (50.0, 51.0, 52.0)
    assert list(found.time) == [WALL_S + 1, WALL_S + 2, WALL_S + 3]
    assert history(path, "vessel_pressure", WALL_S, WALL_S + 10, 10).mean == ()


def test_a_derived_quantity_can_be_asked_for(recorded):
    path = recorded(row(1, 50.0, wall_s=WALL_S, derived=300.0), row(2, 50.0, wall_s=WALL_S + 1, derived=500.0))
    found = history(path, "product_tds_mg_l", WALL_S, WALL_S + 10, 1)
    assert (found.low, found.mean, found.high) == ((300.0,), (400.0,), (500.0,))
    assert found.unit == "mg/L"


@pytest.mark.parametrize(
    ("channel", "span", "points", "problem"),
    [
        ("boot", (0, 1), 10, "there is no channel 'boot'; there are battery_charge_percent, "),
        ("vessel_pressure", (0, 1), 0, "points has to be 1 to 2000"),
        ("vessel_pressure", (0, 1), 2001, "points has to be 1 to 2000"),
        ("vessel_pressure", (1, 1), 10, "'to' has to be later than 'from'"),
        ("vessel_pressure", (0, float("nan")), 10, "'to' has to be later than 'from'"),
    ],
)
def test_a_question_without_sense_is_refused(recorded, channel, span, points, problem):
    with pytest.raises(HistoryError) as refusal:
        history(recorded(), channel, *span, points)
    assert str(refusal.value).startswith(problem)


def test_a_record_that_is_not_there_is_an_error_and_is_not_made(tmp_path):
    with pytest.raises(StoreError, match="the record cannot be read"):
        history(tmp_path / "none.sqlite3", "vessel_pressure", 0, 1, 10)
    assert list(tmp_path.iterdir()) == []


values = st.lists(st.none() | st.floats(0, 100), min_size=1, max_size=80)


@given(values, st.integers(1, 40), st.integers(0, 80))
def test_extremes_and_mean_are_those_of_all_rows(tmp_path_factory, measured, points, on_disk):
    path = tmp_path_factory.mktemp("record") / "record.sqlite3"
    rows = [row(n + 1, value, wall_s=WALL_S + n) for n, value in enumerate(measured)]
    with contextlib.closing(Store(path)) as store:
        store.write(rows[:on_disk])
    found = history(path, "vessel_pressure", WALL_S, WALL_S + 80, points, held=rows[on_disk:])
    good = [value for value in measured if value is not None]
    assert max((v for v in found.high if v is not None), default=None) == max(good, default=None)
    assert min((v for v in found.low if v is not None), default=None) == min(good, default=None)
    assert list(found.time) == sorted(found.time)
    assert len(found.time) == len(found.mean) <= 2 * points + 1
