"""Limits that cannot protect are refused: what must fit together, one small named function each.

The tables below are the whole list. A check looks at settings and yields findings; it may be given
settings of which some fields could not be read and are unset: such a field is passed over.
"""

from collections.abc import Callable, Iterator
from itertools import chain
from typing import TypeVar

from halocline.config.checks import (
    flush,
    interlock,
    ladders,
    people,
    reach,
    report,
    scan,
    sensors,
    sequence,
    water,
    wiring,
)
from halocline.config.checks.protecting import ABOARD as HARDWARE
from halocline.config.checks.protecting import SIMULATED as SIMULATED_HARDWARE
from halocline.config.checks.protecting import strictest
from halocline.config.checks.protections import PROTECTIONS
from halocline.config.problems import Finding
from halocline.plant.sensors import Input
from halocline.plant.settings import ReportSettings, Settings

T = TypeVar("T")

CHECKS: tuple[Callable[[Settings], Iterator[Finding]], ...] = (
    wiring.needed_channels_are_present,
    wiring.needed_outputs_are_present,
    wiring.kinds_fit_their_channels,
    wiring.no_pin_is_used_twice,
    wiring.bus_clear_has_both_wires,
    wiring.no_converter_input_is_used_twice,
    wiring.relays_stay_open_while_the_computer_boots,
    scan.every_reading_comes_in_time,
    ladders.limits_are_in_order,
    ladders.steps_are_wider_than_the_sensors_error,
    reach.limits_lie_within_the_sensors_span,
    reach.limits_are_clear_of_zero,
    reach.differences_are_wider_than_the_sensors_error,
    reach.full_tank_can_be_seen,
    reach.filter_drop_can_be_seen,
    reach.product_meter_sees_too_much_flow,
    water.working_minimum_lies_above_an_open_regulator,
    water.working_minimum_can_be_reached,
    water.unusual_water_has_a_reason,
    sequence.flush_replaces_all_water,
    sequence.flush_leaves_water_in_the_tank,
    sequence.rinse_replaces_all_water,
    flush.automatic_flush_is_watched,
    flush.automatic_flush_is_shut_off_twice,
    flush.automatic_flush_is_small,
    flush.automatic_flush_leaves_the_reserve,
    interlock.interlock_opens_between_trip_and_relief,
    interlock.interlock_has_a_chip_of_its_own,
    interlock.interlock_sees_the_pressure,
    interlock.interlock_is_seen,
)

ABOARD: tuple[Callable[[Settings], Iterator[Finding]], ...] = (
    people.nothing_is_off_without_a_reason,
    people.a_long_run_of_the_motor_has_a_reason,
)
"""What is asked of a real plant only: a simulated one hurts nobody."""

SENSOR_CHECKS: tuple[Callable[[str, Input], Iterator[Finding]], ...] = (
    sensors.span_has_two_ends,
    sensors.span_is_of_this_world,
    sensors.error_is_a_small_part_of_the_span,
    sensors.sensor_admits_an_error,
    sensors.signal_is_neither_clipped_nor_too_high,
    sensors.signal_changes_over_the_span,
    sensors.supply_input_is_complete,
    sensors.thermistor_coefficients_agree,
    sensors.tank_shape_rises,
    sensors.pulses_can_be_counted,
)

REPORT_CHECKS: tuple[Callable[[ReportSettings], Iterator[Finding]], ...] = (
    report.an_address_is_given,
    report.host_names_are_host_names,
    report.certificate_and_key_go_together,
    report.files_for_tls_are_used,
    report.broker_is_named,
    report.topics_can_be_published,
    report.commands_may_come_from_a_broker,
)


def settings_findings(settings: Settings, *, complete: bool, simulated: bool) -> list[Finding]:
    """What does not fit together. `complete` is false while some fields could not be read."""
    checks = CHECKS if simulated else (*CHECKS, *ABOARD)
    hardware = SIMULATED_HARDWARE if simulated else HARDWARE
    general = chain.from_iterable(_run(check(settings), complete) for check in checks)
    short = chain.from_iterable(_run(row.shortfalls(settings, hardware), complete) for row in PROTECTIONS)
    single = (
        _run(check(channel, sensor), complete) for channel, sensor in settings.inputs.items() for check in SENSOR_CHECKS
    )
    return [*general, *strictest(short), *chain.from_iterable(single)]


def report_findings(settings: ReportSettings, complete: bool) -> list[Finding]:
    """What does not fit together in report's tables."""
    return list(chain.from_iterable(_run(check(settings), complete) for check in REPORT_CHECKS))


def _run(findings: Iterator[T], complete: bool) -> Iterator[T]:
    try:
        yield from findings
    except AttributeError:
        # Only an unset field may end a check early; in whole settings it is a mistake of the check itself.
        if complete:
            raise
