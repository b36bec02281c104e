"""The security table beside the server names tests that are there, and says why where it names none."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from halocline.report import http as server

ROOT = Path(__file__).parents[2]
TABLE = Path(server.__file__).with_name("SECURITY.md")
REPORT = TABLE.parents[1]
NAMED = re.compile(r"`(tests/[\w/]+\.py)::(\w+)`")
STARTS_PROGRAMS = {"subprocess", "pty", "multiprocessing"}


def rows():
    lines = [line for line in TABLE.read_text("utf-8").splitlines() if re.match(r"\| \d", line)]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines]


@cache
def names_in(file):
    tree = ast.parse((ROOT / file).read_text("utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


def test_the_table_has_its_rows():
    assert len(rows()) > 40
    assert all(len(row) == 4 for row in rows())


@pytest.mark.parametrize("row", rows(), ids=lambda row: row[0])
def test_an_item_is_met_and_shown_or_says_why_not(row):
    _, _, met, shown = row
    named = NAMED.findall(shown)
    assert [name for file, name in named if name not in names_in(file)] == []
    assert named or re.search(r"see below|no|in docs", met)


def test_report_starts_no_other_program():
    """Whatever somebody sends: there is no shell to reach."""
    for path in REPORT.rglob("*.py"):
        tree = ast.parse(path.read_text("utf-8"))
        imported = {
            alias.name.partition(".")[0]
            for node in ast.walk(tree)
            if isinstance(node, ast.Import)
            for alias in node.names
        }
        imported |= {
            node.module.partition(".")[0] for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.module
        }
        called = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
        assert not imported & STARTS_PROGRAMS, path.name
        assert not called & {"system", "popen", "execv", "execve", "spawnv", "fork"}, path.name
