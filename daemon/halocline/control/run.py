"""What is under way and counted: a run (what it was for, what it made, what it cost), a flush, a bench trial."""

from dataclasses import dataclass, field
from typing import Any

from halocline.control.hydraulic_state import RELEASE_S
from halocline.control.inputs import Reason
from halocline.control.situation import Observation, Situation
from halocline.link.snapshot import RunNow
from halocline.plant.thresholds import AUTOMATIC_FLUSH_S, LEAST_FLUSH_L_H
from halocline.plant.vocabulary import State

LEAST_SHARE, LARGEST_SHARE = 0.2, 2.0
"""Of the configured power: a rise outside is a charger's or a heater's, or the pumps run from the mains (chosen)."""
FLUSH_WAITS_S = RELEASE_S["spring"]
"""A flush opens its valve once the pressure is gone: it waits as long as the slowest regulator needs for that."""
NO_FLUSH_L_H = 20.0
"""A sixth of the least that flushes: the supply is empty or the valve shut, whatever still trickles (chosen)."""
SUPPLY_SHOWN_SHARE = 0.25
"""Once a meter has seen a quarter of the flush, a weak inlet pressure no longer disproves the supply, and a hand has
had the time to open the regulator (chosen)."""


@dataclass(slots=True)
class Need:
    """What a start asked for; None: until the tank is full or the run limit."""

    litres: float | None = None
    producing_s: float | None = None
    deadline_s: float | None = None

    def met(self, run: "Run", now_s: float, ceiling_l: float) -> Reason | None:
        """Why the need is met, if it is."""
        if self.litres is not None and run.litres >= self.litres:
            return Reason("target_litres", {"litres": run.litres})
        if self.producing_s is not None and run.producing_s >= self.producing_s:
            return Reason("target_minutes", {"seconds": run.producing_s})
        if self.deadline_s is not None and now_s >= self.deadline_s:
            return Reason("target_time", {"litres": run.litres})
        if run.litres >= ceiling_l:
            return Reason("tank_ceiling", {"litres": run.litres})
        return None

    def remaining_s(self, run: "Run", now_s: float, flow_l_h: float | None) -> float | None:
        """Seconds of producing still to go at the present flow; None when it cannot be told."""
        if self.producing_s is not None:
            return max(0.0, self.producing_s - run.producing_s)
        if self.deadline_s is not None:
            return max(0.0, self.deadline_s - now_s)
        if self.litres is not None and flow_l_h:
            return max(0.0, (self.litres - run.litres) / flow_l_h * 3600)
        return None


@dataclass(slots=True)
class Run:
    """Counted from the accepted start to the end of the run. Litres, Wh, mg/L, bar, s, W.

    rest_w: what the battery gave before the start, None where it is not measured.
    """

    id: str
    need: Need
    started_s: float
    ceiling_l: float
    arguments: dict[str, Any] = field(default_factory=dict)
    rest_w: float | None = None
    litres: float = 0.0
    overboard_l: float = 0.0
    producing_s: float = 0.0
    energy_wh: float = 0.0
    tds_worst_mg_l: float | None = None
    peak_pressure_bar: float = 0.0
    ended_by: Reason | None = None
    _salt_mg: float = 0.0
    _seen_mg_l: float = 0.0
    _energy_from: set[str] = field(default_factory=set)

    def count(self, now: Observation, elapsed_s: float, product_l: float, pump_on: bool) -> None:
        """Add what happened since the last tick."""
        self.energy_wh += elapsed_s / 3600 * self._power_w(now, pump_on)
        for bar in (now.pressure_bar, now.inputs.overpressure_bar):
            if bar is not None and bar > self.peak_pressure_bar:
                self.peak_pressure_bar = bar
        if now.state is not State.PRODUCING:
            self.overboard_l += product_l
            self._seen_mg_l = 0.0
            return
        self.litres += product_l
        self.producing_s += elapsed_s
        # A meter's pulses are rarer than ticks; what is seen between two of them is of the water that the second tells.
        self._seen_mg_l = max(self._seen_mg_l, now.tds_mg_l or 0.0, now.tds_peak_mg_l or 0.0)
        if now.tds_mg_l is not None and product_l > 0:
            # The mean is of what was decided on, the worst of what was seen at any moment.
            self.tds_worst_mg_l = max(self.tds_worst_mg_l or 0.0, self._seen_mg_l)
            self._seen_mg_l = 0.0
            self._salt_mg += now.tds_mg_l * product_l

    def _power_w(self, now: Observation, pump_on: bool) -> float:
        """The pumps' power. No sensor measures it: it is inferred from what the battery gives beyond what the boat
        drew before the start, whatever the sign of a discharge; where that cannot be the pumps (they run from the
        mains, or nothing is measured) it is the configured power."""
        rated_w = now.settings.plant.pump_power_w
        if now.power_w is not None and self.rest_w is not None:
            rise_w = abs(now.power_w - self.rest_w)
            if not pump_on or LEAST_SHARE * rated_w <= rise_w <= LARGEST_SHARE * rated_w:
                self._energy_from |= {"battery"} if pump_on else set()
                return rise_w
        self._energy_from |= {"configured"} if pump_on else set()
        return rated_w if pump_on else 0.0

    @property
    def energy_basis(self) -> str | None:
        """What the energy is inferred from: battery, configured, or both; None before a pump has run."""
        return "both" if len(self._energy_from) > 1 else next(iter(self._energy_from), None)

    @property
    def tds_mean_mg_l(self) -> float | None:
        """Mean salt of the water in the tank from this run."""
        return self._salt_mg / self.litres if self.litres > 0 and self._salt_mg > 0 else None

    def end(self, by: Reason) -> None:
        """Why it ends; the last reason given counts."""
        self.ended_by = by

    def summary(self, now_s: float, first_out: str | None) -> dict[str, Any]:
        """As the event that ends the run carries it."""
        return {
            "id": self.id,
            "why": (self.ended_by or Reason("unknown")).as_message(),
            "first_out": first_out,
            "started_mono_s": round(self.started_s, 3),
            "seconds": round(now_s - self.started_s, 2),
            "producing_s": round(self.producing_s, 2),
            "litres": round(self.litres, 4),
            "overboard_l": round(self.overboard_l, 4),
            "tds_worst_mg_l": _rounded(self.tds_worst_mg_l),
            "tds_mean_mg_l": _rounded(self.tds_mean_mg_l),
            "energy_wh": round(self.energy_wh, 3),
            "energy_basis": self.energy_basis,
            "peak_pressure_bar": round(self.peak_pressure_bar, 2),
        }

    def message(self, now_s: float, flow_l_h: float | None) -> RunNow:
        """As the live snapshot carries it."""
        return {
            "id": self.id,
            "litres": round(self.litres, 4),
            "target_l": self.need.litres,
            "seconds": round(now_s - self.started_s, 2),
            "energy_wh": round(self.energy_wh, 3),
            "energy_basis": self.energy_basis,
            "remaining_s": _rounded(self.need.remaining_s(self, now_s, flow_l_h)),
        }


@dataclass(slots=True)
class Flush:
    """One flush: how much is wanted, how much has gone by, since when the valve is open; `alone`: nobody ordered it."""

    wanted_l: float
    started_s: float
    run_id: str | None
    from_total_l: float | None
    alone: bool = False
    litres: float = 0.0
    valve_open_s: float = -1.0
    no_flow_s: float = 0.0

    def count(self, now: Observation, elapsed_s: float) -> None:
        """Add what went by; without a meter the least a flush must flow, 120 L/h, is assumed."""
        if self.valve_open_s < 0:
            return
        self.valve_open_s += elapsed_s
        total_l = now.inputs.flush_total_l
        if self.measured and total_l is not None and self.from_total_l is not None:
            self.litres = total_l - self.from_total_l
            flow_l_h = now.value("flush_flow")
            self.no_flow_s = self.no_flow_s + elapsed_s if flow_l_h is None or flow_l_h < NO_FLUSH_L_H else 0.0
        elif (now.feed_bar or 0.0) >= now.settings.sequence.flush_supply_bar:
            self.litres += elapsed_s * LEAST_FLUSH_L_H / 3600

    def open_valve(self) -> None:
        """The valve is open from now on."""
        self.valve_open_s = 0.0

    @property
    def measured(self) -> bool:
        """Whether a meter counts this flush."""
        return self.from_total_l is not None

    @property
    def is_seen_flowing(self) -> bool:
        """Whether a meter has seen so much of it go through that the way out is open."""
        return self.measured and self.no_flow_s <= 0 and self.litres >= SUPPLY_SHOWN_SHARE * self.wanted_l

    @property
    def has_flowed_freely(self) -> bool:
        """Whether a meter has counted as much as flows through an open way out only: a closed needle passes half."""
        return self.measured and self.valve_open_s > 0 and self.litres * 3600 >= LEAST_FLUSH_L_H * self.valve_open_s

    def failure(self, now: Situation) -> Reason | None:
        """Why this flush cannot be called one."""
        sequence = now.settings.sequence
        limit_s = min(sequence.flush_limit_s, AUTOMATIC_FLUSH_S) if self.alone else sequence.flush_limit_s
        if now.in_state_s > limit_s:
            return Reason("flush_too_slow", {"litres": self.litres, "seconds": now.in_state_s})
        if self.valve_open_s < 0:
            return Reason("flush_under_pressure") if now.in_state_s > FLUSH_WAITS_S else None
        if self.measured and self.no_flow_s > sequence.flush_supply_s:
            return Reason("flush_no_flow", {"litres": self.litres})
        weak = (now.feed_bar or 0.0) < sequence.flush_supply_bar
        if (
            weak
            and self.valve_open_s > sequence.flush_supply_s
            and (not self.measured or self.litres < SUPPLY_SHOWN_SHARE * self.wanted_l)
        ):
            return Reason("flush_no_supply", {"pressure_bar": now.feed_bar, "limit_bar": sequence.flush_supply_bar})
        return None

    def summary(self, now_s: float, complete: bool) -> dict[str, Any]:
        """As the event that ends the flush carries it."""
        return {
            "run": self.run_id,
            "litres": round(self.litres, 3),
            "seconds": round(now_s - self.started_s, 2),
            "complete": complete,
            "measured": self.measured,
            "alone": self.alone,
        }


class ActiveWork:
    """At most one of each. bench: the output on trial, and for how many seconds."""

    def __init__(self) -> None:
        self.run: Run | None = None
        self.flush: Flush | None = None
        self.bench: tuple[str, float] | None = None

    def begin_run(self, run: Run) -> None:
        """From the accepted start on."""
        self.run = run

    def explain_end(self, by: Reason) -> None:
        """Why the run ends, noted as the stop begins: what comes after it is not the reason."""
        if self.run is not None:
            self.run.end(by)

    def close_run(self) -> None:
        """Nothing more is counted to the run."""
        self.run = None

    def begin_flush(self, flush: Flush) -> None:
        """From the state on that opens the valve."""
        self.flush = flush

    def close_flush(self) -> None:
        """Nothing more is counted to the flush."""
        self.flush = None

    def begin_trial(self, output: str, seconds: float) -> None:
        """A person tries an output."""
        self.bench = (output, seconds)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
