"""The table of README says of every sentence of the plant what it means."""

import re
from pathlib import Path

import pytest

from halocline.plant.words.sentences import ASK_TEXTS, SENTENCE_TEXTS

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| (\*.+?\*) \| (.+?) \| (.+?) \|$", README, re.MULTILINE)
BEGINNINGS = tuple(phrase.strip() for cell, _, _ in ROWS for phrase in re.findall(r"\*(.+?)…\*", cell))
SAID = {**SENTENCE_TEXTS, "tripped": "Safety stop: ", "still_there": ASK_TEXTS["still_there"]}


@pytest.mark.parametrize("identifier", SAID)
def test_every_sentence_stands_in_the_table(identifier):
    assert SAID[identifier].startswith(BEGINNINGS)


def test_no_row_explains_what_is_never_said():
    assert len(BEGINNINGS) > 15
    said = SAID.values()
    assert [start for start in BEGINNINGS if not any(text.startswith(start) for text in said)] == []
