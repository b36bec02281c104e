"""The demonstration boat, files that cannot be read, and differences laid over a document."""

import os
import socket
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import pytest

from halocline.config import (
    ConfigError,
    Problem,
    demo_document,
    demo_text,
    load_control,
    load_demo,
    load_report,
    notes,
    parse_document,
    problems_in,
    report_settings_from_document,
    settings_from_document,
    with_overrides,
)
from halocline.control.housekeeping import configuration_in_force
from halocline.plant.sensors import ContactInput, CurrentLoop, OutputPin, Pulses, Ratiometric, Thermistor
from halocline.plant.settings import LimitSettings, ReportSettings


def bind(path: Path) -> None:
    """A socket of this name; it stays when closed."""
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(str(path))


def refusal(path: Path) -> list[str]:
    with pytest.raises(ConfigError) as caught:
        load_control(path)
    return [str(problem) for problem in caught.value.problems]


def test_the_demonstration_boat_loads() -> None:
    settings, report = load_demo()
    assert settings.boat.name == "Cagarra"
    assert settings.plant.relief_bar == settings.membrane.max_pressure_bar == 69.0
    assert settings.limits == LimitSettings()
    assert isinstance(settings.inputs["vessel_pressure"], CurrentLoop)
    assert isinstance(settings.inputs["sea_temperature"], Thermistor)
    assert isinstance(settings.inputs["product_flow"], Pulses)
    assert settings.contacts["tank_float"] == ContactInput(pin=19, debounce_s=3.0)
    assert settings.outputs["heartbeat"] == OutputPin(pin=18)
    assert "stop_button" not in settings.inputs
    assert isinstance(report, ReportSettings)


def test_whole_numbers_become_the_field_s_own_type() -> None:
    settings, _ = load_demo()
    assert type(settings.plant.feed_flow_l_h) is float
    assert type(settings.sequence.motor_starts) is int


def test_a_copy_of_the_demonstration_file_is_a_configuration_file(tmp_path: Path) -> None:
    path = tmp_path / "halocline.toml"
    path.write_text(demo_text(), encoding="utf-8")
    assert (load_control(path, simulated=True), load_report(path)) == load_demo()


def test_aboard_the_example_wants_a_person_and_only_a_simulated_boat_does_not(tmp_path: Path) -> None:
    path = tmp_path / "halocline.toml"
    path.write_text(demo_text(), encoding="utf-8")
    aboard, simulated = load_control(path).sequence, load_control(path, simulated=True).sequence
    assert (aboard.attendance, aboard.start_questions) == (True, True)
    assert (simulated.attendance, simulated.start_questions) == (False, False)


def test_what_a_file_says_of_people_counts_for_a_simulated_boat_as_well() -> None:
    document = with_overrides(demo_document(), {"sequence": {"attendance": True}})
    sequence = settings_from_document(document, "x", simulated=True).sequence
    assert (sequence.attendance, sequence.start_questions) == (True, False)


def test_whoever_says_why_may_switch_the_questions_off() -> None:
    change = {"sequence": {"start_questions": False, "off_reason": "a dry test stand without seacocks"}}
    settings = settings_from_document(with_overrides(demo_document(), change), "x")
    assert configuration_in_force(settings)["sequence"]["off_reason"] == "a dry test stand without seacocks"
    assert notes(settings) == [
        "sequence.start_questions is off: nobody would be asked about seacocks, strainer and sea. "
        "Right for a demonstration, not aboard."
    ]


def test_what_the_motors_plate_says_allows_a_longer_run_and_is_kept() -> None:
    change = {"drive": {"motor_run_s": "10h", "motor_plate": "S1 continuous duty, fan cooled"}}
    settings = settings_from_document(with_overrides(demo_document(), change), "x")
    assert configuration_in_force(settings)["drive"]["motor_plate"] == "S1 continuous duty, fan cooled"


def test_a_missing_file_is_one_clear_line(tmp_path: Path) -> None:
    path = tmp_path / "nowhere.toml"
    assert refusal(path) == [
        f"{path}: found no such file; allowed: a configuration file; check the path, and that this user may read it"
    ]


def test_a_folder_is_no_configuration_file(tmp_path: Path) -> None:
    assert refusal(tmp_path) == [
        f"{tmp_path}: found a folder; allowed: a configuration file, a regular one; check the path"
    ]


@pytest.mark.parametrize(
    ("make", "kind"),
    [(os.mkfifo, "a pipe"), (bind, "a socket"), (lambda path: path.symlink_to("/dev/zero"), "a device")],
)
def test_what_could_be_read_for_ever_is_not_even_opened(
    make: Callable[[Path], None], kind: str, tmp_path: Path
) -> None:
    path = tmp_path / "halocline.toml"
    make(path)
    line = f"{path}: found {kind}; allowed: a configuration file, a regular one; check the path"
    for read in (load_control, load_report):
        with pytest.raises(ConfigError) as caught:
            read(path)
        assert str(caught.value) == line
    assert [str(problem) for problem in problems_in(path)] == [line]


def test_a_huge_file_is_not_parsed(tmp_path: Path) -> None:
    path = tmp_path / "huge.toml"
    path.write_bytes(b"#" * 300_000)
    assert refusal(path) == [
        f"{path}: found a file too large; allowed: up to 256 KiB; check that this is a configuration file"
    ]


@pytest.mark.parametrize("text", ["a = " + "[" * 5000, "a = " + "9" * 5000])
def test_a_file_made_to_break_the_parser_is_refused(text: str) -> None:
    with pytest.raises(ConfigError) as caught:
        parse_document(text.encode(), "x.toml")
    assert str(caught.value) == (
        "x.toml: found a number with too many digits, or brackets within brackets without end; "
        "allowed: TOML; look for what does not belong there"
    )


def test_an_enormous_number_is_refused_without_printing_it() -> None:
    document = with_overrides(demo_document(), {"plant": {"feed_flow_l_h": 1 << 20_000}})
    with pytest.raises(ConfigError) as caught:
        settings_from_document(document, "x.toml")
    assert str(caught.value) == (
        "x.toml: plant.feed_flow_l_h: found an enormous number; allowed: 50 to 5000 L/h; write a finite number"
    )


def test_a_key_with_strange_characters_stays_on_one_line() -> None:
    document = with_overrides(demo_document(), {"limits": {"a\nb": 1}})
    with pytest.raises(ConfigError) as caught:
        settings_from_document(document, "x.toml")
    assert str(caught.value) == (
        'x.toml: limits."a\\nb": found an unknown key; allowed: the keys of [limits]; remove it'
    )


def test_a_problem_has_parts_for_other_programs() -> None:
    document = with_overrides(demo_document(), {"limits": {"tank_full_percent": 500}})
    with pytest.raises(ConfigError) as caught:
        settings_from_document(document, "x.toml")
    assert caught.value.problems == [
        Problem(
            file="x.toml",
            key="limits.tank_full_percent",
            found="500 %",
            allowed="10 to 100 %",
            remedy="check the number and its unit (%)",
        )
    ]


def test_differences_change_what_they_name_and_nothing_else() -> None:
    document = demo_document()
    changed = with_overrides(document, {"sequence": {"run_limit_s": "2h"}, "plant": {"relief_bar": 68}})
    settings = settings_from_document(changed, "rehearsal")
    assert settings.sequence.run_limit_s == 7200.0
    assert settings.sequence.attendance is True
    assert settings.plant.relief_bar == 68.0
    assert settings.plant.feed_flow_l_h == 340.0
    assert document == demo_document()


def test_differences_are_refused_like_the_file_itself() -> None:
    changed = with_overrides(demo_document(), {"limits": {"reject_tds_mg_l": 450}, "membrain": {}})
    with pytest.raises(ConfigError) as caught:
        settings_from_document(changed, "clogged.toml")
    assert [str(problem) for problem in caught.value.problems] == [
        "clogged.toml: membrain: found an unknown table; allowed: the tables boat, plant, membrane, drive, "
        "inputs, outputs, limits, sequence, interlock, http, mqtt, record, units, plan; did you mean membrane?",
        "clogged.toml: limits.accept_tds_mg_l: found 500 mg/L; allowed: below limits.reject_tds_mg_l "
        "(450 mg/L); lower it: water good enough to let in must be better than water bad enough to turn away",
    ]


def test_a_sensor_of_another_kind_replaces_the_whole_sensor() -> None:
    ratiometric = {
        "kind": "ratiometric",
        "address": 0x48,
        "mux": 0,
        "low": 0,
        "high": 100,
        "error": 1,
        "divider": 2,
    }
    loop = {"inputs": {"vessel_pressure": {"shunt_ohm": 120}}}
    document = with_overrides(demo_document(), loop)
    changed = with_overrides(document, {"inputs": {"vessel_pressure": ratiometric}})
    assert isinstance(settings_from_document(changed, "x").inputs["vessel_pressure"], Ratiometric)


def test_the_last_of_two_equal_inputs_still_names_the_first() -> None:
    override = {"inputs": {"battery_voltage": {"address": 0x48, "mux": 3}}}
    with pytest.raises(ConfigError) as caught:
        settings_from_document(with_overrides(demo_document(), override), "x")
    assert [str(problem) for problem in caught.value.problems] == [
        "x: inputs.battery_voltage.mux: found input 3 of chip 0x48; allowed: an input of its own; "
        "input 3 of chip 0x48 belongs to inputs.sea_temperature; move one of the two to a free input"
    ]


def test_every_report_table_may_be_left_out() -> None:
    report = report_settings_from_document({"config_version": 1}, "x")
    assert report == ReportSettings()
    assert {field.name for field in fields(report)} == {"http", "mqtt", "record", "units", "plan"}
