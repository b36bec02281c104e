"""A scenario file: what happens to which boat, and what is expected of it. Every problem is reported at once."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from halocline.config import (
    ConfigError,
    Problem,
    demo_document,
    parse_duration,
    read_document,
    settings_from_document,
    with_overrides,
)
from halocline.config.problems import Finding, dotted, nearest, shown
from halocline.config.tables import read_table
from halocline.control.commands import argument_problems
from halocline.control.inputs import Command
from halocline.plant import words
from halocline.plant.alarms import DEFINITIONS
from halocline.plant.command_definitions import COMMANDS
from halocline.plant.former_names import successor
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import OUTPUTS, Origin, State
from halocline.simulation import FAULTS, Fitted, PlantParameters, parse, what_is_fitted

TOP_KEYS = ("title", "duration", "stood", "plant", "settings", "step", "expect")
CONDITIONS = (
    "state",
    "first_out",
    "alarm",
    "says",
    "output",
    "value",
    "tank_litres_min",
    "tank_litres_max",
    "tank_tds_max",
    "peak_pressure_max",
)
WHEN = ("at", "by", "always", "never")
STEP_KEYS = ("at", "command", "fault", "clear")
LONGEST_S = 31 * 86400.0


@dataclass(frozen=True, slots=True)
class Step:
    """At `at_s`: a command, or a fault (`clear` ends it), with its arguments."""

    at_s: float
    command: str | None
    fault: str | None
    clear: bool
    arguments: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Expectation:
    """What should be seen: `when` is at, by, always, never or end; `t_s` belongs to at and by."""

    when: str
    t_s: float
    conditions: Mapping[str, Any]
    text: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Scenario:
    """A rehearsal to be played. stood_s: for how long the plant has stood, flushed, as it begins."""

    title: str
    duration_s: float
    settings: Settings
    parameters: PlantParameters
    steps: tuple[Step, ...]
    expectations: tuple[Expectation, ...] = field(default=())
    file: str = "scenario"
    stood_s: float = 0.0


def load(path: Path) -> Scenario:
    """The scenario in a file. Raises ConfigError with every problem in it."""
    return from_document(read_document(path, "a scenario file"), str(path))


def from_document(document: Mapping[str, Any], file: str) -> Scenario:
    """The scenario from parsed TOML. Raises ConfigError with every problem in it."""
    findings: list[Finding] = []
    findings.extend(_unknown_keys(document, TOP_KEYS, ""))
    title = document.get("title", Path(file).stem)
    if not isinstance(title, str):
        findings.append(Finding("title", shown(title), "text", "write it in quotes"))
    duration_s = _duration(document, "duration", "duration", findings)
    stood_s = _duration(document, "stood", "stood", findings) if "stood" in document else 0.0
    settings, problems = _settings(document.get("settings", {}), file)
    parameters = _parameters(document.get("plant", {}), settings, findings)
    fitted = None if settings is None else what_is_fitted(settings)
    steps = [_step(raw, number, fitted, findings) for number, raw in _tables(document, "step", findings)]
    expectations = [
        _expectation(raw, number, duration_s, findings) for number, raw in _tables(document, "expect", findings)
    ]
    problems += [Problem(file, *finding) for finding in findings]
    if problems or settings is None or parameters is None:
        raise ConfigError(problems)
    return Scenario(
        title,
        duration_s,
        settings,
        parameters,
        tuple(sorted((step for step in steps if step), key=lambda step: step.at_s)),
        tuple(expectation for expectation in expectations if expectation),
        file,
        stood_s,
    )


def _settings(overrides: object, file: str) -> tuple[Settings | None, list[Problem]]:
    if not isinstance(overrides, dict):
        return None, [Problem(file, "settings", shown(overrides), "a table", "write [settings.limits] and so on")]
    try:
        return settings_from_document(
            with_overrides(demo_document(), overrides), f"{file}: [settings]", simulated=True
        ), []
    except ConfigError as error:
        return None, error.problems


def _parameters(raw: object, settings: Settings | None, findings: list[Finding]) -> PlantParameters | None:
    before = len(findings)
    given = read_table(PlantParameters, raw, "plant", findings)
    if len(findings) > before or settings is None or not isinstance(raw, dict):
        return None
    parameters = replace(PlantParameters.for_settings(settings), **{key: getattr(given, key) for key in raw})
    capacity_l = parameters.tank_capacity_l
    if parameters.tank_litres > capacity_l:
        most = f"at most the tank's {capacity_l:g} L"
        findings.append(Finding("plant.tank_litres", f"{parameters.tank_litres:g} L", most, "give less"))
        return None
    return parameters


def _tables(document: Mapping[str, Any], key: str, findings: list[Finding]) -> list[tuple[int, dict[str, Any]]]:
    raw = document.get(key, [])
    if not isinstance(raw, list) or not all(isinstance(item, dict) for item in raw):
        findings.append(Finding(key, shown(raw), f"tables written as [[{key}]]", f"write [[{key}]] above each"))
        return []
    return list(enumerate(raw, start=1))


def _unknown_keys(table: Mapping[str, Any], known: tuple[str, ...], prefix: str) -> list[Finding]:
    return [
        Finding(f"{prefix}{dotted(key)}", "an unknown key", "a known key", _suggestion(key, known))
        for key in table
        if key not in known
    ]


def _duration(table: Mapping[str, Any], key: str, where: str, findings: list[Finding]) -> float:
    raw = table.get(key)
    try:
        seconds = parse_duration(raw) if isinstance(raw, str) else math.nan
    except ValueError:
        seconds = math.nan
    if 0 <= seconds <= LONGEST_S:
        return seconds
    found = "nothing" if raw is None else shown(raw)
    findings.append(
        Finding(where, found, 'a time such as "90s" or "12min", at most 31d', "write a number and its unit")
    )
    return 0.0


def _step(raw: dict[str, Any], number: int, fitted: Fitted | None, findings: list[Finding]) -> Step | None:
    where = f"step {number}"
    before = len(findings)
    at_s = _duration(raw, "at", f"{where}.at", findings)
    command, fault = raw.get("command"), raw.get("fault")
    if (command is None) == (fault is None):
        found = "neither" if command is None else "both"
        findings.append(Finding(where, found, "a command or a fault", "name one of the two"))
    elif command is not None and command not in tuple(COMMANDS):
        findings.append(_no_such(f"{where}.command", command, tuple(COMMANDS)))
    elif fault is not None and fault not in FAULTS:
        findings.append(_no_such(f"{where}.fault", fault, tuple(FAULTS)))
    clear = raw.get("clear", False)
    if not isinstance(clear, bool) or (clear and fault is None):
        findings.append(
            Finding(f"{where}.clear", shown(clear), "true beside a fault", "remove it or write clear = true")
        )
    if len(findings) > before:
        return None
    step = Step(at_s, command, fault, clear, {key: value for key, value in raw.items() if key not in STEP_KEYS})
    findings.extend(_argument_findings(step, where, fitted))
    return None if len(findings) > before else step


def _argument_findings(step: Step, where: str, fitted: Fitted | None) -> list[Finding]:
    """What is wrong with the arguments of a command, or of a fault on the boat of these settings."""
    if step.fault is not None:
        try:
            if fitted is not None:
                parse(step.fault, step.arguments, fitted, clear=step.clear)
        except ValueError as error:
            return [Finding(f"{where}.fault", shown(step.fault), "what that fault takes", str(error))]
        return []
    assert step.command is not None
    problems = argument_problems(Command(step.command, step.arguments, Origin.CLI))
    findings = [
        Finding(f"{where}.command", shown(step.command), "what that command takes", words.reason(problem.as_message()))
        for problem in problems
    ]
    alarm = step.arguments.get("alarm")
    if not findings and alarm is not None and alarm not in DEFINITIONS:
        findings.append(_no_such(f"{where}.alarm", alarm, tuple(DEFINITIONS)))
    return findings


def _no_such(where: str, found: object, known: tuple[str, ...]) -> Finding:
    return Finding(where, shown(found), "a known name", _suggestion(str(found), known))


def _suggestion(word: str, known: tuple[str, ...]) -> str:
    near, present = nearest(word, known), successor(word, known)
    if present:
        return f"renamed: write {present}"
    return f"did you mean {near}?" if near else f"one of {', '.join(known)}"


CHOICES: Mapping[str, tuple[str, ...]] = {
    "state": tuple(state.value for state in State),
    "first_out": tuple(DEFINITIONS),
    "alarm": tuple(DEFINITIONS),
    "output": OUTPUTS,
}


def _expectation(raw: dict[str, Any], number: int, duration_s: float, findings: list[Finding]) -> Expectation | None:
    where = f"expect {number}"
    before = len(findings)
    findings.extend(_unknown_keys(raw, (*WHEN, *CONDITIONS), f"{where}."))
    times = [key for key in WHEN if key in raw]
    if len(times) > 1:
        findings.append(Finding(where, " and ".join(times), "one of at, by, always, never", "keep one"))
    when = times[0] if times else "end"
    t_s = _duration(raw, when, f"{where}.{when}", findings) if when in ("at", "by") else duration_s
    if when in ("always", "never") and raw[when] is not True:
        findings.append(Finding(f"{where}.{when}", shown(raw[when]), "true", f"write {when} = true"))
    conditions = {key: raw[key] for key in CONDITIONS if key in raw}
    for key, value in conditions.items():
        findings.extend(_condition_findings(where, key, value))
    if not conditions:
        findings.append(Finding(where, "nothing", f"one of {', '.join(CONDITIONS)}", "say what is expected"))
    if ("value" in conditions) != ("output" in conditions):
        findings.append(Finding(where, "one of output and value", "both together", "write both"))
    return None if len(findings) > before else Expectation(when, t_s, conditions, raw)


def _condition_findings(where: str, key: str, value: object) -> list[Finding]:
    if key in CHOICES:
        return [] if value in CHOICES[key] else [_no_such(f"{where}.{key}", value, CHOICES[key])]
    if key == "says":
        wanted, fits = "a piece of the sentence", isinstance(value, str) and value != ""
    elif key == "value":
        wanted, fits = "true or false", isinstance(value, bool)
    else:
        wanted = "a finite number"
        fits = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    return [] if fits else [Finding(f"{where}.{key}", shown(value), wanted, f"write {wanted}")]
