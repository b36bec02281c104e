"""A wiring that cannot work is refused with every reason in words."""

from dataclasses import replace

import pytest

from halocline_hw import BusClearPins, ContactPin, Interlock, OutputPin, PulsePin, VirtualClock, Wiring
from halocline_hw.emulated import EmulatedBoard

PROBLEMS = [
    (Wiring(adc_addresses=(0x50,)), "ADC address 0x50 does not exist: an ADS1115 answers at 0x48 to 0x4b"),
    (
        Wiring(
            adc_addresses=(0x48,), contacts={"pressure_switch": ContactPin(12)}, interlock=Interlock(0x48, 0, 0.5, 2)
        ),
        "two ADC chips have one address: tie their ADDR pins to different lines",
    ),
    (
        Wiring(interlock=Interlock(0x4B, 0, 0.5, 2.0)),
        "interlock: no contact is wired as pressure_switch, so nobody would see it open",
    ),
    (
        Wiring(contacts={"bilge_wet": ContactPin(28)}),
        "bilge_wet: GPIO 28 does not exist, the header has GPIO 0 to 27",
    ),
    (
        Wiring(pulses={"product_flow": PulsePin(2)}),
        "product_flow: GPIO 2 belongs to the I2C bus, use another",
    ),
    (
        Wiring(outputs={"buzzer": OutputPin(17)}, contacts={"bilge_wet": ContactPin(17)}),
        "bilge_wet: GPIO 17 is already taken by buzzer",
    ),
    (
        Wiring(contacts={"bilge_wet": ContactPin(14)}, bus_clear=BusClearPins(14, 15)),
        "bus clear (SCL): GPIO 14 is already taken by bilge_wet",
    ),
    (
        Wiring(outputs={"feed_pump": OutputPin(5)}),
        "feed_pump: GPIO 5 is pulled up while the computer starts, which could close the relay; use GPIO 9 to 27",
    ),
    (
        Wiring(outputs={"feed_pump": OutputPin(17, active_high=False)}),
        "feed_pump: an active-low relay closes whenever its pin is low, also while the computer starts or"
        " has lost its supply; use an active-high driver with a pull-down, or set accept_active_low",
    ),
]


@pytest.mark.parametrize(("wiring", "words"), PROBLEMS)
def test_each_problem_has_its_sentence(wiring: Wiring, words: str) -> None:
    assert wiring.problems() == (words,)


def test_a_sound_wiring_has_none(wiring: Wiring) -> None:
    assert wiring.problems() == ()


def test_a_board_is_not_opened_on_a_wiring_with_problems(wiring: Wiring) -> None:
    unsound = replace(wiring, bus_clear=None, outputs={"feed_pump": OutputPin(5), "buzzer": OutputPin(30)})
    far = EmulatedBoard(unsound, {0x48: lambda n, t: 0.0, 0x49: lambda n, t: 0.0}, VirtualClock())
    far.pins.events.clear()
    with pytest.raises(OSError, match=r"buzzer: GPIO 30 does not exist.*; .*feed_pump: GPIO 5") as refusal:
        far.open()
    assert str(refusal.value).count("GPIO 30 does not exist") == 1
    assert list(far.pins.events) == []


def test_an_accepted_active_low_relay_is_released_by_a_high_pin() -> None:
    assert OutputPin(17, active_high=False, accept_active_low=True).safe_level is True
    assert OutputPin(17).safe_level is False
