"""Every id that control can say has words of its own, and no words stand there unused."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

from halocline.control import permissives
from halocline.control.permissives.people import ALL_QUESTIONS
from halocline.control.sequence import sequence_table as sequence
from halocline.control.wiring_check import wiring_findings
from halocline.plant import words
from halocline.plant.alarms import ROWS, AlarmDefinition
from halocline.plant.command_definitions import COMMANDS
from halocline.plant.purges import END_TESTS, ORDER
from halocline.plant.vocabulary import (
    CHANNELS,
    CONTACTS,
    OUTPUTS,
    PURGES,
    Ask,
    Quality,
    State,
)
from halocline.plant.words.alarm_names import ALARM_TEXTS
from halocline.plant.words.fault_texts import FAULT_TEXTS
from halocline.plant.words.purge_texts import END_TEST_NAMES, END_TEST_TEXTS
from halocline.plant.words.refusal_texts import REFUSAL_TEXTS
from halocline.plant.words.sentences import ASK_TEXTS, SENTENCE_TEXTS
from halocline.plant.words.why_texts import WHY_TEXTS
from halocline.simulation import FAULTS

PACKAGE = Path(words.__file__).parents[2]
CONTROL = sorted((PACKAGE / "control").rglob("*.py"))
WORDS = PACKAGE / "plant" / "words"

LATER = {"latch_unreadable", "control_failed"}
"""Trips without a condition: one is read from a file, the other is an error of the program."""


def calls_of_reason(path: Path) -> Iterator[ast.Call]:
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Reason" and node.args:
            yield node


def literals_in(node: ast.expr) -> Iterator[str]:
    """The ids that an expression can come to, as far as it is written out."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from literals_in(node.body)
        yield from literals_in(node.orelse)


def literal_ids(*, status: bool) -> set[str]:
    return {
        identifier
        for path in CONTROL
        if (path.name == "status_message.py") is status
        for call in calls_of_reason(path)
        for identifier in literals_in(call.args[0])
    }


QUALITY_IDS = {
    identifier
    for name in ("quality.py", "duties/purge_duty.py")
    for call in calls_of_reason(PACKAGE / "control" / name)
    for identifier in literals_in(call.args[0])
    if name == "quality.py" or identifier.startswith("purge_")
}
BUILT = {
    "is_": {f"is_{state.value}" for state in State},
    "_active": {f"{contact}_active" for contact in ("stop_button", "bilge_wet", "pressure_switch")},
    "_open_at_rest": {f"{contact}_open_at_rest" for contact in wiring_findings.CLOSED_AT_REST},
    "_": {f"{kind}_{quality.value}" for kind, quality in wiring_findings.SIGNALS},
    "diverting_": {f"diverting_{identifier}" for identifier in QUALITY_IDS},
}
"""Ids put together at run time, by the part that is written out."""

SENTENCES = literal_ids(status=True) | BUILT["diverting_"]
FACTS = set(sequence.FACTS) - {"trip", "stop", "raise_timeout", "quality_lost", "flush_failed"}
"""Facts that name themselves as the reason; the others stand for a reason of their own."""
REASONS = literal_ids(status=False) | FACTS | {row.id for row in ROWS} | LATER
REASONS |= set().union(*(ids for part, ids in BUILT.items() if part != "diverting_"))


def test_ids_put_together_at_run_time_are_those_known_here() -> None:
    parts = {
        part.value
        for path in CONTROL
        for call in calls_of_reason(path)
        if isinstance(call.args[0], ast.JoinedStr)
        for part in call.args[0].values
        if isinstance(part, ast.Constant)
    }
    assert parts == set(BUILT)


def test_the_contacts_that_refuse_a_command_are_those_known_here() -> None:
    source = Path(permissives.__file__).read_text()
    named = set(re.findall(r'\bcontact_clear\("(\w+)"\)', source))
    assert {f"{contact}_active" for contact in named} == BUILT["_active"]


def test_the_scan_sees_what_control_says() -> None:
    assert {"producing", "tripped", "rinsing_open_regulator", "diverting_tds_high"} <= SENTENCES
    assert {"tank_has_no_room", "target_litres", "flush_no_supply", "primed", "is_bench", "bilge_wet"} <= REASONS


@pytest.mark.parametrize("identifier", sorted(SENTENCES))
def test_every_sentence_has_its_own_words(identifier: str) -> None:
    said = words.sentence({"state": "-", "sentence": {"id": identifier, "values": {"cause": "bilge_wet"}}})
    assert said != words.sentence({"state": "-", "sentence": {"id": "never heard of", "values": {}}})


@pytest.mark.parametrize("identifier", sorted(REASONS))
def test_every_reason_has_its_own_words(identifier: str) -> None:
    assert "the plant says" not in words.reason({"id": identifier, "values": {}}).lower()


def test_an_unknown_reason_is_passed_on_readably() -> None:
    assert words.reason({"id": "tide_went_out", "values": {}}) == "The plant says “tide went out”."
    assert words.reason({}) == "The reason is unknown."


@pytest.mark.parametrize("identifier", sorted({row.id for row in ROWS} | LATER))
def test_every_alarm_says_what_it_means_what_happens_if_ignored_and_what_to_do(identifier: str) -> None:
    texts = words.alarm_texts(identifier, {})
    assert len(set(texts)) == 3
    for text in texts:
        assert text.endswith(".")
        assert len(text) >= 20
        assert text[0].isupper()
    assert words.alarm_name(identifier) in {row.name for row in ALARM_TEXTS.values()}


def test_no_two_alarms_share_a_title_or_a_meaning() -> None:
    assert len({text.name for text in ALARM_TEXTS.values()}) == len(ALARM_TEXTS)
    assert len({words.alarm_texts(identifier, {})[0] for identifier in ALARM_TEXTS}) == len(ALARM_TEXTS)


@pytest.mark.parametrize("row", [row for row in ROWS if row.latched], ids=lambda row: row.id)
def test_what_switches_everything_off_says_how_to_go_on(row: AlarmDefinition) -> None:
    assert words.alarm_texts(row.id, {})[2].endswith("Then acknowledge and reset.")


@pytest.mark.parametrize("row", [row for row in ROWS if row.latched], ids=lambda row: row.id)
@pytest.mark.parametrize("state", ["acknowledged", "latched"])
def test_what_was_acknowledged_asks_for_the_reset_only(row: AlarmDefinition, state: str) -> None:
    remedy = words.alarm_texts(row.id, {}, state=state)[2]
    assert remedy.endswith(" Then reset.")
    assert "acknowledge" not in remedy


@pytest.mark.parametrize("row", [row for row in ROWS if not row.latched], ids=lambda row: row.id)
def test_what_needs_no_reset_asks_for_none(row: AlarmDefinition) -> None:
    assert "reset" not in words.alarm_texts(row.id, {})[2]


def test_every_refusal_names_a_remedy_after_what_is_wrong() -> None:
    for identifier, text in REFUSAL_TEXTS.items():
        assert re.search(r"[.:] ?\S", text.whole), identifier
        assert ". " not in text.wrong, identifier


def test_everything_that_can_be_asked_of_a_person_has_words() -> None:
    assert set(ASK_TEXTS) == {request.value for request in Ask}
    assert words.ask(None) is None
    assert words.ask("raise_pressure", {"rate_bar_s": 0.5, "target_bar": 55.0}) == (
        "Close the regulator slowly, 0.5 bar/s, to 55 bar."
    )
    assert words.ask("raise_pressure") == "Close the regulator slowly."
    assert words.ask("dance") == "Please: dance."


def test_every_kind_of_purge_has_an_end_test_and_every_test_its_words() -> None:
    assert set(END_TESTS) == set(PURGES)
    named = {test for tests in END_TESTS.values() for test in tests}
    assert named == set(ORDER) == set(END_TEST_TEXTS) == set(END_TEST_NAMES)


def test_everything_of_the_vocabulary_has_a_name() -> None:
    named = [
        *[(words.channel_name, channel) for channel in CHANNELS],
        *[(words.contact_name, contact) for contact in CONTACTS],
        *[(words.output_name, output) for output in OUTPUTS],
        *[(words.state_name, state.value) for state in State],
        *[(words.quality_text, quality.value) for quality in Quality],
        *[(words.command_name, command) for command in COMMANDS],
        *[(words.purge_name, purge) for purge in PURGES],
        *[(words.question_text, question) for question in ALL_QUESTIONS],
    ]
    for name, identifier in named:
        assert name(identifier)
        assert "_" not in name(identifier)
    assert words.channel_name("feed_pressure") == "pump inlet pressure"
    assert words.channel_name("depth_of_keel") == "depth of keel"


# ---- the texts and what control gives them ------------------------------------------------------------

TEMPLATES = {
    **SENTENCE_TEXTS,
    **{identifier: text.whole for identifier, text in REFUSAL_TEXTS.items()},
    **WHY_TEXTS,
    **ASK_TEXTS,
    **{
        f"{key}.{part}": getattr(text, part)
        for key, text in ALARM_TEXTS.items()
        for part in text.__slots__
        if isinstance(getattr(text, part), str)
    },
}


def keys_of(template: str) -> set[str]:
    return {key for _, key, _, _ in Formatter().parse(template) if key}


def test_no_text_wants_a_value_that_control_never_gives() -> None:
    given = {
        node.value
        for folder in ("control", "signals")
        for path in (PACKAGE / folder).rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    wanted = {key for template in TEMPLATES.values() for key in keys_of(template) if not key.endswith("_said")}
    assert wanted - given <= {"about", "unmeasured", "text"}


def test_a_reason_comes_with_every_number_that_its_text_cannot_do_without() -> None:
    for path in CONTROL:
        for call in calls_of_reason(path):
            if len(call.args) < 2 or not isinstance(call.args[1], ast.Dict) or None in call.args[1].keys:
                continue
            given = {key.value for key in call.args[1].keys if isinstance(key, ast.Constant)}
            for identifier in literals_in(call.args[0]):
                template = TEMPLATES.get(identifier, "")
                needed = {key for key in keys_of(re.sub(r"\[[^\]]*\]", "", template)) if not key.endswith("_said")}
                assert needed <= given | {"about", "unmeasured"}, identifier


def test_no_words_are_left_over_from_what_control_no_longer_says() -> None:
    said_somewhere = {
        node.value
        for path in PACKAGE.rglob("*.py")
        if WORDS not in path.parents
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    built = set().union(*BUILT.values()) | {f"sensor_fault_{channel}" for channel in CHANNELS}
    unused = {*SENTENCE_TEXTS, *REFUSAL_TEXTS, *WHY_TEXTS, *ALARM_TEXTS} - said_somewhere - built
    assert not unused


def test_nothing_calls_water_safe() -> None:
    for key, template in TEMPLATES.items():
        for word in ("safe to drink", "drinkable", "potable", "pure water", "clean water", "safe water"):
            assert word not in template.lower(), key


def test_no_text_carries_a_number_with_a_unit_of_its_own() -> None:
    """Such a number would not be converted, and would not follow the settings."""
    for key, template in TEMPLATES.items():
        assert not re.search(r"\d ?(bar|psi|L|°C|mg/L|V|µS/cm)\b", template), key


@pytest.mark.parametrize("identifier", ["vessel_pressure_high_high", "vessel_pressure_lost"])
def test_under_high_pressure_nobody_is_sent_to_feel_for_a_leak(identifier: str) -> None:
    assert "ever feel for a leak with a hand" in words.alarm_texts(identifier, {})[2]


def test_water_near_mains_says_breaker_first() -> None:
    assert words.alarm_texts("bilge_wet", {})[2].startswith("Mains near water: breaker now")
    assert "breaker first" in words.reason({"id": "bilge_wet_active", "values": {}})


def test_every_fault_of_a_simulated_boat_has_a_name_and_says_what_it_does():
    assert set(FAULT_TEXTS) == set(FAULTS)
    assert len({text.name for text in FAULT_TEXTS.values()}) == len(FAULTS)
    assert all(text.does.endswith(".") and len(text.name) <= 32 for text in FAULT_TEXTS.values())
    assert words.fault_text("no_such_fault").name == "no such fault"
