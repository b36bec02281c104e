"""Timers: adds up in each tick how long each activity lasts and how much water has passed."""

import math
from collections import deque

from halocline.control.hydraulic_state import HAND_BAR, PUMP_PROOF_BAR, turns_by_itself
from halocline.control.plant_state import PlantState
from halocline.control.situation import Clocks, Observation, Situation
from halocline.plant.vocabulary import State

BREAKS_WITHIN_S = 1800.0
"""How long a broken quality counts as one of several: with three in half an hour the valve turns for a cause that stays
(chosen)."""


class Timers:
    """The timers of one plant; `update` before anything is decided, `follow_outputs` after.

    clocks: as the present tick's situation carries them. product_total_l: the product meter's total of the last tick.
    """

    def __init__(self, at: PlantState) -> None:
        self._at = at
        self.clocks = Clocks()
        self.product_total_l = 0.0
        self._pump_on_at_s: float | None = None
        self._feed_on_at_s: float | None = None
        self._turning_at_s: float | None = None
        self._rinsing_at_s = -math.inf
        self._diverting_s = -1.0
        self._peak_since_pump_bar = 0.0
        self._pressure_before_pump_bar = 0.0
        self._pressure_at_off_bar = 0.0
        self._lowest_since_off_bar = math.inf
        self._breaks_s: deque[float] = deque()

    def update(self, seen: Observation, elapsed_s: float) -> Clocks:
        """All clocks as of this tick."""
        at, now_s = self._at, seen.now_s
        # An error of control's own switches everything off without a word to the timers.
        self._pump_on_at_s = self._pump_on_at_s if at.driven else None
        self._feed_on_at_s = self._feed_on_at_s if "feed_pump" in at.actuators else None
        self._follow_pressure(seen)
        at.motor.follow(now_s, elapsed_s, turns=at.driven or turns_by_itself(seen))
        self._follow_water(now_s, elapsed_s)
        self._see_pump_turn(seen)
        first, run = at.quality.first_water, at.run
        pump_on_s, feed_pump_on_s = _since(self._pump_on_at_s, now_s), _since(self._feed_on_at_s, now_s)
        self.clocks = Clocks(
            feed_pump_on_s=feed_pump_on_s,
            pump_on_s=pump_on_s,
            pump_off_s=-1.0 if at.driven else now_s - at.motor.off_at_s,
            turning_s=_since(self._turning_at_s, now_s),
            loaded_s=min(pump_on_s, now_s - self._rinsing_at_s) if at.driven else -1.0,
            prime_s=at.prime_s(),
            diverting_s=self._diverting_s,
            to_tank="product_to_tank" in at.actuators,
            run_s=-1.0 if run is None else now_s - run.started_s,
            working_s=first.seconds(now_s),
            working_product_l=first.product_l(seen.inputs.product_total_l),
            peak_since_pump_bar=self._peak_since_pump_bar,
            pressure_before_pump_bar=self._pressure_before_pump_bar,
            pressure_at_off_bar=self._pressure_at_off_bar,
            lowest_since_off_bar=self._lowest_since_off_bar,
            quality_breaks=len(self._breaks_s),
            unattended_s=at.attendance.unattended_s(now_s, run),
            since_up_s=now_s - at.started_up_s,
            idle_s=at.rest.idle_s(now_s),
            laid_up_s=at.rest.laid_up_s(now_s),
            motor_worked_s=at.motor.worked_s,
            motor_rested_s=at.motor.rested_s(now_s),
        )
        self._count_product(seen, elapsed_s)
        return self.clocks

    def _follow_pressure(self, seen: Observation) -> None:
        if self._at.driven:
            self._peak_since_pump_bar = max(self._peak_since_pump_bar, seen.pressure_bar or 0.0)
        else:
            pressure_bar = math.inf if seen.pressure_bar is None else seen.pressure_bar
            self._lowest_since_off_bar = min(self._lowest_since_off_bar, pressure_bar)

    def _follow_water(self, now_s: float, elapsed_s: float) -> None:
        if self._at.state is not State.DIVERTING:
            self._diverting_s = -1.0
        elif self._at.retained.purge is None:  # a purge has its own time, and takes as long as it takes
            self._diverting_s = max(0.0, self._diverting_s) + elapsed_s
        while self._breaks_s and now_s - self._breaks_s[0] > BREAKS_WITHIN_S:
            self._breaks_s.popleft()

    def _count_product(self, seen: Observation, elapsed_s: float) -> None:
        at, total_l = self._at, seen.inputs.product_total_l
        product_l = max(0.0, total_l - self.product_total_l)
        self.product_total_l = total_l
        if at.run:
            at.run.count(seen, elapsed_s, product_l, at.driven)
        if at.flush:
            at.flush.count(seen, elapsed_s)

    def _see_pump_turn(self, seen: Observation) -> None:
        at, now_s = self._at, seen.now_s
        if at.rinsing():
            self._rinsing_at_s = now_s
        if not at.driven:
            self._turning_at_s = None
        elif self._turning_at_s is None and self._is_turning(seen):
            self._turning_at_s = self._pump_on_at_s if at.settings.drive.pump == "relay" else now_s

    def _is_turning(self, seen: Observation) -> bool:
        """Our relay turns the pump at once; behind a switch of its own only pressure shows that it turns."""
        if self._at.settings.drive.pump == "relay":
            return True
        proof_bar = min(HAND_BAR, self._pressure_before_pump_bar + PUMP_PROOF_BAR)
        return seen.pressure_bar is not None and seen.pressure_bar > proof_bar

    def entered(self, to: State, came_from: State, now: Situation) -> None:
        """The sequence entered a state: some clocks begin anew."""
        if came_from is State.PRODUCING and to is State.DIVERTING:
            self._breaks_s.append(now.now_s)
        if to is State.PRIMING:
            self._breaks_s.clear()
        if to is State.PRESSURISING:
            self._begin_pressure(now)

    def _begin_pressure(self, now: Situation) -> None:
        self._pressure_before_pump_bar = now.pressure_bar or 0.0
        self._peak_since_pump_bar = 0.0

    def follow_outputs(self, now: Situation) -> Situation:
        """Note which pumps this tick switched; the situation as it is from now on."""
        at, now_s = self._at, now.now_s
        pump_on, pump_was_on = at.driven, self._pump_on_at_s is not None
        feed_on, feed_was_on = "feed_pump" in at.actuators, self._feed_on_at_s is not None
        at.motor.forget_old_starts(now_s)
        if pump_on is pump_was_on and feed_on is feed_was_on:
            return now
        if pump_on and not pump_was_on:
            self._pump_on_at_s = now_s
            self._begin_pressure(now)
            at.motor.switched_on(now_s)
        if pump_was_on and not pump_on:
            self._pump_on_at_s = None
            at.motor.switched_off(now_s)
            self._pressure_at_off_bar = now.pressure_bar or 0.0
            self._lowest_since_off_bar = math.inf
        if feed_on is not feed_was_on:
            self._feed_on_at_s = now_s if feed_on else None
        self.clocks = self.clocks._replace(
            pump_on_s=_since(self._pump_on_at_s, now_s),
            feed_pump_on_s=_since(self._feed_on_at_s, now_s),
        )
        return now._replace(clocks=self.clocks)


def _since(at_s: float | None, now_s: float) -> float:
    """Seconds since then; -1 while it is not going on."""
    return -1.0 if at_s is None else now_s - at_s
