"""The rows of a record's pages, put into a record of their own by what they look like."""

import contextlib
import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from halocline.plant.alarms import AlarmState
from halocline.plant.former_names import renamed
from halocline.report.database_open import TROUBLE, connect_to_write
from halocline.report.export import JSON_COLUMNS
from halocline.report.pages import Pages, Row
from halocline.report.retention import transaction

TABLES = (
    *("boots", "runs", "samples", "events", "alarms", "work", "calibrations", "clock_settings", "holes"),
    "steady_periods",
)
"""Those whose rows can be told by their looks. Roll-ups of different lengths look alike: they are made again from the
samples. Counters stand in the record of now."""

SHORTER = {"boots": 7, "runs": 14, "samples": 90, "events": 6, "work": 8}
"""Rows written before a table got more columns lack the last ones; so many they have at least."""

_TYPES: Mapping[str, tuple[type, ...]] = {
    "INTEGER": (int,),
    "REAL": (float, int),
    "FLOAT": (float, int),
    "TEXT": (str,),
}
_KEYS = frozenset({"boot", "seq", "from_seq"})
_STATES = frozenset(state.value for state in AlarmState)
LARGEST_KEY = 2**53

Columns = Sequence[tuple[str, str]]


def sweep(source: Path, target: Path) -> tuple[int, int]:
    """Makes a record of the rows on the pages of `source`; how many there were, and how many could not be read.

    Rows that were given up may be among them, for their pages are emptied only when they are used again. Raises
    OSError, sqlite3.Error.
    """
    found = unreadable = 0
    with contextlib.closing(Pages(source)) as pages, contextlib.closing(connect_to_write(target)) as connection:
        described = _described(pages, connection)
        with transaction(connection):
            for row in pages.rows():
                if row is None:
                    unreadable += 1
                else:
                    found += _keep(connection, described, *row)
    return found, unreadable


def _described(pages: Pages, connection: sqlite3.Connection) -> dict[str, Columns]:
    """Each table's columns in the order of its rows: as the file describes them where that can be read, else as a
    record of now has them."""
    now = {table: _columns(connection, table) for table in TABLES}
    for row in pages.rows():
        if row is not None and len(row[1]) == 5 and row[1][0] == "table" and row[1][1] in now and row[1][4]:
            table = row[1][1]
            known = {name for name, _ in now[table]}
            columns = [(renamed(name), kind) for name, kind in _as_told(str(row[1][4]), table)]
            if columns and {name for name, _ in columns} <= known:
                now[table] = columns
    return now


def _as_told(sql: str, table: str) -> Columns:
    with contextlib.closing(sqlite3.connect(":memory:")) as trying:
        try:
            trying.execute(sql)
            return _columns(trying, table)
        except (*TROUBLE, sqlite3.Warning):
            return ()


def _columns(connection: sqlite3.Connection, table: str) -> Columns:
    return [tuple(row) for row in connection.execute("SELECT name, type FROM pragma_table_info(?)", (table,))]


def _keep(connection: sqlite3.Connection, described: Mapping[str, Columns], number: int, values: Row) -> bool:
    for table, columns in described.items():
        content = dict(_named(columns, number, values))
        if _looks_like(table, columns, values, content):
            names, marks = ",".join(f'"{name}"' for name in content), ",".join("?" * len(content))
            done = connection.execute(
                f"INSERT OR IGNORE INTO {table} ({names}) VALUES ({marks})", tuple(content.values())
            )
            return done.rowcount > 0
    return False


def _named(columns: Columns, number: int, values: Row) -> Iterator[tuple[str, Any]]:
    """The number of a row stands in the place of its key `id`, which is written empty."""
    for (name, _), value in zip(columns, values, strict=False):
        yield name, number if name == "id" and value is None else value


def _looks_like(table: str, columns: Columns, values: Row, content: Mapping[str, Any]) -> bool:
    if not SHORTER.get(table, len(columns)) <= len(values) <= len(columns):
        return False
    if (columns[0][0] == "id") != (values[0] is None):
        return False
    if not all(makes_sense(name, kind, content[name]) for name, kind in columns[: len(values)]):
        return False
    return (content.get("state") in _STATES) if table == "alarms" else True


def makes_sense(name: str, kind: str, value: Any) -> bool:
    """Whether a value can be that of a column: broken pages read as rows of anything."""
    if name in _KEYS and kind == "INTEGER":
        return type(value) is int and 0 < value < LARGEST_KEY
    if name in JSON_COLUMNS and value is not None:
        return type(value) is str and _is_json(value)
    return value is None or type(value) in _TYPES.get(kind, ())


def _is_json(text: str) -> bool:
    try:
        json.loads(text)
    except (ValueError, RecursionError):
        return False
    return True
