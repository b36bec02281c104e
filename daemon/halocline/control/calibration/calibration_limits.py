"""How far a calibration may move a sensor that people, pump or tank rely on."""

from collections.abc import Mapping

from halocline.control.inputs import Reason
from halocline.plant.sensors import Input
from halocline.plant.settings import Settings
from halocline.signals.calibration import Calibration

PROTECTING: Mapping[str, tuple[float, float, float]] = {
    "vessel_pressure": (0.03, 0.9, 1.1),
    "feed_pressure": (0.03, 0.9, 1.1),
    "sea_temperature": (0.04, 0.9, 1.1),
    "product_conductivity": (0.0025, 0.85, 1.4),
}
"""Channels that protect people, pump and tank: largest zero (fraction of the span), least and most slope. A sensor that
is further off is broken or dirty (common practice). Pressure gauges that people compare with are good to 1.6 %; a cell
may also be coated, which takes a sixth to a third of its reading (from memory)."""


class CalibrationRefused(Exception):
    """Carries every reason against a calibration."""

    def __init__(self, *reasons: Reason) -> None:
        super().__init__(", ".join(reason.id for reason in reasons))
        self.reasons = list(reasons)


def zero_too_far(channel: str, zero: float, allowed: float) -> Reason:
    """Against a zero that would move by more than is allowed, both in the channel's unit."""
    return Reason("calibration_zero_too_far", {"channel": channel, "value": zero, "limit": allowed})


def span_too_far(channel: str, span: float, least: float, most: float) -> Reason:
    """Against a slope that would not lie between least and most, as fractions of what it is."""
    shares = {"percent": 100 * span, "low_percent": 100 * least, "high_percent": 100 * most}
    return Reason("calibration_span_too_far", {"channel": channel, **shares})


def require_believable(channel: str, made: Calibration, sensor: Input) -> None:
    """Raises CalibrationRefused where a sensor that protects would have to move too far."""
    if channel not in PROTECTING:
        return
    largest_zero, least, most = PROTECTING[channel]
    allowed = largest_zero * (sensor.high - sensor.low)
    if abs(made.zero) > allowed:
        raise CalibrationRefused(zero_too_far(channel, made.zero, allowed))
    if not least <= made.span <= most:
        raise CalibrationRefused(span_too_far(channel, made.span, least, most))


def require_limits_in_reach(settings: Settings, channel: str, made: Calibration, sensor: Input) -> None:
    """Raises CalibrationRefused where a limit would lie beyond what the sensor can then show."""
    limits_bar = {
        "vessel_pressure": (settings.limits.vessel_pressure_high_high_bar, settings.plant.relief_bar),
        "feed_pressure": (settings.limits.feed_pressure_low_low_bar, settings.limits.feed_pressure_start_bar),
    }.get(channel)
    if limits_bar is None:
        return
    low_bar, high_bar = made.apply(sensor.low), made.apply(sensor.high)
    beyond = [limit_bar for limit_bar in limits_bar if not low_bar < limit_bar < high_bar]
    if beyond:
        raise CalibrationRefused(
            Reason("calibration_out_of_reach", {"channel": channel, "pressure_bar": beyond[0], "high_bar": high_bar})
        )
