"""Every fault of the catalogue beside this file is shown by tests that are there."""

import ast
import re
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

FOLDER = Path(__file__).parent
ROOT = FOLDER.parents[1]

NUMBERS: dict[str, tuple[int, ...]] = {
    "plant.md": (*range(26, 31), *range(32, 46), 85),
    "signals.md": (*range(1, 26), 31),
    "broker.md": (*range(69, 74),),
    "people.md": (*range(74, 85),),
}
"""The faults each file has to hold."""

HEADING = re.compile(r"^## (\d+) (\S.*)$")
SHOWN_BY = re.compile(r"^- `([^`]+)`$")


class Fault(NamedTuple):
    """One fault: its number and name, what is said about it, and what shows it."""

    number: int
    name: str
    said: str
    shown_by: tuple[str, ...]


def faults_of(file: str) -> list[Fault]:
    found: list[Fault] = []
    for line in (FOLDER / file).read_text(encoding="utf-8").splitlines():
        heading, shown_by = HEADING.match(line), SHOWN_BY.match(line)
        if heading:
            found.append(Fault(int(heading[1]), heading[2], "", ()))
        elif found and shown_by:
            found[-1] = found[-1]._replace(shown_by=(*found[-1].shown_by, shown_by[1]))
        elif found:
            assert not line.startswith("- "), f"{file}: not a test in back-quotes: {line}"
            found[-1] = found[-1]._replace(said=f"{found[-1].said} {line}".strip())
    return found


@cache
def names_in(path: Path) -> frozenset[str]:
    """The test functions of a file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return frozenset(node.name for node in tree.body if isinstance(node, ast.FunctionDef))


def is_there(place: str) -> bool:
    file, _, name = place.partition("::")
    path = ROOT / file
    if not path.is_file() or not file.startswith("tests/"):
        return False
    if path.suffix == ".toml":
        return path.parent.name == "rehearsals" and not name and "[[expect]]" in path.read_text(encoding="utf-8")
    return name.startswith("test_") and name in names_in(path)


CATALOGUE = [pytest.param(fault, id=f"{fault.number} {fault.name}") for file in NUMBERS for fault in faults_of(file)]


@pytest.mark.parametrize("file", NUMBERS)
def test_a_file_holds_each_of_its_faults_once_and_in_order(file: str) -> None:
    assert tuple(fault.number for fault in faults_of(file)) == NUMBERS[file]


def test_no_fault_stands_in_two_files_and_every_file_is_known() -> None:
    numbers = [number for file in NUMBERS for number in NUMBERS[file]]
    assert len(numbers) == len(set(numbers))
    assert {path.name for path in FOLDER.glob("*.md")} == {"README.md", *NUMBERS}


@pytest.mark.parametrize("fault", CATALOGUE)
def test_a_fault_says_what_has_to_happen_and_is_shown_by_tests_that_are_there(fault: Fault) -> None:
    assert len(fault.said) > 40
    assert fault.shown_by
    assert [place for place in fault.shown_by if not is_there(place)] == []
