"""Whether product may go to the tank. Bad until proven good; every open question has a name.

Quality is good when nothing in `unmet` is left, and lost when anything in `lost` appears. The two lists differ so
that water is let in with care and thrown out at once.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from halocline.control.forecast import first_product_l
from halocline.control.inputs import Reason
from halocline.control.salt import Salt
from halocline.control.situation import Situation, wetted_flow_l_h
from halocline.control.timing import Held
from halocline.plant.vocabulary import PUMPING

STEADY_BAR_S = 1.0
"""A hand that still turns the regulator moves the pressure about so fast (the warning stands at 1 bar/s by default); a
pump's pulses, averaged over seconds, do not (chosen)."""
ABOVE_NOISES = 5.0
"""A single value above the accept limit breaks the hold where it stands out of the noise so far. Five standard
deviations come by chance once in three million values (computed)."""
NOISY_FRACTION, NOISY_LEAST = 0.5, 0.05
"""A standard deviation of half of what lies between the two limits tells good water from bad by chance; where the
limits lie closer than a twentieth of the first, that counts as between (chosen)."""
STILL_NOISY = 0.8
"""Share of that limit below which a reading that was too noisy is quiet again (chosen)."""
TOO_GOOD = 0.2
"""Share of the expected salt below which a cell is dry, coated or wired wrong: no element is five times better than its
model (chosen)."""


@dataclass(slots=True)
class FirstWater:
    """What has gone by since working pressure was reached: product and feed, in litres, and time, in s."""

    started_s: float | None = None
    product_from_l: float = 0.0

    def seconds(self, now_s: float) -> float:
        """Time at working pressure."""
        return 0.0 if self.started_s is None else now_s - self.started_s

    def begin(self, now_s: float, total_l: float) -> None:
        """Working pressure was reached, at that total of the product meter."""
        self.started_s, self.product_from_l = now_s, total_l

    def break_off(self) -> None:
        """Working pressure is gone: what comes next is first water again."""
        self.started_s = None

    def product_l(self, total_l: float) -> float:
        """Product measured at working pressure."""
        return 0.0 if self.started_s is None else total_l - self.product_from_l


class QualityJudge:
    """Judges the product each tick. It remembers only first water, the course of the salt and broken holds.

    salty: the numbers of too much salt, measured or foreseen. noisy: those of a reading too noisy to be judged.
    """

    def __init__(self, hold_s: float) -> None:
        self.first_water = FirstWater()
        self.salt = Salt(hold_s)
        self.unmet: tuple[Reason, ...] = (Reason("no_water_yet"),)
        self.lost: tuple[Reason, ...] = ()
        self.salty: Mapping[str, float | None] | None = None
        self.noisy: Mapping[str, float | None] | None = None
        self.held_s = -1.0
        self._held = Held()

    def update(self, now: Situation, purge_owed: Reason | None) -> None:
        """Judge one tick."""
        self._follow_first_water(now)
        self.salt.update(now.tds_mg_l, now.now_s)
        self.noisy = self._too_noisy(now)
        if now.state not in PUMPING:
            self.unmet, self.lost, self.salty, self.held_s = (Reason("no_water_yet"),), (), None, -1.0
            self._held.seconds("good", False, now.now_s)
            return
        too_much = self._too_much_salt(now)
        self.salty = None if too_much is None else too_much.values
        self.lost = tuple(self._losses(now, too_much))
        self.unmet = tuple(self._open_questions(now, purge_owed))
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
            first.break_off()
        elif first.started_s is None:
            first.begin(now.now_s, now.inputs.product_total_l)

    def _too_noisy(self, now: Situation) -> Mapping[str, float | None] | None:
        """A reading that wanders over half of what lies between the two limits tells no good water from bad."""
        limits, noise_mg_l = now.settings.limits, self.salt.noise.usual
        gap_mg_l = max(limits.reject_tds_mg_l - limits.accept_tds_mg_l, NOISY_LEAST * limits.accept_tds_mg_l)
        limit_mg_l = NOISY_FRACTION * gap_mg_l
        if noise_mg_l <= (limit_mg_l if self.noisy is None else STILL_NOISY * limit_mg_l):
            return None
        return {"noise_mg_l": noise_mg_l, "limit_mg_l": limit_mg_l, "tds_mg_l": self.salt.recent}

    def _too_much_salt(self, now: Situation) -> Reason | None:
        """What is measured is never worse told than it is: foreseen salt has a name and a number of its own."""
        limits, salt, tds_mg_l = now.settings.limits, self.salt, now.tds_mg_l
        if tds_mg_l is not None and tds_mg_l > limits.reject_at_once_tds_mg_l:
            return Reason("tds_high", {"tds_mg_l": tds_mg_l, "limit_mg_l": limits.reject_at_once_tds_mg_l})
        if salt.recent is None or salt.foreseen is None or salt.foreseen <= limits.reject_tds_mg_l:
            return None
        values = {"tds_mg_l": salt.recent, "limit_mg_l": limits.reject_tds_mg_l}
        if salt.recent > limits.reject_tds_mg_l:
            return Reason("tds_high", values)
        return Reason("tds_foreseen", {**values, "foreseen_mg_l": salt.foreseen, "ahead_s": salt.ahead_s})

    def _losses(self, now: Situation, too_much: Reason | None) -> Iterator[Reason]:
        for channel in ("product_conductivity", "sea_temperature", "product_flow"):
            if now.value(channel) is None:
                yield Reason("sensor_not_good", {"channel": channel})
        wetted_l_h = wetted_flow_l_h(now.settings)
        if now.flow_l_h is not None and now.flow_l_h < wetted_l_h:
            yield Reason("no_product_flow", {"flow_l_h": now.flow_l_h, "limit_l_h": wetted_l_h})
        if too_much is not None:
            yield too_much
        if self.noisy is not None:
            yield Reason("tds_noisy", self.noisy)

    def _open_questions(self, now: Situation, purge_owed: Reason | None) -> list[Reason]:
        limits = now.settings.limits
        questions = list(self.lost)
        if purge_owed is not None:
            questions.append(purge_owed)
        questions.extend(self._first_water_left(now))
        if now.drift_bar_s is None or abs(now.drift_bar_s) > STEADY_BAR_S:
            questions.append(Reason("pressure_moving"))
        tds_mg_l = math.inf if now.tds_mg_l is None else now.tds_mg_l
        if self._above_accept(tds_mg_l, limits.accept_tds_mg_l):
            questions.append(
                Reason("tds_above_accept", {"tds_mg_l": now.tds_mg_l, "limit_mg_l": limits.accept_tds_mg_l})
            )
        elif self.salt.rising is not False:
            questions.append(Reason("tds_rising", {"tds_mg_l": now.tds_mg_l}))
        expected = now.expectation.tds_mg_l
        if expected is None or tds_mg_l < TOO_GOOD * expected:
            questions.append(Reason("tds_too_good", {"tds_mg_l": now.tds_mg_l, "expected_mg_l": expected}))
        return questions

    def _above_accept(self, tds_mg_l: float, limit_mg_l: float) -> bool:
        """On average, or by a single value that noise does not explain."""
        mean_mg_l = math.inf if self.salt.mean is None else self.salt.mean
        # Asked for what is below, so that a mean that is no number is never taken for good water.
        below = mean_mg_l <= limit_mg_l and tds_mg_l <= limit_mg_l + ABOVE_NOISES * self.salt.noise.usual
        return not below

    def _first_water_left(self, now: Situation) -> list[Reason]:
        plant, sequence = now.settings.plant, now.settings.sequence
        wanted_l = first_product_l(now.settings)
        product_l = self.first_water.product_l(now.inputs.product_total_l)
        exchanged = self.first_water.seconds(now.now_s) * plant.feed_flow_l_h / 3600 / plant.feed_side_volume_l
        if self.first_water.started_s is None:
            return [Reason("no_working_pressure")]
        if product_l < wanted_l or exchanged < sequence.feed_exchanges:
            return [Reason("first_water", {"litres": max(0.0, wanted_l - product_l)})]
        return []
