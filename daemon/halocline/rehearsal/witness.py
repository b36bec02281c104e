"""What an expectation sees of the rehearsal, tick by tick."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from halocline.control.core import Core
from halocline.control.hmi.snapshot_builder import now_message
from halocline.plant import words
from halocline.rehearsal.scenario import Expectation
from halocline.simulation import Truth

TruthOf = Callable[[], Truth]


@dataclass(slots=True)
class Moment:
    """One tick, as far as expectations ask. The truth is worked out only where one does."""

    t_s: float
    core: Core
    _truth_of: TruthOf
    _truth: Truth | None = None

    @property
    def truth(self) -> Truth:
        """What is true of the simulated plant."""
        if self._truth is None:
            self._truth = self._truth_of()
        return self._truth


def _tank_tds_ok(at: Moment, limit: float) -> bool:
    worst = at.truth.tank_worst_tds_mg_l
    return worst is None or worst <= limit


def _sentence(at: Moment) -> str:
    core = at.core
    assert core.last is not None
    return words.sentence(now_message(core.plant, core.decisions, core.last))


CHECKS: Mapping[str, Callable[[Moment, Any], bool]] = {
    "state": lambda at, wanted: at.core.plant.state.value == wanted,
    "first_out": lambda at, wanted: at.core.first_out == wanted,
    "alarm": lambda at, wanted: at.core.plant.alarms.get(wanted) is not None,
    "says": lambda at, wanted: wanted in _sentence(at),
    "tank_litres_min": lambda at, wanted: at.truth.tank_added_l >= wanted,
    "tank_litres_max": lambda at, wanted: at.truth.tank_added_l <= wanted,
    "tank_tds_max": _tank_tds_ok,
    "peak_pressure_max": lambda at, wanted: at.truth.peak_vessel_pressure_bar <= wanted,
}

SEEN: Mapping[str, Callable[[Moment, Any], Any]] = {
    "state": lambda at, _wanted: at.core.plant.state.value,
    "first_out": lambda at, _wanted: at.core.first_out,
    "alarm": lambda at, wanted: alarm.state.value if (alarm := at.core.plant.alarms.get(wanted)) else "normal",
    "says": lambda at, _wanted: _sentence(at),
    "output": lambda at, wanted: wanted in at.core.on,
    "tank_litres_min": lambda at, _wanted: round(at.truth.tank_added_l, 3),
    "tank_litres_max": lambda at, _wanted: round(at.truth.tank_added_l, 3),
    "tank_tds_max": lambda at, _wanted: at.truth.tank_worst_tds_mg_l,
    "peak_pressure_max": lambda at, _wanted: round(at.truth.peak_vessel_pressure_bar, 2),
}


def met(conditions: Mapping[str, Any], at: Moment) -> bool:
    """Whether all conditions hold together at this moment."""
    for key, wanted in conditions.items():
        if key == "output":
            if (wanted in at.core.on) is not conditions["value"]:
                return False
        elif key != "value" and not CHECKS[key](at, wanted):
            return False
    return True


def seen(conditions: Mapping[str, Any], at: Moment) -> dict[str, Any]:
    """What stood there instead (or just so)."""
    return {key: SEEN[key](at, wanted) for key, wanted in conditions.items() if key != "value"}


@dataclass(slots=True)
class Witness:
    """Follows one expectation to its verdict."""

    expectation: Expectation
    verdict: bool | None = None
    seen: dict[str, Any] = field(default_factory=dict)
    seen_at_s: float = 0.0

    def watch(self, at: Moment) -> None:
        """Look at one tick."""
        when, t_s = self.expectation.when, self.expectation.t_s
        if self.verdict is not None or (when == "at" and at.t_s < t_s - 1e-9) or when == "end":
            return
        holds = met(self.expectation.conditions, at)
        if when == "at" or (when == "by" and (holds or at.t_s >= t_s - 1e-9)):
            self._decide(holds, at)
        elif (when == "always" and not holds) or (when == "never" and holds):
            self._decide(False, at)

    def finish(self, at: Moment) -> None:
        """The rehearsal is over."""
        if self.verdict is not None:
            return
        if self.expectation.when in ("always", "never"):
            self._decide(True, at)
        else:
            self._decide(met(self.expectation.conditions, at), at)

    def _decide(self, verdict: bool, at: Moment) -> None:
        self.verdict = verdict
        self.seen = seen(self.expectation.conditions, at)
        self.seen_at_s = at.t_s

    def report(self) -> dict[str, Any]:
        """As the result carries it."""
        return {
            "ok": bool(self.verdict),
            "expected": dict(self.expectation.text),
            "seen": self.seen,
            "seen_at_s": round(self.seen_at_s, 3),
        }
