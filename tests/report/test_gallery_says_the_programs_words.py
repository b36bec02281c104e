"""The page's gallery can show only what the program would say."""

import runpy
from pathlib import Path

import pytest

from halocline.plant.words.sentences import SENTENCE_TEXTS

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "web" / "fixtures"


@pytest.fixture(scope="module")
def script():
    return runpy.run_path(str(ROOT / ".ci" / "fixtures.py"))


def test_every_fixture_is_written_from_the_programs_words_as_they_are_now(script):
    made = script["fixtures"]()
    assert set(made) == {path.stem for path in FOLDER.glob("*.json")}
    stale = [name for name, text in made.items() if (FOLDER / f"{name}.json").read_text("utf-8") != text]
    assert not stale, "make docs writes them anew"


def test_every_sentence_of_the_gallery_is_one_that_control_can_say(script):
    said = {of["sentence"][0] for of in script["SAID"].values()}
    assert said <= {*SENTENCE_TEXTS, "tripped"}
