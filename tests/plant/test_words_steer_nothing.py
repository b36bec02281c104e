"""No decision looks at the words of a sentence: what code has to know of a text stands in the text's record. Here the
records are held against the words, which only a test may read."""

import ast
import itertools
import re
from pathlib import Path

import pytest

import halocline
from halocline.plant import words
from halocline.plant.words.alarm_names import ALARM_TEXTS, SUCTION_TEXTS
from halocline.plant.words.alarm_text import AlarmText
from halocline.plant.words.sentences import ASK_TEXTS, SENTENCE_TEXTS

DAEMON = Path(halocline.__file__).parent
HELD_UP = [(name, text) for name, places in SUCTION_TEXTS.items() for text in places.values()]
EVERY_ALARM = [*ALARM_TEXTS.items(), *HELD_UP]
LOOKS_INSIDE = {"startswith", "endswith", "find", "index", "split", "partition", "rpartition", "removeprefix", "count"}
OF_OTHERS = {
    ("report/mqtt/connection.py", "Client is not connected"),
    ("report/http/app.py", "Value error, "),
    ("app/checkup/services.py", "Raspberry Pi"),
}
"""Words of libraries and of the kernel, which give nothing else to tell by."""

VALUES = {
    "rate_bar_s": 0.5,
    "target_bar": 55.0,
    "membrane_bar": 30.0,
    "answer_left_s": 200.0,
    "cause": "vessel_pressure_high_high",
}
OWED = {"flush": True, "chlorine": False, "purge": None}
NOTHING_OWED = {"flush": False, "chlorine": False, "purge": None}


def is_prose(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str) and bool(re.search(r"\w \w|\. ", node.value))


def prose_looked_for(tree: ast.AST) -> set[str]:
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare) and any(isinstance(one, ast.In | ast.NotIn) for one in node.ops):
            found |= {node.left.value} if is_prose(node.left) else set()
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in LOOKS_INSIDE:
            found |= {argument.value for argument in node.args if is_prose(argument)}
    return found


def test_no_code_looks_for_words_in_a_text() -> None:
    found = {
        (str(path.relative_to(DAEMON)), prose)
        for path in DAEMON.rglob("*.py")
        for prose in prose_looked_for(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert found == OF_OTHERS


@pytest.mark.parametrize("source", ['"pen the tap" in look', 'text.split(". ")', 'said.startswith("Safety stop")'])
def test_such_code_would_be_found(source: str) -> None:
    assert prose_looked_for(ast.parse(source))


@pytest.mark.parametrize(("name", "text"), EVERY_ALARM, ids=lambda one: one if isinstance(one, str) else "")
def test_the_record_of_an_alarm_says_what_its_words_say(name: str, text: AlarmText) -> None:
    assert text.opens_regulator == ("open the regulator" in text.look.lower())
    assert text.breaker == ("breaker now" in text.do.lower())


@pytest.mark.parametrize("asked", ASK_TEXTS)
@pytest.mark.parametrize("identifier", [*SENTENCE_TEXTS, "tripped"])
def test_the_place_of_a_request_is_where_it_stands(identifier: str, asked: str) -> None:
    for owed, pressure_bar in itertools.product((OWED, NOTHING_OWED), (30.0, 0.0)):
        values = {**VALUES, "membrane_bar": pressure_bar}
        now = {"state": "standby", "sentence": {"id": identifier, "values": values}, "ask": asked, "owed": owed}
        said, request = words.sentence(now), words.ask(asked, values)
        assert request is not None
        place = words.ask_place(now)
        assert (place is words.AskPlace.APART) == (request.rstrip(".").lower() not in said.lower())
        assert (place is words.AskPlace.END) == said.endswith(request) or place is words.AskPlace.START
        assert (place is words.AskPlace.START) == said.startswith(request.rstrip("."))
