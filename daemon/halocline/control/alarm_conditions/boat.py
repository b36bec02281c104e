"""Causes of the boat about the plant: people, tank, battery, motor, computer."""

from halocline.control.alarm_conditions.condition import Condition, Level, Measured, Notes, Values, contact, noted, over
from halocline.control.situation import Situation
from halocline.plant import motor

START_SURGE_S = 5.0
"""A motor with brushes draws 2 to 3 times its current while it starts, an induction motor 5 to 7 times: the battery's
voltage says nothing meanwhile (common practice)."""
MISSED_TICKS = 10
"""Half a second without a tick trips in good order, before the time-out relay does, which forgives 1 s (computed)."""
MOTOR_TOO_WARM_C = 90.0
"""A winding of class B bears 130 °C at its hottest spot, and a sender at the casing reads some 40 K less (from
memory)."""


def _scan_overrun(now: Situation, _notes: Notes) -> Values | None:
    missed = now.inputs.missed_ticks
    return {"missed": missed, "limit": MISSED_TICKS} if missed >= MISSED_TICKS else None


def _tank_full(now: Situation, notes: Notes) -> Values | None:
    return {"contact": "tank_float"} if now.active("tank_float") else notes.standing.get("tank_full")


def _surge_is_over(now: Situation, _notes: Notes) -> bool:
    return not 0 <= now.clocks.pump_on_s < START_SURGE_S


BY_VOLTAGE = Level(
    lambda now: now.value("battery_voltage"),
    lambda now: now.settings.limits.battery_stop_v,
    ("volts", "limit_v"),
    above=False,
    when=_surge_is_over,
)
BY_CHARGE = Level(
    lambda now: now.value("battery_charge_percent"),
    lambda now: now.settings.limits.battery_stop_percent,
    ("percent", "limit_percent"),
    above=False,
)
CHARGE_BAND_PERCENT_PER_V = 10.0
"""The row's dead band is in volts; a tenth of a volt stands for a per cent of charge (lead batteries, from memory)."""


class BatteryLow(Measured):
    """By charge where it is known, else by voltage under load."""

    def within(self, dead_band: float) -> Condition:
        """The same with both limits moved by the dead band, in V."""
        by_charge, by_voltage = BY_CHARGE.within(CHARGE_BAND_PERCENT_PER_V * dead_band), BY_VOLTAGE.within(dead_band)

        def holds(now: Situation, notes: Notes) -> Values | None:
            known = now.value("battery_charge_percent") is not None
            return by_charge(now, notes) if known else by_voltage(now, notes)

        return holds


def _run_limit(now: Situation, _notes: Notes) -> Values | None:
    limit_s = now.settings.sequence.run_limit_s
    return {"seconds": limit_s} if now.clocks.run_s >= limit_s else None


def _motor_must_rest(now: Situation, _notes: Notes) -> Values | None:
    """Early by what a stop may take, so that the pump stands when the rating says so."""
    settings, worked_s = now.settings, now.clocks.motor_worked_s
    if not settings.sequence.motor_run_limits or worked_s < motor.work_s(settings):
        return None
    return {"seconds": worked_s, "limit_s": motor.rated_run_s(settings.drive)}


def _motor_overworked(now: Situation, _notes: Notes) -> Values | None:
    """Control cannot end it: the person who runs the pump by its own switch has to."""
    settings, worked_s = now.settings, now.clocks.motor_worked_s
    limit_s = motor.rated_run_s(settings.drive)
    turns = now.clocks.motor_rested_s <= 0
    overworked = settings.sequence.motor_run_limits and turns and worked_s >= limit_s
    return {"seconds": worked_s, "limit_s": limit_s} if overworked else None


def _unattended(now: Situation, _notes: Notes) -> Values | None:
    sequence, seconds = now.settings.sequence, now.clocks.unattended_s
    limit_s = sequence.attendance_ask_s + sequence.attendance_answer_s
    return {"seconds": seconds, "limit_s": limit_s} if sequence.attendance and seconds > limit_s else None


def _attendance_due(now: Situation, _notes: Notes) -> Values | None:
    sequence, seconds = now.settings.sequence, now.clocks.unattended_s
    if not sequence.attendance or seconds < sequence.attendance_ask_s:
        return None
    return {"seconds": seconds, "left_s": sequence.attendance_answer_s}


def _interlock_lost(now: Situation, _notes: Notes) -> Values | None:
    fitted = now.settings.interlock
    return {"address": fitted.address} if fitted is not None and now.inputs.interlock_lost else None


BOAT: dict[str, Condition] = {
    "stop_button": contact("stop_button"),
    "bilge_wet": contact("bilge_wet"),
    "pressure_switch": contact("pressure_switch"),
    "scan_overrun": _scan_overrun,
    "motor_too_warm": over("pump_motor_temperature", lambda _now: MOTOR_TOO_WARM_C, ("temperature_c", "limit_c")),
    "tank_full": _tank_full,
    "battery_low": BatteryLow(),
    "run_limit": _run_limit,
    "motor_must_rest": _motor_must_rest,
    "motor_overworked": _motor_overworked,
    "unattended": _unattended,
    "attendance_due": _attendance_due,
    "restarted_unexpectedly": noted("restarted_unexpectedly"),
    "calibrations_unreadable": noted("calibrations_unreadable"),
    "calibrations_outdated": noted("calibrations_outdated"),
    "clock_unset": lambda now, _notes: None if now.inputs.clock_set else {},
    "interlock_not_armed": _interlock_lost,
    "supply_voltage_low": lambda now, _notes: {} if now.inputs.supply_voltage_low else None,
}
