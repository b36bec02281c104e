"""Cases: each trip, diversion or stop by a cause, with what it brought with it and what was noted by hand after it."""

import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from halocline.link.captures import AFTER_S
from halocline.plant.alarms import DEFINITIONS, AlarmState
from halocline.report.database_open import reading
from halocline.report.journal import parsed

NOTED_WITHIN_S = 86_400.0
"""A day: what is noted later is seldom about this case (chosen)."""

_ALARMS = (
    "SELECT alarms.boot AS start, boots.boot AS boot, seq, mono_s, wall_s, alarm, state, details FROM alarms"
    f" JOIN boots ON boots.id = alarms.boot WHERE state IN ('{AlarmState.UNACKNOWLEDGED}', '{AlarmState.SUPPRESSED}')"
    " ORDER BY alarms.boot, seq"
)
_WORK = "SELECT boot AS start, seq, mono_s, wall_s, kind, note, who FROM work ORDER BY boot, seq"


@dataclass(frozen=True, slots=True)
class Noted:
    """Work by hand, in whose words."""

    wall_s: float | None
    kind: str
    note: str
    who: str | None


@dataclass(slots=True)
class Case:
    """`alarm` is the first cause; `followers` came under it or within half a minute after the last cause. `(boot, seq)`
    names it, and the capture that began with it. Times are Unix seconds or None without a clock."""

    boot: str
    seq: int
    wall_s: float | None
    alarm: str
    values: Mapping[str, Any]
    followers: list[str] = field(default_factory=list)
    noted: list[Noted] = field(default_factory=list)


def cases(path: Path, limit: int, alarm: str | None = None) -> list[Case]:
    """The newest, newest first; only those that began with `alarm`, where it is given. Raises StoreError."""
    with reading(path) as connection:
        alarms, work = connection.execute(_ALARMS).fetchall(), connection.execute(_WORK).fetchall()
    found = _gathered(alarms)
    _with_notes(found, work)
    wanted = [case for case, _ in found if alarm in (None, case.alarm)]
    return wanted[::-1][:limit]


def _gathered(alarms: Iterable[sqlite3.Row]) -> list[tuple[Case, sqlite3.Row]]:
    """The cases in their order, each with the row it began with."""
    found: list[tuple[Case, sqlite3.Row]] = []
    last: sqlite3.Row | None = None
    for row in alarms:
        definition = DEFINITIONS.get(row["alarm"])
        cause = row["state"] == AlarmState.UNACKNOWLEDGED and definition is not None and definition.makes_a_case
        if last is not None and _seconds_between(last, row) <= AFTER_S:
            case = found[-1][0]
            if (cause or row["state"] == AlarmState.SUPPRESSED) and row["alarm"] not in (case.alarm, *case.followers):
                case.followers.append(row["alarm"])
        elif cause:
            case = Case(row["boot"], row["seq"], row["wall_s"], row["alarm"], parsed(row["details"]))
            found.append((case, row))
        if cause:
            last = row
    return found


def _with_notes(found: list[tuple[Case, sqlite3.Row]], work: Iterable[sqlite3.Row]) -> None:
    """Gives each piece of work to the newest case before it, if it was noted within a day."""
    number = 0
    for done in work:
        place = (done["start"], done["seq"])
        while number < len(found) and (found[number][1]["start"], found[number][1]["seq"]) < place:
            number += 1
        if number and 0.0 <= _seconds_between(found[number - 1][1], done) <= NOTED_WITHIN_S:
            found[number - 1][0].noted.append(Noted(done["wall_s"], done["kind"], done["note"], done["who"]))


def _seconds_between(one: sqlite3.Row, other: sqlite3.Row) -> float:
    """By the clock nobody can set where both are of one start of control; infinite where nothing tells."""
    clock = "mono_s" if one["start"] == other["start"] else "wall_s"
    if one[clock] is None or other[clock] is None:
        return float("inf")
    return float(other[clock] - one[clock])
