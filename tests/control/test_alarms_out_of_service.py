"""A warning that nobody needs for a time can be taken out of service (IEC 62682): by whom, why and when is kept."""

import pytest
from hand_driven_plant import Plant

from halocline.control.inputs import Command
from halocline.control.retained.retained_state import OutOfService, decode, encode
from halocline.link.messages import decode as decode_line
from halocline.link.messages import encode_now
from halocline.plant.alarms import ROWS
from halocline.plant.vocabulary import Origin

NOTE = "the meter is at its maker's"


@pytest.fixture
def plant():
    plant = Plant().brought_to("producing")
    plant.extra["supply_voltage_low"] = True
    plant.wait(3)
    return plant


def take_out(plant, alarm="supply_voltage_low", note=NOTE, **more):
    return plant.give("log", kind="alarm_out_of_service", alarm=alarm, note=note, **more)


def test_it_is_told_nowhere_and_listed_apart_with_who_and_why(plant):
    plant.tick(
        Command(
            "log",
            {"kind": "alarm_out_of_service", "alarm": "supply_voltage_low", "note": NOTE},
            who="ann",
            wall_s=1.8e9,
        )
    )
    assert plant.answers_after_persisting() == []
    message = plant.snapshot()
    assert "supply_voltage_low" not in {alarm["id"] for alarm in message["alarms"]}
    assert message["out_of_service"] == [{"alarm": "supply_voltage_low", "who": "ann", "why": NOTE, "wall_s": 1.8e9}]
    assert not any("buzzer" in plant.tick().outputs for _ in range(100))
    assert plant.event("log")["note"] == f"supply_voltage_low: {NOTE}"


def test_it_survives_a_restart(plant):
    assert take_out(plant) == []
    retained = decode(encode(plant.core.plant.retained))
    assert retained.out_of_service == (OutOfService("supply_voltage_low", "ann", NOTE, None),)
    again = Plant(retained=retained)
    again.extra["supply_voltage_low"] = True
    again.wait(3)
    assert again.alarm("supply_voltage_low") is None


def test_put_back_it_is_raised_if_its_cause_is_still_there(plant):
    take_out(plant)
    assert plant.give("log", kind="alarm_in_service", alarm="supply_voltage_low") == []
    assert plant.alarm("supply_voltage_low") == "unacknowledged"
    assert plant.core.plant.retained.out_of_service == ()


def test_put_back_without_a_cause_it_is_normal(plant):
    take_out(plant)
    plant.extra["supply_voltage_low"] = False
    plant.wait(62)
    plant.give("log", kind="alarm_in_service", alarm="supply_voltage_low")
    assert plant.alarm("supply_voltage_low") is None


@pytest.mark.parametrize("row", [row for row in ROWS if not row.may_be_suppressed], ids=lambda row: row.id)
def test_nothing_with_an_effect_nothing_urgent_and_no_question_can_be_taken_out(plant, row):
    assert take_out(plant, row.id) == ["never_shelved"]


def test_it_wants_a_reason_a_known_alarm_and_a_person(plant):
    assert take_out(plant, note=" ") == ["out_of_service_wants_a_note"]
    assert take_out(plant, "tide_too_low") == ["no_such_alarm"]
    assert take_out(plant, origin=Origin.MQTT) == ["never_from_mqtt"]
    assert plant.give("log", kind="alarm_in_service", alarm="flush_due") == ["no_such_alarm"]


def test_all_acknowledgements_and_resets_leave_it_where_it_is(plant):
    take_out(plant)
    plant.give("acknowledge")
    plant.core.plant.alarms.reset()
    plant.wait(5)
    assert [aside.alarm for aside in plant.core.plant.retained.out_of_service] == ["supply_voltage_low"]
    assert plant.alarm("supply_voltage_low") is None


def test_many_with_long_reasons_still_fit_into_one_line_of_the_link(plant):
    for row in ROWS:
        if row.may_be_suppressed:
            assert take_out(plant, row.id, note="because " * 60) == []
    told = plant.snapshot()["out_of_service"]
    assert len(told) == 10
    assert all(len(aside["why"]) == 80 for aside in told)
    sent = decode_line(encode_now(plant.snapshot()))
    assert len(sent["now"]["out_of_service"]) == 10
