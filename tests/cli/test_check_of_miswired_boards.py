"""`halocline check` with control stopped, on boards wired wrongly as boards are: what it says, word by word."""

import re

import pytest
from miswired import SUPPLY_V, Boat

from halocline.app import boards
from halocline.app.locks import only_one
from halocline.plant import words
from halocline.plant.words.wiring_texts import WIRING_TEXTS

RATIOMETRIC = (
    'kind = "ratiometric"\naddress = 0x4a\nmux = 0\nlow = 0\nhigh = 100\nerror = 0.5\nsupply_mux = 1\ndivider = 1.6'
)


def with_brine_pressure():
    """A third chip with a ratiometric sensor and its supply."""
    return Boat(inputs__brine_pressure=RATIOMETRIC)


def scaled(address, mux, factor):
    return lambda volts, t_s: factor * volts(address, mux, t_s)


# ---- the mistakes ----------------------------------------------------------------------------------


def loop_wire_off(boat):
    boat.put((0x48, 2), 0.0)


def loop_wire_on_the_supply(boat):
    boat.put((0x48, 0), SUPPLY_V)


def two_wires_exchanged(boat):
    boat.exchange((0x48, 0), (0x48, 1))


def a_loop_and_a_thermistor_exchanged(boat):
    boat.exchange((0x48, 2), (0x48, 3))


def both_chips_tied_to_each_others_address(boat):
    boat.ties = {0x48: 0x49, 0x49: 0x48}


def a_wire_on_a_free_input(boat):
    boat.put((0x4A, 0), 0.0)
    boat.inputs[0x4A, 3] = scaled(0x4A, 0, 1.0)


def a_chip_unplugged(boat):
    boat.breaks("adc_missing", 0x49)


def no_supply_for_the_chips(boat):
    boat.breaks("adc_missing", 0x48)
    boat.breaks("adc_missing", 0x49)


def address_pin_tied_elsewhere(boat):
    boat.fitted = boat.fitted.replace("0x49", "0x4b")


def data_line_on_ground(boat):
    boat.breaks("i2c_stuck", 0x48)


def a_chip_that_hangs(boat):
    boat.breaks("adc_hang", 0x49)


def shunt_too_large(boat):
    boat.inputs[0x48, 0] = scaled(0x48, 0, 250 / 150)


def shunt_too_small_on_a_sender_with_suction(boat):
    boat.inputs[0x48, 1] = scaled(0x48, 1, 100 / 150)


def divider_too_large(boat):
    boat.inputs[0x49, 1] = scaled(0x49, 1, 5 / 11)


def sensor_supply_missing(boat):
    boat.put((0x4A, 0), 0.0)
    boat.put((0x4A, 1), 0.0)


def ratiometric_signal_off(boat):
    boat.put((0x4A, 0), 0.0)


def thermistor_unplugged(boat):
    boat.put((0x48, 3), SUPPLY_V)


def thermistor_in_salt_water(boat):
    boat.put((0x48, 3), 0.004)


def sender_of_the_other_standard(boat):
    boat.put((0x49, 3), SUPPLY_V * 240 / (240 + 220))


def plus_and_minus_exchanged(boat):
    boat.put((0x49, 2), -0.2)


def bilge_sensor_that_closes_when_wet(boat):
    boat.contacts["bilge_wet"] = False


def pressure_switch_wire_off(boat):
    boat.contacts["pressure_switch"] = False


def diverter_contacts_exchanged(boat):
    boat.contacts |= {"diverter_at_tank": False, "diverter_overboard": True}


def diverter_contacts_that_close_at_the_ends(boat):
    boat.contacts |= {"diverter_at_tank": True, "diverter_overboard": True}


def diverter_plug_off(boat):
    boat.contacts |= {"diverter_at_tank": False, "diverter_overboard": False}


def pulse_wire_that_picks_up_the_mains(boat):
    boat.noise_hz["product_flow"] = 50.0


def pulse_wire_beside_a_radio(boat):
    boat.noise_hz["product_flow"] = 2000.0


MISTAKES = [
    (
        loop_wire_off,
        "Product conductivity: 0 mA in the loop, a sound one never falls below 3.6 mA. Look for a loose plug, plus and "
        "minus exchanged, or a sensor without supply (chip 0x48, input 2).",
    ),
    (
        loop_wire_on_the_supply,
        "Membrane pressure: more than 21 mA (3.3 V at chip 0x48, input 0). The signal wire touches the supply, or the "
        "shunt is missing or too large.",
    ),
    (
        two_wires_exchanged,
        "Membrane pressure and pump inlet pressure fit only the other way round. Exchange their wires: chip 0x48, "
        "input 0, and chip 0x48, input 1.",
    ),
    (
        a_loop_and_a_thermistor_exchanged,
        "Sea temperature: 0.62 V at chip 0x48, input 3, which cannot be. It would fit with its wire exchanged with "
        "that of one of these: product conductivity, battery current.",
    ),
    (
        both_chips_tied_to_each_others_address,
        "The values of chips 0x48 and 0x49 fit only the other way round. Exchange their plugs, or the wires of their "
        "ADDR pins.",
    ),
    (
        a_wire_on_a_free_input,
        "Brine pressure: nothing at its own input 0, but a fitting signal at input 3 of chip 0x4a, where nothing is "
        "configured. Move the wire, or correct the configuration.",
    ),
    (
        a_chip_unplugged,
        "Chip 0x49 does not answer. Look at its plug and its supply; ADDR to ground is 0x48, to 3.3 V 0x49, to data "
        "0x4a, to clock 0x4b.",
    ),
    (
        no_supply_for_the_chips,
        "No converter chip answers. Look at the chips' 3.3 V and ground first, then whether data and clock are "
        "exchanged.",
    ),
    (
        address_pin_tied_elsewhere,
        "Chip 0x49 does not answer, but one nobody configured does at 0x4b. Tie its ADDR pin as meant, or correct the "
        "address in the configuration.",
    ),
    (
        data_line_on_ground,
        "No chip answers: a wire of the I2C bus is held low. Pull the chips' plugs one by one until the others answer; "
        "then look for data or clock touching ground.",
    ),
    (
        a_chip_that_hangs,
        "Chip 0x49 answers but finishes no conversion. Switch its supply off and on; if that does not help, change it.",
    ),
    (
        shunt_too_large,
        "Membrane pressure shows 16.7 bar at rest, as a shunt of 250 Ω would in place of 150 Ω. Measure it; fit the "
        "right one, or write down the one that is fitted.",
    ),
    (
        shunt_too_small_on_a_sender_with_suction,
        "Pump inlet pressure shows -0.75 bar at rest, as a shunt of 100 Ω would in place of 150 Ω. Measure it; fit the "
        "right one, or write down the one that is fitted.",
    ),
    (
        divider_too_large,
        "Battery voltage shows 6 V at rest, which cannot be. Compare with a multimeter; if that reads otherwise, the "
        "divider is not 5:1.",
    ),
    (
        sensor_supply_missing,
        "Brine pressure: its sensor's supply is 0 V, it should be 5 V. Look at the fuse, the regulator and the ground "
        "of that supply.",
    ),
    (
        ratiometric_signal_off,
        "Brine pressure: 0 V at chip 0x4a, input 0: no signal. Look for a loose plug, a sensor without supply, or a "
        "signal wire on ground.",
    ),
    (
        thermistor_unplugged,
        "Sea temperature: no current through the sensor. Look for a loose plug or a broken wire (chip 0x48, input 3).",
    ),
    (
        thermistor_in_salt_water,
        "Sea temperature: 0 V at chip 0x48, input 3, almost ground. The wires touch each other or salt water, or the "
        "resistor to 3.3 V is missing.",
    ),
    (
        sender_of_the_other_standard,
        "Tank level: beyond the sender's full end. Compare with the tank; if it is not full, the sender has another "
        "standard than configured.",
    ),
    (
        plus_and_minus_exchanged,
        "Battery current: -0.2 V at chip 0x49, input 2, below ground. Plus and minus are exchanged: unplug it now, the "
        "chip does not stand this for long.",
    ),
    (
        bilge_sensor_that_closes_when_wet,
        "The bilge sensor reads wet. If the bilge is dry, a wire is off, or the sensor closes when wet where it must "
        "open.",
    ),
    (
        pressure_switch_wire_off,
        "The pressure switch reads open without pressure. A wire is off, it was not re-armed, or its contact closes "
        "with pressure where it must open.",
    ),
    (
        diverter_contacts_exchanged,
        "The diverter's end contacts say it stands at the tank. If it stands overboard, their two wires are exchanged; "
        "if not, turn it overboard.",
    ),
    (
        diverter_contacts_that_close_at_the_ends,
        "Neither end contact of the diverter is open: it stands half-way, or the contacts close where they should "
        "open.",
    ),
    (
        diverter_plug_off,
        "Both end contacts of the diverter are open, which cannot be. A wire is off, or the plug of both.",
    ),
    (
        pulse_wire_that_picks_up_the_mains,
        "Product flow: 50 Hz with nothing running. If no water moves, the wire picks up noise or floats: look at its "
        "screen and its ground.",
    ),
    (
        pulse_wire_beside_a_radio,
        "Product flow: 200 Hz, faster than the meter can turn. Noise: screen the wire, keep it away from the motors, "
        "look at the pull-up.",
    ),
]
"""Each mistake and all that `check` says to put right: one cause, one line."""

ON_A_THIRD_CHIP = (a_wire_on_a_free_input, sensor_supply_missing, ratiometric_signal_off)


FITS = "OK        Sensors: Every sensor answers."
NOT_LOOKED = "not seen  Sensors: The wiring was not looked at: "
PROBLEM = "problem   Sensors: "


def problems(out):
    """What is to be put right at the sensors."""
    return [line.removeprefix(PROBLEM) for line in out if line.startswith(PROBLEM)]


@pytest.fixture
def check(type_in, folder, monkeypatch):
    """`halocline check` on a boat's board: exit status and lines."""

    def run(boat):
        monkeypatch.setattr(boards, "open_raspberry_pi", boat.open)
        monkeypatch.setattr(boards, "RealClock", lambda: boat.clock)
        (folder / "halocline.toml").write_text(boat.says)
        status, out, err = type_in("check", "--config", folder / "halocline.toml", "--data", folder)
        assert err == []
        return status, out

    return run


@pytest.mark.parametrize(("mistake", "said"), MISTAKES, ids=[mistake.__name__ for mistake, _ in MISTAKES])
def test_a_mistake_is_told_once_with_where_to_look(check, mistake, said):
    boat = with_brine_pressure() if mistake in ON_A_THIRD_CHIP else Boat()
    mistake(boat)
    status, out = check(boat)
    assert status == 1
    assert problems(out) == [said]
    assert FITS not in out


@pytest.mark.parametrize("boat", [Boat, with_brine_pressure], ids=["two chips", "three chips"])
def test_a_rightly_wired_board_has_every_value_with_what_was_measured(check, boat):
    status, out = check(boat())
    assert status == 0
    assert FITS in out
    assert any(
        line.startswith("OK        Sensors: No control is running: looked at the wiring directly,") for line in out
    )
    # The seeded noise is some hundredths of a bar.
    assert any(re.fullmatch(r" {12}membrane pressure: -?0(\.0\d)? bar \(measured 0\.600 V\)", line) for line in out)
    assert "            product flow: 0 L/h (measured 0.0 Hz)" in out
    assert "            diverter at the overboard end: active (circuit open)" in out


def test_two_mistakes_are_two_lines_and_the_chip_comes_first(check):
    boat = Boat()
    bilge_sensor_that_closes_when_wet(boat)
    a_chip_unplugged(boat)
    thermistor_unplugged(boat)
    status, out = check(boat)
    told = [said.split(".")[0].split(":")[0] for said in problems(out)]
    assert status == 1
    assert out[-1].startswith("3 problems")
    assert told == ["Chip 0x49 does not answer", "Sea temperature", "The bilge sensor reads wet"]


def test_a_board_that_closes_its_relays_on_a_low_level_is_refused_before_it_is_opened(check):
    boat = Boat()
    boat.write(outputs__buzzer="pin = 24\nactive_high = false")
    status, out = check(boat)
    assert status == 2
    assert "outputs.buzzer.active_high: found false; allowed: true, or accept_active_low = true as well;" in out[0]
    assert out[0].endswith("these close their relay while the computer boots or is off")
    assert boat.opened == 0


def test_looking_leaves_every_output_released(check):
    boat = Boat()
    check(boat)
    assert boat.opened == 1
    assert not list(boat.far.pins.ever_energised())


def test_a_control_that_just_starts_keeps_its_bus_for_itself(check, folder):
    boat = Boat()
    with only_one(folder / "control.lock", "control"):
        status, out = check(boat)
    assert status == 0
    assert any(line.startswith(f"{NOT_LOOKED}another control already runs on ") for line in out)
    assert boat.opened == 0


def test_a_computer_without_pins_still_checks_the_file(type_in, folder, monkeypatch):
    def no_pins(_wiring, _clock):
        raise OSError(19, "no GPIO chip of a Raspberry Pi's header")

    monkeypatch.setattr(boards, "open_raspberry_pi", no_pins)
    (folder / "halocline.toml").write_text(Boat().says)
    status, out, _ = type_in("check", "--config", folder / "halocline.toml", "--data", folder)
    assert status == 0
    assert f"{NOT_LOOKED}no GPIO chip of a Raspberry Pi's header" in out


@pytest.mark.parametrize("identifier", sorted(WIRING_TEXTS))
def test_a_line_without_its_numbers_is_still_a_line(identifier):
    line = words.reason({"id": identifier, "values": {}})
    assert line[0].isupper()
    assert line.endswith((".", "…"))
    assert not re.search(r"[{}\[\]]", line)
    assert len(line) <= 220
