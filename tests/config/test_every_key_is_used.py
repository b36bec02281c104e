"""No key is accepted that nothing uses: every field of the settings is read by the program, or judged by a check."""

import ast
from collections import defaultdict
from dataclasses import fields, is_dataclass
from pathlib import Path

import pytest

import halocline
from halocline.config.tables import hints
from halocline.config.values import without_none
from halocline.plant.sensors import INPUT_KINDS, ContactInput, OutputPin
from halocline.plant.settings import ReportSettings, Settings

PACKAGE = Path(halocline.__file__).parent
TELL_ONLY = (
    "plant/settings.py",
    "plant/sensors.py",
    "config/reference.py",
    "config/wiring_table.py",
    "config/notes.py",
)
"""Modules that name keys without acting on them: definitions, documents, advice."""

TABLES = {
    field.name: without_none(hints(owner)[field.name])
    for owner in (Settings, ReportSettings)
    for field in fields(owner)
    if is_dataclass(without_none(hints(owner)[field.name]))
}
WIRING = (*INPUT_KINDS.values(), ContactInput, OutputPin)


def uses():
    """Every name that is read from an object, and every dotted key that a table of checks names; by module."""
    read = defaultdict(set)
    for path in PACKAGE.rglob("*.py"):
        module = path.relative_to(PACKAGE).as_posix()
        if module in TELL_ONLY:
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load):
                read[node.attr].add(module)
            elif isinstance(node, ast.Constant) and isinstance(node.value, str) and "." in node.value:
                read[node.value].add(module)
    return read


USES = uses()


def used(table, cls, name):
    """The modules that use a key: other things may have the same name, so its table or its class is spoken of there."""
    spoken_of = USES[table] | {module for module in USES[name] if cls.__name__ in (PACKAGE / module).read_text("utf-8")}
    return USES[f"{table}.{name}"] | (USES[name] & spoken_of)


@pytest.mark.parametrize("table", TABLES)
def test_every_key_of_a_table_is_used(table):
    cls = TABLES[table]
    assert [field.name for field in fields(cls) if not used(table, cls, field.name)] == []


@pytest.mark.parametrize("cls", WIRING, ids=lambda cls: cls.__name__)
def test_every_key_of_a_wire_is_used(cls):
    assert [field.name for field in fields(cls) if not USES[field.name]] == []


def test_every_table_of_a_file_is_looked_at():
    for owner in (Settings, ReportSettings):
        assert [field.name for field in fields(owner) if not USES[field.name]] == []


def test_a_key_that_nothing_reads_would_be_found():
    assert not used("boat", TABLES["boat"], "crew")
    assert USES["url"]
    assert not used("mqtt", TABLES["mqtt"], "url")
