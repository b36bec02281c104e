"""Volts from every kind of sensor, checked against the sensor's own data sheet formula."""

import math
from dataclasses import replace

import pytest

from halocline.plant.sensors import CurrentLoop, Pulses, Ratiometric, ResistiveSender, Thermistor, Voltage
from halocline.simulation.voltages import encoder, thermistor_ohm

WHERE = {"address": 0x48, "mux": 0, "error": 0.1}


def test_a_current_loop_gives_four_to_twenty_milliamperes_over_its_shunt():
    volts = encoder(CurrentLoop(low=0, high=100, shunt_ohm=150, **WHERE), 1.0)
    assert volts(0) == pytest.approx(0.600)
    assert volts(50) == pytest.approx(1.800)
    assert volts(100) == pytest.approx(3.000)


def test_a_current_loop_saturates_where_namur_ne_43_lets_it():
    volts = encoder(CurrentLoop(low=0, high=100, shunt_ohm=150, **WHERE), 1.0)
    assert volts(-50) == pytest.approx(0.570)  # 3.8 mA
    assert volts(500) == pytest.approx(3.075)  # 20.5 mA


def test_a_ratiometric_sensor_follows_its_supply():
    sensor = Ratiometric(low=0, high=10, divider=2.0, **WHERE)
    assert encoder(sensor, 1.0)(5) == pytest.approx(1.25)
    assert encoder(sensor, 0.98)(5) == pytest.approx(1.225)


def test_a_plain_voltage_goes_through_its_divider():
    volts = encoder(Voltage(low=-200, high=200, volts_low=0.5, volts_high=4.5, divider=1.5, **WHERE), 1.0)
    assert volts(0) == pytest.approx(2.5 / 1.5)
    assert volts(-200) == pytest.approx(0.5 / 1.5)


@pytest.mark.parametrize(
    ("temperature_c", "ohm"),
    # 10 kΩ, beta 3950 K: tables of such thermistors, within the rounding of their beta
    [(0.0, 33_621.0), (10.0, 20_175.0), (25.0, 10_000.0), (30.0, 8_037.0), (50.0, 3_588.0)],
)
def test_a_thermistor_by_its_beta(temperature_c, ohm):
    sensor = Thermistor(low=-2, high=60, **WHERE)
    assert thermistor_ohm(sensor, temperature_c) == pytest.approx(ohm, rel=1e-4)
    assert encoder(sensor, 1.0)(temperature_c) == pytest.approx(3.3 * ohm / (ohm + 10_000.0), rel=1e-4)


@pytest.mark.parametrize(
    ("temperature_c", "ohm"), [(0.0, 32_650.0), (25.0, 10_000.0), (50.0, 3_603.0), (16.0, 15_000.0)]
)
def test_a_thermistor_by_its_steinhart_hart_coefficients(temperature_c, ohm):
    # coefficients through 32650 Ω at 0 °C, 10000 Ω at 25 °C, 3603 Ω at 50 °C (from memory)
    sensor = Thermistor(low=-2, high=60, steinhart_hart=(1.1252567e-3, 2.3472045e-4, 8.5630527e-8), **WHERE)
    assert thermistor_ohm(sensor, temperature_c) == pytest.approx(ohm, rel=1e-3)


def test_a_tank_sender_european_and_american():
    european = encoder(ResistiveSender(low=0, high=100, empty_ohm=10, full_ohm=180, **WHERE), 1.0)
    american = encoder(ResistiveSender(low=0, high=100, empty_ohm=240, full_ohm=33, **WHERE), 1.0)
    assert european(0) == pytest.approx(3.3 * 10 / 230)
    assert european(100) == pytest.approx(3.3 * 180 / 400)
    assert american(0) > american(100)


def test_a_tank_that_is_no_box_reads_through_its_table():
    shaped = ResistiveSender(low=0, high=100, empty_ohm=0, full_ohm=200, shape=((0.5, 0.25),), **WHERE)
    volts = encoder(shaped, 1.0)
    assert volts(25) == pytest.approx(3.3 * 100 / 320)  # a quarter of the water stands half way up
    assert volts(62.5) == pytest.approx(3.3 * 150 / 370)


def test_a_meter_gives_no_volts():
    with pytest.raises(ValueError, match="a sensor of kind 'pulses' gives no volts"):
        encoder(Pulses(pin=4, pulses_per_l=450, high=100), 1.0)


def everything(demo):
    spare = iter([(0x4A, mux) for mux in range(4)] + [(0x4B, mux) for mux in range(4)])

    def voltage(high):
        address, mux = next(spare)
        return Voltage(address=address, mux=mux, low=0, high=high, error=0.1, volts_low=0, volts_high=3)

    added = {
        "brine_pressure": voltage(100),
        "product_pressure": voltage(5),
        "battery_charge_percent": voltage(100),
        "motor_current": voltage(20),
        "pump_motor_temperature": voltage(120),
        "brine_flow": Pulses(pin=4, pulses_per_l=450, high=600),
    }
    return replace(demo, inputs={**demo.inputs, **added})


def test_optional_channels_tell_the_truth_where_they_are_fitted(rig, demo):
    boat = rig(everything(demo)).produce()
    truth = boat.truth
    assert boat.value("brine_pressure") == pytest.approx(truth.brine_pressure_bar, abs=0.05)
    assert boat.value("brine_pressure") < truth.vessel_pressure_bar - 0.1
    assert boat.value("product_pressure") == pytest.approx(truth.product_pressure_bar, abs=0.005)
    assert boat.value("battery_charge_percent") == pytest.approx(truth.battery_charge_percent, abs=0.1)
    assert boat.value("motor_current") == pytest.approx(1310.0 / 230.0, rel=0.02)
    assert boat.value("pump_motor_temperature") == pytest.approx(truth.pump_motor_temperature_c, abs=0.1)
    assert boat.flow("brine_flow") == pytest.approx(truth.brine_flow_l_h, rel=0.01)


def test_the_demos_own_channels_tell_the_truth(producing):
    truth = producing.truth
    assert producing.value("vessel_pressure") == pytest.approx(truth.vessel_pressure_bar, abs=0.02)
    assert producing.value("feed_pressure") == pytest.approx(truth.feed_pressure_bar, abs=0.002)
    assert producing.value("filter_inlet_pressure") == pytest.approx(truth.filter_inlet_pressure_bar, abs=0.002)
    assert producing.value("battery_voltage") == pytest.approx(truth.battery_v, abs=0.01)
    assert producing.value("battery_current") == pytest.approx(truth.battery_current_a, abs=0.2)
    assert producing.flow("product_flow", 20.0) == pytest.approx(truth.product_flow_l_h, rel=0.005)
    ohm = 10_000.0 * producing.volts("sea_temperature") / (3.3 - producing.volts("sea_temperature"))
    kelvin = 1.0 / (1.0 / 298.15 + math.log(ohm / 10_000.0) / 3950.0)
    assert kelvin - 273.15 == pytest.approx(22.0, abs=0.05)


def test_product_conductivity_is_raw_unless_the_transmitter_compensates(rig, demo):
    sensor = replace(demo.inputs["product_conductivity"], compensation="done", high=5000)
    done = rig(replace(demo, inputs={**demo.inputs, "product_conductivity": sensor})).produce()
    raw_sensor = replace(sensor, compensation="nacl")
    raw = rig(replace(demo, inputs={**demo.inputs, "product_conductivity": raw_sensor})).produce()
    at_25c = done.value("product_conductivity")
    # 332.8 mg/L of sodium chloride have 685 µS/cm at 25 °C (Onsager's law); 2.0 %/K less at 22 °C
    assert at_25c == pytest.approx(685.0, rel=0.01)
    assert raw.value("product_conductivity") == pytest.approx(at_25c * (1 - 3 * 0.0207), rel=0.005)


def test_sea_water_at_the_cell_saturates_the_transmitter(producing):
    producing.inject("hoses_swapped").run(60.0)
    assert producing.volts("product_conductivity") == pytest.approx(20.5e-3 * 150, abs=0.001)


def test_the_supply_of_a_ratiometric_sensor_is_on_its_own_input(rig, demo):
    sensor = Ratiometric(address=0x4A, mux=0, low=0, high=5, error=0.1, divider=2.0, supply_address=0x4A, supply_mux=1)
    boat = rig(replace(demo, inputs={**demo.inputs, "product_pressure": sensor}), sensor_supply_v=0.97)
    supply = sum(boat.sea.volts(0x4A, 1, boat.now) for _ in range(400)) / 400
    assert supply == pytest.approx(5.0 * 0.97 / 2.0, abs=0.001)
    assert boat.volts("product_pressure") / supply == pytest.approx(0.1, abs=0.001)


def test_an_input_with_nothing_on_it_sees_noise_around_nothing(rig):
    boat = rig()
    seen = [boat.sea.volts(0x4B, 3, 0.0) for _ in range(50)]
    assert max(map(abs, seen)) < 0.005
    assert len(set(seen)) == 50


def test_pulses_carry_the_time_of_the_last_one(producing):
    sea = producing.sea
    count, last_s = sea.edges("product_flow", producing.now)
    period_s = 3600.0 / 2200.0 / producing.truth.product_flow_l_h
    assert 0.0 <= producing.now - last_s <= period_s
    later = producing.now + 0.9 * period_s + last_s - producing.now
    assert sea.edges("product_flow", max(producing.now, later))[0] in (count, count + 1)
    producing.now = last_s + 1.5 * period_s
    again, at_s = sea.edges("product_flow", producing.now)
    assert again == count + 1
    assert at_s == pytest.approx(last_s + period_s, abs=1e-6)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda sea: sea.edges("tank_fill", 0.0),
            "no meter is called 'tank_fill'; there are product_flow, flush_flow",
        ),
        (lambda sea: sea.contact_closed("doorbell", 0.0), "no contact is called 'doorbell'"),
        (lambda sea: sea.set_output("siren", True, 0.0), "no output is called 'siren'; there are feed_pump"),
        (lambda sea: sea.ask("sing", 0.0), "nobody can be asked to 'sing'; there are open_regulator"),
    ],
)
def test_lines_the_boat_does_not_have_are_refused(rig, call, text):
    with pytest.raises(ValueError, match=text):
        call(rig().sea)
