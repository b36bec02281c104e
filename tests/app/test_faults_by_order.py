"""Every fault that a simulated boat offers can be ordered as offered, stands, and can be ended again."""

import pytest

from halocline.app.plant_simulator import PlantSimulator
from halocline.config import load_demo
from halocline.simulation import FAULTS, PlantParameters

SETTINGS = load_demo()[0]


@pytest.fixture(scope="module")
def boat():
    return PlantSimulator(SETTINGS, PlantParameters.for_settings(SETTINGS), seed=1)


def standing(boat):
    return boat.answer({"faults": True})["standing"]


def as_offered(fault):
    """Each target once, with values to practise with."""
    for target in fault["choices"] or [None]:
        named = {} if target is None else {fault["target"]: target}
        values = {
            argument["name"]: argument["choices"][0] if "choices" in argument else (argument["typical"] or 0.1)
            for argument in fault["arguments"]
        }
        yield target, named, values


def test_the_demonstration_boat_can_have_every_fault(boat):
    assert [fault["fault"] for fault in boat.answer({"faults": True})["offered"]] == list(FAULTS)


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_given_as_it_is_offered_stands_and_ends(boat, name):
    (fault,) = (offer for offer in boat.answer({"faults": True})["offered"] if offer["fault"] == name)
    for target, named, values in as_offered(fault):
        assert boat.answer({"fault": {"fault": name, **named, **values}}) == {"done": True}
        assert standing(boat) == [{"fault": name, "target": target, "arguments": values}]
        assert boat.answer({"fault": {"fault": name, **named, "clear": True}}) == {"done": True}
        assert standing(boat) == []


def test_an_impossible_order_is_refused_with_what_would_be_possible(boat):
    refused = boat.answer({"fault": {"fault": "prefilter_clogged", "severity": 7}})["refused"]
    assert refused == "fault prefilter_clogged: severity is 7; give a number from 0 to 1"
    assert standing(boat) == []
