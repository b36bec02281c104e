"""What `halocline check` says of a record's file."""

import contextlib
import os
import sqlite3

import pytest

from halocline.app.checkup import record_lines
from halocline.report.store import Store


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "record.sqlite3"
    with contextlib.closing(Store(path)):
        pass
    return path


def looked(path, *, thorough=True, control_lives=False, after_s=1.0):
    wall_s = (path.stat().st_mtime if path.exists() else 0.0) + after_s
    return {line.id: line for line in record_lines(path, thorough=thorough, control_lives=control_lives, wall_s=wall_s)}


def test_a_sound_record_is_read_through(record):
    assert list(looked(record)) == ["record_sound"]
    assert list(looked(record, thorough=False)) == ["record_opened"]


def test_what_was_set_aside_is_named_until_it_is_gone(record):
    aside = record.with_name("record.sqlite3.damaged-1")
    aside.write_bytes(b"rust")
    line = looked(record)["record_aside"]
    assert (line.state, aside.name in line.found, "salvage" in line.do) == ("warning", True, True)
    aside.unlink()
    assert list(looked(record)) == ["record_sound"]


def test_no_record_yet_is_no_trouble(tmp_path):
    assert list(looked(tmp_path / "record.sqlite3")) == ["record_none"]


def test_a_broken_page_is_found(record):
    with record.open("r+b") as file:
        file.seek(2 * 4096)
        file.write(os.urandom(4096))
    assert "record_damaged" in looked(record)


def test_a_head_that_forbids_writing_is_found_before_anything_is_to_be_written(record):
    with record.open("r+b") as file:
        file.seek(18)
        file.write(b"\x03")
    for thorough in (False, True):
        assert list(looked(record, thorough=thorough)) == ["record_damaged"]


def test_a_file_that_is_no_record_is_damaged(record):
    record.write_bytes(b"nothing like it" * 1000)
    assert "record_damaged" in looked(record)


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("INSERT INTO _sqlite_migrations (migration_set, name) VALUES ('record', 'of_tomorrow')", "record_later"),
        (
            "DELETE FROM _sqlite_migrations WHERE rowid = (SELECT max(rowid) FROM _sqlite_migrations)",
            "record_earlier",
        ),
    ],
)
def test_a_record_of_another_version_is_told(record, statement, said):
    with contextlib.closing(sqlite3.connect(record)) as connection, connection:
        connection.execute(statement)
    assert said in looked(record)


def test_a_record_that_stands_still_while_control_runs_is_a_problem(record):
    assert "record_stands" not in looked(record, control_lives=True, after_s=200.0)
    assert "record_stands" not in looked(record, control_lives=False, after_s=4000.0)
    line = looked(record, control_lives=True, after_s=4000.0)["record_stands"]
    assert (line.state, "h" in line.found) == ("problem", True)
