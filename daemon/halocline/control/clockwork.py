"""Adds up in each tick how long each activity lasts and how much water has passed."""

import math
from collections import deque

from halocline.control.conditions.pressure import HAND_BAR, PUMP_PROOF_BAR
from halocline.control.purging import count_purge
from halocline.control.situation import Situation
from halocline.control.standing import Standing, turns_by_itself
from halocline.plant.vocabulary import State

BREAKS_WITHIN_S = 1800.0


class Clockwork:
    """Keeps the clocks of one plant; `keep` before anything is decided, `follow_outputs` after."""

    def __init__(self, at: Standing) -> None:
        self._at = at
        self._pump_on_at_s = -math.inf
        self._feed_on_at_s = -math.inf
        self._turning_at_s: float | None = None
        self._rinsing_at_s = -math.inf
        self._total_l: float | None = None
        self._breaks_s: deque[float] = deque()

    @property
    def product_total_l(self) -> float:
        """The product meter's total of the last tick."""
        return self._total_l or 0.0

    def keep(self, now: Situation, elapsed_s: float) -> None:
        """Bring all clocks to this tick and hand them to its situation."""
        at, clocks, now_s = self._at, self._at.clocks, now.now_s
        clocks.to_tank = "product_to_tank" in at.actuators
        clocks.prime_s = at.prime_s()
        clocks.run_s = now_s - at.run.started_s if at.run else -1.0
        clocks.idle_s = now_s - at.idle_since_s
        clocks.laid_up_s = now_s - at.laid_up_since_s
        clocks.since_up_s = now_s - at.started_up_s
        self._keep_pump_clocks(now, elapsed_s)
        self._keep_water_clocks(now, elapsed_s)
        self._count_product(now, elapsed_s)
        self._see_pump_turn(now)
        count_purge(at, now, elapsed_s)
        now.clocks = clocks

    def _keep_pump_clocks(self, now: Situation, elapsed_s: float) -> None:
        at, clocks, now_s = self._at, self._at.clocks, now.now_s
        pump_on = at.driven
        clocks.pump_on_s = now_s - self._pump_on_at_s if pump_on else -1.0
        clocks.pump_off_s = -1.0 if pump_on else now_s - at.motor.off_at_s
        clocks.feed_pump_on_s = now_s - self._feed_on_at_s if "feed_pump" in at.actuators else -1.0
        if pump_on:
            clocks.peak_since_pump_bar = max(clocks.peak_since_pump_bar, now.pressure_bar or 0.0)
        else:
            pressure_bar = math.inf if now.pressure_bar is None else now.pressure_bar
            clocks.lowest_since_off_bar = min(clocks.lowest_since_off_bar, pressure_bar)
        at.motor.follow(now_s, elapsed_s, turns=pump_on or turns_by_itself(now))
        clocks.motor_worked_s = at.motor.worked_s
        clocks.motor_rested_s = at.motor.rested_s(now_s)

    def _keep_water_clocks(self, now: Situation, elapsed_s: float) -> None:
        at, clocks, now_s = self._at, self._at.clocks, now.now_s
        first = at.quality.first_water
        clocks.working_s = first.seconds(now_s)
        clocks.working_product_l = first.product_l(now.inputs.product_total_l)
        if at.state is not State.DIVERTING:
            clocks.diverting_s = -1.0
        elif at.latch.purge is None:
            clocks.diverting_s = max(0.0, clocks.diverting_s) + elapsed_s
        while self._breaks_s and now_s - self._breaks_s[0] > BREAKS_WITHIN_S:
            self._breaks_s.popleft()
        clocks.quality_breaks = len(self._breaks_s)

    def _count_product(self, now: Situation, elapsed_s: float) -> None:
        at, total_l = self._at, now.inputs.product_total_l
        product_l = 0.0 if self._total_l is None else max(0.0, total_l - self._total_l)
        self._total_l = total_l
        if at.run:
            at.run.count(now, elapsed_s, product_l, at.driven)
        if at.flush:
            at.flush.count(now, elapsed_s)

    def _see_pump_turn(self, now: Situation) -> None:
        at, clocks, now_s = self._at, self._at.clocks, now.now_s
        if at.rinsing():
            self._rinsing_at_s = now_s
        clocks.loaded_s = min(clocks.pump_on_s, now_s - self._rinsing_at_s) if at.driven else -1.0
        if not at.driven:
            self._turning_at_s = None
        elif self._turning_at_s is None and self._is_turning(now):
            self._turning_at_s = self._pump_on_at_s if at.settings.drive.pump == "relay" else now_s
        clocks.turning_s = -1.0 if self._turning_at_s is None else now_s - self._turning_at_s

    def _is_turning(self, now: Situation) -> bool:
        """Our relay turns the pump at once; behind a switch of its own only pressure shows that it turns."""
        if self._at.settings.drive.pump == "relay":
            return True
        proof_bar = min(HAND_BAR, self._at.clocks.pressure_before_pump_bar + PUMP_PROOF_BAR)
        return now.pressure_bar is not None and now.pressure_bar > proof_bar

    def entered(self, to: State, came_from: State, now: Situation) -> None:
        """The sequence went on: some clocks begin anew."""
        if came_from is State.PRODUCING and to is State.DIVERTING:
            self._breaks_s.append(now.now_s)
        if to is State.PRIMING:
            self._breaks_s.clear()
        if to is State.PRESSURISING:
            self._begin_pressure(now)
        if to is State.LAID_UP and came_from is not State.TRIPPED:
            self._at.laid_up_since_s = now.now_s
            self._at.clocks.laid_up_s = 0.0

    def _begin_pressure(self, now: Situation) -> None:
        self._at.clocks.pressure_before_pump_bar = now.pressure_bar or 0.0
        self._at.clocks.peak_since_pump_bar = 0.0

    def follow_outputs(self, now: Situation) -> None:
        """Note which pumps this tick switched."""
        at, clocks, now_s = self._at, self._at.clocks, now.now_s
        pump_on, pump_was_on = at.driven, clocks.pump_on_s >= 0
        feed_on, feed_was_on = "feed_pump" in at.actuators, clocks.feed_pump_on_s >= 0
        if pump_on and not pump_was_on:
            self._pump_on_at_s = now_s
            self._begin_pressure(now)
            at.motor.switched_on(now_s)
        if pump_was_on and not pump_on:
            at.motor.switched_off(now_s)
            clocks.pressure_at_off_bar = now.pressure_bar or 0.0
            clocks.lowest_since_off_bar = math.inf
        if feed_on and not feed_was_on:
            self._feed_on_at_s = now_s
        clocks.pump_on_s = now_s - self._pump_on_at_s if pump_on else -1.0
        clocks.feed_pump_on_s = now_s - self._feed_on_at_s if feed_on else -1.0
        at.motor.forget_old_starts(now_s)
