"""Whether a command may be carried out now: every reason against it, each a named check with a remedy in words.

The table `CHECKS` says which command asks which, in files by what they look at; `refused` in the snapshot is the same
table asked beforehand.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from halocline.control.inputs import Command, Reason
from halocline.control.permissives.alarms import (
    acknowledged,
    alarm_service_fits,
    causes_gone,
    may_be_shelved,
    names_an_alarm,
    regulator_seen_to,
    restart_acknowledged,
    something_to_acknowledge,
)
from halocline.control.permissives.bench import bench_time, jogs, opens_flush, output_known
from halocline.control.permissives.boat import (
    battery_fit,
    latch_writable,
    supply_fit,
    tank_has_room,
    water_not_too_warm,
)
from halocline.control.permissives.commissioning import step_shown
from halocline.control.permissives.flush_alone import (
    bilge_watched,
    clock_known,
    consent_fits,
    consent_given,
    consent_in_force,
    is_due,
    litres_left,
    no_hands,
    nobody_is_waited_for,
    nothing_leaks,
    once_a_day,
    set_up_for_it,
    tank_keeps_enough,
    way_out_proven,
)
from halocline.control.permissives.instruments import (
    calibrations_known,
    chips_answer,
    contact_clear,
    diverter_overboard,
    fits_the_instrument,
    interlock_armed,
    meter_stands_still,
    others_read,
    rest_values_fit,
    sensor_good,
)
from halocline.control.permissives.motor import motor_cooled, motor_rested, starts_left
from halocline.control.permissives.needs import (
    litres_fit,
    need_is_positive,
    one_need,
    until_is_near,
    until_needs_clock,
)
from halocline.control.permissives.people import (
    ALL_QUESTIONS,
    answered_by_a_person,
    answers_were_asked,
    is_locked,
    lock_is_named,
    not_locked,
    person_at_the_plant,
    presence_is_local,
    questions_answered,
)
from halocline.control.permissives.permissive import Check, Context, not_running, state_is, where
from halocline.control.permissives.pressure import no_pressure, pressure_below_flush, pressure_known
from halocline.control.permissives.upkeep import (
    duty_told,
    finding_put_aside,
    kind_known,
    no_chlorine,
    opens_nothing_under_way,
    part_known,
    preservative_known,
    purge_is_over,
    read_by_a_person,
    readings_fit,
)
from halocline.plant.vocabulary import NEEDED_CHANNELS, State


def only_simulated(at: Context) -> Reason | None:
    """Nothing can be broken on a real boat."""
    return None if at.simulated else Reason("only_simulated")


START = (
    state_is(State.STANDBY),
    not_locked,
    restart_acknowledged,
    latch_writable,
    calibrations_known,
    chips_answer,
    interlock_armed,
    *(sensor_good(channel) for channel in NEEDED_CHANNELS),
    others_read,
    contact_clear("stop_button"),
    contact_clear("bilge_wet"),
    contact_clear("pressure_switch"),
    no_pressure,
    rest_values_fit,
    meter_stands_still,
    diverter_overboard,
    tank_has_room,
    litres_fit,
    battery_fit,
    supply_fit,
    water_not_too_warm,
    starts_left,
    motor_rested,
    motor_cooled,
    person_at_the_plant,
    answers_were_asked,
    questions_answered,
    until_needs_clock,
    until_is_near,
    one_need,
    need_is_positive,
)

FLUSH_OF_ITS_OWN = (
    not_locked,
    no_chlorine,
    chips_answer,
    sensor_good("vessel_pressure"),
    sensor_good("feed_pressure"),
    contact_clear("stop_button"),
    contact_clear("bilge_wet"),
)
"""What a flush at the end of a stop has to pass; until the pressure is gone it waits by itself."""

PEOPLE_LET_IT: tuple[Check, ...] = (consent_in_force, not_locked, no_hands)
"""What a flush that nobody ordered has to pass of what people have done or want, from its notice to its end."""

FLUSH_ALONE: tuple[Check, ...] = (
    set_up_for_it,
    clock_known,
    restart_acknowledged,
    latch_writable,
    no_chlorine,
    chips_answer,
    sensor_good("vessel_pressure"),
    sensor_good("feed_pressure"),
    sensor_good("flush_flow"),
    contact_clear("stop_button"),
    contact_clear("bilge_wet"),
    bilge_watched,
    nothing_leaks,
    nobody_is_waited_for,
    tank_keeps_enough,
)
"""What the plant has to show for it, from its notice to its end."""

FLUSH_ALONE_DUE: tuple[Check, ...] = (
    state_is(State.STANDBY),
    *FLUSH_ALONE,
    supply_fit,
    pressure_below_flush,
    way_out_proven,
    litres_left,
    once_a_day,
    is_due,
)
"""What it has to show before one is announced."""

CHECKS: Mapping[str, tuple[Check, ...]] = {
    "start": START,
    "stop": (),
    "flush": (state_is(State.STANDBY), regulator_seen_to, *FLUSH_OF_ITS_OWN, pressure_below_flush, need_is_positive),
    "acknowledge": (something_to_acknowledge, names_an_alarm, answered_by_a_person),
    "reset": (state_is(State.TRIPPED), acknowledged, causes_gone, pressure_known, no_pressure),
    "silence": (),
    "shelve": (may_be_shelved, need_is_positive),
    "lay_up": (
        state_is(State.STANDBY),
        not_locked,
        latch_writable,
        pressure_known,
        no_pressure,
        preservative_known,
    ),
    "recommission": (state_is(State.LAID_UP), not_locked, latch_writable),
    "bench": (
        state_is(State.STANDBY),
        not_locked,
        restart_acknowledged,
        chips_answer,
        sensor_good("vessel_pressure"),
        where(jogs, sensor_good("feed_pressure")),
        where(opens_flush, pressure_below_flush, otherwise=no_pressure),
        contact_clear("stop_button"),
        contact_clear("bilge_wet"),
        output_known,
        where(opens_flush, no_chlorine),
        where(jogs, starts_left),
        where(jogs, motor_rested),
        where(jogs, motor_cooled),
        bench_time,
        need_is_positive,
    ),
    "consent_flush": (
        state_is(State.STANDBY),
        set_up_for_it,
        latch_writable,
        clock_known,
        not_locked,
        no_chlorine,
        bilge_watched,
        consent_fits,
    ),
    "withdraw_flush_consent": (consent_given, latch_writable),
    "service_lock": (where(lambda at: not at.flushing_alone, not_running), not_locked, lock_is_named, latch_writable),
    "service_unlock": (is_locked, latch_writable),
    "calibrate": (latch_writable, fits_the_instrument),
    "log": (
        kind_known,
        readings_fit,
        finding_put_aside,
        duty_told,
        part_known,
        read_by_a_person,
        purge_is_over,
        presence_is_local,
        alarm_service_fits,
        opens_nothing_under_way,
        step_shown,
    ),
    "fault": (only_simulated,),
}


def reasons_against(at: Context, checks: Sequence[Check] | None = None) -> list[Reason]:
    """Every reason against the command, in the order of its table; empty when it may be carried out."""
    reasons: list[Reason] = []
    for check in CHECKS[at.command.name] if checks is None else checks:
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
        "consent_flush": {"name": "-"},
        "start": {"confirmed": list(ALL_QUESTIONS)},
    }
    return Command(command, likely.get(command, {}))
