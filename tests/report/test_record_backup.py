import contextlib
import shutil
import sqlite3
import threading
from collections import namedtuple
from datetime import datetime

import pytest

from halocline.link.client import Position
from halocline.report import backup as backup_module
from halocline.report import record_copy
from halocline.report.backup import back_up, restore, verify
from halocline.report.journal import Journal
from halocline.report.store import Entry, Store, StoreError

WALL_S = 1_790_000_000.0


def note(seq, boot="b1"):
    return Entry("event", boot, {"seq": seq, "mono_s": 1e4 + seq, "wall_s": None, "kind": "log", "what": "note"})


def damage(path):
    """Flips bits in the middle of every page but the first."""
    content = bytearray(path.read_bytes())
    for page in range(4096, len(content), 4096):
        content[page : page + 8] = b"\xff" * 8
    path.write_bytes(content)


@pytest.fixture(autouse=True)
def minutes(monkeypatch):
    """Backups a minute apart, so that their names differ without waiting."""

    class Clock:
        def __init__(self):
            self.minute = 0

        def now(self, zone):
            self.minute += 1
            return datetime(2026, 9, 21, 15, self.minute % 60, tzinfo=zone)

    monkeypatch.setattr(backup_module, "datetime", Clock())


def test_a_backup_is_one_whole_file_with_everything_in_it(evening, tmp_path):
    shares = []
    copy, contents = back_up(evening, tmp_path / "backups", 3, shares.append)
    assert copy.name == "halocline-20260921T150100Z.sqlite3"
    assert (contents.events, contents.runs) == (8, 1)
    assert contents.samples == 607
    assert list((tmp_path / "backups").iterdir()) == [copy]
    assert Journal(copy).runs() == Journal(evening).runs()
    assert shares[-1] == 1.0


def test_a_backup_is_one_moment_of_a_record_that_is_being_written(evening, tmp_path, monkeypatch):
    monkeypatch.setattr(record_copy, "STEP_PAGES", 1)
    writing = threading.Event()
    with contextlib.closing(Store(evening)) as store:
        first = store.position.seq

        def write_more(share):
            if not writing.is_set():
                writing.set()
                store.write([note(first + 1), note(first + 2)])

        copy, contents = back_up(evening, tmp_path / "backups", 3, write_more)
        assert store.position.seq == first + 2
    assert contents.events == 8
    with contextlib.closing(Store(copy)) as copied:
        assert copied.position == Position("b1", first)


def test_only_the_newest_copies_are_kept_and_nothing_else_is_touched(evening, tmp_path):
    folder = tmp_path / "backups"
    folder.mkdir()
    (folder / "photos.sqlite3").write_text("mine")
    copies = [back_up(evening, folder, 2)[0] for _ in range(4)]
    assert sorted(path.name for path in folder.iterdir()) == sorted([*(c.name for c in copies[2:]), "photos.sqlite3"])


def test_a_damaged_record_gives_no_backup_and_costs_no_older_one(evening, tmp_path):
    folder = tmp_path / "backups"
    good, _ = back_up(evening, folder, 1)
    with contextlib.closing(sqlite3.connect(evening)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")
    damage(evening)
    with pytest.raises(StoreError, match="damaged"):
        back_up(evening, folder, 1)
    assert good in list(folder.iterdir())
    verify(good)


Usage = namedtuple("Usage", "total used free")


def test_no_backup_is_begun_without_room_for_it(evening, tmp_path, monkeypatch):
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Usage(10**9, 10**9 - 1000, 1000))
    with pytest.raises(StoreError, match=r"backups: 0 MB are needed and 0 MB are free|MB are needed"):
        back_up(evening, tmp_path / "backups", 3)
    assert list((tmp_path / "backups").iterdir()) == []


def test_what_is_restored_is_the_copy_and_the_former_record_stays_beside_it(evening, tmp_path):
    copy, _ = back_up(evening, tmp_path / "backups", 3)
    with contextlib.closing(Store(evening)) as store:
        store.write([note(store.position.seq + 1)])
    former, contents = restore(copy, evening)
    assert former is not None
    assert former.name == "record.sqlite3.replaced-1"
    assert contents.events == 8
    assert verify(former).events == 9
    with contextlib.closing(Store(evening)) as store:
        store.write([note(store.position.seq + 1)])
    assert verify(evening).events == 9


def test_a_restore_into_an_empty_folder_makes_it(evening, tmp_path):
    copy, _ = back_up(evening, tmp_path / "backups", 3)
    former, contents = restore(copy, tmp_path / "new" / "record.sqlite3")
    assert former is None
    assert contents.samples == 607


def broken_copies():
    def truncated(path):
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])

    def text(path):
        path.write_text("not a record")

    def foreign(path):
        path.unlink()
        with contextlib.closing(sqlite3.connect(path)) as connection:
            connection.execute("CREATE TABLE photos (name)")

    def later(path):
        with contextlib.closing(sqlite3.connect(path)) as connection:
            connection.execute(
                "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) VALUES ('record', 'tides', '')"
            )
            connection.commit()

    return [
        (damage, "damaged"),
        (truncated, "damaged"),
        (text, "damaged"),
        (foreign, "is no record of Halocline"),
        (later, r"was made by a later version \(tides\)"),
        (lambda path: path.unlink(), "there is no such file"),
    ]


@pytest.mark.parametrize(("breaking", "problem"), broken_copies())
def test_a_copy_that_is_no_whole_record_replaces_nothing(evening, tmp_path, breaking, problem):
    copy, _ = back_up(evening, tmp_path / "backups", 3)
    breaking(copy)
    with pytest.raises(StoreError, match=problem):
        restore(copy, evening)
    assert verify(evening).events == 8
    assert not list(evening.parent.glob("*replaced*"))
    assert not list(evening.parent.glob("*restoring*"))


def test_nothing_is_replaced_while_a_recorder_writes(evening, tmp_path):
    copy, _ = back_up(evening, tmp_path / "backups", 3)
    with contextlib.closing(Store(evening)), pytest.raises(StoreError, match="another program writes this record"):
        restore(copy, evening)
    assert verify(evening).events == 8


def test_the_journal_of_the_former_record_is_not_played_into_the_new_one(evening, tmp_path):
    """A journal left beside a replaced file would be taken for its own."""
    copy, _ = back_up(evening, tmp_path / "backups", 3)
    connection = sqlite3.connect(evening, isolation_level=None)
    connection.execute("PRAGMA wal_autocheckpoint=0")
    connection.execute("UPDATE counters SET value = 12345")
    shutil.copy(evening, tmp_path / "crashed.sqlite3")
    shutil.copy(f"{evening}-wal", tmp_path / "crashed.sqlite3-wal")
    connection.close()
    crashed = tmp_path / "crashed.sqlite3"
    former, _ = restore(copy, crashed)
    assert Journal(crashed).counters()["product_l"] == 9.5
    assert former is not None
    assert Journal(former).counters()["product_l"] == 12345


def test_two_recorders_cannot_write_one_record(evening):
    with contextlib.closing(Store(evening)), pytest.raises(StoreError, match="End the halocline that uses this folder"):
        Store(evening)
    Store(evening).close()
