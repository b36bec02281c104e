"""A value that the card has changed within an intact row is found by the row's mark, told, and left out by salvage."""

import contextlib
import os
import random
import sqlite3
import struct
import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.cli.main import main
from halocline.plant.settings import RecordSettings
from halocline.report import schema, texts
from halocline.report.database_open import TROUBLE
from halocline.report.journal import Journal
from halocline.report.recorder import Recorder
from halocline.report.row_accounting import gaps
from halocline.report.row_checksum import MARKERS
from halocline.report.salvage import salvage
from halocline.report.store import Entry, Store

TRIALS = 3000 if os.environ.get("HALOCLINE_SOAK") else 150


def ask(path, query, *values):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.text_factory = bytes
        return connection.execute(query, values).fetchall()


def change(path, statement, *values):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        count = connection.execute(statement, values).rowcount
        connection.commit()
        return count


def found(path):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.text_factory = lambda text: text.decode(errors="replace")
        return list(gaps(connection))


def altered(path):
    return {gap.of for gap in found(path) if gap.altered}


def written_by_hand(value):
    if isinstance(value, float):
        return b"g" + struct.pack("<d", value)
    if isinstance(value, str):
        text = value.encode()
        return b"u" + struct.pack("<I", len(text)) + text
    return b"i" + struct.pack("<i", value)


def test_the_mark_is_what_is_written_down_of_it():
    """Format: the docstring of `marks`. The last is the sum of that row, so that no later version changes it either."""
    row = {"seq": 7, "mono_s": 7.25, "wall_s": 1.79e9, "state": "producing", "outputs": "", "rows": 1, "boot": 3}
    row |= {"vessel_pressure": 55.5, "vessel_pressure_quality": "slöw"}
    values = [row[name] for name in sorted(row) if name != "boot"]
    by_hand = b"[" + struct.pack("<I", len(values)) + b"".join(map(written_by_hand, values))
    marker = MARKERS["samples"]
    assert marker([row.get(name) for name in marker.columns]) == zlib.crc32(by_hand) == 401899926


def test_of_a_whole_record_no_row_is_altered(evening):
    assert found(evening) == []
    for table in MARKERS:
        assert ask(evening, f"SELECT count(*) FROM {table} WHERE mark IS NULL") == [(0,)]


numbers = st.one_of(
    st.floats(-1e9, 1e9), st.integers(-(2**60), 2**60), st.sampled_from([0, -0.0, 0.0, 5e-324, -1e308, 2**53 + 1, 1e-9])
)


@given(
    values=st.lists(st.tuples(numbers, numbers, numbers, numbers), min_size=1, max_size=30),
    state=st.sampled_from(["producing", "standby", "türned"]),
    dated=st.sampled_from(["yes", "never", "later"]),
    moment=st.one_of(st.floats(1, 1e6), st.integers(1, 10**6)),
)
@settings(max_examples=40, deadline=None)
def test_whatever_is_recorded_reads_as_it_was_written(new_record, values, state, dated, moment):
    entries = [Entry("event", "b1", {"seq": 1, "mono_s": moment, "wall_s": None, "kind": "log", "what": "ö", "who": 5})]
    for number, (value, low, high, raw) in enumerate(values, 2):
        wall_s = 1_790_000_000 + number if dated == "yes" or (dated == "later" and number == len(values) + 1) else None
        content = {"seq": number, "mono_s": moment + number, "wall_s": wall_s, "state": state, "out": []}
        reading = [value, low, high, raw, "stale" if number % 3 else "good"]
        entries.append(Entry("row", "b1", {**content, "ch": {"vessel_pressure": reading}, "d": {"recovery": value}}))
    path = new_record()
    with contextlib.closing(Store(path)) as store:
        store.write(entries)
        while store.backlog:
            store.write([])
    assert altered(path) == set()


def flipped(value, bit):
    if isinstance(value, float):
        (whole,) = struct.unpack("<Q", struct.pack("<d", value))
        (other,) = struct.unpack("<d", struct.pack("<Q", whole ^ 1 << bit % 64))
        return other
    if isinstance(value, int):
        return value ^ 1 << bit % 31
    text = bytearray(value)
    text[bit // 8 % len(text)] ^= 1 << bit % 7
    return bytes(text).decode()


@pytest.fixture(scope="module")
def kept(tmp_path_factory, evening_aboard):
    return evening_aboard.record_evening(tmp_path_factory.mktemp("kept") / "record.sqlite3")


@given(data=st.data(), table=st.sampled_from(list(MARKERS)), bit=st.integers(0, 2**20))
@settings(max_examples=150 if TRIALS < 1000 else 2000, deadline=None)
def test_every_flipped_bit_of_a_value_is_found(kept, data, table, bit):
    rows = [number for (number,) in ask(kept, f"SELECT rowid FROM {table}")]
    number = data.draw(st.sampled_from(rows))
    column = data.draw(
        st.sampled_from([name for name in MARKERS[table].columns if name not in ("boot", "seq", "start_s")])
    )
    ((value,),) = ask(kept, f'SELECT "{column}" FROM {table} WHERE rowid = ?', number)
    if not value and not isinstance(value, float):
        return
    other = flipped(value, bit)
    change(kept, f'UPDATE {table} SET "{column}" = ? WHERE rowid = ?', other, number)
    try:
        ((now,),) = ask(kept, f'SELECT "{column}" FROM {table} WHERE rowid = ?', number)
        if now != value:
            assert table in altered(kept)
    finally:
        back = value.decode() if isinstance(value, bytes) else value
        change(kept, f'UPDATE {table} SET "{column}" = ? WHERE rowid = ?', back, number)


def test_no_bit_of_the_file_changes_a_row_that_is_believed(kept, tmp_path):
    """What SQLite calls whole and says something else than it was told: is it found?"""
    whole = kept.read_bytes()
    spoilt, unnoticed, believed = tmp_path / "record.sqlite3", 0, []
    queries = {table: f"SELECT {', '.join(MARKERS[table].columns)} FROM {table} ORDER BY rowid" for table in MARKERS}
    truth = {table: ask(kept, query) for table, query in queries.items()}
    chance = random.Random(4)
    for _ in range(TRIALS):
        place, bit = chance.randrange(100, len(whole)), chance.randrange(8)
        spoilt.write_bytes(whole[:place] + bytes([whole[place] ^ 1 << bit]) + whole[place + 1 :])
        with contextlib.suppress(*TROUBLE):
            if ask(spoilt, "PRAGMA integrity_check(1)") != [(b"ok",)]:
                continue
            if all(ask(spoilt, query) == truth[table] for table, query in queries.items()):
                continue
            unnoticed += 1
            if not found(spoilt):
                believed.append((place, bit))
    print(f"{unnoticed} of {TRIALS} flipped bits changed a row without SQLite's notice; all were found by their marks")
    assert unnoticed > TRIALS / 20
    assert believed == []


def test_it_is_told_by_the_command_at_the_opening_and_where_a_reader_met_it(evening, capsys, until):
    change(evening, "UPDATE samples SET vessel_pressure = 75.0 WHERE seq = 100")
    change(
        evening, "UPDATE rollup_60s SET vessel_pressure_max = 75.0 WHERE rowid = (SELECT min(rowid) FROM rollup_60s)"
    )
    assert main(["runs", "--holes", "--data", str(evening.parent)]) == 0
    told = capsys.readouterr().out
    assert "b1: 1 from 100 to 100 say something else than was written (samples)" in told
    assert "say something else than was written (rollup_60s)" in told
    recorder = Recorder(evening, RecordSettings(), retry_s=0.02)
    recorder.start()
    try:
        (condition,) = recorder.conditions()
        assert condition.means == texts.RECORD_ALTERED.format(count=1)
        recorder.suspect()
        until(lambda: recorder.conditions()[0].means == texts.RECORD_ALTERED.format(count=2))
        assert not list(evening.parent.glob("*.damaged-*"))
    finally:
        recorder.stop()


@pytest.mark.parametrize(
    ("statement", "of"),
    [
        ("UPDATE alarms SET alarm = 'vessel_pressure_higj'", "alarms"),
        ("UPDATE alarms SET priority = 'low'", "alarms"),
        ("UPDATE work SET note = '=both, crown'", "work"),
        ("UPDATE calibrations SET channel = 'feed_pressuse'", "calibrations"),
        ("UPDATE runs SET litres = 1.5", "runs"),
        ("UPDATE runs SET tds_mean_mg_l = 30.0", "runs"),
        ("UPDATE runs SET energy_wh = NULL", "runs"),
        ("UPDATE events SET body = replace(body, '9.5', '1.5') WHERE kind = 'run_ended'", "runs"),
    ],
)
def test_a_list_that_says_something_else_than_its_event_is_found(evening, statement, of):
    assert change(evening, statement) == 1
    assert of in altered(evening)


def test_salvage_takes_no_altered_row_and_admits_it(evening, tmp_path):
    change(evening, "UPDATE samples SET vessel_pressure_max = 75.0 WHERE seq = 100")
    change(evening, "UPDATE events SET body = replace(body, 'Ana', 'Ano') WHERE seq = 1")
    change(evening, "UPDATE rollup_10s SET vessel_pressure_max = 75.0")
    saved = salvage([evening], tmp_path / "saved.sqlite3")
    assert saved.lost == 2
    assert saved.unreadable >= 2
    whole = tmp_path / "saved.sqlite3"
    assert ask(whole, "SELECT max(vessel_pressure_max) FROM samples") == [(61.5,)]
    assert ask(whole, "SELECT max(vessel_pressure_max) FROM rollup_10s") == [(61.5,)]
    assert [(hole["from_seq"], hole["to_seq"]) for hole in Journal(whole).holes()] == [(100, 100), (1, 3)]
    assert altered(whole) == set()
    assert ask(whole, "SELECT count(*) FROM samples WHERE mark IS NULL") == [(0,)]


def test_a_row_that_has_lost_its_mark_is_not_believed(evening, tmp_path):
    """A flipped bit in a row's lengths can move each value by one column, and the mark into the last but one."""
    change(evening, "UPDATE samples SET rows = mark, mark = NULL WHERE seq = 100")
    change(evening, "UPDATE rollup_10s SET target_pressure_bar_n = mark, mark = NULL WHERE rowid % 20 = 0")
    assert {"samples", "rollup_10s"} <= altered(evening)
    saved = salvage([evening], tmp_path / "saved.sqlite3")
    assert saved.lost == 1
    assert ask(tmp_path / "saved.sqlite3", "SELECT max(rows) FROM samples") == [(10,)]
    assert altered(tmp_path / "saved.sqlite3") == set()


def test_a_column_that_a_later_version_adds_or_leaves_out_spoils_no_mark(evening):
    for name in schema.SAMPLE_COLUMNS:
        if name.startswith("tank_fill"):
            change(evening, f"ALTER TABLE samples DROP COLUMN {name}")
    Store(evening).close()
    assert altered(evening) == set()


def test_a_row_that_was_altered_before_it_was_dated_stays_so(new_record, evening_aboard):
    path = new_record()
    entries = evening_aboard.evening(dated=False)
    with contextlib.closing(Store(path)) as store:
        store.write(entries)
    change(path, "UPDATE samples SET vessel_pressure = 75.0 WHERE seq = 100")
    clock = {**evening_aboard.row(entries[-1].content["seq"] + 1, 5000.0, "standby"), "wall_s": 1_790_005_000.0}
    with contextlib.closing(Store(path)) as store:
        store.write([Entry("row", "b1", clock)])
        while store.backlog:
            store.write([])
    assert ask(path, "SELECT count(*) FROM samples WHERE wall_s IS NULL") == [(0,)]
    assert altered(path) == {"samples"}


def test_a_letter_that_is_no_text_any_more_hides_no_list(evening, capsys):
    change(
        evening, "UPDATE events SET body = CAST(replace(CAST(body AS BLOB), 'Ana', x'416e9c') AS TEXT) WHERE seq = 1"
    )
    change(evening, "UPDATE work SET note = CAST(x'9c626f7468' AS TEXT)")
    for command in (["runs"], ["log"], ["log", "--events"], ["runs", "--holes"], ["export", "work", "-o", os.devnull]):
        assert main([*command, "--data", str(evening.parent)]) == 0
    assert "\ufffdboth" in capsys.readouterr().out
    assert altered(evening) == {"events", "work"}
