"""The low-pressure side: pumps as motors, the feed pump's curve, filters, and fresh water for a flush.

All pressures are algebraic in the flow; only the feed pressure itself settles with a short time constant.
Source of the forms: a centrifugal pump's parabola and turbulent friction (common practice); sizes invented.
"""

from __future__ import annotations

import math
from random import Random

from halocline.simulation.faults import Upsets
from halocline.simulation.parameters import PlantParameters

CAVITATION_BAR = -0.85
"""Lower than this no pump draws: the water boils."""

PUMP_VALVES_BAR = 0.2
"""Lost at working flow by water that is pushed through the standing high-pressure pump."""

FLUSH_LINE_BAR = 0.35
"""Lost at working flow between the fresh-water system and the pump's inlet."""

LEAK_L_H = 20.0
"""What seeps through a flush valve that does not close, and back through one that is also a leaking check."""

AIR_SLUG_S = (0.6, 1.2)
"""Air comes in slugs this long."""

SHUT = math.inf


class Motor:
    """A motor behind a contactor: it follows its command late, and runs up and down on ramps."""

    __slots__ = ("_delay_s", "_down_per_s", "_up_per_s", "_wait_s", "commanded", "moving", "speed")

    def __init__(self, delay_s: float, run_up_s: float, run_down_s: float) -> None:
        self.speed = 0.0
        self.commanded = False
        self.moving = False
        self._delay_s, self._wait_s = delay_s, 0.0
        self._up_per_s, self._down_per_s = 1.0 / run_up_s, 1.0 / run_down_s

    def command(self, on: bool) -> None:
        """Switch the contactor's coil."""
        if on is not self.commanded:
            self.commanded, self.moving, self._wait_s = on, True, self._delay_s

    def step(self, seconds: float) -> None:
        """Let time pass."""
        if not self.moving:
            return
        waited = min(seconds, self._wait_s)
        self._wait_s -= waited
        left = seconds - waited
        if self.commanded:
            self.speed = min(1.0, self.speed + left * self._up_per_s)
        else:
            self.speed = max(0.0, self.speed - left * self._down_per_s)
        self.moving = self._wait_s > 0.0 or self.speed != (1.0 if self.commanded else 0.0)


class Suction:
    """Air in the sea water: a share of each moment's flow that is no water, in slugs."""

    __slots__ = ("_random", "_until_s", "air")

    def __init__(self, random: Random) -> None:
        self._random = random
        self._until_s = 0.0
        self.air = 0.0

    def refresh(self, now_s: float, severity: float) -> None:
        """Draw the next slug when the last one is through."""
        if severity <= 0.0:
            self.air, self._until_s = 0.0, now_s
        elif now_s >= self._until_s:
            self._until_s = now_s + self._random.uniform(*AIR_SLUG_S)
            self.air = severity * (0.85 + 0.15 * self._random.random() if self.air < 0.5 * severity else 0.1)


class FeedSide:
    """From the seacock, and from the fresh-water system, to what the high-pressure pump delivers."""

    __slots__ = (
        "_filter_coefficient",
        "_flush_coefficient",
        "_leak_coefficient",
        "_parameters",
        "_pump_coefficient",
        "_settled_bar",
        "_valve_coefficient",
        "filter_inlet_bar",
        "flow_l_h",
        "flow_slope",
        "flush_flow_l_h",
        "fresh",
        "pressure_bar",
    )

    def __init__(self, parameters: PlantParameters) -> None:
        self._parameters = parameters
        square = parameters.feed_flow_l_h**2
        before_filters = parameters.feed_working_bar + parameters.filter_clean_drop_bar
        self._pump_coefficient = max(0.05, parameters.feed_stall_bar - before_filters) / square
        self._filter_coefficient = parameters.filter_clean_drop_bar / square
        self._valve_coefficient = PUMP_VALVES_BAR / square
        self._flush_coefficient = FLUSH_LINE_BAR / square
        self._leak_coefficient = parameters.flush_supply_bar / LEAK_L_H**2
        self.pressure_bar = self.filter_inlet_bar = self._settled_bar = 0.0
        self.flow_l_h = self.flow_slope = self.flush_flow_l_h = 0.0
        self.fresh = False

    def settle(self, seconds: float) -> None:
        """Let the feed pressure follow."""
        gap = self._settled_bar - self.pressure_bar
        if gap:
            self.pressure_bar += gap * (1.0 - math.exp(-seconds / self._parameters.feed_settle_s))

    def refresh(
        self,
        upsets: Upsets,
        *,
        feed_speed: float,
        pump_speed: float,
        air: float,
        flush_open: bool,
        supply_bar: float,
        membrane_bar: float,
    ) -> None:
        """Find the flow that the high-pressure pump delivers now, and the pressure it leaves at its inlet."""
        source_bar = self._parameters.feed_stall_bar * feed_speed * feed_speed * (1.0 - air) ** 1.5
        before = SHUT if upsets.seacock_closed else self._pump_coefficient
        filters = self._filters(upsets.prefilter_severity)
        if upsets.seacock_closed:
            source_bar = 0.0
        coefficient = before + filters
        # A seeping valve feeds the plant only while no pump does; otherwise it is a trickle beside the feed.
        seeping = upsets.flush_valve_leaks and feed_speed + pump_speed < 0.1
        feed_bar = source_bar
        self.fresh = (flush_open or seeping) and supply_bar > source_bar
        if self.fresh:
            source_bar = supply_bar
            coefficient = self._flush_coefficient if flush_open else self._leak_coefficient
        displaced = self._parameters.feed_flow_l_h * pump_speed * upsets.hp_pump_factor * (1.0 - 0.4 * air)
        self._solve(source_bar, coefficient, displaced, membrane_bar)
        self.filter_inlet_bar = self._before_filters(feed_bar, before)
        self.flush_flow_l_h = self._flush_flow(upsets, flush_open, supply_bar)

    def _filters(self, severity: float) -> float:
        return SHUT if severity >= 1.0 else self._filter_coefficient / (1.0 - severity) ** 2

    def _before_filters(self, feed_bar: float, before: float) -> float:
        if self.fresh:
            return feed_bar
        return self._settled_bar if before == SHUT else feed_bar - before * self.flow_l_h**2

    def _solve(self, source_bar: float, coefficient: float, displaced: float, membrane_bar: float) -> None:
        if displaced > 0.0:
            left_bar = source_bar - coefficient * displaced**2
            if left_bar < CAVITATION_BAR:
                left_bar = CAVITATION_BAR
                displaced = math.sqrt((source_bar - CAVITATION_BAR) / coefficient)
        else:
            left_bar = 0.0 if coefficient == SHUT else source_bar
        pushed, slope = self._pushed(source_bar, coefficient, membrane_bar)
        if pushed > displaced:
            self.flow_l_h, self.flow_slope = pushed, slope
            self._settled_bar = source_bar - coefficient * pushed**2
        else:
            self.flow_l_h, self.flow_slope = displaced, 0.0
            self._settled_bar = left_bar

    def _pushed(self, source_bar: float, coefficient: float, membrane_bar: float) -> tuple[float, float]:
        """Flow through the pump's own valves while it stands, and how it falls with membrane pressure."""
        head_bar = source_bar - max(0.0, membrane_bar)
        if head_bar <= 0.0 or coefficient == SHUT:
            return 0.0, 0.0
        resistance = coefficient + self._valve_coefficient
        # Smooth at no head, so that a pressure near balance does not rattle.
        smooth = head_bar + 0.02
        flow = head_bar / math.sqrt(smooth * resistance)
        return flow, -(0.5 * head_bar + 0.02) / (smooth * math.sqrt(smooth * resistance))

    def _flush_flow(self, upsets: Upsets, flush_open: bool, supply_bar: float) -> float:
        """What the flush meter sees; a turbine turns the same for water that runs back."""
        if self.fresh:
            return self.flow_l_h
        if flush_open:
            return 0.0
        if upsets.flush_check_leaks and self._settled_bar > 0.3:
            return LEAK_L_H * math.sqrt(self._settled_bar)
        if upsets.flush_valve_leaks and supply_bar > self._settled_bar:
            return math.sqrt((supply_bar - self._settled_bar) / self._leak_coefficient)
        return 0.0
