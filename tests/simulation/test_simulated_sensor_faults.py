"""Sensors that lie, break or fall silent, and chips that do: each does what it says and can be cleared."""

import statistics
from dataclasses import replace

import pytest

from halocline.plant import words
from halocline.simulation.faults import FAULTS

LSB_V = 4.096 / 32768


def conversions(rig, channel, count=200):
    sensor = rig.settings.inputs[channel]
    return [rig.sea.volts(sensor.address, sensor.mux, rig.now) for _ in range(count)]


@pytest.mark.parametrize(
    "channel",
    [
        "vessel_pressure",
        "feed_pressure",
        "product_conductivity",
        "sea_temperature",
        "filter_inlet_pressure",
        "battery_voltage",
        "battery_current",
        "tank_fill",
    ],
)
def test_every_analogue_channel_is_noisy_by_more_than_two_steps_of_the_converter(rig, channel):
    spread = statistics.stdev(conversions(rig().run(1.0), channel))
    assert 2.0 * LSB_V < spread < 10.0 * LSB_V


@pytest.mark.parametrize(
    ("channel", "open_v", "short_v"),
    [
        ("vessel_pressure", (-0.01, 0.01), (3.15, 3.6)),
        ("product_conductivity", (-0.01, 0.01), (3.15, 3.6)),
        ("sea_temperature", (3.29, 3.31), (-0.01, 0.01)),
        ("tank_fill", (3.29, 3.31), (-0.01, 0.01)),
    ],
)
def test_broken_and_shorted_wires(rig, channel, open_v, short_v):
    boat = rig().run(1.0)
    healthy = boat.volts(channel)
    low, high = open_v
    assert low < boat.inject("sensor_open", channel=channel).volts(channel) < high
    boat.clear("sensor_open", channel=channel)
    low, high = short_v
    assert low < boat.inject("sensor_short", channel=channel).volts(channel) < high
    boat.clear("sensor_short", channel=channel)
    assert boat.volts(channel) == pytest.approx(healthy, abs=0.001)


def test_a_battery_tap_short_reads_above_all_it_could_mean(rig):
    boat = rig().inject("sensor_short", channel="battery_voltage")
    assert boat.value("battery_voltage") > 16.0
    assert boat.clear("sensor_short", channel="battery_voltage").value("battery_voltage") < 14.0


def test_a_stuck_sensor_repeats_its_last_volts_exactly(producing):
    producing.inject("sensor_stuck", channel="vessel_pressure")
    stuck = set(conversions(producing, "vessel_pressure"))
    producing.switch(high_pressure_pump=False).run(5.0)
    assert set(conversions(producing, "vessel_pressure")) == stuck
    assert len(stuck) == 1
    producing.clear("sensor_stuck", channel="vessel_pressure")
    assert producing.value("vessel_pressure") < 5.0


def test_a_drifting_sensor_creeps_from_the_moment_it_began(producing):
    producing.inject("sensor_drift", channel="vessel_pressure", per_min=2.0)
    assert producing.value("vessel_pressure") == pytest.approx(55.0, abs=0.1)
    assert producing.run(90.0).value("vessel_pressure") == pytest.approx(58.0, abs=0.1)
    assert producing.truth.vessel_pressure_bar == pytest.approx(55.0, abs=0.1)
    producing.inject("sensor_drift", channel="vessel_pressure", per_min=-2.0)
    assert producing.run(30.0).value("vessel_pressure") == pytest.approx(54.0, abs=0.1)
    producing.clear("sensor_drift")
    assert producing.value("vessel_pressure") == pytest.approx(55.0, abs=0.1)


def test_an_offset_is_in_the_channels_unit(producing):
    producing.inject("sensor_offset", channel="feed_pressure", value=-0.5)
    assert producing.value("feed_pressure") == pytest.approx(1.0, abs=0.01)
    assert producing.clear("sensor_offset").value("feed_pressure") == pytest.approx(1.5, abs=0.01)


def test_a_noisy_sensor(producing):
    producing.inject("sensor_noise", channel="vessel_pressure", sd=2.0)
    bar_per_v = 100.0 / 2.4
    assert statistics.stdev(conversions(producing, "vessel_pressure")) * bar_per_v == pytest.approx(2.0, rel=0.2)
    producing.clear("sensor_noise")
    assert statistics.stdev(conversions(producing, "vessel_pressure")) * bar_per_v < 0.1


def test_a_delayed_sensor_shows_the_past(producing):
    producing.inject("sensor_delayed", channel="vessel_pressure", seconds=10).run(2.0)
    producing.switch(high_pressure_pump=False).run(8.0)
    assert producing.value("vessel_pressure") == pytest.approx(55.0, abs=0.3)
    assert producing.run(4.0).value("vessel_pressure") < 10.0
    producing.switch(high_pressure_pump=True).run(5.0).clear("sensor_delayed")
    assert producing.value("vessel_pressure") == pytest.approx(55.0, abs=0.5)


def test_a_loose_wire_is_open_for_its_fraction_of_the_time(producing):
    producing.inject("sensor_intermittent", channel="vessel_pressure", fraction=0.3)
    sensor = producing.settings.inputs["vessel_pressure"]
    seen = []
    for _ in range(600):
        producing.run(0.1)
        seen.append(producing.sea.volts(sensor.address, sensor.mux, producing.now) < 0.1)
    assert 0.2 < sum(seen) / len(seen) < 0.4
    producing.clear("sensor_intermittent")
    assert min(conversions(producing, "vessel_pressure")) > 1.5


@pytest.mark.parametrize("fault", ["pulses_lost", "sensor_open", "sensor_short"])
def test_a_meter_without_pulses(producing, fault):
    producing.inject(fault, channel="product_flow")
    assert producing.flow("product_flow") == 0.0
    assert producing.truth.product_flow_l_h > 50.0
    producing.clear(fault, channel="product_flow")
    assert producing.flow("product_flow") == pytest.approx(61.3, abs=1.0)


def test_a_stuck_meter_turns_on(producing):
    producing.inject("sensor_stuck", channel="product_flow").switch(high_pressure_pump=False).run(3.0)
    assert producing.flow("product_flow") == pytest.approx(61.3, abs=1.0)
    assert producing.clear("sensor_stuck").flow("product_flow") == 0.0


def test_a_meter_that_is_off(producing):
    producing.inject("sensor_offset", channel="product_flow", value=20.0)
    assert producing.flow("product_flow") == pytest.approx(81.3, abs=1.0)
    producing.clear("sensor_offset")


def test_a_meter_that_lags(producing):
    producing.inject("sensor_delayed", channel="product_flow", seconds=20).run(1.0)
    producing.switch(high_pressure_pump=False)
    assert producing.flow("product_flow", 10.0) == pytest.approx(61.3, abs=1.0)
    assert producing.run(20.0).flow("product_flow") == 0.0


def test_two_faults_of_one_sensor_add_up_and_clear_apart(producing):
    producing.inject("sensor_offset", channel="vessel_pressure", value=5.0)
    producing.inject("sensor_drift", channel="vessel_pressure", per_min=6.0).run(60.0)
    assert producing.value("vessel_pressure") == pytest.approx(66.0, abs=0.2)
    assert producing.clear("sensor_offset").value("vessel_pressure") == pytest.approx(61.0, abs=0.2)
    assert producing.clear("sensor_drift").value("vessel_pressure") == pytest.approx(55.0, abs=0.2)


def test_chip_faults_are_handed_to_the_chips(rig):
    told = []
    boat = rig(options={"on_chip_fault": lambda *what: told.append(what)})
    boat.inject("adc_missing", address=0x48).inject("adc_hang", address=0x48)
    boat.inject("adc_wrong_channel", address="0x49").inject("adc_reset", address=0x49)
    assert boat.sea.chip_faults == {0x48: {"adc_missing", "adc_hang"}, 0x49: {"adc_wrong_channel", "adc_reset"}}
    boat.clear("adc_hang", address=0x48).clear("adc_reset").clear("adc_wrong_channel").clear("adc_missing")
    assert boat.sea.chip_faults == {0x48: set(), 0x49: set()}
    assert told[:2] == [("adc_missing", 0x48, False), ("adc_hang", 0x48, False)]
    assert ("adc_hang", 0x48, True) in told
    assert len(told) == 8


def test_a_stuck_bus_needs_no_address(rig):
    boat = rig().inject("i2c_stuck")
    assert boat.sea.chip_faults == {0x48: {"i2c_stuck"}}
    assert boat.clear("i2c_stuck").sea.chip_faults == {0x48: set()}


@pytest.mark.parametrize(
    ("fault", "arguments", "text"),
    [
        ("bogus", {}, "no fault is called 'bogus'"),
        ("prefilter_cloged", {}, "no fault is called 'prefilter_cloged'; did you mean prefilter_clogged?"),
        ("filter", {}, "no fault is called 'filter'; did you mean prefilter_clogged?"),
        ("pump_dead", {}, "no fault is called 'pump_dead'; did you mean hp_pump_dead or feed_pump_dead?"),
        ("", {}, "no fault is called ''"),
        ("prefilter_clogged", {}, "fault prefilter_clogged needs severity, a number from 0 to 1"),
        (
            "prefilter_clogged",
            {"severity": 1.5},
            "fault prefilter_clogged: severity is 1.5; give a number from 0 to 1",
        ),
        (
            "prefilter_clogged",
            {"severity": float("nan")},
            "fault prefilter_clogged: severity is nan; give a number from 0 to 1",
        ),
        (
            "prefilter_clogged",
            {"severity": True},
            "fault prefilter_clogged: severity is True; give a number from 0 to 1",
        ),
        (
            "prefilter_clogged",
            {"severity": "much"},
            "fault prefilter_clogged: severity is 'much'; give a number from 0 to 1",
        ),
        (
            "brine_blocked",
            {"rate": 1},
            "fault brine_blocked has no argument 'rate'; it takes rate_bar_per_ms",
        ),
        ("seacock_closed", {"severity": 1}, "fault seacock_closed has no argument 'severity'; it takes none"),
        (
            "relay_welded",
            {},
            "fault relay_welded needs output: one of feed_pump, high_pressure_pump, product_to_tank, flush_valve, "
            "buzzer, beacon",
        ),
        (
            "valve_stuck",
            {"output": "flush_valv", "position": "on"},
            "fault valve_stuck: output 'flush_valv' is none of product_to_tank, flush_valve; did you mean flush_valve?",
        ),
        (
            "valve_stuck",
            {"output": "flush_valve"},
            "fault valve_stuck: position is needed: on or off",
        ),
        (
            "valve_stuck",
            {"output": "flush_valve", "position": "ajar"},
            "fault valve_stuck: position is 'ajar'; give on or off",
        ),
        (
            "sensor_offset",
            {"channel": "feed_pressure", "value": float("inf")},
            "fault sensor_offset: value is inf; give a number in the channel's unit",
        ),
        ("pulses_lost", {"channel": "feed_pressure"}, "fault pulses_lost: channel 'feed_pressure' is none of"),
        ("adc_missing", {"address": 0x4A}, "fault adc_missing: address 0x4a is none of 0x48, 0x49"),
        ("adc_missing", {"address": "here"}, "fault adc_missing: address 'here' is none of 0x48, 0x49"),
    ],
)
def test_a_fault_that_cannot_be_is_refused_with_one_line(rig, fault, arguments, text):
    boat = rig()
    with pytest.raises(ValueError, match="fault") as refused:
        boat.inject(fault, **arguments)
    assert str(refused.value).startswith(text)
    assert "\n" not in str(refused.value)
    assert boat.truth.faults == ()


def test_a_position_may_be_a_truth_value(rig):
    boat = rig().inject("valve_stuck", output="product_to_tank", position=True).run(2.0)
    assert boat.truth.diverter_position == 1.0


def test_clearing_what_never_stood_is_no_error(rig):
    assert rig().clear("brine_blocked").clear("sensor_open", channel="tank_fill").truth.faults == ()


def test_a_boat_without_a_channel_cannot_have_its_fault(rig, demo):
    inputs = {name: sensor for name, sensor in demo.inputs.items() if name != "flush_flow"}
    with pytest.raises(ValueError, match="channel 'flush_flow' is none of"):
        rig(replace(demo, inputs=inputs)).inject("sensor_open", channel="flush_flow")


@pytest.mark.parametrize("value", [-1e6, -300.0, 1e6])
def test_a_thermistor_shown_far_beyond_nature_still_gives_volts(rig, value):
    boat = rig().inject("sensor_offset", channel="sea_temperature", value=value).run(1.0)
    assert 0.0 <= boat.volts("sea_temperature") <= 3.3 + 0.01


@pytest.mark.parametrize("fault", FAULTS)
def test_what_is_said_of_a_misspelt_fault_is_never_cut_off(rig, fault):
    with pytest.raises(ValueError, match="no fault is called") as refused:
        rig().inject(fault[:4] + "x")
    said = words.reason({"id": "fault_refused", "values": {"text": str(refused.value)}})
    assert "…" not in said
    assert said.endswith(" (halocline fault lists them all)")
