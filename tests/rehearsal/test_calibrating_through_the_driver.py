"""A calibration from the command to the reading: real driver, emulated chips, simulated sensors that are off."""

import tomllib

import pytest

from halocline.rehearsal.scenario import from_document
from halocline.rehearsal.scenario_runner import ScenarioRunner


def played(text):
    stage = ScenarioRunner(from_document(tomllib.loads(text), "play.toml"), seed=1)
    stage.play()
    return stage


def calibrations(stage):
    return [event for event in stage.played.events if event["kind"] == "calibration"]


def shown(stage, channel):
    return stage.core.last.inputs.readings[channel]


AT_REST = """
duration = "40s"
[settings.sequence]
attendance = false
"""


def test_a_sender_that_is_off_reads_right_after_its_zero_was_set_and_its_raw_value_stays_what_it_was():
    off = '[[step]]\nat = "1s"\nfault = "sensor_offset"\nchannel = "feed_pressure"\nvalue = 0.1\n'
    zero = '[[step]]\nat = "20s"\ncommand = "calibrate"\nchannel = "feed_pressure"\npoints = [[0.0]]\ninitials = "MB"\n'
    before, after = played(AT_REST + off), played(AT_REST + off + zero)
    assert shown(before, "feed_pressure").value > 0.08
    assert shown(after, "feed_pressure").value == pytest.approx(0.0, abs=0.02)
    assert shown(after, "feed_pressure").raw == pytest.approx(shown(before, "feed_pressure").raw, abs=0.005)
    (made,) = calibrations(after)
    assert made["after"] == [pytest.approx(0.0)]
    assert made["before"][0] == pytest.approx(shown(before, "feed_pressure").value, abs=0.02)


def test_two_points_set_zero_and_slope_of_what_the_converter_delivers():
    line = (
        '[[step]]\nat = "20s"\ncommand = "calibrate"\nchannel = "battery_voltage"\n'
        'points = [[12.0, 12.2], [14.0, 14.4]]\ninitials = "MB"\n'
    )
    before, after = played(AT_REST), played(AT_REST + line)
    plain = shown(before, "battery_voltage").value
    assert shown(after, "battery_voltage").value == pytest.approx(12.2 + (plain - 12.0) * 1.1, abs=0.05)


RUN = """
duration = "{duration}"
[[step]]
at = "{at}"
command = "start"
litres = 3
"""


def test_a_bucket_test_changes_the_litres_that_go_into_the_tank_not_the_water():
    """A meter whose K-factor is 10 % off counts 10 % off; after the bucket test the same command makes the litres."""
    run = RUN.format(duration="11min", at="40s")
    bucket = (
        '[[step]]\nat = "20s"\ncommand = "calibrate"\nchannel = "product_flow"\npoints = [[9.0, 10.0]]\n'
        'initials = "MB"\n'
    )
    for text, factor in ((run, 1.0), (run + bucket, 0.9)):
        steps = sorted(tomllib.loads(text)["step"], key=lambda step: step["at"] == "40s")
        document = {**tomllib.loads(text), "step": steps}
        stage = ScenarioRunner(from_document(document, "play.toml"), seed=1)
        truth = stage.play()["truth"]
        assert truth["tank_added_l"] == pytest.approx(3.0 * factor, rel=0.03)


def test_a_membrane_calibrated_while_making_water_is_expected_to_do_what_it_does():
    text = """
duration = "14min"
[settings.sequence]
membrane_window_s = "60s"
[[step]]
at = "1s"
fault = "membrane_fouled"
factor = 0.85
[[step]]
at = "5s"
command = "start"
litres = 40
[[step]]
at = "12min"
command = "calibrate"
membrane = true
initials = "MB"
"""
    stage = played(text)
    configured = stage.core.plant.settings.membrane.water_permeability_lmh_bar
    (made,) = calibrations(stage)
    assert made["channel"] == "membrane"
    assert made["water_permeability_lmh_bar"] == pytest.approx(0.85 * configured, rel=0.04)
    now = stage.core.last
    assert now.expectation.flow_l_h == pytest.approx(now.flow_l_h, rel=0.05)
