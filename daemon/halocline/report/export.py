"""The record as lines for other programs: CSV or JSON Lines, read in short steps so that nothing has to wait."""

import csv
import io
import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halocline.link.captures import CAPTURE, samples_of
from halocline.plant.vocabulary import CHANNELS
from halocline.report.database_open import reading
from halocline.report.journal import Run
from halocline.report.public import iso
from halocline.report.schema import LEVELS, MARK, rollup_table

STEP_ROWS = 1000
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")

Progress = Callable[[float], None]

_ROLLUPS = {"10s": 10, "1min": 60, "15min": 900, "2h": 7200, "1d": 86400}
TABLES: Mapping[str, str] = {
    "samples": "samples",
    **{name: rollup_table(level_s) for name, level_s in _ROLLUPS.items()},
    **{name: name for name in ("events", "alarms", "runs", "work", "calibrations", "clock_settings", "holes")},
    "steady": "steady_periods",
    "captures": "events",
}
"""What can be exported → its table. Captures are events of their own kind, told tick by tick."""

JSON_COLUMNS = frozenset({"body", "details", "asked", "why", "counters", "configuration"})
_MOMENTS = frozenset({"samples", "events", "alarms", "work", "calibrations", "clock_settings"})
_LEVEL_OF = {rollup_table(level_s): level_s for level_s in LEVELS}


@dataclass(frozen=True, slots=True)
class Selection:
    """What to export: a table's name, and of it a span of time, or what belongs to one run, or all."""

    what: str
    from_s: float | None = None
    to_s: float | None = None
    run: Run | None = None


def rows(path: Path, selection: Selection, progress: Progress = lambda _: None) -> Iterator[dict[str, Any]]:
    """The rows in the order they were recorded, each with its `time` (UTC ISO 8601) first.

    `progress` gets the share that is done. Raises StoreError.
    """
    table = TABLES[selection.what]
    where, values = _limits(table, selection)
    if table == "events":
        where = f"kind {'=' if selection.what == 'captures' else '<>'} '{CAPTURE}' AND {where}"
    told = _captured if selection.what == "captures" else _told
    with reading(path) as connection:
        first, last = connection.execute(f"SELECT min(rowid), max(rowid) FROM {table}").fetchone()
        boots = dict(connection.execute("SELECT id, boot FROM boots").fetchall())
    if last is None:
        return
    after = first - 1
    while True:
        with reading(path) as connection:
            query = f"SELECT rowid AS row_number, * FROM {table} WHERE rowid > ? AND rowid <= ? AND {where}"
            found = connection.execute(f"{query} ORDER BY rowid LIMIT {STEP_ROWS}", (after, last, *values)).fetchall()
        for row in found:
            yield from told(row, boots)
        if len(found) < STEP_ROWS:
            progress(1.0)
            return
        after = found[-1]["row_number"]
        progress((after - first) / max(last - first, 1))


def _limits(table: str, selection: Selection) -> tuple[str, tuple[Any, ...]]:
    """The condition on the rows, and its values. The plus keeps SQLite from leaving the order of recording."""
    if selection.run is not None:
        return _limits_of_run(table, selection.run)
    if table in _LEVEL_OF:
        time, begins = "start_s", f"+start_s + {_LEVEL_OF[table]} > ?"
    else:
        time = {"runs": "started_wall_s", "steady_periods": "at_s"}.get(table, "wall_s")
        begins = f"+{time} >= ?"
    if table == "holes" or (selection.from_s is None and selection.to_s is None):
        return "1", ()
    from_s = -1e18 if selection.from_s is None else selection.from_s
    to_s = 1e18 if selection.to_s is None else selection.to_s
    return f"{begins} AND +{time} < ?", (from_s, to_s)


def _limits_of_run(table: str, run: Run) -> tuple[str, tuple[Any, ...]]:
    boot = "boot = (SELECT id FROM boots WHERE boot = ?)"
    if table == "runs":
        return "id = ?", (run.id,)
    if table == "steady_periods":
        return f"{boot} AND run = ?", (run.boot, run.run)
    if table in _MOMENTS:
        started_s = 0.0 if run.started_mono_s is None else run.started_mono_s
        ended_s = 9e15 if run.ended_mono_s is None else run.ended_mono_s
        return f"+{boot} AND mono_s BETWEEN ? AND ?", (run.boot, started_s, ended_s)
    if table in _LEVEL_OF:
        if run.started_s is None:
            return "0", ()
        ended_s = 9e15 if run.ended_s is None else run.ended_s
        return f"start_s + {_LEVEL_OF[table]} > ? AND start_s <= ?", (run.started_s, ended_s)
    return boot, (run.boot,)


def _captured(row: sqlite3.Row, boots: Mapping[int, str]) -> Iterator[dict[str, Any]]:
    """What a piece of a capture holds, a row a tick. A piece that is not one has none."""
    try:
        piece = json.loads(row["body"])
        samples, cause = samples_of(piece), piece.get("cause")
    except (ValueError, AttributeError):
        return
    for at_s, values in samples:
        wall_s = None if row["wall_s"] is None or row["mono_s"] is None else row["wall_s"] - row["mono_s"] + at_s
        known = {"boot": boots.get(row["boot"], str(row["boot"])), "seq": row["seq"], "cause": cause}
        yield {"time": iso(wall_s), **known, "mono_s": at_s, **{channel: values.get(channel) for channel in CHANNELS}}


def _told(row: sqlite3.Row, boots: Mapping[int, str]) -> Iterator[dict[str, Any]]:
    content = dict(row)
    for ours in ("row_number", MARK):
        content.pop(ours, None)
    moment = next((content[key] for key in ("wall_s", "start_s", "started_wall_s", "at_s") if key in content), None)
    if "boot" in content:
        content["boot"] = boots.get(content["boot"], str(content["boot"]))
    yield {"time": iso(moment), **content}


def as_json_lines(found: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """One JSON object a line; what is not known is left out."""
    for row in found:
        known = {key: _decoded(key, value) for key, value in row.items() if value is not None}
        yield json.dumps(known, ensure_ascii=False, separators=(",", ":")) + "\n"


def as_csv(found: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """CSV (RFC 4180) with a head line; an empty cell is not known.

    A text that a spreadsheet would take for a formula gets an apostrophe in front.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    head = False
    for row in found:
        if not head:
            writer.writerow(row.keys())
            head = True
        writer.writerow([_cell(value) for value in row.values()])
        yield buffer.getvalue()
        buffer.seek(0)
        buffer.truncate()


def _cell(value: Any) -> Any:
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        return f"'{value}"
    return value


def _decoded(key: str, value: Any) -> Any:
    if key not in JSON_COLUMNS:
        return value
    try:
        return json.loads(value)
    except ValueError:
        return value


FORMATS: Mapping[str, Callable[[Iterable[Mapping[str, Any]]], Iterator[str]]] = {"csv": as_csv, "jsonl": as_json_lines}
"""How lines can be written."""
