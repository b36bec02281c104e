"""One channel: takes conversions or pulses as they come, says at any time what the channel is worth.

A conversion passes these gates in order: delivered at all, electrically sound, physically possible. Its
verdict is then settled in both directions (`fault_debounce`). Age is judged when the reading is asked for, so a
silent scanner cannot leave good news standing.
"""

import math

from halocline.plant.sensors import Input, Pulses, Ratiometric
from halocline.plant.vocabulary import CHANNELS, FLOW_CHANNELS, VALUED_QUALITIES, Quality, Reading
from halocline.signals.calibration import IDENTITY, Calibration
from halocline.signals.compensation import Compensation
from halocline.signals.conversion import OFFSET_CODES, Converter, Sample, converter_for, lsb_v
from halocline.signals.fault_debounce import QualityDebounce
from halocline.signals.filters import Filter, LowPass, Median
from halocline.signals.flow import PulseFlow
from halocline.signals.plausibility import (
    FLOORS,
    RATE_LIMITS,
    ChatterGuard,
    RateGuard,
    RateLimit,
    StillGuard,
)

GOOD, UNDER, OVER = Quality.GOOD, Quality.UNDER, Quality.OVER
IMPLAUSIBLE, MISSING, STALE, STUCK = Quality.IMPLAUSIBLE, Quality.MISSING, Quality.STALE, Quality.STUCK

HIGHEST_CHIP_V = 7.0
"""No converter input can deliver more; NaN and infinities fall outside as well. Its largest range is 6.144 V (data
sheet of the ADS111x family)."""

SUPPLY_AGE_S = 5.0
"""A supply drifts over minutes; one that has not been measured for so long may be off by now (chosen)."""
STUCK_S = 30.0
"""The noise of a living signal moves its last code many times in this while; longer, and a run would rest on a dead one
(chosen)."""
SLOSHING_S = 30.0
"""Waves in a tank average out over some ten of them (common practice: half a minute or more)."""
LONGEST_STEP_S = 5.0
"""Flow that was not measured for longer is not made up: litres are then missing, not invented (chosen)."""

FUTURE_S = 1.0
"""The scanner may stamp a sample after the tick that reads it began; more is a broken clock (chosen)."""

FLOW_BEYOND = 1.1
"""A turbine may turn a tenth faster than its range before the reading says so (from memory)."""


class ChannelValidator:
    """Judges one channel.

    `floor` and `rate` replace what the tables of `plausibility` say about the channel; `stuck_s` is how long
    a signal may stand still while movement is expected (infinite: for ever).
    """

    def __init__(
        self,
        channel: str,
        sensor: Input,
        calibration: Calibration | None = None,
        *,
        floor: float | None = None,
        rate: RateLimit | None = None,
        stuck_s: float = STUCK_S,
    ) -> None:
        self.channel = channel
        self.sensor = sensor
        self.calibration = IDENTITY
        self._zero, self._span = IDENTITY.zero, IDENTITY.span
        self._unit = CHANNELS[channel].unit
        self._low, self._high = sensor.low, sensor.high
        self._floor = FLOORS.get(channel, -math.inf) if floor is None else floor
        self._limit = RATE_LIMITS.get(channel) if rate is None else rate
        self._is_flow = channel in FLOW_CHANNELS
        self._flow: PulseFlow | None = None
        self._convert: Converter = _no_volts
        self._filter: Filter
        self._rate: RateGuard | None
        self._forget_the_course()
        self._compensation: Compensation | None = None
        lsb = 1.0
        if isinstance(sensor, Pulses):
            self._flow = PulseFlow(sensor)
        else:
            self._convert = converter_for(sensor)
            lsb = lsb_v(sensor.gain_v)
            if self._unit == "µS/cm":
                self._compensation = Compensation(sensor.compensation)
        self._still = StillGuard(lsb, (OFFSET_CODES + 1 / 2) * lsb, stuck_s)
        self._supplied = isinstance(sensor, Ratiometric) and sensor.supply_mux is not None
        self._supply_v: float | None = None
        self._supply_s = -math.inf
        self._verdict = QualityDebounce()
        self._raw: float | None = None
        self._sampled_s = -math.inf
        self._valued_s = -math.inf
        self._value = 0.0
        self._lowest, self._highest = math.inf, -math.inf
        self._peak = -math.inf
        self._litres = 0.0
        self.calibrate(calibration)

    def calibrate(self, calibration: Calibration | None) -> None:
        """From the next sample on; None: as configured. What was gathered until then is not held against it."""
        found = IDENTITY if calibration is None else calibration
        if found == self.calibration:
            return
        self._value = found.apply(self.calibration.unapply(self._value))
        self.calibration = found
        self._zero, self._span = found.zero, found.span
        self._lowest, self._highest = math.inf, -math.inf
        self._peak = -math.inf
        self._forget_the_course()
        if self._flow is not None:
            self._flow.calibrate(found.pulses_per_l)

    def _forget_the_course(self) -> None:
        """What is smoothed and what is compared with the value before begins anew."""
        sensor = self.sensor
        smoothing_s = 0.0 if isinstance(sensor, Pulses) else sensor.smoothing_s
        self._filter = Median(SLOSHING_S) if self.channel == "tank_fill" else LowPass(smoothing_s)
        self._rate = None if self._limit is None else RateGuard(self._limit)
        self._chatter = ChatterGuard(sensor.high - sensor.low)

    # ---- what goes in -----------------------------------------------------------------------------

    def update(self, t_s: float, volts: float | None) -> None:
        """One conversion in volts at the chip, made at `t_s`; None where the electronics did not deliver."""
        if volts is None or not -HIGHEST_CHIP_V < volts < HIGHEST_CHIP_V:
            self._verdict.update(t_s, MISSING)
            return
        self._raw = volts
        self._sampled_s = t_s
        value, quality = self._convert(volts, self._supply_at(t_s) if self._supplied else None)
        if value is not None:
            value = self._calibrated(value, quality)
            if quality is GOOD:
                quality = self._possible(t_s, volts, value)
            if quality in VALUED_QUALITIES:
                self._keep(t_s, value)
        self._verdict.update(t_s, quality)

    def take_supply(self, t_s: float, volts: float | None) -> None:
        """The measured supply of a ratiometric sensor, as volts at the chip behind the same divider."""
        if volts is not None and -HIGHEST_CHIP_V < volts < HIGHEST_CHIP_V:
            self._supply_v = volts
            self._supply_s = t_s

    def take_pulses(self, now_s: float, count: int | None, last_edge_s: float) -> None:
        """Pulses counted so far and the time of the last; a count of None where the pin could not be read.

        Raises ValueError for a channel that is not read by pulses.
        """
        flow = self._flow
        if flow is None:
            raise ValueError(f"{self.channel} is not read by pulses; its input is {self.sensor.kind!r}")
        if count is None:
            self._verdict.update(now_s, MISSING)
            return
        flow.update(now_s, count, last_edge_s)
        self._raw = rate_hz = flow.rate_hz(now_s)
        self._sampled_s = now_s
        quality = IMPLAUSIBLE
        if not flow.implausible(now_s):
            value = flow.at_rate_l_h(rate_hz)
            quality = OVER if value > FLOW_BEYOND * self._high else GOOD
            self._keep(now_s, value)
        self._verdict.update(now_s, quality)

    def expect_movement(self, now_s: float, why: str, within_s: float = STUCK_S) -> None:
        """From now on the signal must show life: unchanged for `within_s` from now, or for `stuck_s` at any
        time, it is stuck. Repeating the same `why` changes nothing. A new judge expects movement."""
        self._still.expect_movement(now_s, why, within_s)

    def expect_rest(self) -> None:
        """The signal may stand still for as long as it likes."""
        self._still.expect_rest()

    # ---- what comes out ---------------------------------------------------------------------------

    def instant(self, volts: float | None) -> float | None:
        """The unfiltered value of one conversion for fast comparisons, None if it is not usable.

        A value over the span counts as the top of the span at least, one under it as the bottom at most.
        """
        if volts is None or not -HIGHEST_CHIP_V < volts < HIGHEST_CHIP_V:
            return None
        value, quality = self._convert(volts, self._supply_v)
        if value is None:
            return None
        value = self._calibrated(value, quality)
        return None if value < self._floor else self._compensated(value)

    def reading(self, now_s: float, max_age_s: float, temperature_c: float | None = None) -> Reading:
        """The channel now. `max_age_s` is the oldest that still counts; `temperature_c` the water's, for a
        conductivity, None unless it is good."""
        quality = self._verdict.at(now_s)
        if quality is None:
            return Reading(None, None, self._unit, MISSING, None)
        valued = quality in VALUED_QUALITIES
        age_s = now_s - (self._valued_s if valued else self._sampled_s)
        if not -FUTURE_S <= age_s <= max_age_s:
            age = max(0.0, age_s) if math.isfinite(age_s) else None
            stale = MISSING if quality is MISSING else STALE
            return Reading(None, self._raw, self._unit, stale, age)
        age_s = max(age_s, 0.0)
        if not valued:
            return Reading(None, self._raw, self._unit, quality, age_s)
        value = self._value
        if self._compensation is not None:
            self._compensation.know(temperature_c)
            value = self._compensation.apply(value)
        return Reading(value, self._raw, self._unit, quality, age_s)

    def uncalibrated(self) -> float | None:
        """The latest smoothed value as it would be without calibration (and, for a conductivity, without
        temperature compensation): what a calibration is made from. None if there is none."""
        if self._flow is not None or self._verdict.now not in VALUED_QUALITIES:
            return None
        return self.calibration.unapply(self._value)

    def take_statistics(self) -> tuple[float | None, float | None]:
        """Lowest and highest value since the last call, unfiltered; None where there was none."""
        lowest, highest = self._lowest, self._highest
        self._lowest, self._highest = math.inf, -math.inf
        if lowest > highest:
            return None, None
        return self._compensated(lowest), self._compensated(highest)

    def take_peak(self) -> float | None:
        """Highest value since the last call, unfiltered; None where there was none. Apart from the statistics, whose
        seconds begin and end elsewhere than a run's water does."""
        peak, self._peak = self._peak, -math.inf
        return self._compensated(peak) if math.isfinite(peak) else None

    def take_litres(self) -> float:
        """Litres since the last call: pulses counted exactly, or an analogue flow added up while it was
        good. 0 for a channel that is no flow."""
        if self._flow is not None:
            return self._flow.take_litres()
        litres, self._litres = self._litres, 0.0
        return litres

    @property
    def estimated(self) -> bool:
        """Whether the next litres are an estimate, because of a burst or a restarted counter."""
        return self._flow is not None and self._flow.estimated

    # ---- the parts --------------------------------------------------------------------------------

    def _supply_at(self, t_s: float) -> float | None:
        return self._supply_v if t_s - self._supply_s <= SUPPLY_AGE_S else None

    def _calibrated(self, value: float, quality: Quality) -> float:
        value = (value - self._zero) * self._span
        if quality is OVER:
            return max(value, self._high)
        return min(value, self._low) if quality is UNDER else value

    def _possible(self, t_s: float, volts: float, value: float) -> Quality:
        if value < self._floor or self._chatter.wild(t_s, value):
            return IMPLAUSIBLE
        if self._rate is not None and not self._rate.plausible(t_s, value):
            return IMPLAUSIBLE
        return STUCK if self._still.stuck(t_s, volts) else GOOD

    def _keep(self, t_s: float, value: float) -> None:
        if self._is_flow and self._flow is None:
            self._integrate(t_s, value)
        self._valued_s = t_s
        self._value = self._filter.update(t_s, value)
        self._lowest = min(self._lowest, value)
        self._highest = max(self._highest, value)
        self._peak = max(self._peak, value)

    def _integrate(self, t_s: float, value: float) -> None:
        passed_s = t_s - self._valued_s
        if 0.0 < passed_s <= LONGEST_STEP_S and value > 0.0:
            self._litres += value * passed_s / 3600.0

    def _compensated(self, value: float) -> float:
        return value if self._compensation is None else self._compensation.apply(value)


def _no_volts(_volts: float, _supply: float | None) -> Sample:
    return None, MISSING
