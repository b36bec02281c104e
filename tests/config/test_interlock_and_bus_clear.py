"""The keys of the comparator interlock and of the bus clear: what is refused, and what becomes of the rest."""

from typing import Any

import pytest

from halocline.config import (
    ConfigError,
    demo_document,
    load_demo,
    notes,
    settings_from_document,
    with_overrides,
)
from halocline.config.signal_levels import signal_volts
from halocline.config.wiring_table import converter_inputs, header_pins, trip_signals
from halocline.plant.settings import Settings
from halocline.rehearsal.board_wiring import wiring_of

FITTED: dict[str, Any] = {"interlock": {"address": 0x4A, "opens_bar": 66}}
RATIOMETRIC = {
    "kind": "ratiometric",
    "address": 0x48,
    "mux": 0,
    "low": 0,
    "high": 100,
    "error": 0.5,
    "divider": 1.6,
    "supply_address": 0x4B,
    "supply_mux": 2,
}


def loaded(*overrides: dict[str, Any]) -> Settings:
    document = demo_document()
    for override in overrides:
        document = with_overrides(document, override)
    return settings_from_document(document, "x")


def refused(*overrides: dict[str, Any]) -> list[str]:
    with pytest.raises(ConfigError) as caught:
        loaded(*overrides)
    return [str(problem).removeprefix("x: ") for problem in caught.value.problems]


def interlock(**values: Any) -> dict[str, Any]:
    return {"interlock": {**FITTED["interlock"], **values}}


def test_the_demonstration_boat_has_none() -> None:
    assert load_demo()[0].interlock is None
    assert wiring_of(load_demo()[0]).interlock is None


def test_its_window_is_the_sensors_signal_from_a_broken_wire_to_the_threshold() -> None:
    found = wiring_of(loaded(FITTED)).interlock
    assert found is not None
    assert (found.address, found.mux, found.contact, found.in_a_row) == (0x4A, 0, "pressure_switch", 2)
    assert found.low_v == pytest.approx(0.0036 * 150)  # NAMUR NE 43
    assert found.high_v == pytest.approx((0.004 + 0.016 * 0.66) * 150)  # IEC 60381-1


@pytest.mark.parametrize("opens_bar", [64.5, 66, 68.5])
def test_between_the_trip_and_the_relief_valve_any_threshold_will_do(opens_bar: float) -> None:
    assert loaded(interlock(opens_bar=opens_bar)).interlock is not None


@pytest.mark.parametrize(
    ("overrides", "problem"),
    [
        (
            (interlock(opens_bar=64),),
            "interlock.opens_bar: found 64 bar; allowed: 64.5 bar or more: limits.vessel_pressure_high_high_bar "
            "(64 bar) and the error of inputs.vessel_pressure; raise it: the program must trip first",
        ),
        (
            (interlock(opens_bar=69),),
            "interlock.opens_bar: found 69 bar; allowed: 68.5 bar or less: plant.relief_bar (69 bar) less the error of "
            "inputs.vessel_pressure; lower it: it must open before the relief valve lifts",
        ),
        (
            (interlock(address=0x49),),
            "interlock.address: found 0x49; allowed: an address of its own; a chip that measures inputs.tank_fill is "
            "there; fit one more chip with its ADDR pin tied to another line, and write its address",
        ),
        (
            (interlock(gain_v=2.048),),
            "interlock.opens_bar: found 66 bar = 2.184 V at the chip; allowed: below 2.048 V, the most the chip can "
            "see; choose a larger gain_v, or a sensor with a wider span",
        ),
        (
            (
                FITTED,
                {
                    "inputs": {
                        "vessel_pressure": {
                            "kind": "voltage",
                            "address": 0x48,
                            "mux": 0,
                            "low": 0,
                            "high": 100,
                            "error": 0.5,
                            "volts_low": 3.0,
                            "volts_high": 0.5,
                        }
                    }
                },
            ),
            "interlock: found inputs.vessel_pressure with a falling signal; allowed: a rising one; fit a sensor "
            "whose volts rise with pressure, or leave out [interlock]",
        ),
        (
            ({"interlock": {"address": 0x4A}},),
            "interlock.opens_bar: found nothing; allowed: 5 to 100 bar; add the key: membrane pressure above which its "
            "relay opens the coil chain",
        ),
        (
            (interlock(in_a_row=3),),
            "interlock.in_a_row: found 3; allowed: 1, 2 or 4; choose one of them",
        ),
        (
            (interlock(adress=0x4A),),
            "interlock.adress: found an unknown key; allowed: the keys of [interlock]; did you mean address?",
        ),
    ],
)
def test_an_interlock_that_could_not_protect_is_refused(overrides: tuple[dict[str, Any], ...], problem: str) -> None:
    assert refused(*overrides) == [problem]


def test_the_supply_of_a_sensor_may_not_be_measured_by_its_chip_either() -> None:
    problems = refused(interlock(address=0x4B), {"inputs": {"vessel_pressure": RATIOMETRIC}})
    assert [problem.partition(":")[0] for problem in problems] == ["interlock.address"]


def test_an_interlock_that_nobody_would_see_open_is_refused() -> None:
    document = with_overrides(demo_document(), FITTED)
    del document["inputs"]["pressure_switch"]
    with pytest.raises(ConfigError) as caught:
        settings_from_document(document, "x")
    assert [str(problem) for problem in caught.value.problems] == [
        "x: inputs.pressure_switch: found nothing; allowed: a table, as [interlock] is there; wire the second "
        "contact of its relay to a pin and add [inputs.pressure_switch]"
    ]


def test_what_it_cannot_see_is_noted() -> None:
    ratiometric = loaded(interlock(), {"inputs": {"vessel_pressure": RATIOMETRIC}})
    assert any(note.startswith("interlock compares volts and cannot follow the supply") for note in notes(ratiometric))
    found = wiring_of(ratiometric).interlock
    assert found is not None
    assert found.low_v == pytest.approx(0.05 * 5.0 / 1.6)
    plain = {**RATIOMETRIC, "kind": "voltage", "volts_high": 5.0}
    del plain["supply_address"], plain["supply_mux"]
    assert any(
        "does not see a broken wire" in note for note in notes(loaded(FITTED, {"inputs": {"vessel_pressure": plain}}))
    )
    assert not any(note.startswith("interlock") for note in notes(loaded(FITTED)))


def test_a_chip_that_measures_nothing_but_a_supply_is_wired_too() -> None:
    settings = loaded({"inputs": {"vessel_pressure": RATIOMETRIC}})
    assert wiring_of(settings).adc_addresses == (0x48, 0x49, 0x4B)


def test_the_papers_of_a_boat_with_an_interlock_show_it() -> None:
    settings = loaded(FITTED, {"plant": {"bus_clear_clock_pin": 9, "bus_clear_data_pin": 10}})
    assert "| 0x4a | 0 | comparator interlock | current_loop | 66 bar | opens above 14.56 mA = 2.184 V |" in (
        converter_inputs(settings)
    )
    assert "| `vessel_pressure` | interlock relay falls off | 66 bar | 14.56 mA = 2.184 V |" in trip_signals(settings)
    assert "| 21 | 9 | – | I2C clock, to clear the bus | to that wire of the bus through 330 Ω |" in header_pins(
        settings
    )


def test_its_signal_is_the_sensors() -> None:
    settings = loaded(FITTED)
    found = wiring_of(settings).interlock
    assert found is not None
    assert found.high_v == signal_volts(settings.inputs["vessel_pressure"], 66.0)  # type: ignore[arg-type]


# ---- bus clear -------------------------------------------------------------------------------------


def test_two_pins_make_a_bus_clear() -> None:
    cleared = wiring_of(loaded({"plant": {"bus_clear_clock_pin": 9, "bus_clear_data_pin": 10}})).bus_clear
    assert cleared is not None
    assert (cleared.scl, cleared.sda) == (9, 10)
    assert wiring_of(load_demo()[0]).bus_clear is None


@pytest.mark.parametrize(
    ("plant", "problems"),
    [
        (
            {"bus_clear_clock_pin": 9},
            [
                "plant.bus_clear_data_pin: found nothing; allowed: a pin, as the other of the two is given; tie a "
                "second spare pin, or leave out both keys"
            ],
        ),
        (
            {"bus_clear_clock_pin": 9, "bus_clear_data_pin": 9},
            [
                "plant.bus_clear_data_pin: found 9; allowed: a pin of its own; 9 belongs to plant.bus_clear_clock_pin; "
                "move one of the two wires to a free pin"
            ],
        ),
        (
            {"bus_clear_clock_pin": 9, "bus_clear_data_pin": 17},
            [
                "outputs.feed_pump.pin: found 17; allowed: a pin of its own; 17 belongs to plant.bus_clear_data_pin; "
                "move one of the two wires to a free pin"
            ],
        ),
        (
            {"bus_clear_clock_pin": 3, "bus_clear_data_pin": 9},
            [
                "plant.bus_clear_clock_pin: found 3; allowed: 4 to 27; check the number",
            ],
        ),
    ],
)
def test_a_bus_clear_that_could_not_work_is_refused(plant: dict[str, Any], problems: list[str]) -> None:
    assert refused({"plant": plant}) == problems
