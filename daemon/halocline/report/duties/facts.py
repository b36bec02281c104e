"""What the record held at one moment of what is done by hand, and of how the plant is used."""

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from halocline.plant.duties import WARM_C
from halocline.report.journal import parsed

DAY_S = 86400.0
USE_DAYS = 60.0
"""Use of the latest days is what a foreseen date goes by: long enough for a passage and a stay at anchor (chosen)."""
SEA_DAYS = 14.0
"""An older temperature is not today's sea (chosen)."""


@dataclass(frozen=True, slots=True)
class Entry:
    """Something done by hand, on a known day, in the order of the record; `counters` as they stood then."""

    at_s: float
    kind: str
    note: str = ""
    who: str | None = None
    details: Mapping[str, Any] = field(default_factory=dict)
    counters: Mapping[str, float] = field(default_factory=dict)

    def number(self, name: str) -> float | None:
        """One of its readings; None where there is none."""
        readings = self.details.get("readings")
        value = readings.get(name) if isinstance(readings, Mapping) else None
        return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


@dataclass(frozen=True, slots=True)
class Run:
    """A run that has ended: when (Unix s), how long (s), litres to the tank."""

    ended_s: float
    seconds: float
    litres: float


@dataclass(frozen=True, slots=True)
class Facts:
    """`now_s` in Unix seconds; `began_s` the first dated thing on record, None for an empty one. `sea_c`: mean of the
    newest day on record, None where that is too old; then the sea counts as warm."""

    now_s: float
    began_s: float | None
    work: Sequence[Entry]
    runs: Sequence[Run]
    counters: Mapping[str, float]
    settings: Mapping[str, Any]
    sea_c: float | None = None

    @property
    def warm(self) -> bool:
        """Whether the sea is warm, or nobody knows."""
        return self.sea_c is None or self.sea_c > WARM_C

    @property
    def laid_up(self) -> bool:
        """Whether the newest word on it is that it is laid up."""
        said = [one.kind for one in self.work if one.kind in ("lay_up", "recommission")]
        return bool(said) and said[-1] == "lay_up"

    def setting(self, table: str, key: str) -> float | None:
        """A number of the configuration in force; None where there is none."""
        value = (self.settings.get(table) or {}).get(key)
        return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None

    def rates(self) -> tuple[float, float]:
        """Hours of pump and litres into the tank a day, as the latest days were."""
        if self.began_s is None:
            return 0.0, 0.0
        days = min(max((self.now_s - self.began_s) / DAY_S, 1.0), USE_DAYS)
        latest = [run for run in self.runs if run.ended_s >= self.now_s - days * DAY_S]
        return sum(run.seconds for run in latest) / 3600.0 / days, sum(run.litres for run in latest) / days

    def used_since(self, at_s: float) -> bool:
        """Whether water was made since."""
        return any(run.ended_s > at_s for run in self.runs)


def facts(connection: sqlite3.Connection, now_s: float) -> Facts:
    """Reads them. Work whose day nobody knows is left out: counted as not done, it is done once too often at most."""
    newest = connection.execute(
        "SELECT wall_s FROM events WHERE wall_s IS NOT NULL ORDER BY boot DESC, seq DESC LIMIT 1"
    ).fetchone()
    # A computer that has lost its time would call everything done; the record knows that it is at least so late.
    now_s = max(now_s, newest[0]) if newest else now_s
    # What a wrong clock dated into the future is no beginning: nothing would be due until then.
    first = connection.execute(
        "SELECT wall_s FROM events WHERE wall_s <= ? ORDER BY boot, seq LIMIT 1", (now_s,)
    ).fetchone()
    work = [
        Entry(wall_s, str(kind), str(note or ""), who, parsed(details), _numbers(parsed(counters)))
        for wall_s, kind, note, who, details, counters in connection.execute(
            "SELECT wall_s, kind, note, who, details, counters FROM work WHERE wall_s IS NOT NULL ORDER BY boot, seq"
        )
    ]
    runs = [
        Run(ended_s, seconds or 0.0, litres or 0.0)
        for ended_s, seconds, litres in connection.execute(
            "SELECT ended_wall_s, seconds, litres FROM runs WHERE ended_wall_s IS NOT NULL ORDER BY id"
        )
    ]
    configuration = connection.execute(
        "SELECT configuration FROM boots WHERE configuration IS NOT NULL ORDER BY id DESC LIMIT 1"
    ).fetchone()
    sea = connection.execute(
        "SELECT sea_temperature FROM rollup_86400s WHERE sea_temperature IS NOT NULL AND start_s >= ?"
        " ORDER BY start_s DESC LIMIT 1",
        (now_s - SEA_DAYS * DAY_S,),
    ).fetchone()
    return Facts(
        now_s=now_s,
        began_s=first[0] if first else None,
        work=work,
        runs=runs,
        counters=dict(connection.execute("SELECT name, value FROM counters").fetchall()),
        settings=parsed(configuration[0]) if configuration else {},
        sea_c=sea[0] if sea else None,
    )


def _numbers(counters: Mapping[str, Any]) -> dict[str, float]:
    return {name: float(value) for name, value in counters.items() if isinstance(value, int | float)}
