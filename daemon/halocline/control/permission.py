"""Whether a command may be carried out now: every reason against it, each a named check with a remedy in words.

A check answers None, the reason against it, or several.
The table `CHECKS` says which command asks which; `refused` in the snapshot is the
same table asked beforehand.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from halocline.control.annunciation import Annunciator
from halocline.control.attendance import AT_THE_PLANT, QUESTION
from halocline.control.conditions import CONDITIONS
from halocline.control.conditions.forms import Notes
from halocline.control.conditions.pressure import GONE_BAR
from halocline.control.inputs import Command, Reason
from halocline.control.latch import Latch
from halocline.control.situation import Situation, wetted_flow_l_h
from halocline.plant.alarms import CAUSES, ROWS, AlarmState, Effect
from halocline.plant.vocabulary import (
    ACTUATORS,
    LOG_KINDS,
    NEEDED_CHANNELS,
    OPTIONAL_OUTPUTS,
    PURGES,
    Origin,
    Quality,
    State,
)
from halocline.signals.rest_checks import rest_findings

NEVER_FROM_MQTT = frozenset({"start", "reset", "recommission", "bench", "calibrate", "service_unlock", "fault"})
AT_REST_S = 20.0
FLUSH_BELOW_BAR = 3.0
MOTOR_RUN_S = {"brush": 60 * 60.0, "induction": 180 * 60.0}
MOTOR_REST_S = 15 * 60.0
MOTOR_COOLS_S = 30 * 60.0
JOG_S = 2.0
BENCH_LIMIT_S = 120.0
LEAST_LITRES = 0.05
TANK_SHARE = 0.9
TANK_CEILING_L = 200.0
PURGE_CONFIRMED = "purge_confirmed"
OUT_OF_SERVICE, BACK_IN_SERVICE = "alarm_out_of_service", "alarm_in_service"
ALARM_KINDS = frozenset({OUT_OF_SERVICE, BACK_IN_SERVICE})
OPENS_CIRCUIT = frozenset({"filter_changed", "circuit_opened", "element_changed", "cleaned"})
PRESENT_S = 600.0
"""How long a press of the button at the plant counts for a start (common practice)."""

QUESTIONS = ("seacocks_open", "strainer_clean", "sea_clean", "tank_chosen")


@dataclass(frozen=True, slots=True)
class Context:
    """All that a check may look at."""

    now: Situation
    latch: Latch
    alarms: Annunciator
    command: Command
    recent_starts: int = 0
    rested_s: float = float("inf")
    motor_worked_s: float = 0.0
    motor_hot_s: float = float("inf")
    person_seen_s: float = float("inf")
    simulated: bool = False
    against_calibration: Callable[[], Sequence[Reason]] = tuple
    calibrations_known: bool = True


Check = Callable[[Context], Reason | Sequence[Reason] | None]


def _state_is(*allowed: State) -> Check:
    def check(at: Context) -> Reason | None:
        if at.now.state in allowed:
            return None
        return Reason(f"is_{at.now.state.value}")

    return check


def _not_locked(at: Context) -> Reason | None:
    lock = at.latch.lock
    return Reason("locked", {"name": lock.name, "reason": lock.reason}) if lock else None


def _no_chlorine(at: Context) -> Reason | None:
    return Reason("chlorine_suspected") if at.latch.chlorine_suspected else None


def _against_calibration(at: Context) -> Sequence[Reason]:
    return at.against_calibration()


def _calibrations_known(at: Context) -> Reason | None:
    return None if at.calibrations_known else Reason("calibrations_unreadable")


def _latch_writable(at: Context) -> Reason | None:
    return None if at.now.inputs.latch_writable else Reason("latch_not_writable")


def _sensor_good(channel: str) -> Check:
    def check(at: Context) -> Reason | None:
        reading = at.now.inputs.readings.get(channel)
        quality = Quality.MISSING if reading is None else reading.quality
        if quality is Quality.GOOD:
            return None
        if channel == "product_conductivity" and quality is Quality.IMPLAUSIBLE:
            return None
        return Reason("sensor_not_good", {"channel": channel, "quality": quality.value})

    return check


def _chips_answer(at: Context) -> list[Reason]:
    return [Reason("adc_lost", {"address": address}) for address in at.now.inputs.lost_chips]


def _interlock_armed(at: Context) -> Reason | None:
    fitted = at.now.settings.interlock
    if fitted is None or not at.now.inputs.interlock_lost:
        return None
    return Reason("interlock_not_armed", {"address": fitted.address})


def _contact_clear(contact: str) -> Check:
    return lambda at: Reason(f"{contact}_active") if at.now.active(contact) else None


def _pressure_known(at: Context) -> Reason | None:
    reading = at.now.inputs.readings.get("membrane_pressure")
    if at.now.pressure_bar is not None:
        return None
    quality = Quality.MISSING if reading is None else reading.quality
    return Reason("sensor_not_good", {"channel": "membrane_pressure", "quality": quality.value})


def _no_pressure(at: Context) -> Reason | None:
    pressure_bar = at.now.pressure_bar
    if pressure_bar is None or pressure_bar <= GONE_BAR:
        return None
    return Reason("pressure_present", {"pressure_bar": pressure_bar, "limit_bar": GONE_BAR})


def _pressure_below_flush(at: Context) -> Reason | None:
    pressure_bar = at.now.pressure_bar
    if pressure_bar is not None and pressure_bar < FLUSH_BELOW_BAR:
        return None
    return Reason("pressure_present", {"pressure_bar": pressure_bar, "limit_bar": FLUSH_BELOW_BAR})


def _rest_values_fit(at: Context) -> list[Reason]:
    """Zeros and wiring, judged once the plant has come to rest: before, pressure is still on its way out."""
    pressure_bar = at.now.pressure_bar
    if not _has_come_to_rest(at) or pressure_bar is None or pressure_bar > GONE_BAR:
        return []
    findings = rest_findings(at.now.inputs.readings, at.now.settings.inputs, vented=True)
    return [Reason(finding.id, finding.values) for finding in findings]


def _has_come_to_rest(at: Context) -> bool:
    return at.now.state is State.STANDBY and min(at.now.in_state_s, at.now.clocks.pump_off_s) > AT_REST_S


def _meter_stands_still(at: Context) -> Reason | None:
    """A meter that turns by itself would vouch for a wetted cell, and count litres that nobody made."""
    flow_l_h, limit_l_h = at.now.flow_l_h, wetted_flow_l_h(at.now.settings)
    if not _has_come_to_rest(at) or flow_l_h is None or flow_l_h < limit_l_h:
        return None
    return Reason("flow_at_rest", {"flow_l_h": flow_l_h, "limit_l_h": limit_l_h})


def _diverter_overboard(at: Context) -> Reason | None:
    if "diverter_overboard" in at.now.inputs.active and not at.now.active("diverter_overboard"):
        return Reason("diverter_not_overboard")
    if at.now.active("diverter_at_tank"):
        return Reason("diverter_not_overboard")
    return None


def _tank_has_room(at: Context) -> Reason | None:
    level = at.now.value("tank_level")
    limit = at.now.settings.limits.tank_full_percent
    if at.now.active("tank_float"):
        return Reason("tank_float_active")
    return (
        Reason("tank_is_full", {"percent": level, "limit_percent": limit})
        if level is not None and level >= limit
        else None
    )


def tank_ceiling_l(now: Situation) -> float:
    """The most one run may put into the tank, whatever the level sensor says later."""
    level = now.value("tank_level")
    if level is None:
        return min(TANK_CEILING_L, TANK_SHARE * now.settings.plant.tank_capacity_l)
    return TANK_SHARE * now.settings.plant.tank_capacity_l * max(0.0, 1 - level / 100)


def _litres_fit(at: Context) -> Reason | None:
    litres = at.command.arguments.get("litres")
    ceiling_l = tank_ceiling_l(at.now)
    if litres is None or litres <= ceiling_l:
        return None
    return Reason("tank_has_no_room", {"litres": litres, "limit_l": ceiling_l})


def _battery_fit(at: Context) -> Reason | None:
    """By charge where it is known, else by voltage."""
    percent, limit_percent = at.now.value("battery_charge_percent"), at.now.settings.limits.battery_start_percent
    if percent is not None:
        low = percent < limit_percent
        return Reason("battery_charge_too_low", {"percent": percent, "limit_percent": limit_percent}) if low else None
    volts, limit_v = at.now.value("battery_voltage"), at.now.settings.limits.battery_start_v
    return (
        Reason("battery_too_low", {"volts": volts, "limit_v": limit_v})
        if volts is not None and volts < limit_v
        else None
    )


def _supply_fit(at: Context) -> Reason | None:
    return Reason("supply_is_low") if at.now.inputs.supply_voltage_low else None


def _water_not_too_warm(at: Context) -> Reason | None:
    temperature_c, limit_c = at.now.temperature_c, at.now.settings.limits.water_too_warm_c
    if temperature_c is None or temperature_c < limit_c:
        return None
    return Reason("water_is_too_warm", {"temperature_c": temperature_c, "limit_c": limit_c})


def _starts_left(at: Context) -> Reason | None:
    sequence = at.now.settings.sequence
    if not sequence.motor_run_limits or at.recent_starts < sequence.motor_starts:
        return None
    return Reason("too_many_starts", {"starts": at.recent_starts, "limit": sequence.motor_starts})


def _motor_rested(at: Context) -> Reason | None:
    drive, sequence = at.now.settings.drive, at.now.settings.sequence
    if not sequence.motor_run_limits or at.motor_worked_s < MOTOR_RUN_S[drive.motor] or at.rested_s >= MOTOR_REST_S:
        return None
    return Reason("motor_needs_rest", {"seconds": MOTOR_REST_S - at.rested_s})


def _motor_cooled(at: Context) -> Reason | None:
    """A thermal cut-out closes by itself long before the winding has cooled (common practice: half an hour)."""
    if not at.now.settings.sequence.motor_run_limits or at.motor_hot_s >= MOTOR_COOLS_S:
        return None
    return Reason("motor_needs_rest", {"seconds": MOTOR_COOLS_S - at.motor_hot_s})


def _somebody_there(at: Context) -> Reason | None:
    if not at.now.settings.sequence.attendance or at.person_seen_s <= PRESENT_S:
        return None
    return Reason("nobody_at_the_plant")


def _questions_answered(at: Context) -> Reason | None:
    if not at.now.settings.sequence.start_questions:
        return None
    confirmed = at.command.arguments.get("confirmed", ())
    missing = [question for question in QUESTIONS if question not in confirmed]
    return Reason("questions_open", {"questions": ", ".join(missing)}) if missing else None


def _until_needs_clock(at: Context) -> Reason | None:
    arguments = at.command.arguments
    if arguments.get("until_unknown"):
        return Reason("clock_not_set")
    if "until" in arguments and "until_s" not in arguments:
        return Reason("argument_wrong", {"argument": "until", "wanted": "a time like 18:30, or a date and time"})
    return None


def _one_need(at: Context) -> Reason | None:
    given = [key for key in ("litres", "minutes", "until_s") if at.command.arguments.get(key) is not None]
    return Reason("several_needs", {"given": ", ".join(given)}) if len(given) > 1 else None


def _need_is_positive(at: Context) -> Reason | None:
    for key in ("litres", "minutes", "until_s", "seconds"):
        value = at.command.arguments.get(key)
        if value is not None and value < (LEAST_LITRES if key == "litres" else 0.001):
            return Reason("need_too_small", {"key": key, "value": value})
    return None


TRIPS_AT_REST = tuple(row.id for row in ROWS if row.effect is Effect.TRIP and State.STANDBY in row.armed)
"""Causes that would trip again as soon as a reset has let go, even where they began in this very tick."""


def _acknowledged(at: Context) -> Reason | None:
    waiting = [
        alarm.cause.id for alarm in at.alarms.trips if alarm.state in (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED)
    ]
    return Reason("trips_not_acknowledged", {"causes": ", ".join(waiting)}) if waiting else None


def _causes_gone(at: Context) -> Reason | None:
    holding = [alarm.cause.id for alarm in at.alarms.trips if alarm.holds]
    holding += [id_ for id_ in TRIPS_AT_REST if id_ not in holding and CONDITIONS[id_](at.now, Notes()) is not None]
    return Reason("cause_still_there", {"causes": ", ".join(holding)}) if holding else None


def _names_an_alarm(at: Context) -> Reason | None:
    cause = at.command.arguments.get("alarm")
    if cause is None or at.alarms.get(cause):
        return None
    return Reason("no_such_alarm", {"alarm": cause})


def _may_be_shelved(at: Context) -> Reason | None:
    cause = CAUSES.get(at.command.arguments.get("alarm", ""))
    if cause is None or at.alarms.get(cause.id) is None:
        return Reason("no_such_alarm", {"alarm": at.command.arguments.get("alarm")})
    return None if cause.may_be_set_aside else Reason("never_shelved", {"alarm": cause.id})


def _something_to_acknowledge(at: Context) -> Reason | None:
    return None if at.alarms.alarms else Reason("nothing_to_acknowledge")


def _kind_known(at: Context) -> Reason | None:
    kind = at.command.arguments.get("kind", "note")
    if kind in LOG_KINDS:
        return None
    near = get_close_matches(str(kind), LOG_KINDS, 1)
    return Reason(
        "log_kind_unknown", {"kind": kind, "near": near[0] if near else "note", "known": ", ".join(LOG_KINDS)}
    )


def _purge_is_over(at: Context) -> Reason | None:
    """A person confirms a purge only once all of it has gone overboard."""
    if at.command.arguments.get("kind") != PURGE_CONFIRMED:
        return None
    purge = at.latch.purge
    if purge is None:
        return Reason("no_purge_owed")
    return Reason("purge_not_over", {"seconds": purge.left_s}) if purge.left_s > 0 else None


def _alarm_service_fits(at: Context) -> Reason | Sequence[Reason] | None:
    """Only what merely tells can be taken out of service, and only with a reason."""
    kind, id_ = at.command.arguments.get("kind"), at.command.arguments.get("alarm", "")
    if kind not in ALARM_KINDS:
        return None
    if at.command.origin is Origin.MQTT:
        return Reason("never_from_mqtt", {"command": kind})
    cause, out = CAUSES.get(id_), {aside.alarm for aside in at.latch.out_of_service}
    if cause is None or (kind == BACK_IN_SERVICE and id_ not in out):
        return Reason("no_such_alarm", {"alarm": id_})
    if not cause.may_be_set_aside:
        return Reason("never_shelved", {"alarm": id_})
    if kind == OUT_OF_SERVICE and not at.command.arguments.get("note", "").strip():
        return Reason("out_of_service_wants_a_note", {"alarm": id_})
    return None


def _presence_is_local(at: Context) -> Reason | None:
    """Being at the plant is said on the boat's own computer: the page and a broker may be anywhere."""
    if at.command.arguments.get("kind") != AT_THE_PLANT or at.command.origin in (Origin.CLI, Origin.PLANT):
        return None
    return Reason("presence_is_local")


def _answered_by_a_person(at: Context) -> Reason | None:
    """ "Still there?" is not answered by a broker."""
    by_broker = at.command.origin is Origin.MQTT and at.command.arguments.get("alarm") == QUESTION
    return Reason("never_from_mqtt", {"command": at.command.name}) if by_broker else None


def _opens_nothing_under_way(at: Context) -> Reason | None:
    """A circuit that was opened owes priming and purge; that cannot begin in the middle of a run."""
    return _not_running(at) if at.command.arguments.get("kind") in OPENS_CIRCUIT else None


def _is_locked(at: Context) -> Reason | None:
    return None if at.latch.lock else Reason("not_locked")


def _lock_is_named(at: Context) -> Reason | None:
    arguments = at.command.arguments
    return None if arguments.get("name") and arguments.get("reason") else Reason("lock_wants_name_and_reason")


def _preservative_known(at: Context) -> Reason | None:
    return (
        None if at.command.arguments.get("preservative", "preservative") in PURGES else Reason("preservative_unknown")
    )


def _bench_output_known(at: Context) -> Reason | None:
    output = at.command.arguments.get("output")
    fitted = at.now.settings.outputs
    if output in fitted and output in (*ACTUATORS, *OPTIONAL_OUTPUTS):
        return None
    return Reason("output_unknown", {"output": output, "known": ", ".join(o for o in fitted if o != "heartbeat")})


def _bench_sensors(at: Context) -> list[Reason]:
    pump = at.command.arguments.get("output") == "high_pressure_pump"
    channels = ("membrane_pressure", "feed_pressure") if pump else ("membrane_pressure",)
    return [reason for channel in channels if isinstance(reason := _sensor_good(channel)(at), Reason)]


def _bench_pressure(at: Context) -> Reason | Sequence[Reason] | None:
    flush_valve = at.command.arguments.get("output") == "flush_valve"
    return _pressure_below_flush(at) if flush_valve else _no_pressure(at)


def _bench_without_chlorine(at: Context) -> Reason | None:
    return _no_chlorine(at) if at.command.arguments.get("output") == "flush_valve" else None


def _bench_motor(at: Context) -> list[Reason]:
    """A jog starts the motor like any other start."""
    pump = at.command.arguments.get("output") == "high_pressure_pump"
    return [reason for check in (_starts_left, _motor_rested, _motor_cooled) if pump and (reason := check(at))]


def _bench_time(at: Context) -> Reason | None:
    seconds = at.command.arguments.get("seconds", 1.0)
    limit_s = JOG_S if at.command.arguments.get("output") == "high_pressure_pump" else BENCH_LIMIT_S
    return Reason("bench_too_long", {"seconds": seconds, "limit_s": limit_s}) if seconds > limit_s else None


def _only_simulated(at: Context) -> Reason | None:
    return None if at.simulated else Reason("only_simulated")


def _not_running(at: Context) -> Reason | None:
    if at.now.state in (State.STANDBY, State.TRIPPED, State.LAID_UP):
        return None
    return Reason(f"is_{at.now.state.value}")


def _nothing_to_stop(_at: Context) -> Reason | None:
    return None


START = (
    _state_is(State.STANDBY),
    _not_locked,
    _latch_writable,
    _calibrations_known,
    _chips_answer,
    _interlock_armed,
    *(_sensor_good(channel) for channel in NEEDED_CHANNELS),
    _contact_clear("stop_button"),
    _contact_clear("bilge_wet"),
    _contact_clear("pressure_switch"),
    _no_pressure,
    _rest_values_fit,
    _meter_stands_still,
    _diverter_overboard,
    _tank_has_room,
    _litres_fit,
    _battery_fit,
    _supply_fit,
    _water_not_too_warm,
    _starts_left,
    _motor_rested,
    _motor_cooled,
    _somebody_there,
    _questions_answered,
    _until_needs_clock,
    _one_need,
    _need_is_positive,
)

CHECKS: Mapping[str, tuple[Check, ...]] = {
    "start": START,
    "stop": (_nothing_to_stop,),
    "flush": (
        _state_is(State.STANDBY),
        _not_locked,
        _no_chlorine,
        _chips_answer,
        _sensor_good("membrane_pressure"),
        _sensor_good("feed_pressure"),
        _contact_clear("stop_button"),
        _contact_clear("bilge_wet"),
        _pressure_below_flush,
        _need_is_positive,
    ),
    "acknowledge": (_something_to_acknowledge, _names_an_alarm, _answered_by_a_person),
    "reset": (_state_is(State.TRIPPED), _acknowledged, _causes_gone, _pressure_known, _no_pressure),
    "silence": (),
    "shelve": (_may_be_shelved, _need_is_positive),
    "lay_up": (
        _state_is(State.STANDBY),
        _not_locked,
        _latch_writable,
        _pressure_known,
        _no_pressure,
        _preservative_known,
    ),
    "recommission": (_state_is(State.LAID_UP), _not_locked, _latch_writable),
    "bench": (
        _state_is(State.STANDBY),
        _not_locked,
        _chips_answer,
        _bench_sensors,
        _bench_pressure,
        _contact_clear("stop_button"),
        _contact_clear("bilge_wet"),
        _bench_output_known,
        _bench_without_chlorine,
        _bench_motor,
        _bench_time,
        _need_is_positive,
    ),
    "service_lock": (_not_running, _not_locked, _lock_is_named, _latch_writable),
    "service_unlock": (_is_locked, _latch_writable),
    "calibrate": (_latch_writable, _against_calibration),
    "log": (_kind_known, _purge_is_over, _presence_is_local, _alarm_service_fits, _opens_nothing_under_way),
    "fault": (_only_simulated,),
}


def reasons_against(at: Context) -> list[Reason]:
    """Every reason against the command, in the order of its table; empty when it may be carried out."""
    reasons: list[Reason] = []
    for check in CHECKS[at.command.name]:
        found = check(at)
        if isinstance(found, Reason):
            reasons.append(found)
        elif found:
            reasons.extend(found)
    return reasons


def hypothetical(command: str) -> Command:
    """The command as it would be given without arguments, to say beforehand whether it is refused."""
    likely: Mapping[str, dict[str, Any]] = {
        "bench": {"output": "feed_pump", "seconds": 1.0},
        "calibrate": {"channel": NEEDED_CHANNELS[0], "configured": True, "initials": "-"},
        "service_lock": {"name": "-", "reason": "-"},
        "start": {"confirmed": list(QUESTIONS)},
    }
    return Command(command, likely.get(command, {}))
