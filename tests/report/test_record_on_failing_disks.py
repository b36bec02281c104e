"""The recorder on a disk that is full, read-only or stalls: it says so, goes on, loses nothing that was promised."""

import contextlib
import sqlite3
import time

import pytest

from halocline.plant.settings import RecordSettings
from halocline.report import texts
from halocline.report.history import history
from halocline.report.journal import Journal
from halocline.report.recorder import Recorder
from halocline.report.store import Entry, Store

WALL_S = 1_790_000_000.0


def row(seq):
    numbers = [50.123 + seq / 7, 49.5 + seq / 9, 51.0 + seq / 11, 2.5001 + seq / 13, "good"]
    channels = dict.fromkeys(("vessel_pressure", "feed_pressure", "product_flow", "sea_temperature"), numbers)
    content = {
        "seq": seq,
        "mono_s": float(seq),
        "wall_s": WALL_S + seq,
        "state": "producing",
        "ch": channels,
        "out": [],
    }
    return Entry("row", "b1", content)


def event(seq):
    return Entry("event", "b1", {"seq": seq, "mono_s": float(seq), "wall_s": WALL_S + seq, "kind": "state"})


@pytest.fixture
def recorder(disk):
    started = []

    def start(**options):
        timing = {"batch_s": 0.05, "retry_s": 0.05, "tidy_every_s": 0.05}
        one = Recorder(disk.folder / "record.sqlite3", RecordSettings(), **{**timing, **options})
        started.append(one)
        one.start()
        return one

    yield start
    for one in started:
        one.stop()


def numbers(path):
    connection = sqlite3.connect(path)
    with contextlib.closing(connection):
        query = "SELECT seq FROM samples UNION ALL SELECT seq FROM events ORDER BY seq"
        return [seq for (seq,) in connection.execute(query)]


def whole(path):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


def test_a_full_disk_is_said_and_what_was_held_is_written_when_there_is_room(disk, recorder, until):
    one = recorder()
    for seq in range(1, 301):
        one.offer(row(seq))
    assert one.flush()
    disk.fill()
    seq = 300
    while one.status()["state"] == "ok":
        for _ in range(100):
            seq += 1
            one.offer(row(seq))
        one.offer(event(seq + 1))
        seq += 1
        one.flush(0.02)
        assert seq < 100_000, "the disk never became full"
    assert "the disk is full" in one.status()["problem"]
    condition = one.conditions()[0]  # a note of the record may stand beside it
    assert condition.id == "record_unavailable"
    assert condition.means.startswith("Nothing is being recorded: ")
    assert condition.do
    last = one.position.seq
    disk.empty()
    until(lambda: one.flush(0.5) and one.status()["state"] == "ok", 20)
    found = numbers(one.path)
    first = found[0]
    assert found == list(range(first, last + 1))
    assert whole(one.path)
    assert one.offer(row(last + 1)) or one.status()["refused"] > 0


def test_the_ballast_is_the_last_room_and_is_taken_again_when_there_is_some(disk, recorder, until):
    one = recorder()
    ballast = disk.folder / "record.ballast"
    one.offer(row(1))
    until(ballast.exists)
    assert ballast.stat().st_size > 1_000_000
    disk.fill()
    seq = 1
    while ballast.exists():
        for _ in range(200):
            seq += 1
            one.offer(row(seq))
        one.offer(event(seq + 1))
        seq += 1
        one.flush(0.02)
        assert seq < 100_000, "the ballast was never needed"
    disk.empty()
    until(lambda: one.flush(0.5) and one.status()["state"] == "ok", 20)
    until(ballast.exists, 20)


def test_a_disk_that_stays_full_costs_the_oldest_seconds_and_not_their_minutes(disk, recorder, until):
    one = recorder(tidy_every_s=1e9)
    path = one.path
    one.stop()
    with contextlib.closing(Store(path)) as store:
        for batch in range(12):
            store.write([row(seq) for seq in range(batch * 500 + 1, batch * 500 + 501)])
    again = recorder(tidy_every_s=1e9)
    disk.fill()
    for seq in range(6001, 6301):
        again.offer(row(seq))
    for seq in range(6301, 8001):
        if not again.offer(event(seq)):
            break
        time.sleep(0.0005)  # the pace of the attack: all at once would be one batch
    until(lambda: again.status()["note"] is not None or again.status()["state"] == "failing", 20)
    if disk.room_inside_is_room:
        assert again.status()["note"] == f"{texts.RECORD_GAVE_UP} {texts.RECORD_GAVE_UP_DO}"
    disk.empty()
    until(lambda: again.flush(0.5) and again.status()["state"] == "ok", 20)
    assert whole(path)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT sum(rows) FROM rollup_60s").fetchone()[0] >= 6000


def test_a_read_only_disk_at_the_start_is_said_the_past_can_be_read_and_recording_begins_later(disk, recorder, until):
    with contextlib.closing(Store(disk.folder / "record.sqlite3")) as store:
        store.write([row(seq) for seq in range(1, 101)])
    disk.read_only()
    one = recorder()
    for seq in range(101, 111):
        one.offer(row(seq))
    until(lambda: one.status()["state"] == "failing")
    assert "read-only" in one.status()["problem"].lower()
    shown = history(one.path, "vessel_pressure", WALL_S, WALL_S + 200, 100, held=one.held_rows())
    assert len([mean for mean in shown.mean if mean is not None]) >= 50
    assert Journal(one.path).runs() == []
    disk.writable()
    until(lambda: one.flush(0.5) and one.status()["state"] == "ok", 20)
    assert numbers(one.path) == list(range(1, 111))


def test_a_card_that_stands_still_loses_nothing(disk, recorder, until):
    one = recorder()
    one.offer(row(1))
    assert one.flush()
    disk.freeze()
    longest_s = 0.0
    for seq in range(2, 602):
        begin_s = time.perf_counter()
        assert one.offer(row(seq))
        one.status()
        one.held_rows()
        longest_s = max(longest_s, time.perf_counter() - begin_s)
        time.sleep(0.001)  # the pace of the attack: the recorder's thread is to get its turns
    assert len(numbers_held := one.held_rows()) >= 100
    assert numbers_held[-1].content["seq"] == 601
    disk.thaw()
    until(lambda: one.flush(0.5) and one.status()["state"] == "ok", 20)
    assert numbers(one.path) == list(range(1, 602))
    assert longest_s < 0.5
