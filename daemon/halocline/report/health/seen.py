"""What the record held at one moment, and the running hours of its runs."""

import json
import math
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from halocline.plant.readings import READINGS
from halocline.report.health.periods import Kept, periods


class Aside(NamedTuple):
    """A finding that a person has put aside: when (Unix s), which, why, and who."""

    at_s: float
    finding: str
    reason: str
    who: str | None


@dataclass(frozen=True, slots=True)
class Seen:
    """What the record held at the moment that is asked for. `readings`: what people read beside the sensors, as
    (Unix s, kind of entry, what was read by name); `asides` in their order."""

    at_s: float
    kept: Sequence[Kept]
    work: Sequence[tuple[float, str, str]]
    calibrations: Sequence[tuple[float, str, Mapping[str, Any]]]
    settings: Mapping[str, Any]
    readings: Sequence[tuple[float, str, Mapping[str, Any]]] = ()
    asides: Sequence[Aside] = ()

    def is_fitted(self, channel: str) -> bool:
        """Whether the plant has this sensor, by its settings."""
        return channel in (self.settings.get("inputs") or {})


def seen(connection: sqlite3.Connection, at_s: float | None) -> Seen:
    """Reads it; nothing later than `at_s`."""
    limit = math.inf if at_s is None else at_s
    kept = [each for each in periods(connection) if each.ended_s <= limit]
    work = [
        (float(wall_s), str(kind), str(note or ""))
        for wall_s, kind, note in connection.execute(
            "SELECT wall_s, kind, note FROM work WHERE wall_s IS NOT NULL ORDER BY boot, seq"
        )
        if wall_s <= limit
    ]
    calibrations = [
        (float(wall_s), str(channel), _object(details))
        for wall_s, channel, details in connection.execute(
            "SELECT wall_s, channel, details FROM calibrations WHERE wall_s IS NOT NULL ORDER BY boot, seq"
        )
        if wall_s <= limit
    ]
    # Before the first steady run the newest settings tell at least what is fitted; not of a moment that is over, for
    # they may be of later.
    newest = "SELECT configuration FROM boots WHERE configuration IS NOT NULL ORDER BY id DESC LIMIT 1"
    of_kept = "SELECT configuration FROM boots WHERE id = ?"
    if kept:
        row = connection.execute(of_kept, (kept[-1].boot,)).fetchone()
    else:
        row = connection.execute(newest).fetchone() if at_s is None else None
    end_s = max([each.ended_s for each in kept], default=0.0) if at_s is None else at_s
    settings = _object(row[0]) if row else {}
    return Seen(end_s, kept, work, calibrations, settings, _readings(connection, limit), _asides(connection, limit))


def _readings(connection: sqlite3.Connection, limit_s: float) -> list[tuple[float, str, Mapping[str, Any]]]:
    rows = connection.execute(
        "SELECT work.wall_s, work.kind, json_extract(body, '$.readings') FROM work"
        " JOIN events ON events.boot = work.boot AND events.seq = work.seq"
        f" WHERE work.kind IN ({','.join('?' * len(READINGS))}) AND work.wall_s IS NOT NULL AND json_valid(body)"
        " ORDER BY work.boot, work.seq",
        tuple(READINGS),
    )
    return [(float(wall_s), str(kind), _object(read)) for wall_s, kind, read in rows if read and wall_s <= limit_s]


def _asides(connection: sqlite3.Connection, limit_s: float) -> list[Aside]:
    rows = connection.execute(
        "SELECT work.wall_s, json_extract(body, '$.finding'), json_extract(body, '$.note'), work.who FROM work"
        " JOIN events ON events.boot = work.boot AND events.seq = work.seq"
        " WHERE work.kind = 'finding_aside' AND work.wall_s IS NOT NULL AND json_valid(body)"
        " ORDER BY work.boot, work.seq"
    )
    return [
        Aside(float(wall_s), str(finding), str(note or ""), who if isinstance(who, str) else None)
        for wall_s, finding, note, who in rows
        if finding and wall_s <= limit_s
    ]


def _object(text: str | None) -> dict[str, Any]:
    try:
        found = json.loads(text or "{}")
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


class RunningHours:
    """Hours that the high-pressure pump was on: at the start and the end of each run, in the middle of its period, and
    now."""

    def __init__(self, kept: Sequence[Kept]) -> None:
        self._kept = kept
        self.from_h: list[float] = []
        self.middle_h: list[float] = []
        self.end_h: list[float] = []
        h = 0.0
        for each in kept:
            self.from_h.append(h)
            self.middle_h.append(h + each.period.into_s / 3600.0)
            h += each.period.pump_s / 3600.0
            self.end_h.append(h)
        self.now_h = h

    def at(self, wall_s: float) -> float:
        """Running hours when something was done."""
        return max(
            [end for each, end in zip(self._kept, self.end_h, strict=True) if each.ended_s <= wall_s], default=0.0
        )
