"""What a plant cannot do: change faster than physics allows, jump to and fro, be cleaner than water."""

import math
from dataclasses import dataclass

from halocline.signals.noise import Noise

SETTLED_S = 1.0
"""A new level that holds this long was a true step, not a disturbance (chosen)."""


@dataclass(frozen=True, slots=True)
class RateLimit:
    """Fastest believable change in the channel's unit per second; None is unlimited.

    `allowance` is believed at any speed: a usual sensor's noise, and what happens between two slow samples. A noisier
    sensor is allowed more, as far as it has shown its noise.
    """

    rise_per_s: float | None
    fall_per_s: float | None
    allowance: float


RATE_LIMITS: dict[str, RateLimit] = {
    "sea_temperature": RateLimit(2.0, 2.0, 1.0),
    "pump_motor_temperature": RateLimit(5.0, 5.0, 2.0),
    # Salt may arrive at once, and must be believed; it leaves only as fast as the line is washed out.
    "product_conductivity": RateLimit(None, 20_000.0, 1_000.0),
    "tank_fill": RateLimit(50.0, 50.0, 10.0),
    "battery_charge_percent": RateLimit(5.0, 5.0, 5.0),
}
"""Faster than water, metal and a charge move, in °C, µS/cm and per cent a second (invented, wide on purpose). Salt may
arrive at once and must be believed; it leaves as fast as a line is washed out. Pressures are not here: a blocked outlet
raises them by 0.1 to 1 bar a millisecond (computed), and a burst hose drops them as fast."""

STEP_NOISES = 4.0 * 2**0.5
"""A step between two values is believed up to four standard deviations of what noise alone makes of it (chosen)."""
NOISIEST = 0.12
"""Noise of more than this share of the reading is no noise any more: a loose wire jumps about like that (chosen; tried
at 10 % in tests/control/test_noise_makes_no_news.py)."""

FLOORS: dict[str, float] = {"product_conductivity": 10.0}
"""Below this there is no water in front of the sensor: a dry cell reads like perfect water. µS/cm. No sea-water element
makes product so pure: 5 mg/L are some 10 µS/cm (computed)."""


class RateGuard:
    """Tells a value that the plant cannot have reached since the last believed one."""

    __slots__ = ("_at_s", "_level", "_level_s", "_level_since_s", "_limit", "_noise", "_value")

    def __init__(self, limit: RateLimit) -> None:
        self._limit = limit
        self._value: float | None = None
        self._at_s = 0.0
        self._level: float | None = None
        self._level_s = 0.0
        self._level_since_s = 0.0
        self._noise = Noise(limit.allowance / STEP_NOISES)

    def plausible(self, t_s: float, value: float) -> bool:
        """Whether to believe `value`. A disbelieved level is believed once it has held for a second."""
        self._noise.update(value, t_s)
        if self._value is None or self._reachable(self._value, t_s - self._at_s, value):
            return self._believe(t_s, value)
        if self._level is None or not self._reachable(self._level, t_s - self._level_s, value):
            self._level_since_s = t_s
        self._level = value
        self._level_s = t_s
        if t_s - self._level_since_s >= SETTLED_S:
            return self._believe(t_s, value)
        return False

    def _believe(self, t_s: float, value: float) -> bool:
        self._value = value
        self._at_s = t_s
        self._level = None
        return True

    def _reachable(self, start: float, passed_s: float, value: float) -> bool:
        limit = self._limit
        change = value - start
        fastest = limit.rise_per_s if change > 0.0 else limit.fall_per_s
        noise = min(self._noise.usual, NOISIEST * abs(start))
        allowance = max(limit.allowance, STEP_NOISES * noise)
        return fastest is None or abs(change) <= allowance + fastest * max(0.0, passed_s)


class ChatterGuard:
    """Tells a signal that jumps to and fro across much of its span, sample by sample: no water does that."""

    __slots__ = ("_at_s", "_heat", "_large", "_last", "_step")

    LARGE = 0.5
    """Of the span, from one sample to the next: no water does that again and again (chosen)."""
    LIMIT = 3.0
    """Reversals so large, in a row or nearly: three are no switching of a pump (chosen)."""
    COOLING_PER_S = 0.5
    """A reversal is forgotten after two seconds (chosen)."""
    HOTTEST = 5.0
    """So that a signal that was wild is believed again some seconds after it has calmed down: (5 - 3) / 0.5 = 4 s
    (computed)."""

    def __init__(self, span: float) -> None:
        self._large = self.LARGE * abs(span)
        self._last: float | None = None
        self._at_s = 0.0
        self._step = 0.0
        self._heat = 0.0

    def wild(self, t_s: float, value: float) -> bool:
        """Whether reversals have come so often that nothing here is a measurement."""
        step = 0.0 if self._last is None else value - self._last
        self._last = value
        large = abs(step) > self._large
        if not large and not self._heat:
            return False
        self._heat = max(0.0, self._heat - self.COOLING_PER_S * (t_s - self._at_s)) if self._heat else 0.0
        self._at_s = t_s
        if large:
            if step * self._step < 0.0:
                self._heat = min(self.HOTTEST, self._heat + 1.0)
            self._step = step
        return self._heat >= self.LIMIT


class StillGuard:
    """Tells a signal that does not move although it must: every living one shows the noise of its converter.

    Steps of at least `lsb` count as movement. At or below `ground` nothing is said: a grounded input is
    clamped and has no noise to show.
    """

    __slots__ = (
        "_due_from_s",
        "_due_s",
        "_ground",
        "_half",
        "_longest_s",
        "_samples",
        "_since_s",
        "_value",
        "why",
    )

    FEWEST_SAMPLES = 8
    """Two neighbours may rightly have the same code, eight in a row of a living signal hardly (chosen)."""

    def __init__(self, lsb: float, ground: float, longest_s: float) -> None:
        self._half = lsb / 2.0
        self._ground = ground
        self._longest_s = longest_s
        self._value = math.inf
        self._since_s = 0.0
        self._samples = 0
        self._due_from_s = 0.0
        self._due_s = math.inf
        self.why: str | None = "at work"

    def expect_movement(self, now_s: float, why: str, within_s: float) -> None:
        """Something has happened that must show within `within_s`. The same `why` again changes nothing, and a new
        one does not excuse a signal that still owes a movement."""
        if why == self.why:
            return
        if self.why is None:
            self._since_s = now_s
            self._due_s = math.inf
        self.why = why
        if self._due_s < math.inf:
            return
        self._due_from_s = now_s
        self._due_s = within_s

    def expect_rest(self) -> None:
        """From now on standing still proves nothing."""
        self.why = None

    def stuck(self, t_s: float, value: float) -> bool:
        """Whether the signal has stood still for longer than it may."""
        if abs(value - self._value) > self._half:
            self._value = value
            self._since_s = t_s
            self._samples = 0
            self._due_s = math.inf
            return False
        self._samples += 1
        if self.why is None or value <= self._ground or self._samples < self.FEWEST_SAMPLES:
            return False
        still_s = t_s - self._since_s
        return still_s >= self._longest_s or min(still_s, t_s - self._due_from_s) >= self._due_s
