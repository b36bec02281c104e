"""The page names sensors as the program does."""

import runpy
from pathlib import Path

SCRIPT = runpy.run_path(str(Path(__file__).parents[2] / ".ci" / "page_channels.py"))


def test_the_pages_names_of_sensors_are_those_of_the_words():
    assert SCRIPT["PLACE"].read_text("utf-8") == SCRIPT["content"](), "stale: run `make docs`"
