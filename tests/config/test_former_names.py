"""A file of an earlier version is refused with the new name of each old one, wherever the name stands."""

import pytest

from halocline.config import ConfigError, demo_document, settings_from_document
from halocline.plant.alarms import DEFINITIONS
from halocline.plant.former_names import FORMER_CHANNELS, successor
from halocline.plant.vocabulary import CHANNELS
from halocline.rehearsal.scenario import from_document
from halocline.simulation import FAULTS

LIMITS = {"membrane_pressure_high_bar": 60.0, "membrane_pressure_high_high_bar": 64.0}


def lines_of(read, document, file="old.toml"):
    with pytest.raises(ConfigError) as caught:
        read(document, file)
    return [str(problem).removeprefix(f"{file}: ") for problem in caught.value.problems]


def scenario_lines(**tables):
    return lines_of(from_document, {"duration": "1min", **tables})


def test_every_former_channel_has_become_a_channel_and_is_none_itself():
    assert set(FORMER_CHANNELS.values()) <= CHANNELS.keys()
    assert not FORMER_CHANNELS.keys() & CHANNELS.keys()


def test_a_name_of_today_is_never_taken_for_a_former_one():
    for known in (CHANNELS, DEFINITIONS, FAULTS):
        assert [name for name in known if successor(name, known) not in (None, name)] == []


def test_an_old_configuration_is_told_the_new_name_of_every_old_key():
    document = demo_document()
    inputs = document["inputs"]
    inputs["motor_temperature"] = {**inputs["vessel_pressure"], "address": 0x4A, "high": 150}
    for former, present in FORMER_CHANNELS.items():
        if present in inputs:
            inputs[former] = inputs.pop(present)
    document["limits"] = dict(LIMITS)
    lines = lines_of(settings_from_document, document)
    for former, present in FORMER_CHANNELS.items():
        wanted = "the name of a channel or contact"
        assert f"inputs.{former}: found an unknown name; allowed: {wanted}; renamed: write inputs.{present}" in lines
    for former in LIMITS:
        present = former.replace("membrane", "vessel")
        wanted = "the keys of [limits]"
        assert f"limits.{former}: found an unknown key; allowed: {wanted}; renamed: write {present}" in lines


def test_an_old_scenario_is_told_the_new_names_of_settings_faults_channels_and_causes():
    assert scenario_lines(settings={"limits": {"membrane_pressure_high_bar": 59}}) == [
        "[settings]: limits.membrane_pressure_high_bar: found an unknown key; allowed: the keys of [limits]; "
        "renamed: write vessel_pressure_high_bar"
    ]
    old = [
        {"at": "1s", "fault": "tank_level", "percent": 96},
        {"at": "1s", "fault": "water_temperature", "value": 30},
        {"at": "1s", "fault": "sensor_open", "channel": "membrane_pressure"},
    ]
    expected = [{"alarm": "sensor_fault_water_temperature"}, {"first_out": "membrane_pressure_lost"}]
    lines = scenario_lines(step=old, expect=expected)
    assert [line.rpartition("renamed: ")[2].removesuffix("?") for line in lines] == [
        "write tank_fill",
        "write sea_temperature",
        "write vessel_pressure",
        "write sensor_fault_sea_temperature",
        "write vessel_pressure_lost",
    ]
