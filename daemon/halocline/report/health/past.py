"""What would have been told before: the answers of earlier days, a few of them, each computed once.

They are computed from the record as it was on those days, so a restart loses nothing but the time that they take.
"""

import math
import threading
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from halocline.report.database_open import reading
from halocline.report.health.answer import answer
from halocline.report.health.seen import Seen, seen

MOST_DAYS = 12
"""Points before the newest: each costs as much as an answer, and a phone's width shows no more."""
DAY_S = 86400.0

Answer = Mapping[str, Any]


class Band(NamedTuple):
    """A quantity over time: Unix s, the estimate and its 80 % interval, None where too little was known."""

    at_s: tuple[float, ...]
    estimate: tuple[float | None, ...]
    low: tuple[float | None, ...]
    high: tuple[float | None, ...]


def days_of(from_s: float, to_s: float) -> list[float]:
    """At most `MOST_DAYS` midnights (UTC, Unix s) after `from_s` and before `to_s`. Their distance is one, two, four …
    days, so that they stay the same, or every other one does, as the record grows."""
    span = max(to_s - from_s, 0.0) / DAY_S
    step_s = DAY_S * 2.0 ** max(0, math.ceil(math.log2(max(span / MOST_DAYS, 1.0))))
    first = math.floor(from_s / step_s) + 1
    return [step_s * n for n in range(first, math.ceil(to_s / step_s))]


def band(name: str, points: Sequence[tuple[float, Answer]]) -> Band:
    """Of one quantity; `points`: Unix s and the answer of then, in their order."""
    told = [(at_s, said["quantities"][name].get("change")) for at_s, said in points]
    return Band(
        tuple(at_s for at_s, _ in told),
        tuple(None if change is None else change["estimate"] for _, change in told),
        tuple(None if change is None else change["i80"][0] for _, change in told),
        tuple(None if change is None else change["i80"][1] for _, change in told),
    )


class Past:
    """The answers of earlier days. `known` never waits; `step` computes the next, and may take seconds."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._path: Path | None = None
        self._days: list[float] = []
        self._known: dict[float, Answer] = {}

    def known(self) -> list[tuple[float, Answer]]:
        """Those that are computed, in their order."""
        with self._lock:
            return [(day_s, self._known[day_s]) for day_s in self._days if day_s in self._known]

    @property
    def complete(self) -> bool:
        """Whether all of them are, as far as the record was looked at."""
        with self._lock:
            return all(day_s in self._known for day_s in self._days)

    def step(self, path: Path) -> bool:
        """Computes one that is missing, the newest first; whether more are. Raises StoreError, and OutOfRange or
        Unsolvable for settings on record that no membrane fits."""
        with reading(path) as connection:
            has = seen(connection, None)
            with self._lock:
                if path != self._path:
                    self._path, self._known = path, {}
                self._days = _days(has)
                self._known = {day_s: self._known[day_s] for day_s in self._days if day_s in self._known}
                missing = [day_s for day_s in self._days if day_s not in self._known]
            if not missing:
                return False
            said = answer(seen(connection, missing[-1]))
        with self._lock:
            self._known[missing[-1]] = said
        return len(missing) > 1


def _days(has: Seen) -> list[float]:
    return days_of(has.kept[0].ended_s, has.at_s) if has.kept else []
