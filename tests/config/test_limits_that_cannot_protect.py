"""Each refusal of settings that fit their ranges but not together, and what is accepted at the very edge."""

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

import pytest

from halocline.config import (
    ConfigError,
    consistency_problems,
    demo_document,
    load_demo,
    notes,
    report_settings_from_document,
    settings_from_document,
    with_overrides,
)
from halocline.config.checks import ladders, reach, scan
from halocline.config.checks.lookup import named
from halocline.plant.settings import LimitSettings, Settings


def loaded(overrides: Mapping[str, Any]) -> Settings:
    return settings_from_document(with_overrides(demo_document(), overrides), "x")


def refused(overrides: Mapping[str, Any]) -> list[str]:
    with pytest.raises(ConfigError) as caught:
        loaded(overrides)
    return [str(problem).removeprefix("x: ") for problem in caught.value.problems]


def limits(**values: Any) -> dict[str, Any]:
    return {"limits": values}


def sensor(channel: str, **values: Any) -> dict[str, Any]:
    return {"inputs": {channel: values}}


@pytest.mark.parametrize(
    "key",
    [key for keys in (*(ladder.keys for ladder in ladders.LADDERS), *reach.SPANS.values()) for key in keys],
)
def test_every_rule_names_a_key_that_exists(key: str) -> None:
    found = named(load_demo()[0], key)
    assert found is not None
    assert found.key == key


@pytest.mark.parametrize("ladder", ladders.LADDERS, ids=lambda ladder: ladder.keys[0])
def test_every_ladder_is_refused_upside_down(ladder: ladders.Ladder) -> None:
    settings = load_demo()[0]
    first, last = named(settings, ladder.keys[0]), named(settings, ladder.keys[-1])
    assert first is not None
    assert last is not None
    table, key = last.key.split(".")
    changed = replace(getattr(settings, table), **{key: first.value * 0.98})
    problems = consistency_problems(replace(settings, **{table: changed}), "x")
    mine = [problem for problem in problems if problem.remedy.endswith(ladder.why)]
    assert mine
    assert {problem.key for problem in mine} <= set(ladder.keys)


def test_relief_at_the_membranes_rating_is_accepted_and_above_it_is_not() -> None:
    assert loaded({"plant": {"relief_bar": 69.0}}).plant.relief_bar == 69.0
    assert refused({"plant": {"relief_bar": 69.5}}) == [
        "plant.relief_bar: found 69.5 bar; allowed: at most membrane.max_pressure_bar (69 bar); "
        "lower it: the membrane would see more than its rating"
    ]


def test_a_switch_that_acts_with_the_relief_valve_is_refused() -> None:
    assert refused({"plant": {"pressure_switch_bar": 69}}) == [
        "plant.pressure_switch_bar: found 69 bar; allowed: below plant.relief_bar (69 bar); "
        "lower it: the relief valve would lift before the switch stops the pump"
    ]


def test_a_limit_at_the_top_of_the_span_can_never_be_passed() -> None:
    assert refused(sensor("vessel_pressure", high=69)) == [
        "plant.relief_bar: found 69 bar; allowed: inside the span of inputs.vessel_pressure (0 to 69 bar); "
        "fit a sensor with a wider span, or change the limit"
    ]
    assert loaded(sensor("vessel_pressure", high=69.5))


def test_a_feed_limit_at_three_times_the_error_is_accepted_and_closer_is_not() -> None:
    assert loaded(sensor("feed_pressure", error=0.05))
    assert refused(sensor("feed_pressure", error=0.051)) == [
        "limits.feed_pressure_low_low_bar: found 0.15 bar; allowed: 0.153 bar or more, "
        "three times the error of inputs.feed_pressure; raise the limit or fit a better sensor"
    ]


def test_a_lost_pressure_inside_the_error_is_refused() -> None:
    problems = refused(limits(pressure_lost_bar=1) | sensor("vessel_pressure", error=1.5))
    assert (
        "limits.pressure_lost_bar: found 1 bar; allowed: the error of inputs.vessel_pressure (1.5 bar) "
        "or more; raise the limit or fit a better sensor"
    ) in problems


def test_accepting_more_salt_wants_a_reason() -> None:
    assert refused(limits(accept_tds_mg_l=530, accept_reason="  ")) == [
        "limits.accept_tds_mg_l: found 530 mg/L without a reason; allowed: up to 500 mg/L, or more with "
        "limits.accept_reason; lower it, or write down why in accept_reason"
    ]
    assert loaded(limits(accept_tds_mg_l=530, accept_reason="an old element until March"))


def test_a_tank_that_is_full_inside_the_senders_error_is_refused() -> None:
    assert refused(limits(tank_full_percent=98)) == [
        "limits.tank_full_percent: found 98 %; allowed: below 97 %, the top of inputs.tank_fill less its "
        "error; lower it: a sender that reads low would never show it"
    ]


def test_a_filter_drop_inside_both_errors_is_refused() -> None:
    assert refused(limits(filter_drop_high_bar=0.05) | sensor("filter_inlet_pressure", error=0.04)) == [
        "limits.filter_drop_high_bar: found 0.05 bar; allowed: 0.06 bar or more, the errors of "
        "inputs.filter_inlet_pressure and inputs.feed_pressure together; raise the limit or fit better sensors"
    ]


def test_a_meter_that_cannot_see_too_much_product_is_refused() -> None:
    assert refused(sensor("product_flow", high=90)) == [
        "inputs.product_flow.high: found 90 L/h; allowed: above 91.8 L/h, the product flow that stops a run; "
        "fit a larger meter"
    ]


def test_only_a_watched_pump_needs_no_relay() -> None:
    document = demo_document()
    del document["outputs"]["high_pressure_pump"]
    with pytest.raises(ConfigError, match=r"outputs\.high_pressure_pump: found nothing"):
        settings_from_document(document, "x")
    document["drive"]["pump"] = "watch_only"
    assert "high_pressure_pump" not in settings_from_document(document, "x").outputs


def test_an_active_low_relay_is_refused_unless_it_is_accepted() -> None:
    low = {"pin": 24, "active_high": False}
    assert refused({"outputs": {"buzzer": low}}) == [
        "outputs.buzzer.active_high: found false; allowed: true, or accept_active_low = true as well; "
        "use drivers for a high level: these close their relay while the computer boots or is off"
    ]
    settings = loaded({"outputs": {"buzzer": {**low, "accept_active_low": True}}})
    assert notes(settings)[-1:] == [
        "outputs.buzzer is active-low: its relay closes while the computer boots or is off."
    ]


def test_a_contact_and_an_output_share_no_pin() -> None:
    assert refused({"outputs": {"beacon": {"pin": 5}}}) == [
        "outputs.beacon.pin: found 5; allowed: a pin of its own; 5 belongs to inputs.stop_button; "
        "move one of the two wires to a free pin"
    ]


RATIOMETRIC = {"kind": "ratiometric", "error": 0.02, "low": -1, "high": 4, "divider": 2, "supply_mux": 2}


def test_one_supply_serves_two_sensors_but_is_no_signal() -> None:
    both = {
        "filter_inlet_pressure": {**RATIOMETRIC, "address": 0x4A, "mux": 0},
        "product_pressure": {**RATIOMETRIC, "address": 0x4A, "mux": 1},
    }
    assert loaded({"inputs": both})
    both["product_pressure"]["mux"] = 2
    assert refused({"inputs": both}) == [
        f"inputs.{channel}.supply_mux: found input 2 of chip 0x4a; allowed: an input of its own; "
        "input 2 of chip 0x4a belongs to inputs.product_pressure; move one of the two to a free input"
        for channel in both
    ]


def test_a_supply_chip_without_its_input_is_refused() -> None:
    wiring = {**RATIOMETRIC, "address": 0x4A, "mux": 0, "supply_address": 0x4B}
    del wiring["supply_mux"]
    assert refused({"inputs": {"product_pressure": wiring}}) == [
        "inputs.product_pressure.supply_mux: found nothing; allowed: 0 to 3, as supply_address is given; "
        "add supply_mux, or remove supply_address if the supply is not measured"
    ]


@pytest.mark.parametrize(
    ("channel", "values", "text"),
    [
        (
            "battery_voltage",
            {"divider": 4},
            "inputs.battery_voltage: found 4 V at the chip (the higher of volts_low and volts_high over "
            "divider); allowed: up to 3.3 V, the chip's supply; fit a larger divider and write its ratio: "
            "more destroys the chip",
        ),
        (
            "tank_fill",
            {"supply_v": 12},
            "inputs.tank_fill: found 12 V at the chip (supply_v when the sender's wire is broken); "
            "allowed: up to 3.3 V, the chip's supply; feed the pull-up from 3.3 V: more destroys the chip",
        ),
        (
            "sea_temperature",
            {"gain_v": 2.048},
            "inputs.sea_temperature: found 3.3 V at the chip (supply_v when the sensor's wire is broken); "
            "allowed: up to gain_v (2.048 V); choose a larger gain_v: the signal is clipped",
        ),
        (
            "vessel_pressure",
            {"shunt_ohm": 250},
            "inputs.vessel_pressure: found 5.25 V at the chip (21 mA over shunt_ohm); allowed: up to "
            "3.3 V, the chip's supply; fit a smaller shunt: more destroys the chip",
        ),
        (
            "battery_current",
            {"volts_low": 4.5},
            "inputs.battery_current.volts_high: found 4.5 V; allowed: another voltage than volts_low "
            "(4.5 V); write what the sensor gives at each end of its span",
        ),
        (
            "battery_current",
            {"volts_low": -1},
            "inputs.battery_current.volts_low: found -1 V; allowed: 0 V or more; "
            "shift the signal above zero first: the chip measures against ground",
        ),
        (
            "tank_fill",
            {"empty_ohm": 180},
            "inputs.tank_fill.full_ohm: found 180 ohm; allowed: another resistance than empty_ohm "
            "(180 ohm); write what the sensor gives at each end of its span",
        ),
        (
            "tank_fill",
            {"shape": [[0, 0], [0.5, 0.3], [0.4, 1]]},
            "inputs.tank_fill.shape: found 3 pairs that do not; allowed: pairs that rise from [0, 0] to "
            "[1, 1]; write (sender fraction, volume fraction) from empty to full",
        ),
        (
            "tank_fill",
            {"shape": [[0, 0], [1]]},
            "inputs.tank_fill.shape: found a list of 1; allowed: a list of 2 numbers; "
            "write them in square brackets, with commas between",
        ),
        (
            "sea_temperature",
            {"steinhart_hart": [2.3e-4, 1.1e-3, 8.8e-8]},
            "inputs.sea_temperature.steinhart_hart: found coefficients that give -177.3 °C at r25_ohm; "
            "allowed: 23 to 27 °C there; check their order (a, b, c) and r25_ohm",
        ),
        (
            "product_flow",
            {"gate_s": 10},
            'inputs.product_flow.gate_s: found 10; allowed: "1s" to "1min"; '
            'write it with its unit and in quotes, as in "10s"',
        ),
    ],
)
def test_a_sensor_that_cannot_measure_is_refused(channel: str, values: dict[str, Any], text: str) -> None:
    assert refused(sensor(channel, **values)) == [text]


def test_a_usual_thermistor_and_a_tank_table_are_accepted() -> None:
    # Coefficients of a usual 10 kΩ thermistor, from memory; they give 25 °C at 10 kΩ.
    thermistor = {"steinhart_hart": [1.129148e-3, 2.34125e-4, 8.76741e-8]}
    settings = loaded({"inputs": {"sea_temperature": thermistor, "tank_fill": {"shape": [[0, 0], [1, 1]]}}})
    assert getattr(settings.inputs["tank_fill"], "shape") == ((0.0, 0.0), (1.0, 1.0))  # noqa: B009


def test_vessel_pressure_is_converted_between_every_two_others() -> None:
    settings = load_demo()[0]
    turn_s = 2 * scan.conversion_s(settings.plant.adc_bus_khz) + scan.TURN_PAUSE_S
    assert scan.period_s(settings, "vessel_pressure") == pytest.approx(turn_s)
    assert scan.period_s(settings, "feed_pressure") == pytest.approx(4 * turn_s), "after every three of the rest"
    assert scan.period_s(settings, "tank_fill") == pytest.approx(8 * turn_s)  # eight converter inputs


def test_a_full_set_of_four_chips_is_read_in_time_on_a_usual_bus() -> None:
    turn_s = 2 * scan.conversion_s(100.0) + scan.TURN_PAUSE_S
    assert 2 * turn_s < scan.AGE_LIMITS_S["vessel_pressure"]
    assert 2 * 4 * turn_s < scan.AGE_LIMITS_S["feed_pressure"]
    assert 2 * (14 + 5) * turn_s < scan.OTHER_AGE_LIMIT_S


def test_the_demonstration_is_told_what_must_not_go_aboard_and_nothing_else() -> None:
    advice = notes(load_demo()[0])
    assert [line.split(":")[0] for line in advice] == [
        "sequence.attendance is off",
        "sequence.start_questions is off",
    ]


def test_what_is_left_out_is_advised_about_but_not_refused() -> None:
    document = demo_document()
    for name in ("tank_fill", "tank_float", "stop_button", "diverter_at_tank", "battery_voltage", "flush_flow"):
        del document["inputs"][name]
    document["drive"] |= {"pump": "watch_only", "regulator": "left_set"}
    document["sequence"] = {"divert_limit_s": "2min", "flush_limit_s": "5min"}
    document["inputs"]["feed_pressure"]["low"] = 0
    document["inputs"]["product_conductivity"]["high"] = 30000
    document["inputs"]["battery_current"]["compensation"] = "linear"
    document["outputs"]["buzzer"]["pin"] = 14
    document["outputs"]["beacon"]["pin"] = 4
    advice = notes(settings_from_document(document, "x"))
    assert [line.split(":")[0].split(" is ")[0] for line in advice] == [
        "Neither inputs.tank_fill nor inputs.tank_float",
        "inputs.stop_button",
        "The diverter has no pair of position switches (inputs.diverter_at_tank, inputs.diverter_overboard)",
        "No input measures the flush",
        "sequence.flush_limit_s",
        "sequence.divert_limit_s",
        "inputs.feed_pressure cannot see suction",
        "drive.regulator",
        "drive.pump",
        "outputs.beacon",
        "outputs.buzzer",
        "No input measures the battery",
        "inputs.product_conductivity ends at 30000 µS/cm",
        "inputs.battery_current.compensation has no effect",
    ]


def test_a_large_battery_a_slow_hand_and_a_missing_button_are_advised_about() -> None:
    document = with_overrides(
        demo_document(),
        {
            "inputs": {"battery_voltage": {"high": 32, "volts_high": 32, "divider": 10}},
            "sequence": {"raise_limit_s": "1min", "attendance": True, "start_questions": True},
        },
    )
    del document["inputs"]["plant_button"]
    assert notes(settings_from_document(document, "x")) == [
        "sequence.attendance is on without inputs.plant_button: a start needs `halocline log add at_the_plant` on the "
        "boat's own computer first.",
        "sequence.raise_limit_s is 1min: raising to drive.working_pressure_bar at drive.raise_bar_s and "
        "settling takes 120 s.",
        "inputs.battery_voltage reaches twice limits.battery_start_v: on a battery of more than 12 V the "
        "battery limits have to be set.",
    ]


@pytest.mark.parametrize("command", ["start", "reset", "recommission", "bench", "calibrate", "service_unlock"])
def test_machinery_is_never_moved_from_a_broker(command: str) -> None:
    with pytest.raises(ConfigError, match="remove it: it needs a person at the plant"):
        report_settings_from_document({"config_version": 1, "mqtt": {"commands": [command]}}, "x")


JUDGED_OTHERWISE = {
    "working_margin_bar": "above an osmotic pressure that is worked out",
    "pressure_rise_warn_bar_s": "a rate",
    "pressure_rise_trip_bar_s": "a rate",
    "feed_pressure_low_low_s": "a time",
    "filter_drop_high_bar": "a difference of two senders, held against their errors",
    "recovery_warn": "a share of two flows",
    "recovery_stop": "a share of two flows",
    "battery_start_percent": "a charge of 0 to 100 %, whatever measures it",
    "battery_stop_percent": "a charge of 0 to 100 %, whatever measures it",
}


def test_each_limit_is_held_against_the_span_of_what_judges_it() -> None:
    """A new limit stands in one of the tables, or here with the reason."""
    of_a_channel = {key for keys in (*reach.SPANS.values(), *reach.DIFFERENCES.values()) for key in keys}
    numbers = {each.name for each in fields(LimitSettings) if each.type in (float, float | None)}
    assert {name for name in numbers if f"limits.{name}" not in of_a_channel} == set(JUDGED_OTHERWISE)
