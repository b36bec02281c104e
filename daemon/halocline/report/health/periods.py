"""Steady periods in the record: made of the minutes once a run is rolled up, and kept for ever.

Minutes are given up after a year; what a membrane was when it was new must not be.
"""

import json
import sqlite3
from collections.abc import Iterator
from itertools import pairwise
from typing import Any, NamedTuple

from halocline.report.health.steady import CHANNELS, REST_S, Moments, Period, period_of
from halocline.report.schema import rollup_table

TABLE = "steady_periods"
MINUTES = rollup_table(60)


class Kept(NamedTuple):
    """A period with the number of its run in the record, the boot it was in and what control called it."""

    number: int
    boot: int
    run: str
    ended_s: float
    period: Period


_VALUES = ",".join(Period._fields)
_INSERT = f"INSERT OR REPLACE INTO {TABLE} (boot, run, {_VALUES}) VALUES ({','.join('?' * (2 + len(Period._fields)))})"
_READ = (
    f"SELECT runs.id, {TABLE}.boot, {TABLE}.run, coalesce(ended_wall_s, at_s), {_VALUES} FROM {TABLE}"
    f" JOIN runs ON runs.boot = {TABLE}.boot AND runs.run = {TABLE}.run"
)
_WAITING = (
    "SELECT runs.id, runs.boot, runs.run, started_mono_s, ended_mono_s, started_wall_s - started_mono_s, configuration"
    " FROM runs JOIN boots ON boots.id = runs.boot WHERE why IS NOT NULL"
    f" AND NOT EXISTS (SELECT 1 FROM {TABLE} AS kept WHERE kept.boot = runs.boot AND kept.run = runs.run)"
    " AND started_wall_s IS NOT NULL AND ended_mono_s IS NOT NULL"
)
_STATES = (
    "SELECT mono_s, json_extract(body, '$.to') FROM events WHERE boot = ? AND kind = 'state'"
    " AND mono_s BETWEEN ? AND ? AND json_valid(body) ORDER BY seq"
)
_MINUTES = f"SELECT start_s, {', '.join(CHANNELS)} FROM {MINUTES} WHERE start_s BETWEEN ? AND ? ORDER BY start_s"
PUMP_STATES = frozenset({"pressurising", "diverting", "producing"})


def periods(connection: sqlite3.Connection) -> list[Kept]:
    """All runs in their order: those on file, and those that ended since, made now."""
    kept = [Kept(row[0], row[1], row[2], row[3], Period(*row[4:])) for row in connection.execute(_READ)]
    kept += (found for found in _made(connection, connection.execute(_WAITING).fetchall()))
    return sorted(kept, key=lambda each: each.number)


def keep_step(connection: sqlite3.Connection, *, at_most: int = 5) -> bool:
    """Keeps the periods of the next runs whose minutes are complete, within the caller's transaction; whether there
    are more."""
    rolled = f"{_WAITING} AND rolled_seq >= last_seq ORDER BY runs.id LIMIT ?"
    waiting = connection.execute(rolled, (at_most + 1,)).fetchall()
    for found in _made(connection, waiting[:at_most]):
        connection.execute(_INSERT, (found.boot, found.run, *found.period))
    return len(waiting) > at_most


def _made(connection: sqlite3.Connection, runs: list[Any]) -> Iterator[Kept]:
    for number, boot, run, started_mono_s, ended_mono_s, offset_s, configuration in runs:
        moments = _moments(connection, boot, started_mono_s, ended_mono_s, offset_s)
        span = (moments.pump_on_s - REST_S, moments.pump_off_s)
        names = ("start_s", *CHANNELS)
        minutes = [
            {name: _number(value) for name, value in zip(names, row, strict=True)}
            for row in connection.execute(_MINUTES, span)
        ]
        yield Kept(number, boot, run, ended_mono_s + offset_s, period_of(moments, minutes, _settings(configuration)))


def _number(value: object) -> float | None:
    """A page of zeros on a worn card can read as anything."""
    return value if isinstance(value, float) else float(value) if type(value) is int else None


def _moments(connection: sqlite3.Connection, boot: int, started_s: float, ended_s: float, offset_s: float) -> Moments:
    states = connection.execute(_STATES, (boot, started_s, ended_s)).fetchall()
    states.append((ended_s, "ended"))
    on_s = off_s = None
    producing = []
    for (begin_s, state), (end_s, _) in pairwise(states):
        if state in PUMP_STATES:
            on_s = begin_s if on_s is None else on_s
            off_s = end_s
        if state == "producing":
            producing.append((begin_s + offset_s, end_s + offset_s))
    if on_s is None or off_s is None:
        on_s = off_s = started_s
    return Moments(on_s + offset_s, off_s + offset_s, tuple(producing))


def _settings(text: str | None) -> dict[str, Any]:
    try:
        found = json.loads(text or "{}")
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}
