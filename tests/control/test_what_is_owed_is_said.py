"""In every state the one sentence tells what is owed, and never says "ready" over it."""

from dataclasses import replace

import pytest
from hand_driven_plant import FULL, QUICK, Plant, quick_settings
from hypothesis import given
from hypothesis import strategies as st

from halocline.control.retained.retained_state import Purge, RetainedState
from halocline.plant import words
from halocline.plant.vocabulary import PURGES, Origin, State
from halocline.plant.words.filling import LONGEST
from halocline.plant.words.owed_texts import IN_A_RUN
from halocline.plant.words.sentences import SENTENCE_TEXTS

PURGE = {
    None: None,
    "running": Purge("preservative", rinsed_l=1000.0, left_s=900.0),
    "to confirm": Purge("cleaning", also=("preservative",), rinsed_l=1000.0, left_s=0.0),
    "to rinse": Purge("glycol"),
}


def named(purge):
    return [words.purge_name(kind) for kind in purge.kinds]


def assert_told(said, state, retained):
    assert len(said) <= LONGEST
    if retained.purge is not None:
        assert all(name in said for name in named(retained.purge)), said
        assert "ready" not in said
    if retained.flush_owed and state not in IN_A_RUN:
        assert "flush" in said, said
        assert "ready" not in said
    if retained.chlorine_suspected:
        assert "chlorine" in said.lower(), said
        assert "ready" not in said


@pytest.mark.parametrize("state", [state.value for state in State])
@pytest.mark.parametrize("purge", PURGE)
@pytest.mark.parametrize("flush", [False, True])
@pytest.mark.parametrize("chlorine", [False, True])
def test_every_state_tells_what_is_owed(state, purge, flush, chlorine):
    plant = Plant().brought_to(state)
    plant.core.plant.persistence.carry_out(
        lambda retained: replace(retained, purge=PURGE[purge], flush_owed=flush, chlorine_suspected=chlorine)
    )
    assert_told(words.sentence(plant.snapshot()), state, plant.core.plant.retained)


@given(
    identifier=st.sampled_from(sorted({*SENTENCE_TEXTS, "tripped"} - {"standby_ready"})),
    state=st.sampled_from([state.value for state in State]),
    kinds=st.lists(st.sampled_from(PURGES), min_size=1, unique=True),
    confirm=st.booleans(),
    flush=st.booleans(),
    chlorine=st.booleans(),
    long=st.text(min_size=60, max_size=300),
)
def test_no_long_sentence_pushes_it_out(identifier, state, kinds, confirm, flush, chlorine, long):
    purge = {"of": kinds[0], "also": kinds[1:], "confirm": confirm}
    values = dict.fromkeys(("name", "reason", "why", "cause", "who", "of", "channel"), long)
    now = {
        "state": state,
        "sentence": {"id": identifier, "values": {**values, "of": ", ".join(kinds)}},
        "owed": {"flush": flush, "chlorine": chlorine, "purge": purge},
    }
    retained = RetainedState(
        purge=Purge(kinds[0], also=tuple(kinds[1:])), flush_owed=flush, chlorine_suspected=chlorine
    )
    assert_told(words.sentence(now), state, retained)


def test_a_start_refused_still_tells_what_is_owed():
    plant = Plant(retained=RetainedState(flush_owed=True, purge=PURGE["running"]))
    plant.press("tank_float")
    plant.tick()
    said = words.sentence(plant.snapshot())
    assert said.startswith("At rest. Cannot start: The tank float says full")
    assert said.endswith("Owed: a purge of preservative; a flush.")


@pytest.mark.parametrize("identifier", ["tripped", "standby_owed", "standby_refused", "standby_open_regulator"])
@pytest.mark.parametrize("confirm", [True, False])
def test_all_that_is_owed_is_named_and_owed_is_said_once(identifier, confirm):
    now = {
        "state": "standby",
        "sentence": {"id": identifier, "values": {"cause": "bilge_wet", "reason": "tank_is_full"}},
        "owed": {"flush": True, "chlorine": True, "purge": {"of": PURGES[0], "also": PURGES[1:], "confirm": confirm}},
    }
    said = words.sentence(now)
    assert all(words.purge_name(kind) in said for kind in PURGES), said
    assert " more" not in said
    assert "chlorine" in said
    assert len(said) <= LONGEST
    assert not said.endswith("…")
    assert said.lower().count("owed") == 1


def answer(plant, name, origin=Origin.CLI, **arguments):
    assert plant.give(name, origin=origin, **arguments) == []
    ((_, _, told),) = plant.outcome.answers
    return [words.reason(reason.as_message()) for reason in told]


def test_a_start_is_accepted_with_doubtful_flush_water_and_the_consequence_is_said():
    plant = Plant(retained=RetainedState(chlorine_suspected=True))
    (told,) = answer(plant, "start", litres=0.2)
    assert told.startswith("No flush will follow this run: the flush water may carry chlorine")
    assert answer(Plant(), "start", litres=0.2) == []


def test_stop_in_a_hand_run_says_that_it_stops_no_pump():
    for origin in (Origin.CLI, Origin.PAGE, Origin.MQTT):
        (told,) = answer(Plant().brought_to("hand_run"), "stop", origin)
        assert told.startswith("This does not stop the pump: it runs by its own switch.")
    assert answer(Plant().brought_to("producing"), "stop") == []


def test_stop_of_a_pump_that_is_only_watched_says_so_too():
    plant = Plant(quick_settings(drive={"pump": "watch_only"}))
    plant.give("start", litres=0.2)
    plant.until("pressurising")
    plant.hand_switch = True
    plant.wait(1)
    (told,) = answer(plant, "stop")
    assert "Switch it off there" in told


@pytest.mark.parametrize("settings", [FULL, QUICK])
def test_no_sentence_teaches_a_hand_to_raise_pressure_fast(settings):
    plant = Plant(settings)
    plant.give("start", litres=0.2)
    plant.until("pressurising", within_s=600)
    taught = set()
    for _ in range(1200):
        plant.tick()
        now = plant.snapshot()
        rate = now["sentence"]["values"].get("rate_bar_s")
        taught.add(rate)
        if words.asked(now) == "raise_pressure":
            asked = words.ask("raise_pressure", now["sentence"]["values"])
            said = words.sentence(now)
            assert ("demonstration is faster" in said) == (settings is QUICK)
            assert ("demonstration is faster" in asked) == (settings is QUICK)
        if plant.state != "pressurising":
            break
    assert max(rate for rate in taught if rate is not None) <= 0.7


def test_after_the_reset_of_a_trip_at_rest_no_earlier_run_is_told():
    plant = Plant().brought_to("producing")
    plant.give("stop")
    plant.until("standby")
    assert "stop was ordered" in words.sentence(plant.snapshot())
    plant.press("stop_button")
    plant.until("tripped")
    plant.press("stop_button", active=False)
    plant.wait(2)
    plant.give("acknowledge")
    plant.give("reset")
    said = words.sentence(plant.snapshot())
    assert "stop was ordered" not in said
    assert "The safety stop was reset" in said
