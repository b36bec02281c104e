"""A wait says how far it is and why it is long, and what was done is not asked again."""

import pytest
from hand_driven_plant import Plant, quick_settings

from halocline.control.retained.retained_state import RetainedState
from halocline.plant import words
from halocline.plant.vocabulary import Ask


def said(plant):
    return words.sentence(plant.snapshot())


@pytest.mark.parametrize(
    ("opened", "why"), [(False, "Driving the air out: "), (True, "Driving the air out, longer because the circuit was")]
)
def test_driving_the_air_out_counts_up_to_its_end_and_says_why_it_is_long(opened, why):
    settings = quick_settings(sequence={"prime_s": 20.0, "prime_after_opening_s": 60.0})
    plant = Plant(settings, RetainedState(circuit_opened=opened))
    plant.tick()
    assert plant.give("start") == []
    whole_s = plant.core.plant.prime_s()
    counted = []
    while plant.state == "priming":
        sentence = plant.snapshot()["sentence"]
        if sentence["id"].startswith("priming") and "held_s" in sentence["values"]:
            counted.append(sentence["values"]["held_s"])
            assert sentence["values"]["seconds"] == whole_s
            assert said(plant).startswith(why)
        plant.tick()
    assert counted == sorted(counted)
    assert (min(counted), max(counted)) == (0, whole_s - 1)


def test_a_feed_that_moves_begins_the_count_anew():
    plant = Plant(quick_settings(sequence={"prime_s": 20.0}))
    plant.tick()
    plant.give("start")
    plant.wait(15.0)
    assert plant.core.plant.position.feed_steady_s > 10.0
    plant.read("feed_pressure", 2.5)
    plant.tick()
    assert plant.core.plant.position.feed_steady_s == 0.0


def test_once_a_meter_has_seen_the_flush_go_through_nobody_is_asked_to_open_the_regulator_any_more():
    plant = Plant().brought_to("flushing")
    plant.tick()
    assert plant.core.ask() is Ask.OPEN_REGULATOR
    wanted_l = plant.core.plant.flush.wanted_l
    while plant.core.plant.flush.litres < 0.25 * wanted_l:
        assert plant.core.ask() is Ask.OPEN_REGULATOR
        plant.tick()
    assert plant.core.ask() is None
    assert "regulator" not in said(plant)


def test_a_flush_that_no_meter_sees_asks_for_an_open_regulator_to_its_end():
    plant = Plant()
    plant.extra["flush_total_l"] = None
    plant.tick()
    assert plant.give("flush") == []
    plant.until("flushing")
    asked = set()
    while plant.state == "flushing":
        asked.add(plant.core.ask())
        plant.tick()
    assert asked == {Ask.OPEN_REGULATOR}
