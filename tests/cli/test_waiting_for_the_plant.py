"""`halocline wait` ends when the plant has come there, or cannot come there by itself any more, and says each step."""

import itertools

import pytest

import live_snapshot
from halocline.cli import line

STILL_THERE = {"id": "cause_still_there", "values": {"causes": "stop_button"}}
JUST_GONE = {"id": "cause_just_gone", "values": {"causes": "stop_button", "seconds": 2.0}}


def at(state, **changes):
    return live_snapshot.live_now(state=state, sentence={"id": "other", "values": {}}, **changes)


@pytest.fixture
def plays(monkeypatch, control):
    """The plant goes through these snapshots, then stays at the last; how many were asked for."""

    def play(*snapshots):
        left = itertools.chain(snapshots, itertools.repeat(snapshots[-1]))
        asked = []
        monkeypatch.setattr(line, "now_of", lambda _client: asked.append(next(left)) or asked[-1])
        return asked

    return play


def test_it_ends_at_the_state_and_says_every_step_once(type_in, control, plays):
    plays(at("priming"), at("priming"), at("pressurising"), at("diverting"), at("producing"))
    status, out, err = type_in("wait", "producing", "--data", control.folder)
    assert (status, err) == (0, [])
    assert out == [
        "Filling the suction and driving the air out.",
        "Pressure builds up. Product goes overboard.",
        "Product goes overboard until its salt is proven to be within the limit.",
        "Making water into the tank.",
    ]


def test_where_the_plant_is_there_already_it_ends_at_once(type_in, control, plays):
    asked = plays(at("standby"))
    assert type_in("wait", "standby", "--data", control.folder) == (0, ["At rest."], [])
    assert len(asked) == 1


@pytest.mark.parametrize("rests", ["standby", "tripped", "laid_up"])
def test_a_plant_that_only_a_person_leads_on_is_not_waited_for(type_in, control, plays, rests):
    plays(at("priming"), at(rests))
    status, out, _ = type_in("wait", "producing", "--data", control.folder)
    assert (status, len(out)) == (1, 2)


def test_it_waits_until_a_command_is_allowed_and_says_what_is_in_the_way(type_in, control, plays):
    tripped = [at("tripped", allowed=[], refused={"reset": [reason]}) for reason in (STILL_THERE, JUST_GONE, JUST_GONE)]
    plays(*tripped, at("tripped", allowed=["reset"], refused={}))
    status, out, _ = type_in("wait", "--allowed", "reset", "--data", control.folder)
    assert status == 0
    assert [said for said in out if said.startswith("  - ")] == [
        "  - Still there: Stop button pressed. Put it right first, then reset.",
        "  - No longer seen, but not for long enough: Stop button pressed. Wait 2 s, then reset.",
    ]


def test_it_gives_up_when_the_time_is_over(type_in, control, plays):
    plays(at("producing"))
    status, out, _ = type_in("wait", "standby", "--minutes", "0.001", "--data", control.folder)
    assert (status, out[-1]) == (1, "Not within 0 s.")


@pytest.mark.parametrize("arguments", [(), ("dancing",), ("producing", "--allowed", "reset"), ("--allowed", "dance")])
def test_it_wants_one_state_or_one_command_that_exists(type_in, arguments):
    status, out, (err,) = type_in("wait", *arguments)
    assert (status, out) == (2, [])
    assert err.startswith("halocline wait: ")
