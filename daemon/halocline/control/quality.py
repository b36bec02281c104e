"""Whether product may go to the tank. Bad until proven good; every open question has a name.

Quality is good when nothing in `unmet` is left, and lost when anything in `lost` appears. The two lists differ so
that water is let in with care and thrown out at once.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from halocline.control.inputs import Reason
from halocline.control.situation import Situation, wetted_flow_l_h
from halocline.control.timing import Held, Slope
from halocline.plant.vocabulary import State

RISING_WINDOW_S = 10.0
RISING_MG_L = 5.0
RISING_FRACTION = 0.03
RUSHING_WINDOW_S = 1.0
AHEAD_S = 10.0
"""A cell answers 5 to 10 s late and a valve takes its time as well: salt that rises is judged this far ahead."""
STEADY_BAR_S = 1.0
TOO_GOOD = 0.2
PUMPING = frozenset({State.PRESSURISING, State.DIVERTING, State.PRODUCING})


@dataclass(slots=True)
class FirstWater:
    """What has gone by since working pressure was reached: product and feed, in litres, and time, in s."""

    started_s: float | None = None
    product_from_l: float = 0.0

    def seconds(self, now_s: float) -> float:
        """Time at working pressure."""
        return 0.0 if self.started_s is None else now_s - self.started_s

    def product_l(self, total_l: float) -> float:
        """Product measured at working pressure."""
        return 0.0 if self.started_s is None else total_l - self.product_from_l


@dataclass(slots=True)
class QualityJudge:
    """Judges the product each tick. It remembers only first water, the trend of the salt and broken holds."""

    first_water: FirstWater = field(default_factory=FirstWater)
    unmet: tuple[Reason, ...] = (Reason("no_water_yet"),)
    lost: tuple[Reason, ...] = ()
    salty: Mapping[str, float] | None = None
    held_s: float = -1.0
    _held: Held = field(default_factory=Held)
    _slope: Slope = field(default_factory=lambda: Slope(RISING_WINDOW_S))
    _rush: Slope = field(default_factory=lambda: Slope(RUSHING_WINDOW_S))
    _coming_mg_l: float = 0.0

    def take(self, now: Situation, purge_owed: Reason | None) -> None:
        """Judge one tick."""
        self._follow_first_water(now)
        self._slope.window_s = min(RISING_WINDOW_S, now.settings.sequence.quality_hold_s / 3)
        slope = self._slope.per_second(now.tds_mg_l, now.now_s)
        self._look_ahead(now)
        if now.state not in PUMPING:
            self.unmet, self.lost, self.held_s = (Reason("no_water_yet"),), (), -1.0
            self._held.seconds("good", False, now.now_s)
            self._held.seconds("reject", False, now.now_s)
            return
        self.lost = tuple(self._losses(now))
        self.unmet = tuple(self._open_questions(now, purge_owed, slope))
        self.held_s = self._held.seconds("good", not self.unmet, now.now_s)

    def _follow_first_water(self, now: Situation) -> None:
        first, pressure_bar = self.first_water, now.pressure_bar
        working = (
            now.state in PUMPING
            and pressure_bar is not None
            and pressure_bar
            >= now.expectation.working_minimum_bar
            - (now.settings.limits.pressure_lost_bar if first.started_s is not None else 0)
        )
        if not working:
            first.started_s = None
        elif first.started_s is None:
            first.started_s, first.product_from_l = now.now_s, now.inputs.product_total_l

    def _look_ahead(self, now: Situation) -> None:
        """The salt that will be in the water when a valve told now has moved, if it goes on rising like this."""
        rise = max(0.0, self._rush.per_second(now.tds_mg_l, now.now_s) or 0.0)
        ahead_s = min(AHEAD_S, now.settings.sequence.quality_hold_s / 6)
        self._coming_mg_l = (now.tds_mg_l or 0.0) + ahead_s * rise

    def _losses(self, now: Situation) -> list[Reason]:
        limits, tds_mg_l = now.settings.limits, self._coming_mg_l
        losses = [
            Reason("sensor_not_good", {"channel": channel})
            for channel in ("product_conductivity", "sea_temperature", "product_flow")
            if now.value(channel) is None
        ]
        if now.flow_l_h is not None and now.flow_l_h < wetted_flow_l_h(now.settings):
            losses.append(
                Reason("no_product_flow", {"flow_l_h": now.flow_l_h, "limit_l_h": wetted_flow_l_h(now.settings)})
            )
        self.salty = None
        if now.tds_mg_l is None:
            return losses
        above_s = self._held.seconds("reject", tds_mg_l > limits.reject_tds_mg_l, now.now_s)
        if tds_mg_l > limits.reject_at_once_tds_mg_l:
            self.salty = {"tds_mg_l": tds_mg_l, "limit_mg_l": limits.reject_at_once_tds_mg_l}
        elif above_s >= 2.0:
            self.salty = {"tds_mg_l": tds_mg_l, "limit_mg_l": limits.reject_tds_mg_l}
        if self.salty is not None:
            losses.append(Reason("tds_high", self.salty))
        return losses

    def _open_questions(self, now: Situation, purge_owed: Reason | None, slope: float | None) -> list[Reason]:
        limits = now.settings.limits
        questions = list(self.lost)
        if purge_owed is not None:
            questions.append(purge_owed)
        questions.extend(self._first_water_left(now))
        if now.rate_bar_s is None or abs(now.rate_bar_s) > STEADY_BAR_S:
            questions.append(Reason("pressure_moving"))
        tds_mg_l = math.inf if now.tds_mg_l is None else now.tds_mg_l
        if tds_mg_l > limits.accept_tds_mg_l:
            questions.append(
                Reason("tds_above_accept", {"tds_mg_l": now.tds_mg_l, "limit_mg_l": limits.accept_tds_mg_l})
            )
        elif slope is None or slope * self._slope.window_s > RISING_MG_L + RISING_FRACTION * tds_mg_l:
            questions.append(Reason("tds_rising", {"tds_mg_l": now.tds_mg_l}))
        expected = now.expectation.tds_mg_l
        if expected is None or tds_mg_l < TOO_GOOD * expected:
            questions.append(Reason("tds_too_good", {"tds_mg_l": now.tds_mg_l, "expected_mg_l": expected}))
        return questions

    def _first_water_left(self, now: Situation) -> list[Reason]:
        plant, sequence = now.settings.plant, now.settings.sequence
        wanted_l = max(3 * plant.product_side_volume_l, sequence.first_product_l)
        product_l = self.first_water.product_l(now.inputs.product_total_l)
        exchanged = self.first_water.seconds(now.now_s) * plant.feed_flow_l_h / 3600 / plant.feed_side_volume_l
        if self.first_water.started_s is None:
            return [Reason("no_working_pressure")]
        if product_l < wanted_l or exchanged < sequence.feed_exchanges:
            return [Reason("first_water", {"litres": max(0.0, wanted_l - product_l)})]
        return []
