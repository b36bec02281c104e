"""Whatever stands in a file, the answer is settings that hold or a ConfigError: never anything else."""

import copy
import math
from dataclasses import fields, is_dataclass
from datetime import date, datetime, time
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.config import (
    ConfigError,
    consistency_problems,
    demo_document,
    demo_text,
    notes,
    parse_document,
    quick,
    report_settings_from_document,
    settings_from_document,
    with_overrides,
)
from halocline.config.document import REPORT_TABLES

DEMO = demo_document()


def paths(document: dict[str, Any], above: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    found = []
    for key, value in document.items():
        found.append((*above, key))
        if isinstance(value, dict):
            found += paths(value, (*above, key))
    return found


PATHS = paths(DEMO)
SCALARS = st.one_of(
    st.none().map(lambda _: {}),
    st.booleans(),
    st.integers(),
    st.integers(min_value=-10, max_value=120),
    st.just(1 << 5000),
    st.floats(),
    st.floats(min_value=-5, max_value=100),
    st.text(max_size=80),
    st.sampled_from(["pulses", "voltage", "thermistor", "ratiometric", "resistive_sender", "watch_only", "3min"]),
    st.dates(),
    st.just(datetime(2024, 2, 29, 12)),
    st.just(time(12, 30)),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=8), inner, max_size=3)),
    max_leaves=5,
)
KEYS = st.one_of(st.text(max_size=12), st.sampled_from(sorted({path[-1] for path in PATHS})))


@st.composite
def mutated(draw: st.DrawFn) -> dict[str, Any]:
    document = copy.deepcopy(DEMO)
    for path in draw(st.lists(st.sampled_from(PATHS), min_size=1, max_size=5)):
        table: Any = document
        for part in path[:-1]:
            table = table.get(part) if isinstance(table, dict) else None
        if not isinstance(table, dict):
            continue
        action = draw(st.sampled_from(["replace", "delete", "insert", "rename"]))
        if action == "replace":
            table[path[-1]] = draw(VALUES)
        elif action == "insert":
            table[draw(KEYS)] = draw(VALUES)
        else:
            value = table.pop(path[-1], None)
            if action == "rename" and value is not None:
                table[draw(KEYS)] = value
    return document


def numbers(value: Any) -> list[float]:
    if isinstance(value, float):
        return [value]
    if isinstance(value, dict):
        return [number for item in value.values() for number in numbers(item)]
    if isinstance(value, tuple):
        return [number for item in value for number in numbers(item)]
    if is_dataclass(value) and not isinstance(value, type):
        return [number for field in fields(value) for number in numbers(getattr(value, field.name))]
    return []


def check_lines(error: ConfigError, place: str = "x.toml: ") -> None:
    assert error.problems
    for problem in error.problems:
        line = str(problem)
        assert "\n" not in line
        assert line.startswith(place)
        assert problem.found
        assert problem.allowed
        assert problem.remedy


@settings(max_examples=250, deadline=None)
@given(mutated())
def test_a_mutated_document_is_used_or_refused_with_clear_lines(document: dict[str, Any]) -> None:
    try:
        loaded = settings_from_document(document, "x.toml")
    except ConfigError as error:
        check_lines(error)
    else:
        assert all(math.isfinite(number) for number in numbers(loaded))
        assert consistency_problems(loaded, "x.toml") == []
        assert all("\n" not in line for line in notes(loaded))
        assert all(math.isfinite(number) for number in numbers(quick(loaded)))
    try:
        report_settings_from_document(document, "x.toml")
    except ConfigError as error:
        check_lines(error)


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(KEYS, VALUES, max_size=4))
def test_any_differences_are_used_or_refused(overrides: dict[str, Any]) -> None:
    document = with_overrides(DEMO, overrides)
    for read in (settings_from_document, report_settings_from_document):
        try:
            read(document, "x.toml")
        except ConfigError as error:
            check_lines(error)
    assert demo_document() == DEMO


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=200), st.integers(min_value=0, max_value=len(demo_text())))
def test_any_bytes_are_a_document_or_refused(data: bytes, cut: int) -> None:
    for content in (data, demo_text().encode()[:cut] + data):
        try:
            parse_document(content, "x.toml")
        except ConfigError as error:
            check_lines(error, "x.toml")


NUMERIC = [
    path
    for path in PATHS
    for value in [DEMO[path[0]] if len(path) == 1 else DEMO[path[0]].get(path[1])]
    if len(path) > 1
    for leaf in [value if len(path) == 2 else value.get(path[2])]
    if isinstance(leaf, (int, float)) and not isinstance(leaf, bool)
]


@given(st.sampled_from(NUMERIC), st.sampled_from([math.nan, math.inf, -math.inf]))
def test_numbers_that_are_not_finite_are_refused_everywhere(path: tuple[str, ...], value: float) -> None:
    document = copy.deepcopy(DEMO)
    table = document
    for part in path[:-1]:
        table = table[part]
    table[path[-1]] = value
    read = report_settings_from_document if path[0] in REPORT_TABLES else settings_from_document
    with pytest.raises(ConfigError) as caught:
        read(document, "x.toml")
    mine = [problem for problem in caught.value.problems if problem.key == ".".join(path)]
    assert len(mine) == 1
    assert mine[0].found == repr(value)


@given(st.sampled_from(NUMERIC), st.booleans())
def test_true_and_false_are_no_numbers(path: tuple[str, ...], value: bool) -> None:
    document = copy.deepcopy(DEMO)
    table = document
    for part in path[:-1]:
        table = table[part]
    table[path[-1]] = value
    read = report_settings_from_document if path[0] in REPORT_TABLES else settings_from_document
    with pytest.raises(ConfigError) as caught:
        read(document, "x.toml")
    assert [(problem.key, problem.found) for problem in caught.value.problems] == [(".".join(path), str(value).lower())]


def test_dates_are_shown_as_what_they_are() -> None:
    document = with_overrides(DEMO, {"plant": {"relief_bar": date(2024, 2, 29)}})
    with pytest.raises(ConfigError, match=r"found the date 2024-02-29; allowed: 5 to 100 bar"):
        settings_from_document(document, "x.toml")
