"""A configuration that lets the plant flush with nobody there names all that such a flush rests on, or is refused."""

import pytest

from halocline.config import ConfigError, demo_document, settings_from_document, with_overrides

ON = {"sequence": {"automatic_flush": True, "flush_shut_off": "valve"}}


def problems(overrides, without=None):
    document = with_overrides(demo_document(), overrides)
    if without is not None:
        table, _, key = without.partition(".")
        del document[table][key]
    try:
        settings_from_document(document, "boat.toml", simulated=True)
    except ConfigError as error:
        return [problem.key for problem in error.problems]
    return []


def with_(**sequence):
    return {"sequence": {**ON["sequence"], **sequence}}


def test_the_demonstration_boat_could_do_it():
    assert problems(ON) == []


@pytest.mark.parametrize("shut_off", ["valve", "pump"])
def test_a_second_valve_or_a_pump_shuts_the_water_off(shut_off):
    assert problems(with_(flush_shut_off=shut_off)) == []
    assert problems(with_(flush_shut_off="none")) == ["sequence.flush_shut_off"]


@pytest.mark.parametrize("fitted", ["inputs.bilge_wet", "inputs.tank_fill", "inputs.flush_flow", "outputs.buzzer"])
def test_bilge_tank_and_flush_are_watched_and_its_notice_is_heard(fitted):
    assert fitted in problems(ON, without=fitted)
    assert fitted not in problems({}, without=fitted)


def test_fifteen_litres_are_the_most():
    assert problems(with_(flush_l=15.0)) == []
    assert problems(with_(flush_l=15.5)) == ["sequence.flush_l"]


def test_less_than_thirty_percent_of_the_tank_cannot_be_set():
    assert problems(with_(automatic_flush_tank_percent=29.0)) == ["sequence.automatic_flush_tank_percent"]


def test_the_tank_is_larger_than_flush_and_reserve():
    keys = problems({**with_(automatic_flush_tank_percent=95.0), "plant": {"tank_capacity_l": 200.0}})
    assert keys == ["sequence.automatic_flush_tank_percent"]
