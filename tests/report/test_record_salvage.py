import contextlib
import random
import sqlite3

import pytest

from halocline.report.backup import verify
from halocline.report.history import history
from halocline.report.journal import Journal
from halocline.report.salvage import salvage
from halocline.report.store import DamagedError, Store, StoreError, set_aside

WALL_S = 1_790_000_000.0


def folded_in(path):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")


def ask(path, query):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute(query).fetchall()


def test_of_a_whole_record_everything_is_saved(evening, tmp_path):
    target = tmp_path / "saved.sqlite3"
    saved = salvage([evening], target)
    assert saved.unreadable == 0
    assert saved.rows["samples"] == 607
    assert verify(target).events == 8
    assert Journal(target).runs() == Journal(evening).runs()
    assert Journal(target).counters() == Journal(evening).counters()
    assert ask(target, "SELECT sum(rows) FROM rollup_86400s") == [(660,)]
    with contextlib.closing(Store(evening)) as store, contextlib.closing(Store(target)) as again:
        assert again.position == store.position


def test_what_was_recorded_since_is_put_after_what_was_saved(tmp_path, evening_aboard):
    record = tmp_path / "record.sqlite3"
    entries = evening_aboard.evening()
    with contextlib.closing(Store(record)) as store:
        store.write(entries[:300])
    aside = set_aside(record)
    with contextlib.closing(Store(record)) as store:
        store.write(entries[300:])
    target = tmp_path / "whole.sqlite3"
    salvage([aside, record], target)
    assert ask(target, "SELECT sum(rows) FROM samples") == [(660,)]
    assert ask(target, "SELECT count(*), count(DISTINCT seq) FROM events") == [(8, 8)]
    for level in (10, 60, 900, 7200, 86400):
        assert ask(target, f"SELECT sum(rows) FROM rollup_{level}s") == [(660,)]
    assert Journal(target).holes() == []
    assert Journal(target).counters()["product_l"] == 9.5


def test_what_two_records_both_have_is_saved_once(evening, tmp_path):
    target = tmp_path / "once.sqlite3"
    salvage([evening, evening], target)
    assert ask(target, "SELECT sum(rows) FROM samples") == [(660,)]
    assert ask(target, "SELECT sum(rows) FROM rollup_60s") == [(660,)]
    assert Journal(target).counters() == Journal(evening).counters()


def test_pages_that_cannot_be_read_cost_only_what_was_on_them(tmp_path, evening_aboard):
    record = evening_aboard.record_evening(tmp_path / "record.sqlite3", "b1", "b2", "b3", "b4")
    folded_in(record)
    content = bytearray(record.read_bytes())
    pages = len(content) // 4096
    with contextlib.closing(sqlite3.connect(record)) as connection:
        leaves = [
            page
            for (page,) in connection.execute(
                "SELECT pageno FROM dbstat WHERE name = 'samples' AND pagetype = 'leaf' ORDER BY pageno"
            )
        ]
    broken = leaves[20:24]
    for page in broken:
        content[(page - 1) * 4096 : page * 4096] = bytes([0x5A]) * 4096
    record.write_bytes(content)
    target = tmp_path / "saved.sqlite3"
    saved = salvage([record], target)
    assert saved.unreadable > 0
    whole = 607 * 4
    assert whole - 200 < saved.rows["samples"] < whole
    assert saved.rows["runs"] == 4
    assert pages > 20
    verify(target)
    assert ask(target, "SELECT sum(rows) FROM rollup_86400s") == [(660 * 4,)]


def test_bits_flipped_anywhere_never_stop_it_and_what_is_saved_is_whole(tmp_path, evening_aboard):
    record = evening_aboard.record_evening(tmp_path / "record.sqlite3", "b1", "b2")
    folded_in(record)
    content = record.read_bytes()
    chance = random.Random(7)
    saved_something, problems = 0, []
    for trial in range(12):
        flipped = bytearray(content)
        for _ in range(12):
            place = chance.randrange(100, len(flipped))
            flipped[place] ^= 1 << chance.randrange(8)
        damaged = tmp_path / f"damaged-{trial}"
        damaged.write_bytes(flipped)
        target = tmp_path / f"saved-{trial}.sqlite3"
        try:
            saved = salvage([damaged], target)
        except StoreError as error:
            problems.append(str(error))
            continue
        saved_something += saved.rows["samples"] > 0
        verify(target)
        Store(target).close()
        history(target, "vessel_pressure", WALL_S, WALL_S + 1000, 10)
    assert saved_something >= 9, problems


def test_a_file_that_never_was_a_record_is_said_to_be_none(tmp_path):
    (tmp_path / "noise").write_bytes(b"noise" * 5000)
    with pytest.raises(StoreError, match="nothing can be read of it"):
        salvage([tmp_path / "noise"], tmp_path / "saved.sqlite3")
    with pytest.raises(StoreError, match="there is no such file"):
        salvage([tmp_path / "none"], tmp_path / "saved.sqlite3")
    assert not (tmp_path / "saved.sqlite3").exists()


def test_an_existing_file_is_not_written_over(evening, tmp_path):
    with pytest.raises(StoreError, match="is there already; choose another name"):
        salvage([evening], evening)
    assert verify(evening).events == 8


def test_a_reading_that_meets_damage_leads_to_a_record_set_aside(evening):
    folded_in(evening)
    content = bytearray(evening.read_bytes())
    with contextlib.closing(sqlite3.connect(evening)) as connection:
        (page,) = connection.execute("SELECT max(pageno) FROM dbstat WHERE name = 'samples'").fetchone()
    content[(page - 1) * 4096 : page * 4096] = bytes([0x5A]) * 4096
    evening.write_bytes(content)
    with pytest.raises(DamagedError, match="malformed"), contextlib.closing(Store(evening)) as store:
        store.check()


@pytest.mark.parametrize("first", [bytes(4096), b"\x5a" * 4096])
def test_without_the_first_page_every_row_is_found_on_the_others(evening, tmp_path, first):
    whole = Journal(evening).runs()
    folded_in(evening)
    content = bytearray(evening.read_bytes())
    content[:4096] = first
    evening.write_bytes(content)
    target = tmp_path / "saved.sqlite3"
    saved = salvage([evening], target)
    assert ask(target, "SELECT sum(rows) FROM samples") == [(660,)]
    assert ask(target, "SELECT sum(rows) FROM rollup_60s") == [(660,)]
    assert saved.rows["events"] == 8
    assert Journal(target).runs() == whole
