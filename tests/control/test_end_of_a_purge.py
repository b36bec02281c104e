"""Each kind of first water has its own end test, taken by a person from flowing product."""

import re
from itertools import combinations

import pytest
from hand_driven_plant import Plant, quick_settings

from halocline.control.inputs import Command
from halocline.control.retained.retained_state import Purge, RetainedState, decode, encode, read
from halocline.plant import words
from halocline.plant.purges import END_TESTS, ORDER, end_test
from halocline.plant.vocabulary import PURGES, Origin

OTHERS = sorted(set(PURGES) - {"cleaning"})
ATTENDED = quick_settings(sequence={"attendance": True, "attendance_ask_s": 3600.0})


def purged(*kinds, settings=None):
    """A plant that lets product go overboard after its purge's time, and only waits for a person."""
    retained = RetainedState(purge=Purge(kinds[0], also=kinds[1:], rinsed_l=1000.0, left_s=0.0))
    plant = Plant(retained=retained) if settings is None else Plant(settings, retained)
    if settings is not None:
        plant.give("log", kind="at_the_plant")
    return plant.brought_to("diverting")


def confirm(plant, tests, **more):
    return plant.give("log", kind="purge_confirmed", confirmed=list(tests), **more)


@pytest.mark.parametrize("kind", PURGES)
def test_a_purge_ends_only_with_all_of_its_own_tests(kind):
    plant = purged(kind)
    for missing in END_TESTS[kind]:
        assert confirm(plant, set(END_TESTS[kind]) - {missing}) == ["end_test_open"]
    assert plant.give("log", kind="purge_confirmed") == ["end_test_open"]
    assert plant.core.plant.retained.purge is not None
    assert confirm(plant, END_TESTS[kind]) == []
    assert plant.core.plant.retained.purge is None


def test_nobody_tastes_or_smells_after_chemical_cleaners_and_the_strip_comes_before_nose_and_tongue():
    assert end_test(["cleaning"]) == ("ph_strip",)
    assert "sulphite_strip" in END_TESTS["preservative"]
    for kinds in (["preservative"], ["new_element"], ["preservative", "glycol", "new_element"]):
        tests = end_test(kinds)
        assert tests[-1] == "no_taste"
        assert all(tests.index(strip) < tests.index("no_smell") for strip in tests if strip.endswith("_strip"))


@pytest.mark.parametrize("others", [kinds for n in range(len(PURGES)) for kinds in combinations(OTHERS, n)])
def test_where_a_cleaner_was_no_test_asks_for_nose_or_tongue_and_each_kind_still_has_one(others):
    plant = purged("cleaning", *others)
    tests = plant.snapshot()["owed"]["purge"]["tests"]
    for test in tests:
        asked = words.end_test_text(test).replace("Smell and taste nothing", "")
        assert not re.search("smell|tast|tongue|nose", asked + words.end_test_name(test), re.IGNORECASE)
    assert all(set(END_TESTS[kind]) & set(tests) for kind in ("cleaning", *others))
    assert confirm(plant, tests[:-1]) == ["end_test_open"]
    assert confirm(plant, tests) == []


def test_what_was_owed_before_is_tested_as_well():
    plant = Plant(retained=RetainedState(purge=Purge("preservative", left_s=50.0)))
    plant.give("log", kind="cleaned")
    owed = plant.core.plant.retained.purge
    assert set(owed.kinds) == {"preservative", "cleaning"}
    assert owed.left_s == plant.settings.sequence.purge_s
    assert owed.rinsed_l == 0.0
    assert decode(encode(plant.core.plant.retained)).purge == owed


def test_a_shorter_purge_takes_nothing_off_a_longer_one():
    plant = Plant(retained=RetainedState(purge=Purge("cleaning", left_s=3600.0)))
    plant.give("lay_up", preservative="preservative")
    assert plant.core.plant.retained.purge.left_s == 3600.0


def test_a_file_that_cannot_be_read_owes_every_test_that_it_might_have_owed(tmp_path):
    (tmp_path / "latch").write_bytes(b"torn")
    assert set(read(tmp_path / "latch").purge.kinds) == set(PURGES)


def test_the_water_that_is_tested_flows():
    plant = purged("preservative")
    plant.read("product_flow", 0.0)
    plant.tick()
    assert confirm(plant, END_TESTS["preservative"]) == ["end_test_wants_product"]
    assert confirm(Plant(retained=RetainedState(purge=Purge("glycol", left_s=0.0))), END_TESTS["glycol"]) == [
        "end_test_wants_product"
    ]


def test_a_person_is_there_and_no_broker_confirms():
    plant = purged("cleaning", settings=ATTENDED)
    plant.wait(601, dt=0.5)
    assert confirm(plant, END_TESTS["cleaning"]) == ["end_test_wants_presence"]
    plant.give("log", kind="at_the_plant")
    assert confirm(plant, END_TESTS["cleaning"], origin=Origin.MQTT) == ["never_from_mqtt"]
    assert confirm(plant, END_TESTS["cleaning"]) == []


def test_a_broker_reads_no_chlorine_strip():
    plant = Plant(retained=RetainedState(chlorine_suspected=True))
    assert plant.give("log", kind="chlorine_strip_zero", origin=Origin.MQTT) == ["never_from_mqtt"]
    assert plant.core.plant.retained.chlorine_suspected


def test_an_answer_nobody_asked_for_is_refused_with_the_list():
    plant = purged("cleaning")
    plant.tick(Command("log", {"kind": "purge_confirmed", "confirmed": ["ph_strip", "ph"]}, Origin.CLI, "ann", "1:x"))
    ((_, accepted, (reason,)),) = plant.outcome.answers
    assert not accepted
    told = words.reason(reason.as_message())
    assert told == f"“ph” is not asked here. Asked: {', '.join(ORDER)}."


@pytest.mark.parametrize("kind", PURGES)
def test_the_sentence_and_the_snapshot_name_the_tests(kind):
    plant = purged(kind)
    now = plant.snapshot()
    assert now["owed"]["purge"]["tests"] == list(END_TESTS[kind])
    assert now["owed"]["purge"]["not_now"] == []
    said = words.sentence(now)
    assert "sulphite" in said or kind in ("cleaning", "glycol")
    assert ("pH" in said) == (kind == "cleaning")
    assert ("taste" in said) == (kind != "cleaning")
