"""Texts for people are short, plain, and send nobody to something that harms."""

import ast
import re
from pathlib import Path

import pytest

from halocline.plant import words

ROOT = Path(words.__file__).parents[4]
TASKS = (ROOT / "web" / "src" / "tasks" / "table.ts").read_text("utf-8")
PACKAGE = Path(words.__file__).parents[2]
SOURCES = sorted(Path(words.__file__).parent.glob("*.py"))
OTHERS = [
    *sorted((PACKAGE / "cli").glob("*.py")),
    *sorted((PACKAGE / "config").rglob("*.py")),
    PACKAGE / "report" / "texts.py",
]

NOT_PLAIN = (
    r"\b[Ss]omebody\b",
    r"\bwants\b",
    r"\b[Nn]obody knows\b",
    r"\bto go by\b|\bgone by\b",
    r"\bbecame product\b",
    r"\bstands against\b",
    r"\bseen to\b",
)
"""Turns of phrase that a reader has to read twice."""


def texts(path: Path) -> list[str]:
    """Every text in a module that people read: no docstrings, no ids."""
    nodes = list(ast.walk(ast.parse(path.read_text("utf-8"))))
    said_to_nobody = {node.value for node in nodes if isinstance(node, ast.Expr)}
    return [
        node.value
        for node in nodes
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and " " in node.value
        and node not in said_to_nobody
    ]


ALL = [(path.name, text) for path in SOURCES for text in texts(path)]
ALL += [("table.ts", text) for text in re.findall(r'"([^"\n]* [^"\n]*)"', TASKS)]


@pytest.mark.parametrize("phrase", NOT_PLAIN)
def test_no_text_has_to_be_read_twice(phrase):
    assert len(ALL) > 500
    on_other_faces = [(path.name, text) for path in OTHERS for text in texts(path)]
    assert not [(name, text) for name, text in [*ALL, *on_other_faces] if re.search(phrase, text)]


def test_glycol_is_always_the_one_that_may_touch_drinking_water():
    about = [text for _, text in ALL if "lycol" in text]
    assert len(about) >= 5
    assert not [text for text in about if "propylene" not in text and "glycol," not in text and "of glycol" not in text]
    laid_up = TASKS[TASKS.index('id: "lay_up"') : TASKS.index('id: "first_water"')]
    assert "food-grade propylene glycol into the pump" in laid_up
    assert "Never engine antifreeze" in laid_up
    assert "ump in " not in TASKS


def test_chlorine_harms_by_its_dose_and_hours_are_said_of_shock_doses_only():
    about = [text for _, text in ALL if "hlorine" in text and "hours" in text]
    assert about
    for text in about:
        assert "mg/L times hours" in text
        assert "50 mg/L" in text
        assert "common practice" in text


def test_water_under_the_plant_means_the_breaker_first():
    for alarm in ("bilge_wet",):
        assert "breaker now" in words.alarm_texts(alarm, {})[2].split(".")[0]
    assert "breaker first" in words.reason({"id": "bilge_wet_active", "values": {}}).split(". ")[1]


def test_nothing_is_tasted_after_cleaning():
    cleaning = TASKS[TASKS.index('id: "cleaning"') : TASKS.index('id: "flush_water"')]
    assert "sulphite strip" not in cleaning
    assert "Nobody tastes this water." in cleaning
    first_water = TASKS[TASKS.index('id: "first_water"') : TASKS.index('id: "cleaning"')]
    assert 'kind: "end_test"' in first_water
    assert "tast" not in first_water
