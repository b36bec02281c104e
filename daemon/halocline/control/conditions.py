"""When each cause holds. One small function a row of `plant.alarms.ROWS`, under the same id.

A condition answers None while all is well, else the numbers a tired person needs: what was measured, the limit, and
how long. Which states a row is armed in, how long it must hold and what follows stand in the table.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from halocline.control.inputs import Reason
from halocline.control.situation import Situation, product_cap_l_h, wetted_flow_l_h
from halocline.plant.vocabulary import CHANNELS, NEEDED_CHANNELS, Quality, State

Values = Mapping[str, Any]
GONE_BAR = 5.0
HAND_BAR = 10.0
PUMP_PROOF_BAR = 1.0
RELEASE_S = {"needle": 15.0, "spring": 60.0}
FEED_GRACE_S = 3.0
SUCTION_BAR = -0.1
START_SURGE_S = 5.0
MISSED_TICKS = 10
QUALITY_BREAKS = 3
SALTY_AFTER_L = 3.0
SALTY_AFTER_S = 180.0


@dataclass(slots=True)
class Notes:
    """What happened and stays worth an alarm until something ends it: id → values."""

    standing: dict[str, Values] = field(default_factory=dict)

    def set(self, cause: str, values: Values | None = None) -> None:
        """Note that `cause` holds from now on."""
        self.standing[cause] = dict(values or {})

    def clear(self, cause: str) -> None:
        """Note that `cause` is over."""
        self.standing.pop(cause, None)


Condition = Callable[[Situation, Notes], Values | None]


def _contact(contact: str) -> Condition:
    return lambda now, _notes: {} if now.active(contact) else None


def _noted(cause: str) -> Condition:
    return lambda _now, notes: notes.standing.get(cause)


def _above(channel: str, limit: Callable[[Situation], float], value_key: str, limit_key: str) -> Condition:
    def condition(now: Situation, _notes: Notes) -> Values | None:
        value = now.known(channel)
        return {value_key: value, limit_key: limit(now)} if value is not None and value > limit(now) else None

    return condition


def _below(channel: str, limit: Callable[[Situation], float], value_key: str, limit_key: str) -> Condition:
    def condition(now: Situation, _notes: Notes) -> Values | None:
        value = now.known(channel)
        return {value_key: value, limit_key: limit(now)} if value is not None and value < limit(now) else None

    return condition


def _sensor_fault(channel: str) -> Condition:
    def condition(now: Situation, _notes: Notes) -> Values | None:
        reading = now.inputs.readings.get(channel)
        if reading is None:
            fitted = channel in now.settings.inputs
            return {"channel": channel, "quality": Quality.MISSING.value, "raw": None} if fitted else None
        if reading.quality is Quality.GOOD or _told_by_another(now, channel):
            return None
        if reading.quality in (Quality.UNDER, Quality.OVER) and channel in CARRY_ON_AT_END_OF_SPAN:
            return None
        if (channel, reading.quality) == VERY_SALTY:
            return None
        return {"channel": channel, "quality": reading.quality.value, "raw": reading.raw}

    return condition


CARRY_ON_AT_END_OF_SPAN = frozenset({"membrane_pressure", "feed_pressure", "tank_level", "battery_current"})
"""Channels whose limits still judge a value at the end of the span; for the rest it proves nothing."""

VERY_SALTY = ("product_conductivity", Quality.OVER)
"""A cell beyond its span sees sea water, which is no fault of the cell; the tank stays closed all the same."""


def _told_by_another(now: Situation, channel: str) -> bool:
    """Whether the channel is dead with its converter, and that is told once for all: by `adc_lost` where a needed
    channel hangs on it, else by the first of its channels."""
    address = _address(now, channel)
    if address not in now.inputs.lost_chips:
        return False
    on_chip = [other for other in now.settings.inputs if _address(now, other) == address]
    return channel != on_chip[0] or any(other in NEEDED_CHANNELS for other in on_chip)


def _address(now: Situation, channel: str) -> int | None:
    return getattr(now.settings.inputs.get(channel), "address", None)


def _adc_lost(now: Situation, _notes: Notes) -> Values | None:
    needed = {_address(now, channel) for channel in NEEDED_CHANNELS}
    lost = [address for address in now.inputs.lost_chips if address in needed]
    return {"address": lost[0]} if lost else None


def _high_high(now: Situation, _notes: Notes) -> Values | None:
    limit_bar = now.settings.limits.membrane_pressure_high_high_bar
    fast_bar = now.inputs.overpressure_bar
    if fast_bar is not None:
        return {"pressure_bar": fast_bar, "limit_bar": limit_bar}
    if now.pressure_bar is not None and now.pressure_bar > limit_bar:
        return {"pressure_bar": now.pressure_bar, "limit_bar": limit_bar}
    return None


def _regulator_closed(now: Situation, _notes: Notes) -> Values | None:
    limit_bar = now.settings.limits.regulator_closed_bar
    in_check = 0 <= now.clocks.turning_s <= now.settings.sequence.regulator_check_s
    unloaded = now.settings.drive.regulator == "hand_each_run" or "pressure_release" in now.settings.outputs
    if in_check and unloaded and now.pressure_bar is not None and now.pressure_bar > limit_bar:
        return {"pressure_bar": now.pressure_bar, "limit_bar": limit_bar}
    return None


def _rise_too_fast(now: Situation, _notes: Notes) -> Values | None:
    limit = now.settings.limits.pressure_rise_trip_bar_s
    if now.settings.drive.regulator != "hand_each_run" or now.rate_bar_s is None or now.rate_bar_s <= limit:
        return None
    return {"rate_bar_s": now.rate_bar_s, "limit_bar_s": limit}


def _pressure_not_reached(now: Situation, _notes: Notes) -> Values | None:
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


def _pressure_lost(now: Situation, _notes: Notes) -> Values | None:
    limit_bar = now.expectation.working_minimum_bar - now.settings.limits.pressure_lost_bar
    if now.pressure_bar is None or now.pressure_bar >= limit_bar:
        return None
    if feed_is_low_low(now):  # a pump without feed gives no pressure: the feed is the cause
        return None
    return {"pressure_bar": now.pressure_bar, "limit_bar": limit_bar}


def _not_released(now: Situation, _notes: Notes) -> Values | None:
    after_s = RELEASE_S[now.settings.drive.regulator_kind]
    if now.settings.drive.pump == "watch_only":
        after_s += now.settings.sequence.stop_open_s  # somebody has to walk to the switch first
    if now.pressure_bar is None or now.pressure_bar <= GONE_BAR or now.clocks.pump_off_s < after_s:
        return None
    return {"pressure_bar": now.pressure_bar, "limit_bar": GONE_BAR, "seconds": after_s}


def _feed_not_reached(now: Situation, _notes: Notes) -> Values | None:
    sequence, limit_bar = now.settings.sequence, now.settings.limits.feed_pressure_start_bar
    enough = now.feed_bar is not None and now.feed_bar >= limit_bar
    allowed_s = sequence.prime_limit_s + (now.clocks.prime_s if enough else 0)
    if now.in_state_s < allowed_s:
        return None
    return {"pressure_bar": now.feed_bar, "limit_bar": limit_bar, "seconds": allowed_s}


def feed_is_low_low(now: Situation) -> bool:
    """Whether the feed is too weak for the high-pressure pump, once the feed pump had its 3 s to start."""
    if 0 <= now.clocks.feed_pump_on_s < FEED_GRACE_S:
        return False
    feed_bar = now.known("feed_pressure")
    return feed_bar is not None and feed_bar < now.settings.limits.feed_pressure_low_low_bar


def is_sucking(now: Situation) -> bool:
    """Only a pump that turns without feed draws its inlet below zero; with an open regulator nothing else tells."""
    feed_bar = now.known("feed_pressure")
    return feed_bar is not None and feed_bar < SUCTION_BAR


def _unbidden(now: Situation, _notes: Notes) -> Values | None:
    """Pressure where none was commanded; a trip is given the time that release takes, a flush begins without any."""
    if now.pressure_bar is None:
        return None
    off_s = min(now.clocks.pump_off_s, now.in_state_s) if now.state is State.TRIPPED else now.clocks.pump_off_s
    released = off_s > RELEASE_S[now.settings.drive.regulator_kind]
    limit_bar = HAND_BAR if now.state is State.TRIPPED and not is_sucking(now) else GONE_BAR
    watched = now.state in (State.HAND_RUN, State.FLUSHING) or (released and now.state in UNBIDDEN_STATES)
    return (
        {"pressure_bar": now.pressure_bar, "limit_bar": limit_bar} if watched and now.pressure_bar > limit_bar else None
    )


UNBIDDEN_STATES = frozenset({State.LAID_UP, State.BENCH, State.TRIPPED})


def _output_disagrees(now: Situation, _notes: Notes) -> Values | None:
    fitted = [name for name in ("diverter_at_tank", "diverter_overboard") if name in now.inputs.active]
    to_tank = now.clocks.to_tank
    wanted = {"diverter_at_tank": to_tank, "diverter_overboard": not to_tank}
    wrong = [name for name in fitted if now.active(name) != wanted[name]]
    return {"contact": wrong[0], "to_tank": to_tank} if wrong else None


def _scan_overrun(now: Situation, _notes: Notes) -> Values | None:
    missed = now.inputs.missed_ticks
    return {"missed": missed, "limit": MISSED_TICKS} if missed >= MISSED_TICKS else None


def _salty_at_once(now: Situation, _notes: Notes) -> Values | None:
    limit = now.settings.limits.product_salty_at_once_mg_l
    expected, flow_l_h = now.expectation.flow_l_h, now.known("product_flow")
    if expected is None:
        expected = product_cap_l_h(now.settings)
    if now.tds_mg_l is None or now.tds_mg_l <= limit or flow_l_h is None or flow_l_h <= 1.5 * expected:
        return None
    return {"tds_mg_l": now.tds_mg_l, "limit_mg_l": limit, "flow_l_h": flow_l_h, "expected_l_h": expected}


def _salty(now: Situation, notes: Notes) -> Values | None:
    limit, clocks = now.settings.limits.product_salty_mg_l, now.clocks
    if now.tds_mg_l is None or now.tds_mg_l <= limit or "tds_falling" in notes.standing:
        return None
    if clocks.working_product_l < SALTY_AFTER_L or clocks.working_s < SALTY_AFTER_S:
        return None
    return {"tds_mg_l": now.tds_mg_l, "limit_mg_l": limit, "litres": clocks.working_product_l}


def _quality_not_reached(now: Situation, _notes: Notes) -> Values | None:
    limit_s = now.settings.sequence.divert_limit_s
    if now.clocks.diverting_s < limit_s:
        return None
    return {"seconds": limit_s, "tds_mg_l": now.tds_mg_l, "limit_mg_l": now.settings.limits.accept_tds_mg_l}


def _quality_returns(now: Situation, _notes: Notes) -> Values | None:
    breaks = now.clocks.quality_breaks
    return {"times": breaks} if breaks >= QUALITY_BREAKS else None


def _flow_too_high(now: Situation, _notes: Notes) -> Values | None:
    cap_l_h, flow_l_h = product_cap_l_h(now.settings), now.known("product_flow")
    if flow_l_h is None or flow_l_h <= cap_l_h:
        return None
    return {"flow_l_h": flow_l_h, "limit_l_h": cap_l_h}


def _recovery_high(now: Situation, _notes: Notes) -> Values | None:
    limit = now.settings.limits.recovery_stop
    return {"recovery": now.recovery, "limit": limit} if now.recovery is not None and now.recovery > limit else None


def _recovery_near_limit(now: Situation, _notes: Notes) -> Values | None:
    limit = now.settings.limits.recovery_warn
    return {"recovery": now.recovery, "limit": limit} if now.recovery is not None and now.recovery > limit else None


def _tank_full(now: Situation, notes: Notes) -> Values | None:
    if now.active("tank_float"):
        return {"contact": "tank_float"}
    return notes.standing.get("tank_full")


def _battery_low(now: Situation, _notes: Notes) -> Values | None:
    volts, limit_v = now.value("battery_voltage"), now.settings.limits.battery_stop_v
    surge = 0 <= now.clocks.pump_on_s < START_SURGE_S
    return {"volts": volts, "limit_v": limit_v} if volts is not None and volts < limit_v and not surge else None


def _run_limit(now: Situation, _notes: Notes) -> Values | None:
    limit_s = now.settings.sequence.run_limit_s
    return {"seconds": limit_s} if now.clocks.run_s >= limit_s else None


def _unattended(now: Situation, _notes: Notes) -> Values | None:
    sequence, seconds = now.settings.sequence, now.clocks.unattended_s
    limit_s = sequence.attendance_ask_s + sequence.attendance_answer_s
    return {"seconds": seconds, "limit_s": limit_s} if sequence.attendance and seconds > limit_s else None


def _attendance_due(now: Situation, _notes: Notes) -> Values | None:
    sequence, seconds = now.settings.sequence, now.clocks.unattended_s
    if not sequence.attendance or seconds < sequence.attendance_ask_s:
        return None
    return {"seconds": seconds, "left_s": sequence.attendance_answer_s}


def _flow_missing(now: Situation, _notes: Notes) -> Values | None:
    limit_l_h = wetted_flow_l_h(now.settings)
    flow_l_h = now.known("product_flow")
    if flow_l_h is not None and flow_l_h >= limit_l_h:
        return None
    return {"flow_l_h": flow_l_h, "limit_l_h": limit_l_h}


def _feed_low(now: Situation, _notes: Notes) -> Values | None:
    limit_bar, feed_bar = now.settings.limits.feed_pressure_low_bar, now.feed_bar
    starting = now.clocks.feed_pump_on_s < FEED_GRACE_S or now.state is State.PRIMING
    if feed_bar is None or starting or feed_bar >= limit_bar:
        return None
    return {"pressure_bar": feed_bar, "limit_bar": limit_bar}


def _filter_drop(now: Situation, _notes: Notes) -> Values | None:
    limit_bar, drop_bar = now.settings.limits.filter_drop_high_bar, now.filter_drop_bar
    return {"drop_bar": drop_bar, "limit_bar": limit_bar} if drop_bar is not None and drop_bar > limit_bar else None


def _flow_against_model(factor_low: float, factor_high: float) -> Condition:
    def condition(now: Situation, _notes: Notes) -> Values | None:
        expected, flow_l_h = now.expectation.flow_l_h, now.flow_l_h
        wetted_l_h = wetted_flow_l_h(now.settings)
        if expected is None or flow_l_h is None or min(expected, flow_l_h) < wetted_l_h:
            return None
        ratio = flow_l_h / expected
        if factor_low <= ratio <= factor_high:
            return None
        return {"flow_l_h": flow_l_h, "expected_l_h": expected}

    return condition


def _flush_due(now: Situation, _notes: Notes) -> Values | None:
    return {"hours": now.clocks.idle_s / 3600} if now.clocks.idle_s > flush_interval_s(now) else None


def flush_interval_s(now: Situation) -> float:
    """How long fresh-flushed water may stand: 3, 5 or 7 days by temperature (common practice)."""
    temperature_c = now.temperature_c
    if temperature_c is None or temperature_c > 25:
        return 3 * 86400.0
    return (5 if temperature_c >= 15 else 7) * 86400.0


def _preservative_due(now: Situation, _notes: Notes) -> Values | None:
    if now.state is State.LAID_UP:
        return {"days": now.clocks.laid_up_s / 86400} if now.clocks.laid_up_s > 30 * 86400 else None
    warm = now.temperature_c is None or now.temperature_c > 28
    days = now.clocks.idle_s / 86400
    return {"days": days} if days > (7 if warm else 14) else None


def _leaking_flush_valve(now: Situation, _notes: Notes) -> Values | None:
    flow_l_h = now.value("flush_flow")
    return {"flow_l_h": flow_l_h} if flow_l_h is not None and flow_l_h > 2.0 else None


def _clock_unset(now: Situation, _notes: Notes) -> Values | None:
    return None if now.inputs.clock_set else {}


def _supply_low(now: Situation, _notes: Notes) -> Values | None:
    return {} if now.inputs.supply_voltage_low else None


CONDITIONS: Mapping[str, Condition] = {
    "stop_button": _contact("stop_button"),
    "bilge_wet": _contact("bilge_wet"),
    "pressure_switch": _contact("pressure_switch"),
    "membrane_pressure_high_high": _high_high,
    "regulator_closed": _regulator_closed,
    "pressure_rise_too_fast": _rise_too_fast,
    "membrane_pressure_not_reached": _pressure_not_reached,
    "membrane_pressure_lost": _pressure_lost,
    "pressure_not_released": _not_released,
    "feed_pressure_not_reached": _feed_not_reached,
    "feed_pressure_low_low": lambda now, _notes: (
        {
            "pressure_bar": now.known("feed_pressure"),
            "limit_bar": now.settings.limits.feed_pressure_low_low_bar,
        }
        if feed_is_low_low(now)
        else None
    ),
    "adc_lost": _adc_lost,
    "scan_overrun": _scan_overrun,
    "output_disagrees": _output_disagrees,
    "product_pressure_high": _above(
        "product_pressure",
        lambda now: now.settings.limits.product_pressure_high_bar,
        "pressure_bar",
        "limit_bar",
    ),
    "product_salty_at_once": _salty_at_once,
    "quality_not_reached": _quality_not_reached,
    "quality_returns_repeatedly": _quality_returns,
    "product_salty": _salty,
    "feed_pressure_unsteady": _noted("feed_unsteady"),
    "product_flow_too_high": _flow_too_high,
    "recovery_high": _recovery_high,
    "motor_too_warm": _above("motor_temperature", lambda _now: 90.0, "temperature_c", "limit_c"),
    "water_too_warm": _above(
        "water_temperature", lambda now: now.settings.limits.water_too_warm_c, "temperature_c", "limit_c"
    ),
    "tank_full": _tank_full,
    "battery_low": _battery_low,
    "run_limit": _run_limit,
    "unattended": _unattended,
    "attendance_due": _attendance_due,
    "quality_lost": _noted("quality_lost"),
    "product_flow_missing": _flow_missing,
    "membrane_pressure_high": _above(
        "membrane_pressure",
        lambda now: now.settings.limits.membrane_pressure_high_bar,
        "pressure_bar",
        "limit_bar",
    ),
    "feed_pressure_low": _feed_low,
    "filter_drop_high": _filter_drop,
    "recovery_near_limit": _recovery_near_limit,
    "water_warm": _above("water_temperature", lambda now: now.settings.limits.water_warm_c, "temperature_c", "limit_c"),
    "product_flow_low": _flow_against_model(0.75, float("inf")),
    "product_flow_high": _flow_against_model(0.0, 1.25),
    "water_too_cold": _below(
        "water_temperature", lambda now: now.settings.limits.water_too_cold_c, "temperature_c", "limit_c"
    ),
    "pressure_without_command": _unbidden,
    "flush_failed": _noted("flush_failed"),
    "flush_due": _flush_due,
    "flush_valve_leaking": _leaking_flush_valve,
    "flush_backflow": _leaking_flush_valve,
    "preservative_due": _preservative_due,
    "frost_risk": _below("water_temperature", lambda _now: 2.0, "temperature_c", "limit_c"),
    "restarted_unexpectedly": _noted("restarted_unexpectedly"),
    "clock_unset": _clock_unset,
    "supply_voltage_low": _supply_low,
    **{f"sensor_fault_{channel}": _sensor_fault(channel) for channel in CHANNELS if channel != "product_flow"},
}


def reason_of(cause: str, values: Values) -> Reason:
    """A cause with its numbers, as a reason for what the plant did."""
    return Reason(cause, values)
