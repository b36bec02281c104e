"""Events of the record as lines of a log."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.plant import words
from halocline.plant.settings import UnitSettings
from halocline.plant.vocabulary import LOG_KINDS, State
from halocline.plant.words.cut_off import COMPUTER, COMPUTER_IN_SHORT, DURING
from halocline.plant.words.event_texts import EVENT_KINDS
from halocline.plant.words.names import WORK_NAMES

HELD = {"id": "quality_held", "values": {}}
RUN: dict[str, Any] = {
    "litres": 60.1,
    "seconds": 3900.0,
    "why": {"id": "target_litres", "values": {"litres": 60.1}},
}


@pytest.mark.parametrize(
    ("event", "line"),
    [
        (
            {"kind": "restarted", "ended": "cut_off", "during": "producing", "computer": True, "away_s": 40.0},
            "Control had been cut off while water was made. It was started again within 40 s; the computer had been "
            "without power or was started anew.",
        ),
        (
            {"kind": "restarted", "ended": "cut_off", "during": "standby", "computer": None, "away_s": None},
            "Control had been cut off at rest. It was started again.",
        ),
        (
            {"kind": "restarted", "ended": "told", "during": "standby", "computer": False, "away_s": 2.0},
            "Control was started again within 2 s; the computer itself had stayed on.",
        ),
        (
            {"kind": "state", "from": "diverting", "to": "producing", "why": HELD},
            "Making water: the salt stayed within the limit for long enough.",
        ),
        ({"kind": "command", "command": "flush", "accepted": True}, "Flush: accepted."),
        (
            {"kind": "command", "command": "acknowledge", "accepted": True, "arguments": {"alarm": "bilge_wet"}},
            "Acknowledge (Water under the plant): accepted.",
        ),
        (
            {"kind": "command", "command": "fault", "accepted": True, "arguments": {"fault": "seacock_closed"}},
            "Simulated fault (Seacock shut): accepted.",
        ),
        (
            {
                "kind": "command",
                "command": "fault",
                "accepted": True,
                "arguments": {"fault": "relay_welded", "output": "feed_pump", "clear": True},
            },
            "Simulated fault (Relay welded, ended): accepted.",
        ),
        (
            {"kind": "command", "command": "bench", "accepted": True, "arguments": {"output": "beacon"}},
            "Try an output (beacon): accepted.",
        ),
        (
            {"kind": "command", "command": "start", "accepted": True, "arguments": {"litres": 5.0}},
            "Start: accepted.",
        ),
        ({"kind": "alarm", "id": "bilge_wet", "to": "acknowledged"}, "Alarm “Water under the plant”: acknowledged."),
        ({"kind": "run_started", "run": {"target_l": 60.0, "why": {"litres": 60.0}}}, "A run began, 60 L wanted."),
        ({"kind": "run_started", "run": {"target_l": None, "why": {}}}, "A run began."),
        (
            {"kind": "run_ended", "run": RUN},
            "The run ended after 65 min: 60 L went to the tank, as asked.",
        ),
        ({"kind": "flush_ended", "complete": True, "litres": 12.4}, "Flushed with 12 L."),
        ({"kind": "flush_ended", "complete": False, "litres": None}, "The flush was broken off."),
        ({"kind": "log", "what": "filter_changed", "note": "both, brown"}, "Filters changed: both, brown"),
        ({"kind": "log", "what": "oil_changed", "note": ""}, "Pump oil changed."),
        (
            {"kind": "calibration", "channel": "feed_pressure", "initials": "RM"},
            "Calibrated: pump inlet pressure (RM).",
        ),
        (
            {"kind": "calibration", "channel": "feed_pressure", "initials": "RM", "configured": True},
            "Reads by the configuration again: pump inlet pressure (RM).",
        ),
        ({"kind": "tide_turned"}, "Tide turned."),
    ],
)
def test_an_event_is_one_line(event: dict[str, Any], line: str) -> None:
    assert words.event_text(event) == line


def test_a_refused_command_says_its_first_reason() -> None:
    refused = {"kind": "command", "command": "start", "accepted": False, "reasons": [{"id": "bilge_wet", "values": {}}]}
    line = words.event_text(refused)
    assert line is not None
    assert line.startswith("Start was refused: ")
    assert "bilge" in line


@pytest.mark.parametrize("command", ["log", "calibrate"])
def test_a_command_that_leaves_an_event_of_its_own_is_not_told_twice_unless_it_was_refused(command: str) -> None:
    assert words.event_text({"kind": "command", "command": command, "accepted": True}) is None
    assert words.event_text({"kind": "command", "command": command, "accepted": False}) is not None


def test_units_are_those_chosen_aboard() -> None:
    american = UnitSettings(pressure="psi", volume="gal", temperature="F", salt="uS/cm")
    assert words.event_text({"kind": "flush_ended", "complete": True, "litres": 12.4}, american) == (
        "Flushed with 3.3 gal."
    )


def test_all_work_that_can_be_put_on_record_has_a_name() -> None:
    assert set(WORK_NAMES) == set(LOG_KINDS)


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=300),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                ["id", "values", "why", "run", "litres", "reasons", "accepted", "note", "to", "channel", "error"]
            ),
            inner,
            max_size=6,
        )
    ),
    max_leaves=12,
)


@given(st.sampled_from(sorted(EVENT_KINDS)), st.dictionaries(st.text(max_size=12), ANYTHING, max_size=8), ANYTHING)
def test_whatever_stands_in_an_event_it_is_a_readable_line(kind: str, event: dict[str, Any], inner: Any) -> None:
    for key in ("why", "run", "reasons", "to", "id", "note", "litres", "error", "channel"):
        line = words.event_text({**event, key: inner, "kind": kind})
        assert line is None or (0 < len(line) <= 220 and line.isprintable())


@pytest.mark.parametrize("state", State)
def test_every_state_can_have_been_cut_off(state):
    assert str(state) in DURING
    means, _, _ = words.alarm_texts("restarted_unexpectedly", {"during": str(state), "computer": False})
    assert DURING[str(state)] in means
    assert COMPUTER[False] in means


@pytest.mark.parametrize("state", State)
@pytest.mark.parametrize(("computer", "supply"), [(True, True), (False, False), (None, True)])
def test_a_supply_is_blamed_for_no_computer_that_stayed_on(computer, supply, state):
    said = " ".join(words.alarm_texts("restarted_unexpectedly", {"during": str(state), "computer": computer}))
    assert "supply failed" not in said
    assert said.count("power supply") == supply
    assert ("If the computer itself went off" in said) == (computer is None)


@pytest.mark.parametrize("state", State)
@pytest.mark.parametrize("computer", [True, False, None])
def test_what_was_ended_on_purpose_sends_nobody_to_look_for_a_failure(state, computer):
    values = {"during": str(state), "computer": computer, "on_purpose": True}
    means, _, do = words.alarm_texts("restarted_unexpectedly", values)
    assert ("been shut down" if computer is True else "been told to end") in means
    assert "power supply" not in do
    assert "journal" not in do
    assert "acknowledge" in do


IN_A_RUN = ("priming", "pressurising", "diverting", "producing", "stopping")


@pytest.mark.parametrize("during", [*IN_A_RUN, "flushing", "bench", "hand_run", "unknown"])
@pytest.mark.parametrize("computer", [True, False, None])
def test_every_face_says_what_was_cut_off_and_nothing_else(during, computer):
    values = {"during": during, "computer": computer}
    sentence = words.sentence(
        {"state": "standby", "ask": "open_regulator", "sentence": {"id": "standby_open_regulator", "values": values}}
    )
    means, ignored, do = words.alarm_texts("restarted_unexpectedly", values)
    name = words.alarm_name("restarted_unexpectedly")
    assert "running" not in name
    assert DURING.get(during, "at an unknown moment") in sentence
    assert DURING.get(during, "at an unknown moment") in means
    assert computer is None or COMPUTER_IN_SHORT[computer] in sentence
    assert "interrupted run" not in sentence
    assert ("sea water stands in the membrane" in ignored) == (during in IN_A_RUN)
    assert ("Then acknowledge, and flush." in do) == (during in IN_A_RUN)
    assert "acknowledge" in sentence
    assert "acknowledge" in do


def test_a_plant_laid_up_with_anything_is_not_said_to_hold_preservative():
    assert "preservative" not in words.reason({"id": "is_laid_up", "values": {}})
