"""A journal that the card has changed: nothing that was committed is left out in silence."""

import contextlib
import random
import shutil
import sqlite3

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from halocline.plant.settings import RecordSettings
from halocline.report import journal_repair, write_ahead
from halocline.report.journal import Journal
from halocline.report.recorder import Recorder
from halocline.report.store import Store

WALL_S = 1_790_000_000.0


def crashed(store_path, target, entries, *, batches=12):
    """What lies on the card when the power fails: file and journal, nothing closed."""
    store = Store(store_path)
    size = len(entries) // batches + 1
    for begin in range(0, len(entries), size):
        store.write(entries[begin : begin + size])
    for suffix in ("", "-wal"):
        shutil.copyfile(f"{store_path}{suffix}", f"{target}{suffix}")
    store.close()


@pytest.fixture(scope="module")
def cut(tmp_path_factory, evening_aboard):
    """A record cut off with 111 rows and some events, most of them in the journal only."""
    folder = tmp_path_factory.mktemp("cut")
    entries = evening_aboard.evening()[:115]
    crashed(folder / "made.sqlite3", folder / "record.sqlite3", entries)
    return folder / "record.sqlite3"


@pytest.fixture
def damaged(cut, tmp_path):
    number = 0

    def make(change):
        nonlocal number
        number += 1
        folder = tmp_path / str(number)
        folder.mkdir()
        record = folder / "record.sqlite3"
        for suffix in ("", "-wal"):
            shutil.copyfile(f"{cut}{suffix}", f"{record}{suffix}")
        journal = write_ahead.beside(record)
        data = bytearray(journal.read_bytes())
        change(data)
        journal.write_bytes(data)
        return record

    return make


def counted(record):
    """Without folding the journal in, as closing would."""
    with contextlib.closing(sqlite3.connect(f"file:{record}?mode=ro", uri=True)) as connection:
        return connection.execute("SELECT (SELECT sum(rows) FROM samples), (SELECT count(*) FROM events)").fetchone()


def test_a_whole_journal_is_left_alone(cut, tmp_path):
    journal = write_ahead.read(cut)
    assert (journal.rejected, journal.held) == (0, len(journal.frames))
    assert not journal_repair.needs_mending(cut)
    assert write_ahead.read(tmp_path / "none.sqlite3") is None


def test_a_journal_written_anew_is_one_that_sqlite_plays(damaged, cut):
    journal = write_ahead.read(cut)
    record = damaged(lambda _data: None)
    write_ahead.beside(record).write_bytes(write_ahead.written(journal, journal.frames))
    assert counted(record) == (110, 5) or counted(record)[0] > 100
    assert counted(record) == counted(damaged(lambda _data: None))


@example(place=0.13193, bit=0)
@given(place=st.floats(0, 1, exclude_max=True), bit=st.integers(0, 7))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_one_flipped_bit_costs_nothing_in_silence(damaged, cut, place, bit):
    whole = counted(cut)

    def flip(data):
        data[int(place * len(data))] ^= 1 << bit

    data = write_ahead.beside(cut).read_bytes()
    last_head = len(data) - write_ahead.FRAME_BYTES - write_ahead.read(cut).page_bytes
    record = damaged(flip)
    suspicious = journal_repair.needs_mending(record)
    with contextlib.closing(Store(record)) as store:
        store.check()
        mended = store.mended
    assert (mended is not None) == suspicious
    if counted(record) != whole:
        # The head of the very last frame alone says that there was a last commit; without it there was none.
        in_last_head = last_head <= int(place * len(data)) < last_head + write_ahead.FRAME_BYTES
        # A record without a single row left knows of no number that is missing: the journal put aside is what tells.
        nothing_left = counted(record) == (None, 0) and mended is not None and not mended.saved and mended.kept
        assert Journal(record).holes() or in_last_head or nothing_left, "rows are gone, and nothing says so"


def test_the_journal_as_it_was_is_kept_and_people_are_told(damaged, until):
    def flip(data):
        data[len(data) // 3] ^= 4

    record = damaged(flip)
    before = write_ahead.beside(record).read_bytes()
    recorder = Recorder(record, RecordSettings(), batch_s=0.05)
    recorder.start()
    try:
        (told,) = until(recorder.conditions)
    finally:
        recorder.stop()
    kept = record.with_name("record.sqlite3-wal.rejected-1")
    assert kept.read_bytes() == before
    assert kept.name in told.do
    assert "journal was damaged" in told.means


def test_a_journal_that_cannot_be_mended_leaves_what_holds_and_admits_the_rest(damaged, monkeypatch, evening_aboard):
    def zero(data):
        middle = len(data) // 2
        data[middle : middle + 40_000] = bytes(40_000)

    record = damaged(zero)
    monkeypatch.setattr(journal_repair, "_is_whole", lambda _path: False)
    with contextlib.closing(Store(record)) as store:
        assert not store.mended.saved
        last = store.position.seq
    (hole,) = Journal(record).holes()
    assert (hole["from_seq"], hole["to_seq"], hole["reason"]) == (last + 1, None, "damaged")
    with contextlib.closing(Store(record)) as store:
        store.write([entry for entry in evening_aboard.evening() if entry.content.get("seq", 0) > last])
    assert Journal(record).holes() == []


@pytest.mark.parametrize("seed", range(6))
def test_what_is_mended_is_what_a_whole_journal_gives(damaged, cut, seed):
    """One broken frame whose page was written again later costs nothing at all."""
    journal = write_ahead.read(cut)
    later = {}
    for number, frame in enumerate(journal.frames):
        later.setdefault(frame.page, []).append(number)
    again = [number for numbers in later.values() for number in numbers[:-1]]
    chosen = random.Random(seed).choice(again)

    def zero(data):
        begin = write_ahead.HEADER_BYTES + chosen * (write_ahead.FRAME_BYTES + journal.page_bytes)
        data[begin + write_ahead.FRAME_BYTES : begin + write_ahead.FRAME_BYTES + 512] = bytes(512)

    record = damaged(zero)
    with contextlib.closing(Store(record)) as store:
        assert store.mended is None or store.mended.saved
    assert counted(record) == counted(cut)
    assert Journal(record).holes() == []


@pytest.fixture
def recording(tmp_path):
    """A recorder that has written two hundred entries and folds its journal often, and how much the file holds."""
    record = tmp_path / "record.sqlite3"
    recorder = Recorder(record, RecordSettings(), batch_s=0.05, fold_every_s=0.1)
    recorder.start()

    def in_the_file_alone():
        alone = tmp_path / "alone.sqlite3"
        shutil.copyfile(record, alone)
        try:
            return counted(alone)[0]
        except sqlite3.Error:
            return None

    yield recorder, in_the_file_alone
    recorder.stop()


def test_the_file_is_never_more_than_minutes_behind_the_journal(recording, evening_aboard, until):
    recorder, in_the_file_alone = recording
    for entry in evening_aboard.evening()[:200]:
        recorder.offer(entry)
    assert recorder.flush()
    until(lambda: in_the_file_alone() == counted(recorder.path)[0] > 190, timeout_s=60.0)


def test_what_a_reader_held_back_is_folded_when_it_has_done(recording, evening_aboard, until, monkeypatch):
    recorder, in_the_file_alone = recording
    results = []
    fold = Store.fold
    monkeypatch.setattr(Store, "fold", lambda store: results.append(fold(store)) or results[-1])
    entries = evening_aboard.evening()[:200]
    for entry in entries[:100]:
        recorder.offer(entry)
    assert recorder.flush()
    until(lambda: results and results[-1], timeout_s=60.0)
    with contextlib.closing(sqlite3.connect(recorder.path)) as reader:
        reader.execute("BEGIN")
        before = reader.execute("SELECT sum(rows) FROM samples").fetchone()[0]
        for entry in entries[100:]:
            recorder.offer(entry)
        assert recorder.flush()
        until(lambda: not results[-1], timeout_s=60.0)
    until(lambda: in_the_file_alone() == counted(recorder.path)[0] > before, timeout_s=60.0)
