"""A record made when four channels had other names: brought over whole, or left as it was."""

import contextlib
import json
import shutil
import sqlite3
from pathlib import Path

import pytest

from halocline.plant.former_names import FORMER_CHANNELS as FORMER
from halocline.plant.settings import RecordSettings
from halocline.report import record_copy, schema, schema_upgrade
from halocline.report.backup import back_up, restore, verify
from halocline.report.database_open import TROUBLE, connect_to_write
from halocline.report.history import history
from halocline.report.journal import Journal
from halocline.report.recorder import Recorder
from halocline.report.salvage import salvage
from halocline.report.store import Entry, Store, StoreError

DUMP = Path(__file__).with_name("record_before_renaming.sql")
"""What the program of before the renaming wrote of a short evening that ended in a trip, as SQL."""
WALL_S = 1_790_000_000.0
KEPT = "record.sqlite3.before-channel_names"


def ask(path, query, *values):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute(query, values).fetchall()


def columns(path, table):
    return [name for (name,) in ask(path, "SELECT name FROM pragma_table_info(?)", table)]


def everything(path):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return [line for line in connection.iterdump() if "_sqlite_migrations" not in line]


def former_words(path):
    """Lines of the whole file that still name something as it was named before, a person's own words apart."""
    left = [line for line in everything(path) if any(former in line for former in FORMER)]
    return [
        line
        for line in left
        if "pump_motor_temperature" not in line
        and '"note": "tank_level"' not in line
        and "'filter_changed','tank_level'" not in line
    ]


@pytest.fixture
def old(tmp_path):
    path = tmp_path / "record.sqlite3"
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.executescript(DUMP.read_text(encoding="utf-8"))
        connection.execute("PRAGMA journal_mode=WAL")
    return path


def newer_row(seq, mono_s, value):
    channels = {"vessel_pressure": [value, value, value, 2.0, "good"], "tank_fill": [41.0, 41.0, 41.0, 2.0, "good"]}
    content = {"seq": seq, "mono_s": mono_s, "wall_s": WALL_S + mono_s, "state": "producing", "ch": channels, "out": []}
    return Entry("row", "b2", content)


def opened(path):
    with contextlib.closing(Store(path)) as store:
        while store.backlog:
            store.write([])
    return path


def test_history_reaches_across_the_change_of_names(old):
    with contextlib.closing(Store(old)) as store:
        store.write([newer_row(seq, 300.0 + seq, 48.0) for seq in range(1, 31)])
        while store.backlog:
            store.write([])
    for points in (20, 300):
        told = history(old, "vessel_pressure", WALL_S + 90, WALL_S + 340, points)
        known = [value for value in told.high if value is not None]
        assert (known[0], known[-1]) == (55.4, 48.0)
    assert max(v for v in history(old, "tank_fill", WALL_S + 90, WALL_S + 340, 50).mean if v is not None) == 41.0


def test_every_number_is_what_it_was(old):
    before = {table: ask(old, f"SELECT * FROM {table}") for table in schema.TABLES}
    opened(old)
    for table in schema.TABLES:
        after = ask(old, f"SELECT * FROM {table}")
        assert [row[:-1] for row in after] == before[table]
        assert {row[-1] for row in after} <= {None}  # nobody can vouch for what was written before there were marks
        assert sorted(columns(old, table)) == sorted(schema.TABLES[table])


def test_no_former_name_is_left_and_what_a_person_wrote_stays(old):
    opened(old)
    assert former_words(old) == []
    journal = Journal(old)
    (run,) = journal.runs()
    assert run.first_out == "vessel_pressure_high_high"
    assert run.why["id"] == "vessel_pressure_high_high"
    assert run.why["values"]["channel"] == "vessel_pressure"
    assert run.configuration["limits"]["vessel_pressure_high_high_bar"] == 65.0
    assert {alarm.alarm for alarm in journal.alarms()} == {"vessel_pressure_high_high", "sensor_fault_tank_fill"}
    assert journal.calibrations()[0].kind == "sea_temperature"
    assert journal.work()[0].note == "tank_level"


def test_a_copy_is_kept_first_and_opening_again_changes_nothing(old):
    before = everything(old)
    opened(old)
    kept = old.with_name(KEPT)
    assert everything(kept) == before
    after, stamp = everything(old), kept.stat().st_mtime_ns
    opened(old)
    assert everything(old) == after
    assert kept.stat().st_mtime_ns == stamp


def test_a_card_without_room_for_a_copy_still_gets_its_record(old, monkeypatch):
    monkeypatch.setattr(schema_upgrade, "room_for_copy", lambda _path: False)
    with contextlib.closing(Store(old)) as store:
        assert store.kept is not None
        assert store.kept.copy is None
    assert former_words(old) == []
    assert not old.with_name(KEPT).exists()


@pytest.mark.parametrize("stop_after", range(0, 110, 9))
def test_a_power_cut_in_the_middle_leaves_the_old_record_and_the_next_start_does_it_all(old, tmp_path, stop_after):
    """The files are taken as they are after so many statements of the change, as a card keeps them."""
    before, cut = everything(old), tmp_path / "cut.sqlite3"
    shutil.copy(old, tmp_path / "old")
    told = 0

    def trace(statement):
        nonlocal told
        if statement.startswith(("ALTER", "UPDATE", "INSERT", "COMMIT")):
            told += 1
            if told == stop_after + 1:
                for suffix in ("", "-wal"):
                    source = old.with_name(old.name + suffix)
                    if source.exists():
                        shutil.copy(source, cut.with_name(cut.name + suffix))

    real = sqlite3.connect

    def connect(*arguments, **options):
        connection = real(*arguments, **options)
        connection.set_trace_callback(trace)
        return connection

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sqlite3, "connect", connect)
        connect_to_write(old).close()
    assert told > stop_after
    assert everything(cut) == before
    assert everything(opened(cut)) == everything(opened(old))


def test_a_change_that_fails_changes_nothing(old, monkeypatch):
    before = everything(old)

    def fails(*_):
        raise sqlite3.OperationalError("disk I/O error")

    monkeypatch.setattr("halocline.report.name_migration.rename_texts", fails)
    with pytest.raises(TROUBLE):
        connect_to_write(old)
    assert everything(old) == before


def test_a_record_that_got_empty_new_columns_beside_the_old_ones_loses_neither(old):
    with contextlib.closing(sqlite3.connect(old)) as connection:
        for table, names in schema.TABLES.items():
            known = columns(old, table)
            for name, kind in schema.declared(names).items():
                if name not in known:
                    connection.execute(f"ALTER TABLE {table} ADD COLUMN {name} {kind}")
        connection.execute("UPDATE samples SET vessel_pressure = 7.0 WHERE seq = 20")
        connection.commit()
    highest = ask(old, "SELECT max(membrane_pressure_max) FROM samples")
    opened(old)
    assert ask(old, "SELECT max(vessel_pressure_max) FROM samples") == highest
    assert ask(old, "SELECT vessel_pressure FROM samples WHERE seq = 20") == [(7.0,)]
    assert former_words(old) == []


def test_an_old_record_is_not_read_as_if_it_were_a_new_one(old):
    with pytest.raises(StoreError, match="made by an earlier version"):
        Journal(old).runs()


def test_an_old_backup_is_restored_and_brought_over_on_the_way(old, tmp_path):
    copy, _ = back_up(old, tmp_path / "backups", 3)
    stamp = copy.read_bytes()
    record = tmp_path / "aboard" / "record.sqlite3"
    (record.parent).mkdir()
    record.with_name(f"{record.name}.restoring-wal").write_bytes(b"left by a power cut")
    _, contents = restore(copy, record)
    assert copy.read_bytes() == stamp
    assert former_words(record) == []
    assert Journal(record).runs()[0].first_out == "vessel_pressure_high_high"
    assert contents.events == verify(copy).events
    assert sorted(path.name for path in record.parent.iterdir() if "lock" not in path.name) == [record.name]


def test_an_old_record_that_is_damaged_is_salvaged_under_the_names_of_now(old, tmp_path):
    highest = ask(old, "SELECT max(membrane_pressure_max), count(*) FROM samples")
    target = tmp_path / "saved.sqlite3"
    salvage([old], target)
    assert ask(target, "SELECT max(vessel_pressure_max), count(*) FROM samples") == highest
    assert ask(target, "SELECT max(vessel_pressure_max) FROM rollup_60s")[0][0] == highest[0][0]
    assert former_words(target) == []
    assert Journal(target).runs()[0].first_out == "vessel_pressure_high_high"


def test_what_is_copied_half_is_not_taken_for_a_copy(old, monkeypatch):
    def stops(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(record_copy, "sync", stops)
    with contextlib.closing(Store(old)) as store:
        assert store.kept.copy is None
    assert not list(old.parent.glob(f"{KEPT}*"))


def test_json_with_a_former_name_is_still_json(old):
    opened(old)
    for (body,) in ask(old, "SELECT body FROM events"):
        json.loads(body)


def test_the_recorder_does_it_by_itself_and_says_where_the_copy_is(old, until):
    recorder = Recorder(old, RecordSettings(), batch_s=0.05)
    recorder.start()
    try:
        until(lambda: any(KEPT in condition.do for condition in recorder.conditions()))
    finally:
        recorder.stop()
    assert former_words(old) == []
