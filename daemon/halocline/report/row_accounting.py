"""Whether every number that control gave is accounted for: in a row, an event, or a hole that is admitted; and whether
rows still say what was written.

A page whose content is gone can leave a file that SQLite calls whole. The numbers are the mark that finds it: each row
of the record says how many of them stand in it, each boot how far they go, and every list and roll-up can be counted
against what it was made of. A value that was changed within a row is found by the row's own mark (`row_checksum`), or
where a list and its event say different things.
"""

import sqlite3
from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import NamedTuple

from halocline.report.retention import SAMPLES, forgotten
from halocline.report.row_checksum import MARKERS
from halocline.report.schema import LEVELS, MARK, TOLD, rollup_table

_ROWS = "CASE typeof(rows) WHEN 'integer' THEN rows ELSE 0 END"
"""A page of zeros on a worn card can read as rows of anything."""


class Gap(NamedTuple):
    """Between which numbers of a boot so many (`missing`) are nowhere; of a list or a roll-up (`of`), how many rows.
    `altered`: they are there, and say something else than was written."""

    boot: str
    from_seq: int
    to_seq: int
    missing: int
    of: str = "record"
    altered: bool = False

    @property
    def is_hole(self) -> bool:
        """Whether numbers are nowhere in the record."""
        return bool(self.boot) and self.of == "record" and not self.altered


def gaps(connection: sqlite3.Connection, *, newest: int | None = None) -> Iterator[Gap]:
    """What is missing or altered without a word; of the `newest` numbers of the newest boot alone, or of all. Reads
    every row."""
    boots = connection.execute("SELECT id, boot, coalesce(last_seq, 0) FROM boots ORDER BY id").fetchall()
    oldest = connection.execute(f"SELECT boot, seq, {_ROWS} FROM samples ORDER BY boot, seq LIMIT 1").fetchone()
    given_up = SAMPLES in forgotten(connection)
    for number, name, last_seq in boots if newest is None else boots[-1:]:
        first = 1
        if given_up:
            if oldest is None or number < oldest[0]:
                continue
            first = oldest[1] - oldest[2] + 1 if number == oldest[0] else 1
        if newest is not None:
            first = max(first, last_seq - newest)
        yield from _of_boot(connection, number, name, first, last_seq)
    since = (0, 0) if newest is None or not boots else (boots[-1][0], max(0, boots[-1][2] - newest))
    for table in ("samples", "events"):
        yield from _altered(connection, table, {number: name for number, name, _ in boots}, since)
    if newest is None:
        yield from _of_lists(connection)
        yield from _of_rollups(connection)
        for level_s in LEVELS:
            yield from _altered_rollups(connection, rollup_table(level_s))


def _altered(
    connection: sqlite3.Connection, table: str, names: Mapping[int, str], since: tuple[int, int]
) -> Iterator[Gap]:
    """Rows whose mark says that they were written otherwise, boot by boot; or that have lost it."""
    marker = MARKERS[table]
    query = (
        f"SELECT boot, seq, {MARK}, {', '.join(marker.columns)} FROM {table} WHERE (boot, seq) >= (?, ?)"
        " ORDER BY boot, seq"
    )
    begun = False
    found: dict[int, list[int]] = {}
    for boot, seq, mark, *row in connection.execute(query, since):
        if marker.is_altered(row, mark, begun=begun):
            found.setdefault(boot, []).append(seq if isinstance(seq, int) else 0)
        begun = begun or mark is not None
    for boot, numbers in found.items():
        yield Gap(names.get(boot, str(boot)), min(numbers), max(numbers), len(numbers), table, altered=True)


def _altered_rollups(connection: sqlite3.Connection, table: str) -> Iterator[Gap]:
    """The same of a roll-up, whose order is not that of writing."""
    marker = MARKERS[table]
    query = f"SELECT start_s, {MARK}, {', '.join(marker.columns)} FROM {table}"
    found = [start_s for start_s, mark, *row in connection.execute(query) if marker.is_altered(row, mark)]
    if found:
        yield Gap("", min(found), max(found), len(found), table, altered=True)


def _of_boot(connection: sqlite3.Connection, boot: int, name: str, first: int, last: int) -> Iterator[Gap]:
    """Rows at rest stand for several numbers, and events lie between those; so it is counted up to each row."""
    rows = connection.execute(
        f"SELECT seq, {_ROWS}, 1 FROM samples"
        " WHERE boot = :boot AND seq >= :first AND typeof(seq) = 'integer'"
        " UNION ALL SELECT seq, 1, 0 FROM events WHERE boot = :boot AND seq >= :first AND typeof(seq) = 'integer'"
        " UNION ALL SELECT to_seq, to_seq - from_seq + 1, 0 FROM holes WHERE boot = :boot AND from_seq >= :first"
        " AND to_seq IS NOT NULL ORDER BY 1",
        {"boot": boot, "first": first},
    )
    counted = known = first - 1
    begun = first == 1
    for seq, count, is_row in rows:
        if not begun:
            # A row at rest at the edge of what is looked at may stand for numbers before it.
            begun, counted, known = True, seq - count, seq - count
        counted += count
        if is_row:
            if counted < seq:
                yield Gap(name, known + 1, max(known + 1, seq - count), seq - counted)
            counted = known = seq
    if counted < last:
        yield Gap(name, known + 1, last, last - counted)


_LISTED = {
    "alarms": "SELECT boot, seq FROM events WHERE kind = 'alarm'",
    "calibrations": "SELECT boot, seq FROM events WHERE kind = 'calibration'",
    "work": "SELECT boot, seq FROM events WHERE kind = 'log'",
}


def _of_lists(connection: sqlite3.Connection) -> Iterator[Gap]:
    """What the events tell of and the list has not got, boot by boot."""
    for table, told in _LISTED.items():
        query = (
            f"SELECT boots.boot, min(told.seq), max(told.seq), count(*) FROM ({told}) AS told"
            " JOIN boots ON boots.id = told.boot"
            f" WHERE NOT EXISTS (SELECT 1 FROM {table} AS kept WHERE kept.boot = told.boot AND kept.seq = told.seq)"
            " GROUP BY told.boot"
        )
        for boot, first, last, count in connection.execute(query).fetchall():
            yield Gap(boot, first, last, count, table)
    query = (
        "SELECT boots.boot, min(seq), max(seq), count(*) FROM events JOIN boots ON boots.id = events.boot"
        " WHERE kind IN ('run_started', 'run_ended') AND json_valid(body) AND NOT EXISTS (SELECT 1 FROM runs"
        " WHERE runs.boot = events.boot AND run = json_extract(body, '$.run.id')) GROUP BY events.boot"
    )
    for boot, first, last, count in connection.execute(query).fetchall():
        yield Gap(boot, first, last, count, "runs")
    for table, (kind, key, repeated) in _REPEATED.items():
        differs = " OR ".join(f"({_differs(f'kept.{column}', place)})" for column, place in repeated.items())
        query = (
            "SELECT boots.boot, min(told.seq), max(told.seq), count(*) FROM events AS told"
            f" JOIN {table} AS kept ON kept.boot = told.boot AND {key} JOIN boots ON boots.id = told.boot"
            f" WHERE told.kind = '{kind}' AND json_valid(told.body) AND ({differs}) GROUP BY told.boot"
        )
        for boot, first, last, count in connection.execute(query).fetchall():
            yield Gap(boot, first, last, count, table, altered=True)


def _differs(column: str, place: str) -> str:
    """Whether the list says something else than the event, which may be silent on it. Two ways to read a decimal number
    may differ in its last bit."""
    told = f"json_extract(told.body, '{place}')"
    return (
        f"{told} IS NOT NULL AND CASE typeof({told}) WHEN 'text' THEN {column} IS NOT {told}"
        f" ELSE {column} IS NULL OR abs({column} - {told}) > 1e-9 * abs({told}) END"
    )


_BY_NUMBER = "kept.seq = told.seq"
_REPEATED: Mapping[str, tuple[str, str, Mapping[str, str]]] = {
    "alarms": ("alarm", _BY_NUMBER, {"alarm": "$.id", "state": "$.to", "priority": "$.priority"}),
    "work": ("log", _BY_NUMBER, {"kind": "$.what", "note": "$.note", "who": "$.who"}),
    "calibrations": ("calibration", _BY_NUMBER, {"channel": "$.channel", "who": "$.who"}),
    "runs": (
        "run_ended",
        "kept.run = json_extract(told.body, '$.run.id')",
        {figure: f"$.run.{figure}" for figure in TOLD},
    ),
}
"""What lists repeat of events: of which kind, which row belongs to one, and where the event says each column."""


def _of_rollups(connection: sqlite3.Connection) -> Iterator[Gap]:
    """A coarser roll-up counts as many rows as the finer ones of its span, where none has been given up."""
    given_up = forgotten(connection)
    for finer_s, coarser_s in pairwise(LEVELS):
        query = (
            f"SELECT min(start_s), max(start_s), count(*) FROM (SELECT start_s, sum(rows) AS sum FROM ("
            f" SELECT start_s, rows FROM {rollup_table(coarser_s)} UNION ALL"
            f" SELECT start_s / {coarser_s} * {coarser_s}, -rows FROM {rollup_table(finer_s)})"
            f" WHERE start_s >= ? GROUP BY start_s) WHERE sum != 0"
        )
        since_s = max(given_up.get(level_s, float("-inf")) for level_s in (finer_s, coarser_s))
        first, last, count = connection.execute(query, (since_s,)).fetchone()
        if count:
            yield Gap("", first, last, count, f"{rollup_table(finer_s)} or {rollup_table(coarser_s)}")
