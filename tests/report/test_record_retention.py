"""What is kept for how long, what is given up first, and the ballast."""

import contextlib
import shutil
import sqlite3
from collections import namedtuple

import pytest

from halocline.plant.settings import RecordSettings
from halocline.report import retention
from halocline.report.retention import Ballast, forgotten
from halocline.report.schema import LEVELS, rollup_table
from halocline.report.store import Entry, Store

WALL_S = 1_790_000_000.0
DAY_S = 86400.0
YEAR_S = 365.25 * DAY_S


def row(seq, boot="b1", *, mono_s=None, wall_s=None):
    mono_s = float(seq) if mono_s is None else mono_s
    content = {"seq": seq, "mono_s": mono_s, "wall_s": wall_s, "state": "producing", "ch": {}, "d": {}, "out": []}
    return Entry("row", boot, content)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "record.sqlite3"


@pytest.fixture
def store(path):
    with contextlib.closing(Store(path)) as store:
        yield store


def ask(path, query, *arguments):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute(query, arguments).fetchall()


def forget_all(store, promise):
    steps = []
    while step := store.forget_step(promise):
        steps.append(step)
    return steps


def test_seconds_older_than_promised_go_in_small_steps_and_events_stay(store, path):
    day = [row(n, mono_s=n * 60.0, wall_s=WALL_S + n * 60.0) for n in range(1, 5000)]
    store.write([*day, Entry("event", "b1", {"seq": 5000, "mono_s": 3e5, "wall_s": None, "kind": "state"})])
    steps = forget_all(store, RecordSettings(seconds_days=1.0))
    assert max(steps) <= 2000
    ((oldest, newest),) = ask(path, "SELECT min(mono_s), max(mono_s) FROM samples")
    assert newest - oldest == DAY_S
    assert ask(path, "SELECT count(*) FROM events") == [(1,)]
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert forgotten(connection)[retention.SAMPLES] == WALL_S + oldest - 60.0


def test_age_is_recorded_time_so_a_computer_that_is_mostly_off_keeps_more_days(store, path):
    for boot in range(10):
        store.write([row(n, f"b{boot}", mono_s=n * 3600.0, wall_s=WALL_S + boot * 30 * DAY_S) for n in range(1, 8)])
    assert forget_all(store, RecordSettings(seconds_days=2.0)) == [13]
    assert ask(path, "SELECT boot, count(*) FROM samples GROUP BY boot LIMIT 2") == [(2, 1), (3, 7)]


def test_a_clock_wrong_by_a_year_makes_nothing_old(store, path):
    store.write([row(n, wall_s=WALL_S + n) for n in range(1, 100)])
    store.write([row(n, wall_s=WALL_S - YEAR_S + n) for n in range(100, 200)])
    store.write([row(n, wall_s=WALL_S + 2 * YEAR_S + n) for n in range(200, 300)])
    assert forget_all(store, RecordSettings()) == []
    assert ask(path, "SELECT count(*) FROM samples") == [(298 + 1,)]


def test_each_roll_up_keeps_its_promise_and_the_long_ones_stay_for_ever(store, path):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        for level_s in LEVELS:
            starts = range(0, int(32 * DAY_S), level_s)
            connection.executemany(
                f"INSERT INTO {rollup_table(level_s)} (start_s, rows) VALUES (?, ?)", [(s, level_s) for s in starts]
            )
        connection.commit()
    forget_all(store, RecordSettings(seconds_days=1.0, minutes_days=10.0, quarters_days=30.0))
    for level_s, days in ((10, 1), (60, 10), (900, 30), (7200, 32), (86400, 32)):
        ((first_s, last_s),) = ask(path, f"SELECT min(start_s), max(start_s) FROM {rollup_table(level_s)}")
        assert (last_s + level_s - first_s) / DAY_S == days


def test_a_record_above_its_size_gives_up_seconds_first_and_never_the_quarters(store, path):
    promise = RecordSettings(max_size_mb=50.0)
    assert not retention.too_large(store._connection, promise.max_size_mb * 1e6)
    rows = [row(n, wall_s=WALL_S + n) for n in range(1, 3001)]
    store.write(rows[:1500])
    store.write(rows[1500:])
    while store.backlog:
        store.write([])
    before = {level_s: ask(path, f"SELECT count(*) FROM {rollup_table(level_s)}") for level_s in LEVELS}
    tight = RecordSettings(max_size_mb=0.0)
    assert store.forget_step(tight) == 2000
    assert store.forget_step(tight) == 1000
    assert {level_s: ask(path, f"SELECT count(*) FROM {rollup_table(level_s)}") for level_s in LEVELS} == before
    forget_all(store, tight)
    left = {level_s: ask(path, f"SELECT count(*) FROM {rollup_table(level_s)}")[0][0] for level_s in LEVELS}
    assert left[10] == left[60] == 0
    assert all(left[level_s] == before[level_s][0][0] for level_s in (900, 7200, 86400))


def test_what_was_given_up_makes_room_inside_the_file(store, path):
    for batch in range(10):
        store.write([row(n, wall_s=WALL_S + n) for n in range(batch * 400 + 1, batch * 400 + 401)])
    size = path.stat().st_size
    while store.forget_oldest():
        pass
    for batch in range(10, 20):
        store.write([row(n, wall_s=WALL_S + n) for n in range(batch * 400 + 1, batch * 400 + 401)])
    store._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    assert path.stat().st_size <= max(size, 1) * 1.5 + 1_000_000


Usage = namedtuple("Usage", "total used free")


@pytest.fixture
def disk(monkeypatch):
    def sized(total, free):
        monkeypatch.setattr(shutil, "disk_usage", lambda _: Usage(total, total - free, free))

    return sized


def test_the_ballast_takes_real_room_and_gives_it_back(tmp_path, disk):
    disk(64_000_000, 32_000_000)
    ballast = Ballast(tmp_path / "record.ballast")
    assert ballast.reserve()
    status = (tmp_path / "record.ballast").stat()
    assert status.st_size == 3_200_000
    assert status.st_blocks * 512 >= 3_200_000
    assert ballast.reserve()
    assert ballast.release()
    assert not ballast.release()
    assert list(tmp_path.iterdir()) == []


def test_no_ballast_is_taken_from_a_disk_that_is_nearly_full(tmp_path, disk):
    disk(64_000_000, 12_000_000)
    assert not Ballast(tmp_path / "record.ballast").reserve()
    assert list(tmp_path.iterdir()) == []


def test_ballast_on_a_large_disk_stays_small(tmp_path, disk):
    disk(64_000_000_000, 32_000_000_000)
    Ballast(tmp_path / "record.ballast").reserve()
    assert (tmp_path / "record.ballast").stat().st_size == 16_000_000


def test_a_place_where_no_ballast_can_be_is_no_trouble(tmp_path):
    assert not Ballast(tmp_path / "nowhere" / "record.ballast").reserve()
    assert not Ballast(tmp_path / "nowhere" / "record.ballast").release()
