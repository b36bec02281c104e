"""Every number is in a row, an event or an admitted hole; what something took out of the file is found by counting."""

import contextlib
import sqlite3
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.cli.main import main
from halocline.report import schema
from halocline.report.database_open import DamagedError
from halocline.report.journal import Journal
from halocline.report.row_accounting import gaps
from halocline.report.salvage import salvage
from halocline.report.store import Entry, Store


def change(path, *statements):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        for statement in statements:
            connection.execute(statement)
        connection.commit()


def found(path, **options):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return list(gaps(connection, **options))


def test_of_a_whole_record_nothing_is_missing(evening, capsys):
    assert found(evening) == []
    assert main(["runs", "--holes", "--data", str(evening.parent)]) == 0
    assert "Nothing is missing." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("taken", "of"),
    [
        ("DELETE FROM samples WHERE seq BETWEEN 100 AND 120", "record"),
        ("DELETE FROM samples WHERE seq = (SELECT max(seq) FROM samples)", "record"),
        ("DELETE FROM samples", "record"),
        ("DELETE FROM events WHERE seq = 1", "record"),
        ("DELETE FROM events WHERE kind = 'log'", "record"),
        ("DELETE FROM alarms", "alarms"),
        ("DELETE FROM work", "work"),
        ("DELETE FROM calibrations", "calibrations"),
        ("DELETE FROM runs", "runs"),
        ("DELETE FROM rollup_10s WHERE start_s % 50 = 0", "rollup_10s or rollup_60s"),
        ("DELETE FROM rollup_900s", "rollup_60s or rollup_900s"),
        ("DELETE FROM rollup_86400s", "rollup_7200s or rollup_86400s"),
    ],
)
def test_what_is_taken_out_of_any_table_is_found_and_told(evening, taken, of, capsys):
    change(evening, taken)
    assert of in {gap.of for gap in found(evening)}
    assert main(["runs", "--holes", "--data", str(evening.parent)]) == 0
    assert f"are gone ({of})" in capsys.readouterr().out


@given(
    kinds=st.lists(st.sampled_from(["rest", "rest", "row", "event", "lost", "nonsense"]), min_size=4, max_size=60),
    cuts=st.lists(st.integers(1, 59), max_size=4),
    taken=st.floats(0, 1, exclude_max=True),
)
@settings(max_examples=60, deadline=None)
def test_whatever_was_recorded_is_accounted_for_and_one_row_less_is_not(new_record, kinds, cuts, taken):
    entries = []
    for number, kind in enumerate(kinds, 1):
        state = "standby" if kind == "rest" else "producing"
        content = {"seq": number, "mono_s": float(number), "wall_s": None, "state": state, "out": [], "ch": {}}
        if kind == "event":
            entries.append(Entry("event", "b1", {**content, "kind": "state"}))
        elif kind == "nonsense":
            entries.append(Entry("row", "b1", {**content, "ch": 5}))
        elif kind != "lost":
            entries.append(Entry("row", "b1", content))
    path = new_record()
    places = sorted({0, len(entries), *(cut for cut in cuts if cut < len(entries))})
    with contextlib.closing(Store(path)) as store:
        for begin, end in pairwise(places):
            store.write(entries[begin:end])
    assert found(path) == []
    rows = []
    with contextlib.closing(sqlite3.connect(path)) as connection:
        for table in ("samples", "events"):
            rows += [(table, seq) for (seq,) in connection.execute(f"SELECT seq FROM {table}")]
    if rows:
        table, seq = rows[int(taken * len(rows))]
        change(path, f"DELETE FROM {table} WHERE seq = {seq}")
        assert found(path)
        assert found(path, newest=5000)


def test_what_was_given_up_as_promised_is_not_missing(evening):
    with contextlib.closing(Store(evening)) as store:
        assert store.forget_oldest() > 0
    assert found(evening) == []


def test_an_opening_admits_what_is_gone_among_the_newest(evening):
    change(evening, "DELETE FROM samples WHERE seq BETWEEN 100 AND 120")
    with contextlib.closing(Store(evening)) as store:
        assert len(store.taken) == 1
    (hole,) = Journal(evening).holes()
    assert (hole["from_seq"], hole["to_seq"], hole["reason"]) == (100, 120, "damaged")
    assert found(evening) == []


def test_a_salvaged_record_admits_what_could_not_be_saved(evening, tmp_path):
    change(evening, "DELETE FROM samples WHERE seq BETWEEN 100 AND 120")
    saved = salvage([evening], tmp_path / "saved.sqlite3")
    assert saved.lost == 21
    assert Journal(tmp_path / "saved.sqlite3").holes()[0]["reason"] == "damaged"


def test_the_columns_of_every_table_are_those_that_are_demanded(new_record):
    with contextlib.closing(sqlite3.connect(new_record())) as connection:
        for table, columns in (*schema.LISTS.items(), *schema.TABLES.items()):
            names = [name for (name,) in connection.execute("SELECT name FROM pragma_table_info(?)", (table,))]
            assert sorted(names) == sorted(columns)


@pytest.mark.parametrize("table", [*schema.LISTS, *schema.TABLES])
def test_a_column_that_nobody_knows_is_damage_and_no_new_quantity(new_record, table):
    path = new_record()
    column = (schema.LISTS.get(table) or schema.TABLES[table])[-1]
    change(path, f"ALTER TABLE {table} RENAME COLUMN {column} TO {column}x")
    with pytest.raises(DamagedError, match=f"{column}x"):
        Store(path)
