"""What a person found out about a sensor: a zero, a span, two points or a K-factor, with who and when."""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from datetime import date as calendar_date
from typing import Any

LARGEST_ZERO = 0.1
"""Fraction of the sensor's span that a zero may be off before the sensor, not its zero, is at fault (chosen; sensors
that protect have narrower limits of their own)."""

SPAN_RANGE = (0.5, 2.0)
"""A sensor whose scale is off by more than a factor of two is another one than was configured (chosen)."""
K_FACTOR_RANGE = (1.0, 20_000.0)
"""Pulses a litre: from a large turbine's one to the thousands of the smallest meters (from memory)."""
BUCKET_L = (0.5, 10_000.0)
"""Of a bucket test: less than half a litre is not read to a per cent, more than this is a slip of the pen (chosen)."""
METER_RATIOS = (0.67, 1.5)
"""Shown over held: a meter that is off by more than a third is broken, or another than was configured (chosen)."""
LARGEST_NUMBER = 1e6
"""No channel's unit needs a larger number, conductivity's least of all: 100 000 µS/cm (chosen)."""
LONGEST_INITIALS = 16
"""Letters: initials, not a message (chosen)."""
DATE_LETTERS = 10
"""Of a date as ISO 8601 writes it."""
CLOSEST_POINTS = 0.1
"""Fraction of the sensor's span that two points must lie apart to say anything about its slope. With a point good to 1
% of the span the slope is then good to a tenth (computed; chosen)."""

Points = tuple[tuple[float, float], ...]


class ZeroTooFar(ValueError):
    """The zero would move by more than is believable; both numbers in the channel's unit."""

    def __init__(self, zero: float, allowed: float) -> None:
        super().__init__(
            f"the zero is off by {zero:.3g}, more than {allowed:.3g}: "
            "check what was typed, then sensor, wiring and range"
        )
        self.zero, self.allowed = zero, allowed


class SlopeNotBelievable(ValueError):
    """The scale would become this fraction of what it is."""

    def __init__(self, span: float) -> None:
        low, high = SPAN_RANGE
        super().__init__(f"span is {span:.3g}; allowed is {low:g} to {high:g}: check what was typed, then the sensor")
        self.span = span


def _require(what: str, number: float, low: float, high: float) -> None:
    if not (low <= number <= high and math.isfinite(number)):
        raise ValueError(f"{what} is {number:g}; allowed is {low:g} to {high:g}: check the points and the sensor")


def _require_zero(zero: float, sensor_span: float) -> None:
    allowed = LARGEST_ZERO * sensor_span
    if abs(zero) > allowed:
        raise ZeroTooFar(zero, allowed)


def _require_slope(span: float) -> None:
    low, high = SPAN_RANGE
    if not (low <= span <= high and math.isfinite(span)):
        raise SlopeNotBelievable(span)


def _require_date(text: str) -> None:
    try:
        calendar_date.fromisoformat(text[:DATE_LETTERS])
    except ValueError:
        raise ValueError(f"{text!r} is no date; write it as 2026-03-21") from None


def _require_initials(initials: str) -> None:
    if not initials.strip():
        raise ValueError("a calibration needs the initials of who made it")


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"{value!r} is not a number")
    return float(value)


def _pair(value: object) -> tuple[float, float]:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise TypeError(f"{value!r} is not a pair of numbers")
    return _number(value[0]), _number(value[1])


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is not a text")
    return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """A correction: calibrated = (uncalibrated - zero) × span, in the channel's unit; K-factor for pulses.

    `points` are the pairs (uncalibrated, true) it was made from, `before` and `after` what the channel
    showed at those points before and after. `date` is ISO 8601, empty where the clock was not set.
    Raises ValueError with what is wrong and what to do.
    """

    zero: float = 0.0
    span: float = 1.0
    pulses_per_l: float | None = None
    date: str = ""
    initials: str = ""
    points: Points = ()
    before: tuple[float, ...] = ()
    after: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        _require("zero", self.zero, -LARGEST_NUMBER, LARGEST_NUMBER)
        _require("span", self.span, *SPAN_RANGE)
        if self.pulses_per_l is not None:
            _require("K-factor in pulses per litre", self.pulses_per_l, *K_FACTOR_RANGE)
        for number in (*self.before, *self.after, *(value for point in self.points for value in point)):
            _require("calibration point", number, -LARGEST_NUMBER, LARGEST_NUMBER)
        if self.date:
            _require_date(self.date)
        if len(self.initials) > LONGEST_INITIALS:
            raise ValueError(f"initials are longer than {LONGEST_INITIALS} characters; give just the initials")

    def apply(self, value: float) -> float:
        """The calibrated value of an uncalibrated one."""
        return (value - self.zero) * self.span

    def unapply(self, value: float) -> float:
        """The uncalibrated value that is shown as `value`."""
        return value / self.span + self.zero

    def to_dict(self) -> dict[str, Any]:
        """The calibration as plain numbers, texts and lists, fit for JSON."""
        plain = asdict(self)
        plain["points"] = [list(point) for point in self.points]
        plain["before"], plain["after"] = list(self.before), list(self.after)
        return plain

    @classmethod
    def from_dict(cls, plain: Mapping[str, Any]) -> "Calibration":
        """The calibration that `to_dict` made. Raises ValueError for anything else."""
        known = {field.name for field in fields(cls)}
        if unknown := sorted(set(plain) - known):
            raise ValueError(f"a calibration has no {', '.join(unknown)}; calibrate the channel again")
        try:
            return cls(
                zero=_number(plain.get("zero", 0.0)),
                span=_number(plain.get("span", 1.0)),
                pulses_per_l=None if plain.get("pulses_per_l") is None else _number(plain["pulses_per_l"]),
                date=_text(plain.get("date", "")),
                initials=_text(plain.get("initials", "")),
                points=tuple(_pair(point) for point in plain.get("points", ())),
                before=tuple(_number(value) for value in plain.get("before", ())),
                after=tuple(_number(value) for value in plain.get("after", ())),
            )
        except TypeError as error:
            raise ValueError(f"the calibration on file is damaged ({error}); calibrate again") from error


IDENTITY = Calibration()
"""No correction."""


def zero_point(
    raw: float,
    true: float = 0.0,
    *,
    sensor_span: float,
    date: str,
    initials: str,
    before: Calibration = IDENTITY,
) -> Calibration:
    """Shift the scale so that uncalibrated `raw` reads `true`; the slope of `before` is kept.

    `sensor_span` is the sensor's `high - low`. Raises ValueError when the shift exceeds a tenth of it.
    """
    _require("reading", raw, -LARGEST_NUMBER, LARGEST_NUMBER)
    _require("true value", true, -LARGEST_NUMBER, LARGEST_NUMBER)
    zero = raw - true / before.span
    _require_zero(zero, sensor_span)
    return _made(before, ((raw, true),), zero=zero, span=before.span, date=date, initials=initials)


def span_point(
    raw: float, true: float, *, sensor_span: float, date: str, initials: str, before: Calibration = IDENTITY
) -> Calibration:
    """Turn the scale about its zero so that uncalibrated `raw` reads `true`.

    Raises ValueError when the point lies too close to zero, or the slope is not believable.
    """
    _require("reading", raw, -LARGEST_NUMBER, LARGEST_NUMBER)
    _require("true value", true, -LARGEST_NUMBER, LARGEST_NUMBER)
    if abs(raw - before.zero) < CLOSEST_POINTS * sensor_span:
        raise ValueError(
            f"a span cannot be set at {raw:g}: take a point at least {CLOSEST_POINTS * sensor_span:g} from zero"
        )
    span = true / (raw - before.zero)
    return _made(before, ((raw, true),), zero=before.zero, span=span, date=date, initials=initials)


def two_point(
    raw1: float,
    true1: float,
    raw2: float,
    true2: float,
    *,
    sensor_span: float,
    date: str,
    initials: str,
    before: Calibration = IDENTITY,
) -> Calibration:
    """The straight line through two points (uncalibrated, true).

    Raises ValueError when the points lie closer than a tenth of `sensor_span`, or the line is not believable.
    """
    for number in (raw1, true1, raw2, true2):
        _require("calibration point", number, -LARGEST_NUMBER, LARGEST_NUMBER)
    if abs(raw2 - raw1) < CLOSEST_POINTS * sensor_span:
        raise ValueError(
            f"the two points {raw1:g} and {raw2:g} lie too close together: "
            f"take them at least {CLOSEST_POINTS * sensor_span:g} apart"
        )
    span = (true2 - true1) / (raw2 - raw1)
    _require_slope(span)
    zero = raw1 - true1 / span
    _require_zero(zero, sensor_span)
    points = ((raw1, true1), (raw2, true2))
    return _made(before, points, zero=zero, span=span, date=date, initials=initials)


def k_factor(shown_l: float, true_l: float, *, pulses_per_l: float, date: str, initials: str) -> Calibration:
    """The K-factor from a bucket test: the meter showed `shown_l`, the bucket held `true_l`.

    `pulses_per_l` is the K-factor the meter showed it with.

    Raises ValueError for less than half a litre, or a factor that changes by more than a third.
    """
    _require_initials(initials)
    _require("litres shown", shown_l, *BUCKET_L)
    _require("litres in the bucket", true_l, *BUCKET_L)
    ratio = shown_l / true_l
    if not METER_RATIOS[0] <= ratio <= METER_RATIOS[1]:
        raise ValueError(
            f"the meter showed {shown_l:g} L and the bucket held {true_l:g} L: "
            "more than a third apart is no matter of calibration; check meter, wiring and K-factor"
        )
    return Calibration(
        pulses_per_l=pulses_per_l * ratio,
        date=date,
        initials=initials,
        points=((shown_l, true_l),),
        before=(shown_l,),
        after=(true_l,),
    )


def _made(before: Calibration, points: Points, *, zero: float, span: float, date: str, initials: str) -> Calibration:
    _require_initials(initials)
    line = Calibration(zero=zero, span=span)
    return Calibration(
        zero=zero,
        span=span,
        date=date,
        initials=initials,
        points=points,
        before=tuple(before.apply(raw) for raw, _ in points),
        after=tuple(line.apply(raw) for raw, _ in points),
    )
