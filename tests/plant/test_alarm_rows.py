"""What a row of the alarm table says beside its effect: where the page marks it, and which limit sets its delay."""

from dataclasses import replace

import pytest

from halocline.plant.alarms import DEFINITIONS, ROWS, part_of
from halocline.plant.settings import LimitSettings
from halocline.plant.vocabulary import Part


@pytest.mark.parametrize(
    ("alarm", "part"),
    [
        ("feed_pressure_low_low", Part.PUMP_INLET),
        ("filter_drop_high", Part.FILTERS),
        ("vessel_pressure_high_high", Part.MEMBRANE),
        ("water_lost", Part.MEMBRANE),
        ("water_too_warm", Part.SEA),
        ("product_salty", Part.PRODUCT),
        ("quality_lost", Part.PRODUCT),
        ("sensor_fault_vessel_pressure", Part.MEMBRANE),
        ("sensor_fault_pump_motor_temperature", Part.PRESSURE_PUMP),
        ("flush_valve_leaking", Part.FLUSH),
        ("bilge_wet", None),
        ("of_a_later_version", None),
    ],
)
def test_an_alarm_is_marked_at_the_part_it_belongs_to(alarm, part):
    assert part_of(alarm) == part


def test_each_part_of_the_drawing_has_an_alarm():
    assert {row.part for row in ROWS} - {None} == set(Part)


def test_a_delay_that_the_owner_sets_is_the_one_that_counts():
    limits = replace(LimitSettings(), feed_pressure_low_low_s=4.5)
    delays = {row.id: row.delay_under(limits) for row in ROWS}
    assert delays.pop("feed_pressure_low_low") == 4.5
    assert delays == {id_: DEFINITIONS[id_].delay_s for id_ in delays}
