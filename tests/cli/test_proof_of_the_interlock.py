"""`halocline check --proof-interlock`: what a person reads who proves the comparator interlock."""

import pytest
from miswired import Boat

from halocline.app import boards
from halocline.app.locks import only_one
from halocline_hw import registers

INTERLOCK = "address = 0x4a\nopens_bar = 66"
CHIP = 0x4A


@pytest.fixture
def boat():
    return Boat(interlock=INTERLOCK)


@pytest.fixture
def prove(type_in, folder, monkeypatch):
    """The command on a boat's board: exit status and what it says below the configuration's own lines."""

    def run(boat, *options):
        monkeypatch.setattr(boards, "open_raspberry_pi", boat.open)
        monkeypatch.setattr(boards, "RealClock", lambda: boat.clock)
        (folder / "halocline.toml").write_text(boat.says)
        arguments = options or ("--proof-interlock",)
        status, out, err = type_in("check", "--config", folder / "halocline.toml", "--data", folder, *arguments)
        assert err == []
        return status, out

    return run


def test_a_good_one_is_told_step_by_step(prove, boat):
    status, said = prove(boat)
    assert status == 0
    assert said == [
        "Proof test of the comparator interlock: chip 0x4a, opens above 66 bar.",
        "  Window lowered below the signal: the circuit opened after 3 ms and stayed open.",
        "  Window restored and read back: opens above 66 bar. Latch released: the circuit closed.",
        "Passed. Write it down with date and initials; the time-out relay waits for its button.",
    ]
    assert not boat.far.interlock_open()
    assert not list(boat.far.pins.ever_energised())


def test_the_window_in_the_chip_is_the_configurations_afterwards(prove, boat):
    prove(boat)
    chip = boat.far.chips[CHIP]
    chip.write(bytes([registers.HI_THRESH]))
    assert chip.read() == round((0.004 + 0.016 * 0.66) * 150 / 4.096 * 32768)


def test_a_relay_that_does_nothing_fails(prove, boat):
    boat.relay = lambda _interlock_open: lambda: False
    status, said = prove(boat)
    assert (status, said[-1]) == (
        1,
        "Not proved: interlock ADC 0x4a did not open its circuit: check the ALERT wire and the relay.",
    )


def test_a_circuit_that_is_open_to_begin_with_fails(prove, boat):
    boat.relay = lambda _interlock_open: lambda: True
    status, said = prove(boat)
    assert (status, said[-1]) == (
        1,
        "Not proved: interlock ADC 0x4a is open already: release it before the proof test.",
    )


def test_a_dead_chip_fails(prove, boat):
    boat.breaks("adc_missing", CHIP)
    status, said = prove(boat)
    assert (status, said[-1]) == (1, "Not proved: nothing acknowledges I2C address 0x4a.")


def test_under_pressure_nothing_is_tried(prove, boat):
    boat.put((0x48, 0), (0.004 + 0.016 * 0.30) * 150)
    status, said = prove(boat)
    assert (status, said[-1]) == (
        1,
        "Not proved: there are 30.0 bar at the membrane: a pump runs, or the regulator is shut.",
    )


def test_without_knowing_the_pressure_nothing_is_tried(prove, boat):
    boat.put((0x48, 0), 0.0)
    status, said = prove(boat)
    assert (status, said[-1]) == (
        1,
        "Not proved: membrane pressure cannot be read, so nobody knows whether the plant is at rest.",
    )


def test_while_control_runs_the_bus_is_its_own(prove, boat, control):
    status, said = prove(boat)
    assert control.heard.empty()
    assert boat.opened == 0
    assert (status, said[-1]) == (
        1,
        "Not proved: control is running and holds the bus. Stop it with the plant at rest, then try again.",
    )


def test_a_control_that_is_just_starting_keeps_it_too(prove, boat, folder):
    with only_one(folder / "control.lock", "control"):
        status, said = prove(boat)
    assert status == 1
    assert said[-1].startswith("Not proved: another control already runs on ")
    assert boat.opened == 0


def test_a_boat_without_one_has_nothing_to_prove(prove):
    status, said = prove(Boat())
    assert (status, said) == (1, ["This configuration has no [interlock]: there is nothing to prove."])


def test_a_check_of_a_healthy_boat_finds_its_pressure_switch_closed(prove, boat, folder):
    status, said = prove(boat, "--data", folder)
    assert (status, said[-1]) == (0, "1 warning.")
    (warning,) = (line for line in said if line.startswith("warning"))
    assert warning.startswith("warning   Configuration: Still as the example has it")
    assert "            pressure switch: at rest (circuit closed)" in said
    assert "            interlock: chip 0x4a holds its window, opens above 66 bar" in said
    boat.breaks("adc_missing", CHIP)
    status, said = prove(boat, "--data", folder)
    told = [line for line in said if line.startswith("problem")]
    assert status == 1
    assert told[0] == (
        "problem   Sensors: The interlock's chip at 0x4a does not hold its window. Look at its plug and its supply, "
        "and whether its ADDR pin is tied as configured."
    )
