"""Causes of the membrane's pressure, and of the pump that makes it."""

from halocline.control.alarm_conditions.condition import Condition, Level, Notes, Values, over
from halocline.control.hydraulic_state import (
    HAND_BAR,
    PUMP_PROOF_BAR,
    RELEASE_S,
    feed_is_low_low,
    is_sucking,
    is_trapped,
)
from halocline.control.situation import Situation
from halocline.plant.thresholds import GONE_BAR
from halocline.plant.vocabulary import State

BAR = ("pressure_bar", "limit_bar")
UNBIDDEN_STATES = frozenset({State.LAID_UP, State.BENCH, State.TRIPPED})
WATCHED_STATES = UNBIDDEN_STATES | {State.HAND_RUN, State.FLUSHING}


def _pressure(now: Situation) -> float | None:
    return now.pressure_bar


def _highest(now: Situation) -> float | None:
    """The highest pressure, with what the scanner saw between two ticks."""
    fast_bar = now.inputs.overpressure_bar
    return now.pressure_bar if fast_bar is None else max(fast_bar, now.pressure_bar or 0.0)


def _in_regulator_check(now: Situation, _notes: Notes) -> bool:
    unloaded = now.settings.drive.regulator == "hand_each_run" or "pressure_release" in now.settings.outputs
    return unloaded and 0 <= now.clocks.turning_s <= now.settings.sequence.regulator_check_s


def _not_reached(now: Situation, _notes: Notes) -> Values | None:
    """The pump was commanded, so pressure must follow; a raise by hand that is merely slow is no fault."""
    drive, pressure_bar = now.settings.drive, now.pressure_bar or 0.0
    on_s = now.clocks.loaded_s if drive.regulator == "left_set" else now.clocks.pump_on_s
    if drive.pump != "relay" or on_s < now.settings.sequence.pressure_limit_s:
        return None
    minimum_bar = now.expectation.working_minimum_bar
    proof_bar = now.clocks.pressure_before_pump_bar + PUMP_PROOF_BAR
    wanted_bar = minimum_bar if drive.regulator == "left_set" else proof_bar
    reached_bar = pressure_bar if drive.regulator == "left_set" else max(now.clocks.peak_since_pump_bar, pressure_bar)
    if reached_bar >= wanted_bar:
        return None
    return {"pressure_bar": pressure_bar, "limit_bar": wanted_bar, "seconds": on_s}


def _release_s(now: Situation) -> float:
    after_s = RELEASE_S[now.settings.drive.regulator_kind]
    if now.settings.drive.pump == "watch_only":
        return after_s + now.settings.sequence.stop_open_s  # a person has to walk to the switch first
    return after_s


def _is_watched(now: Situation, _notes: Notes) -> bool:
    """Pressure where none was commanded; a trip is given the time that release takes, a flush begins without any."""
    if now.state not in WATCHED_STATES or (now.state is State.TRIPPED and is_trapped(now)):
        return False
    off_s = min(now.clocks.pump_off_s, now.in_state_s) if now.state is State.TRIPPED else now.clocks.pump_off_s
    released = off_s > RELEASE_S[now.settings.drive.regulator_kind]
    return released or now.state not in UNBIDDEN_STATES


def _unbidden_limit_bar(now: Situation) -> float:
    return HAND_BAR if now.state is State.TRIPPED and not is_sucking(now) else GONE_BAR


PRESSURE: dict[str, Condition] = {
    "vessel_pressure_high_high": Level(_highest, lambda now: now.settings.limits.vessel_pressure_high_high_bar, BAR),
    "regulator_closed": Level(
        _pressure, lambda now: now.settings.limits.regulator_closed_bar, BAR, when=_in_regulator_check
    ),
    "pressure_rise_too_fast": Level(
        lambda now: now.rate_bar_s,
        lambda now: now.settings.limits.pressure_rise_trip_bar_s,
        ("rate_bar_s", "limit_bar_s"),
        when=lambda now, _notes: now.settings.drive.regulator == "hand_each_run",
    ),
    "vessel_pressure_not_reached": _not_reached,
    "vessel_pressure_lost": Level(
        _pressure,
        lambda now: now.expectation.working_minimum_bar - now.settings.limits.pressure_lost_bar,
        BAR,
        above=False,
        # A pump without feed gives no pressure: the feed is the cause.
        when=lambda now, _notes: not feed_is_low_low(now),
    ),
    "pressure_not_released": Level(
        _pressure,
        lambda _now: GONE_BAR,
        BAR,
        when=lambda now, _notes: now.clocks.pump_off_s >= _release_s(now),
        more=lambda now, _notes: {"seconds": _release_s(now)},
    ),
    "vessel_pressure_high": over("vessel_pressure", lambda now: now.settings.limits.vessel_pressure_high_bar, BAR),
    "pressure_without_command": Level(_pressure, _unbidden_limit_bar, BAR, when=_is_watched),
}
