"""Power lost in the middle of a commit, bits lost on the card: the record always opens, and holds what was on disk."""

import contextlib
import os
import random
import shutil
import sqlite3

import pytest

from halocline.plant.settings import RecordSettings
from halocline.report.batch import not_rolled_up
from halocline.report.recorder import Recorder
from halocline.report.store import Entry, Store

WALL_S = 1_790_000_000.0
SOAK = bool(os.environ.get("HALOCLINE_SOAK"))
LOST_POWER = 1000 if SOAK else 50
DAMAGES = 1000 if SOAK else 50
TRUNCATIONS = 500 if SOAK else 40
COMMIT = 20


def row(seq):
    channels = {"vessel_pressure": [50.0 + seq % 7, 49.0, 58.0, 2.5, "good"]}
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


def entry(seq):
    return event(seq) if seq % 5 == 0 else row(seq)


@pytest.fixture(scope="module")
def commits(tmp_path_factory):
    """The files of a record that loses power: the database as the last checkpoint left it, its journal, and how long
    the journal was after each commit that was acknowledged."""
    folder = tmp_path_factory.mktemp("power")
    record = folder / "record.sqlite3"
    ends = []
    with contextlib.closing(Store(record)) as store:
        for first in range(1, 20 * COMMIT, COMMIT):
            store.write([entry(seq) for seq in range(first, first + COMMIT)])
        store._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        store._connection.execute("PRAGMA wal_autocheckpoint=0")
        journal = folder / "record.sqlite3-wal"
        for first in range(20 * COMMIT + 1, 60 * COMMIT, COMMIT):
            store.write([entry(seq) for seq in range(first, first + COMMIT)])
            ends.append((journal.stat().st_size, first + COMMIT - 1))
        shutil.copy(record, folder / "database")
        shutil.copy(journal, folder / "journal")
    return folder / "database", (folder / "journal").read_bytes(), ends


def lay_out(folder, database, journal):
    folder.mkdir()
    shutil.copy(database, folder / "record.sqlite3")
    (folder / "record.sqlite3-wal").write_bytes(journal)
    return folder / "record.sqlite3"


def numbers(connection):
    query = "SELECT seq FROM samples UNION ALL SELECT seq FROM events ORDER BY seq"
    return [seq for (seq,) in connection.execute(query)]


def check_and_go_on(record):
    """Opens, looks through everything, says again what control would say again; returns the last number found."""
    with contextlib.closing(Store(record)) as store:
        found = numbers(store._connection)
        assert store._connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert found == list(range(1, len(found) + 1)), "what is there is all that was said up to a moment, once"
        assert store.position.seq == len(found)
        (dated,) = store._connection.execute("SELECT count(*) FROM samples WHERE wall_s IS NOT NULL").fetchone()
        rolled_seq = not_rolled_up(store._connection)[0][2] if not_rolled_up(store._connection) else len(found)
        (rolled,) = store._connection.execute("SELECT sum(rows) FROM rollup_900s").fetchone()
        (expected,) = store._connection.execute("SELECT count(*) FROM samples WHERE seq <= ?", (rolled_seq,)).fetchone()
        assert rolled == expected <= dated
        store.write([entry(seq) for seq in range(max(1, len(found) - 30), 60 * COMMIT + 5)])
        assert numbers(store._connection) == list(range(1, 60 * COMMIT + 5))
    return len(found)


def test_power_lost_while_a_commit_is_written_loses_nothing_that_was_acknowledged(tmp_path, commits):
    """The journal ends anywhere after the last sync, and what lies there is old bytes, zeros or noise."""
    database, journal, ends = commits
    chance = random.Random(11)
    for trial in range(LOST_POWER):
        place = chance.randrange(len(ends) - 1)
        synced, acknowledged = ends[place]
        torn = bytearray(journal[: chance.randrange(synced, ends[place + 1][0])])
        for _ in range(chance.randrange(4)):
            if len(torn) > synced:
                begin = chance.randrange(synced, len(torn))
                torn[begin : begin + 512] = chance.choice((bytes(512), chance.randbytes(512)))[: len(torn) - begin]
        record = lay_out(tmp_path / str(trial), database, bytes(torn))
        assert acknowledged <= check_and_go_on(record) <= acknowledged + COMMIT
        shutil.rmtree(record.parent)


def test_a_journal_damaged_anywhere_leaves_a_whole_record_up_to_the_damage(tmp_path, commits):
    database, journal, ends = commits
    chance = random.Random(12)
    for trial in range(DAMAGES):
        damaged = bytearray(journal)
        place = chance.randrange(len(damaged))
        if trial % 2:
            damaged[place] ^= 1 << chance.randrange(8)
        else:
            damaged[place : place + 4096] = bytes(len(damaged[place : place + 4096]))
        kept = max((last for end, last in ends if end <= place), default=20 * COMMIT)
        record = lay_out(tmp_path / str(trial), database, bytes(damaged))
        assert check_and_go_on(record) >= kept
        shutil.rmtree(record.parent)


def test_a_journal_that_is_gone_leaves_what_was_folded_in(tmp_path, commits):
    database, _, _ = commits
    record = lay_out(tmp_path / "gone", database, b"")
    assert check_and_go_on(record) == 20 * COMMIT


def test_a_record_cut_off_anywhere_is_opened_or_set_aside_and_recording_goes_on(tmp_path, commits):
    database, _, _ = commits
    whole = database.read_bytes()
    chance = random.Random(13)
    for trial in range(TRUNCATIONS):
        folder = tmp_path / str(trial)
        folder.mkdir()
        record = folder / "record.sqlite3"
        record.write_bytes(whole[: chance.randrange(len(whole))])
        recorder = Recorder(record, RecordSettings(), batch_s=0.01, retry_s=0.01)
        recorder.start()
        recorder.offer(event(5000))
        recorder.suspect()
        recorder.offer(event(5001))
        assert recorder.flush(10.0)
        recorder.stop()
        with contextlib.closing(sqlite3.connect(record)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert connection.execute("SELECT max(seq) FROM events").fetchone() == (5001,)


def test_pages_with_flipped_bits_are_noticed_set_aside_and_recording_goes_on(tmp_path, commits):
    database, _, _ = commits
    whole = database.read_bytes()
    chance = random.Random(14)
    noticed = 0
    for trial in range(12):
        folder = tmp_path / str(trial)
        folder.mkdir()
        record = folder / "record.sqlite3"
        damaged = bytearray(whole)
        for _ in range(200):
            damaged[chance.randrange(len(damaged))] ^= 1 << chance.randrange(8)
        record.write_bytes(damaged)
        recorder = Recorder(record, RecordSettings(), batch_s=0.01, retry_s=0.01)
        recorder.start()
        recorder.offer(event(5000))
        recorder.suspect()
        assert recorder.flush(10.0)
        recorder.offer(event(5001))
        assert recorder.flush(10.0)
        recorder.stop()
        aside = list(folder.glob("record.sqlite3.damaged-*"))
        noticed += bool(aside)
        if aside:
            assert aside[0].stat().st_size >= len(damaged)
            assert "halocline salvage record.sqlite3.damaged-1" in (recorder.status()["note"] or "")
        with contextlib.closing(sqlite3.connect(record)) as connection:
            assert connection.execute("SELECT max(seq) FROM events").fetchone() == (5001,)
    assert noticed >= 10
