import contextlib
import sqlite3
import threading

import pytest

from halocline.link.client import BEGINNING, Position
from halocline.plant.settings import RecordSettings
from halocline.report import recorder as recorder_module
from halocline.report import texts
from halocline.report.database_open import DamagedError, FullError, InUseError, LaterError, ReadOnlyError, StoreError
from halocline.report.recorder import Recorder
from halocline.report.store import Entry, Store


def row(seq, boot="b1"):
    content = {"seq": seq, "mono_s": float(seq), "wall_s": None, "ch": {}, "d": {}, "out": [], "run": None}
    return Entry("row", boot, content)


def event(seq, boot="b1"):
    return Entry("event", boot, {"seq": seq, "mono_s": float(seq), "wall_s": None, "kind": "state"})


def recorded(path, table="samples"):
    connection = sqlite3.connect(path)
    try:
        return [seq for (seq,) in connection.execute(f"SELECT seq FROM {table} ORDER BY boot, seq")]
    finally:
        connection.close()


@pytest.fixture
def record(tmp_path):
    started = []

    def start(name="record.sqlite3", *, start=True, **options):
        one = Recorder(tmp_path / name, RecordSettings(), **{"retry_s": 0.02, **options})
        started.append(one)
        if start:
            one.start()
        return one

    yield start
    for one in started:
        one.stop()


def test_rows_wait_for_their_batch_and_an_event_takes_them_along(record, until):
    recorder = record()
    recorder.offer(row(1))
    recorder.offer(row(2))
    assert [entry.content["seq"] for entry in recorder.held_rows()] == [1, 2]
    assert recorded(recorder.path) == []
    recorder.offer(event(3))
    until(lambda: recorded(recorder.path, "events") == [3])
    assert recorded(recorder.path) == [1, 2]
    assert recorder.held_rows() == []


def test_rows_are_written_when_their_batch_is_old(record, until):
    recorder = record(batch_s=0.1)
    recorder.offer(row(1))
    until(lambda: recorded(recorder.path) == [1])


def test_what_is_held_is_written_at_the_end(record):
    recorder = record()
    recorder.offer(row(1))
    recorder.stop()
    assert recorded(recorder.path) == [1]


def test_the_place_to_go_on_from_is_what_was_taken_and_survives_a_restart(record):
    recorder = record()
    assert recorder.position == BEGINNING
    recorder.offer(row(1))
    assert recorder.position == Position("b1", 1)
    recorder.stop()
    assert record().position == Position("b1", 1)


def test_a_full_memory_refuses_and_then_asks_for_the_rest(record, until, monkeypatch):
    monkeypatch.setattr(recorder_module, "MAX_HELD", 10)
    caught_up = threading.Event()
    recorder = record(on_caught_up=caught_up.set)
    with sqlite3.connect(recorder.path, isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        assert [recorder.offer(row(n)) for n in range(1, 14)] == [True] * 10 + [False] * 3
        assert recorder.position == Position("b1", 10)
        status = recorder.status()
        assert (status["state"], status["held"], status["refused"]) == ("behind", 10, 3)
        other.execute("ROLLBACK")
    recorder.flush()
    until(caught_up.is_set)
    assert recorded(recorder.path) == list(range(1, 11))
    assert not recorder.offer(row(14)), "the old connection still speaks; 11 to 13 were refused"
    assert recorder.offer(row(11))
    assert recorder.offer(row(12))
    assert recorder.status()["state"] == "ok"


def test_after_a_refusal_a_new_connection_may_go_on_where_the_ring_does(record, until, monkeypatch):
    monkeypatch.setattr(recorder_module, "MAX_HELD", 2)
    caught_up = threading.Event()
    recorder = record(on_caught_up=caught_up.set)
    assert [recorder.offer(row(n)) for n in range(1, 4)] == [True, True, False]
    recorder.flush()
    until(caught_up.is_set)
    assert recorder.offer(Entry("hello", "b1", {}))
    assert recorder.offer(row(9))
    assert recorder.flush()
    assert recorder.status()["lost"] == 6


def test_a_place_that_cannot_be_written_is_said_and_tried_again(record, until, tmp_path):
    (tmp_path / "data").write_text("in the way")
    recorder = record("data/record.sqlite3")
    recorder.offer(row(1))
    assert recorder.status()["state"] == "failing"
    assert "cannot be used for the record" in recorder.status()["problem"]
    (tmp_path / "data").unlink()
    recorder.flush()
    until(lambda: recorder.status()["state"] == "ok")
    assert recorded(recorder.path) == [1]


def test_a_damaged_record_is_set_aside_and_a_new_one_begun(record, until, tmp_path):
    (tmp_path / "record.sqlite3").write_bytes(b"rust" * 2000)
    recorder = record()
    recorder.offer(event(1))
    until(lambda: recorder.status()["state"] == "ok" and recorder.status()["held"] == 0)
    assert recorder.status()["note"] == (
        "The record was damaged. It was set aside as record.sqlite3.damaged-1 and a new one was begun. What can be "
        "saved of it: halocline salvage record.sqlite3.damaged-1"
    )
    assert (tmp_path / "record.sqlite3.damaged-1").read_bytes() == b"rust" * 2000
    assert recorded(recorder.path, "events") == [1]


def test_the_loss_of_a_record_is_told_over_restarts_until_its_file_is_gone(record, until, tmp_path):
    path, aside = tmp_path / "record.sqlite3", tmp_path / "record.sqlite3.damaged-1"
    path.write_bytes(b"rust" * 2000)
    for start in range(3):
        recorder = record(batch_s=0.02)
        recorder.offer(event(start + 1))
        assert recorder.flush()
        (condition,) = recorder.conditions()
        assert (condition.id, aside.name in condition.means) == ("record_note", True)
        if start < 2:
            recorder.stop()
    aside.unlink()
    recorder.offer(event(4))
    until(lambda: recorder.conditions() == ())


@pytest.mark.parametrize("offset", [0, 16, 18, 19, 47])
def test_a_damaged_head_is_never_told_as_a_card_without_room(record, until, tmp_path, monkeypatch, offset):
    path = tmp_path / "record.sqlite3"
    with contextlib.closing(Store(path)) as store:
        store.write([row(1)])
    head = bytearray(path.read_bytes())
    head[offset] ^= 0xFF
    path.write_bytes(head)
    told = []

    def seen(moved):
        def moving(*arguments):
            told.extend((one.conditions(), one.status()["state"]) for one in recorders)
            aside = moved(*arguments)
            told.extend((one.conditions(), one.status()["state"]) for one in recorders)
            return aside

        return moving

    monkeypatch.setattr(recorder_module, "set_aside", seen(recorder_module.set_aside))
    recorders = [record(retry_s=3600.0, start=False)]
    recorders[0].start()
    recorders[0].offer(row(1))
    assert recorders[0].flush()
    assert told == [((), "ok"), ((), "ok")]
    assert [condition.id for condition in recorders[0].conditions()] == ["record_note"]
    assert recorded(path) == [1]


def test_a_disk_that_spoils_each_new_record_is_told_and_leaves_no_heap_of_files(record, until, tmp_path, monkeypatch):
    path = tmp_path / "record.sqlite3"
    path.write_bytes(b"rust" * 2000)
    tried = []

    def spoiled(opened):
        opened.write_bytes(b"rust" * 2000)
        tried.append(opened)
        raise DamagedError(f"{opened}: the record is damaged: file is not a database")

    monkeypatch.setattr(recorder_module, "Store", spoiled)
    recorder = record(retry_s=3600.0)
    until(lambda: len(tried) == 3 and not (tmp_path / "record.sqlite3").exists())
    (unavailable, note) = recorder.conditions()
    assert unavailable.id == "record_unavailable"
    assert unavailable.do.startswith(texts.RECORD_REMEDIES["damaged"])
    assert "record.sqlite3.damaged-1" in note.means
    assert sorted(path.name for path in tmp_path.glob("record.sqlite3*")) == ["record.sqlite3.damaged-1"]


@pytest.mark.parametrize(
    ("trouble", "error"),
    [
        ("full", FullError("x: the disk is full")),
        ("read_only", ReadOnlyError("x: the disk or the file is read-only")),
        ("in_use", InUseError("x: another program writes this record")),
        ("later", LaterError("x: the record was made by a later version")),
        ("other", StoreError("x: the record cannot be opened: disk I/O error")),
    ],
)
def test_each_trouble_with_the_record_has_a_remedy_of_its_own(record, monkeypatch, until, trouble, error):
    def failing(_path):
        raise error

    monkeypatch.setattr(recorder_module, "Store", failing)
    recorder = record(retry_s=3600.0)
    until(lambda: recorder.status()["state"] == "failing")
    (condition,) = recorder.conditions()
    assert condition.means == f"Nothing is being recorded: {error}. The plant is not affected."
    assert condition.do == f"{texts.RECORD_REMEDIES[trouble]} {texts.RECORD_KEPT_MEANWHILE}"
    assert ("room" in condition.do) == (trouble == "full")


def test_holes_are_counted(record):
    recorder = record()
    recorder.offer(row(1))
    recorder.offer(row(11))
    assert recorder.flush()
    assert recorder.status()["lost"] == 9
