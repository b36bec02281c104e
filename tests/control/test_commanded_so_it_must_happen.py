"""This was commanded, so that must happen within T: each such protection, its row, and the scenario that shows it."""

from pathlib import Path

import pytest

from halocline.plant.alarms import DEFINITIONS
from halocline.rehearsal.scenario import load

REHEARSALS = Path(__file__).parents[1] / "rehearsals"

MUST_HAPPEN = {
    "feed pressure after the feed pump": ("feed_pressure_not_reached", "feed_pump_dead_at_the_start"),
    "pressure after the pump is on": ("vessel_pressure_not_reached", "high_pressure_pump_dead_at_the_start"),
    "pressure after the pump, regulator left set": ("vessel_pressure_not_reached", "regulator_left_set_pump_dead"),
    "no pressure at once with an open regulator": ("regulator_closed", "regulator_left_at_working_pressure"),
    "pressure stays while the pump is on": ("vessel_pressure_lost", "high_pressure_pump_dies"),
    "pressure falls after the pump is off": ("pressure_not_released", "pump_relay_welds"),
    "product flows after pressure": ("product_flow_missing", "product_line_closed_at_the_start"),
    "flow goes on while there is pressure": ("product_flow_missing", "product_meter_loses_its_pulses"),
    "the diverter moves when told": ("output_disagrees", "diverter_stuck_overboard"),
    "salt falls after the first water": ("quality_not_reached", "membrane_leaks_a_little"),
    "fresh water after the flush valve": ("flush_failed", "flush_water_runs_out"),
    "the flush valve opens when told": ("flush_failed", "flush_valve_does_not_open"),
    "no flow in the flush line while its valve is shut": ("flush_valve_leaking", "flush_valve_leaks_at_rest"),
}


@pytest.mark.parametrize("what", MUST_HAPPEN)
def test_each_has_its_row_and_a_scenario_that_expects_it(what):
    row, scenario = MUST_HAPPEN[what]
    assert row in DEFINITIONS
    expected = [
        value
        for expectation in load(REHEARSALS / f"{scenario}.toml").expectations
        for key, value in expectation.conditions.items()
        if key in ("first_out", "alarm") and expectation.when != "never"
    ]
    assert row in expected, expected
