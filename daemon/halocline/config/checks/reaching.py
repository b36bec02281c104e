"""What a protected thing gets to stand with these settings until its protection has acted: the sums of the table of
protections, part by part."""

import math
from collections.abc import Callable

from halocline.config.checks.protecting import ACTS_WITHIN_S, CONTACTOR_S, Hardware, Part, Parts, Reach
from halocline.config.checks.scan import ATTEMPTS, FIRST, period_s
from halocline.plant.alarms import DEFINITIONS
from halocline.plant.sensors import AnalogueInput, Pulses
from halocline.plant.settings import Settings
from halocline.plant.thresholds import AHEAD_S, HOLDS_AHEAD
from halocline.plant.vocabulary import FLOW_CHANNELS

HAND_BAR_S = 3.0
"""How fast a hand or a creeping regulator raises pressure; what is faster is a blockage, and the relief valve's."""

TEAR_MG_L_S = 170.0
LATE_S = 3.8
"""Played with the example's plant, a cell that answers in 10 s, a valve that takes 1 s: a membrane that tears so that
it passes fifty times the salt lets the product rise by up to 170 mg/L in a second at the valve. Judging and turning the
valve take 3.8 s; the judge looks a sixth of the quality hold ahead, 10 s at most. A burst of a hundred times the salt
puts some 1530 mg/L before the valve for a moment, whatever is configured: so slow a cell tells of it too late."""

FASTER = 1.25
"""A hand that turns too fast is taken to turn a quarter faster than the limit; faster still is the trip's business."""

QUICKENED = 20.0
"""A simulated hand may turn so much faster: the factor of the quick profile."""


def _scan(settings: Settings, channel: str) -> Part:
    return Part("scan", ATTEMPTS * period_s(settings, channel))


def _smoothing(settings: Settings, channel: str, factor: float = 1.0) -> tuple[Part, ...]:
    """What smoothing delays; `factor` time constants until a step has shown itself."""
    sensor = settings.inputs.get(channel)
    if isinstance(sensor, AnalogueInput):
        return (Part("smoothing", sensor.smoothing_s, f"inputs.{channel}.smoothing_s", factor),)
    if isinstance(sensor, Pulses) and channel in FLOW_CHANNELS:
        return (Part("counting pulses", sensor.gate_s, f"inputs.{channel}.gate_s", factor),)
    return ()


def _acting(cause: str, run_down_s: float = 0.0) -> tuple[Part, ...]:
    """From a cause that holds to a pump that stands."""
    return (
        Part("delay", DEFINITIONS[cause].delay_s),
        Part("relay", ACTS_WITHIN_S + CONTACTOR_S),
        Part("run-down", run_down_s),
    )


def dry_pump(settings: Settings, hardware: Hardware) -> Parts | None:
    limits, sensor = settings.limits, settings.inputs.get("feed_pressure")
    if sensor is None:
        return None
    fall = math.log(max(2.0, sensor.high / limits.feed_pressure_low_low_bar))
    return (
        _scan(settings, "feed_pressure"),
        *_smoothing(settings, "feed_pressure", fall),
        Part("time below", limits.feed_pressure_low_low_s, "limits.feed_pressure_low_low_s"),
        *_acting("feed_pressure_low_low", hardware.run_down_s),
    )


def overpressure(settings: Settings, hardware: Hardware) -> Parts | None:
    sensor = settings.inputs.get(FIRST)
    if sensor is None:
        return None
    seen_s = _scan(settings, FIRST).value + ACTS_WITHIN_S + CONTACTOR_S + hardware.run_down_s / 2.0
    return (
        Part("trip", settings.limits.vessel_pressure_high_high_bar, "limits.vessel_pressure_high_high_bar"),
        Part("error", sensor.error, f"inputs.{FIRST}.error"),
        Part("rise until the pump stands", HAND_BAR_S * seen_s),
    )


def regulator_closed(settings: Settings, hardware: Hardware) -> Parts | None:
    """Pressure twice the limit must show within the check, or the pump has started against it unnoticed."""
    if settings.drive.regulator != "hand_each_run" and "pressure_release" not in settings.outputs:
        return None
    return (
        Part("run-up", hardware.run_down_s / 2.0),
        _scan(settings, FIRST),
        *_smoothing(settings, FIRST, math.log(2.0)),
        Part("tick", ACTS_WITHIN_S),
        Part("check", settings.sequence.regulator_check_s, "sequence.regulator_check_s", -1.0),
    )


def fast_rise(settings: Settings, hardware: Hardware) -> Parts | None:
    """The rate is the slope over a second of a smoothed value."""
    if settings.drive.regulator != "hand_each_run":
        return None
    rate, faster = settings.limits.pressure_rise_trip_bar_s, FASTER if hardware.pace == 1.0 else FASTER / QUICKENED
    seen_s = 1.0 + DEFINITIONS["pressure_rise_too_fast"].delay_s + ACTS_WITHIN_S + CONTACTOR_S
    return (
        Part("bar/s while it is seen", rate, "limits.pressure_rise_trip_bar_s", faster * seen_s),
        *_smoothing(settings, FIRST, FASTER * HAND_BAR_S),
    )


def salt_to_the_tank(settings: Settings, hardware: Hardware) -> Parts:
    ahead_s = min(AHEAD_S, settings.sequence.quality_hold_s / HOLDS_AHEAD)
    held = ahead_s < AHEAD_S
    return (
        Part("the tank closes", settings.limits.reject_tds_mg_l, "limits.reject_tds_mg_l"),
        Part("rise while it is judged", (hardware.cell_s + LATE_S) * TEAR_MG_L_S),
        Part(
            "looked ahead",
            settings.sequence.quality_hold_s if held else AHEAD_S * HOLDS_AHEAD,
            "sequence.quality_hold_s" if held else "",
            -TEAR_MG_L_S / HOLDS_AHEAD,
        ),
        *_smoothing(settings, "product_conductivity", TEAR_MG_L_S),
    )


def hold(settings: Settings, hardware: Hardware) -> Parts:
    """What is judged good has to have been at the cell for as long as a cell takes to say otherwise, twice over."""
    return (
        Part("cell", 2.0 * hardware.cell_s),
        *_smoothing(settings, "product_conductivity", 3.0),
        Part("hold", settings.sequence.quality_hold_s, "sequence.quality_hold_s", -1.0),
    )


def at_least(key: str, value: Callable[[Settings], float], need: float, *, played_faster: bool = False) -> Reach:
    """The parts of a setting that has to be so much at least; `played_faster`: less is enough on a simulated boat."""

    def parts(settings: Settings, hardware: Hardware) -> Parts:
        return (
            Part("needed", need * (hardware.pace if played_faster else 1.0)),
            Part("set", value(settings), key, -1.0),
        )

    return parts


def at_most(key: str, value: Callable[[Settings], float]) -> Reach:
    return lambda settings, _hardware: (Part("set", value(settings), key),)


def delayed(cause: str, channel: str, factor: float = 1.0) -> Reach:
    """The parts of a cause judged on a smoothed channel, where it is fitted."""

    def parts(settings: Settings, _hardware: Hardware) -> Parts | None:
        if channel not in settings.inputs:
            return None
        return (_scan(settings, channel), *_smoothing(settings, channel, factor), *_acting(cause))

    return parts


def contact(cause: str, *contacts: str) -> Reach:
    """The parts of a cause that contacts show; the slowest of them counts."""

    def parts(settings: Settings, _hardware: Hardware) -> Parts | None:
        fitted = [name for name in contacts if name in settings.contacts]
        if not fitted:
            return None
        slowest = max(fitted, key=lambda name: settings.contacts[name].debounce_s)
        debounce = Part("debounce", settings.contacts[slowest].debounce_s, f"inputs.{slowest}.debounce_s")
        return (debounce, *_acting(cause))

    return parts


def battery(settings: Settings, _hardware: Hardware) -> Parts | None:
    """A lead cell is empty at 1.75 V; the start limit tells how many there are."""
    if "battery_voltage" not in settings.inputs:
        return None
    start_v = settings.limits.battery_start_v
    cells = 6.0 if start_v < 18.0 else 12.0 if start_v < 36.0 else 24.0
    return (
        Part("empty", 1.75 * cells),
        Part("set", settings.limits.battery_stop_v, "limits.battery_stop_v", -1.0),
    )


def nobody(settings: Settings, _hardware: Hardware) -> Parts | None:
    sequence = settings.sequence
    if not sequence.attendance:
        return None
    return (
        Part("asks after", sequence.attendance_ask_s, "sequence.attendance_ask_s"),
        Part("waits for an answer", sequence.attendance_answer_s, "sequence.attendance_answer_s"),
    )
