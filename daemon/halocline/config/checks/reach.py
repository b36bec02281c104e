"""Limits a sensor cannot see: outside its span, or inside its error."""

from collections.abc import Iterator

from halocline.config.checks.ladders import HAIR, in_channel_unit
from halocline.config.checks.lookup import named, sensor_number, with_unit
from halocline.config.problems import Finding, number
from halocline.plant.settings import Settings
from halocline.plant.thresholds import LARGEST_PRODUCT_SHARE
from halocline.plant.vocabulary import CHANNELS

SPANS: dict[str, tuple[str, ...]] = {
    "vessel_pressure": (
        "drive.working_pressure_bar",
        "limits.working_pressure_max_bar",
        "limits.vessel_pressure_high_bar",
        "limits.vessel_pressure_high_high_bar",
        "plant.pressure_switch_bar",
        "plant.relief_bar",
        "limits.regulator_closed_bar",
    ),
    "feed_pressure": (
        "limits.feed_pressure_start_bar",
        "limits.feed_pressure_low_bar",
        "limits.feed_pressure_low_low_bar",
        "sequence.flush_supply_bar",
    ),
    "product_conductivity": (
        "limits.accept_tds_mg_l",
        "limits.reject_tds_mg_l",
        "limits.reject_at_once_tds_mg_l",
        "limits.product_salty_mg_l",
        "limits.product_salty_at_once_mg_l",
    ),
    "sea_temperature": ("limits.water_too_cold_c", "limits.water_warm_c", "limits.water_too_warm_c"),
    "product_pressure": ("limits.product_pressure_high_bar",),
    "battery_voltage": ("limits.battery_stop_v", "limits.battery_start_v"),
    "tank_fill": ("limits.tank_full_percent",),
}
"""The limits judged by a channel. At the very end of a span a limit could never be passed."""

CLEAR_OF_ZERO: dict[str, tuple[str, ...]] = {
    "vessel_pressure": ("limits.regulator_closed_bar",),
    "feed_pressure": SPANS["feed_pressure"],
    "product_conductivity": ("limits.accept_tds_mg_l",),
    "product_pressure": ("limits.product_pressure_high_bar",),
}
CLEARANCE = 3.0
"""Times its error: what a sensor at rest may show of nothing (common practice)."""

DIFFERENCES: dict[str, tuple[str, ...]] = {"vessel_pressure": ("limits.pressure_lost_bar",)}


def limits_lie_within_the_sensors_span(settings: Settings) -> Iterator[Finding]:
    """A trip above what its sensor can show never comes."""
    for channel, keys in SPANS.items():
        low = sensor_number(settings, channel, "low")
        high = sensor_number(settings, channel, "high")
        if low is None or high is None or low >= high:
            continue
        for limit in filter(None, (named(settings, key) for key in keys)):
            if not low < in_channel_unit(channel, limit.value) < high:
                span = f"{number(low)} to {with_unit(high, CHANNELS[channel].unit)}"
                allowed = f"inside the span of inputs.{channel} ({span})"
                seen = in_channel_unit(channel, limit.value)
                text = limit.text if seen == limit.value else f"{limit.text} ({seen:.0f} µS/cm)"
                yield Finding(limit.key, text, allowed, "fit a sensor with a wider span, or change the limit")


def limits_are_clear_of_zero(settings: Settings) -> Iterator[Finding]:
    """A limit that a resting sensor's error may reach, or that lies below nothing, neither warns nor trips in time."""
    for channel, keys in CLEAR_OF_ZERO.items():
        error = sensor_number(settings, channel, "error") or 0.0
        for limit in filter(None, (named(settings, key) for key in keys)):
            if in_channel_unit(channel, limit.value) < CLEARANCE * error * (1.0 - HAIR):
                least = with_unit(CLEARANCE * error, CHANNELS[channel].unit)
                allowed = f"{least} or more, three times the error of inputs.{channel}"
                yield Finding(limit.key, limit.text, allowed, "raise the limit or fit a better sensor")


def differences_are_wider_than_the_sensors_error(settings: Settings) -> Iterator[Finding]:
    """A drop smaller than the sensor's error is no drop."""
    for channel, keys in DIFFERENCES.items():
        error = sensor_number(settings, channel, "error") or 0.0
        for limit in filter(None, (named(settings, key) for key in keys)):
            if limit.value < error * (1.0 - HAIR):
                allowed = f"the error of inputs.{channel} ({with_unit(error, CHANNELS[channel].unit)}) or more"
                yield Finding(limit.key, limit.text, allowed, "raise the limit or fit a better sensor")


def full_tank_can_be_seen(settings: Settings) -> Iterator[Finding]:
    """A level sender must show the full tank even when it reads low by its error."""
    high = sensor_number(settings, "tank_fill", "high")
    error = sensor_number(settings, "tank_fill", "error")
    full = named(settings, "limits.tank_full_percent")
    if full and high is not None and error is not None and high - error <= full.value < high:
        allowed = f"below {with_unit(high - error, '%')}, the top of inputs.tank_fill less its error"
        yield Finding(full.key, full.text, allowed, "lower it: a sender that reads low would never show it")


def filter_drop_can_be_seen(settings: Settings) -> Iterator[Finding]:
    """The drop across the filters is the difference of two sensors, and has the error of both."""
    before = sensor_number(settings, "filter_inlet_pressure", "error")
    after = sensor_number(settings, "feed_pressure", "error")
    limit = named(settings, "limits.filter_drop_high_bar")
    if limit and before is not None and after is not None and limit.value < (before + after) * (1.0 - HAIR):
        allowed = (
            f"{number(before + after)} bar or more,"
            " the errors of inputs.filter_inlet_pressure and inputs.feed_pressure together"
        )
        yield Finding(limit.key, limit.text, allowed, "raise the limit or fit better sensors")


def product_meter_sees_too_much_flow(settings: Settings) -> Iterator[Finding]:
    """The meter must show the flow at which a run is stopped for being too much."""
    high = sensor_number(settings, "product_flow", "high")
    if high is None:
        return
    plant = settings.plant
    nameplate_l_h = settings.membrane.nameplate_flow_m3_d * 1000.0 / 24.0
    cap_l_h = min(nameplate_l_h, LARGEST_PRODUCT_SHARE * plant.feed_flow_l_h)
    most_l_h = max(cap_l_h, settings.limits.recovery_stop * plant.feed_flow_l_h)
    if high <= most_l_h:
        allowed = f"above {number(most_l_h)} L/h, the product flow that stops a run"
        yield Finding("inputs.product_flow.high", f"{number(high)} L/h", allowed, "fit a larger meter")
