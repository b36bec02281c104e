"""Opening: new, made by an earlier version, made by a later one; and what it costs."""

import contextlib
import sqlite3
import subprocess
import sys

import pytest

from halocline.report import migrations, schema
from halocline.report.database_open import LaterError, connect_to_read, connect_to_write
from halocline.report.store import DamagedError, Entry, Store, StoreError

WALL_S = 1_790_000_000.0


def columns(path, table):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return [name for (name,) in connection.execute("SELECT name FROM pragma_table_info(?)", (table,))]


def row(seq):
    content = {"seq": seq, "mono_s": float(seq), "wall_s": WALL_S + seq, "state": "producing", "ch": {}, "out": []}
    return Entry("row", "b1", content)


def test_the_names_of_the_migrations_are_known_without_loading_them():
    assert tuple(migration.name for migration in migrations.migrations._migrations) == schema.MIGRATIONS


def test_the_tables_are_those_that_are_written(new_record):
    path = new_record()
    for table, names in schema.TABLES.items():
        assert columns(path, table) == list(names)


def test_a_record_of_an_earlier_version_gets_what_it_lacks_and_is_rolled_up(new_record):
    path = new_record()
    with contextlib.closing(Store(path)) as store:
        store.write([row(seq) for seq in range(1, 101)])
    with contextlib.closing(sqlite3.connect(path)) as connection:
        for level_s in schema.LEVELS:
            connection.execute(f"DROP TABLE {schema.rollup_table(level_s)}")
        for table in ("work", "calibrations", "clock_settings", "forgotten"):
            connection.execute(f"DROP TABLE {table}")
        for table, column in (("boots", "configuration"), ("boots", "rolled_seq"), ("runs", "origin"), ("runs", "who")):
            connection.execute(f"ALTER TABLE {table} DROP COLUMN {column}")
        connection.execute("ALTER TABLE samples DROP COLUMN rows")
        connection.execute("DELETE FROM _sqlite_migrations WHERE name IN ('roll_ups_and_work', 'work_details')")
        connection.commit()
    with contextlib.closing(Store(path)) as store:
        while store.backlog:
            store.write([])
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT sum(rows) FROM rollup_60s").fetchone() == (100,)


def test_a_channel_that_is_new_gets_its_columns_in_an_old_record(new_record):
    path = new_record()
    gone = [name for name in schema.SAMPLE_COLUMNS if name.startswith("tank_fill")]
    with contextlib.closing(sqlite3.connect(path)) as connection:
        for name in gone:
            connection.execute(f"ALTER TABLE samples DROP COLUMN {name}")
        connection.commit()
    Store(path).close()
    assert sorted(columns(path, "samples")) == sorted(schema.TABLES["samples"])
    with contextlib.closing(Store(path)) as store:
        assert store.write([row(1)]).recorded == 1


def test_a_record_of_a_later_version_is_left_alone(new_record):
    path = new_record()
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) VALUES ('record', 'tides', '')"
        )
        connection.commit()
    with pytest.raises(StoreError, match=r"the record was made by a later version \(tides\)") as refusal:
        Store(path)
    assert not isinstance(refusal.value, DamagedError)


def test_a_record_with_a_later_version_s_quantity_is_left_alone_too(new_record):
    path = new_record()
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("ALTER TABLE samples ADD COLUMN tide_value REAL")
        connection.commit()
    with pytest.raises(LaterError, match=r"the record was made by a later version \(samples has a column 'tide_value'"):
        Store(path)


def test_a_table_that_is_gone_is_damage_and_not_a_riddle(new_record):
    path = new_record()
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("DROP TABLE samples")
    with pytest.raises(DamagedError, match="no such table: samples"):
        Store(path)


def test_commits_are_synced_and_the_journal_is_written_ahead(new_record):
    with contextlib.closing(connect_to_write(new_record())) as connection:
        assert connection.execute("PRAGMA synchronous").fetchone() == (2,)
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_a_reader_cannot_write(new_record):
    path = new_record()
    with contextlib.closing(connect_to_read(path)) as connection, pytest.raises(sqlite3.OperationalError):
        connection.execute("DELETE FROM samples")


def test_a_record_that_is_made_already_is_opened_without_the_library_that_made_it(new_record):
    code = (
        "import sys; from pathlib import Path; from halocline.report.store import Store;"
        " Store(Path(sys.argv[1])).close();"
        " print(sorted({'sqlite_utils', 'numpy', 'fastapi'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code, new_record()], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
