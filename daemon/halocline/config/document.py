"""From a file's bytes to settings: parsing, the tables each process owns, differences laid over them."""

import re
import tomllib
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

from halocline.config.checks import report_findings, settings_findings
from halocline.config.problems import ConfigError, Finding, Problem, dotted, nearest, shown
from halocline.config.tables import read_inputs, read_outputs, read_table
from halocline.plant.regular_file import NotRegular, TooLarge, read_regular
from halocline.plant.settings import (
    BoatSettings,
    DriveSettings,
    HttpSettings,
    InterlockSettings,
    LimitSettings,
    MembraneSettings,
    MqttSettings,
    PlanSettings,
    PlantSettings,
    RecordSettings,
    ReportSettings,
    SequenceSettings,
    Settings,
    UnitSettings,
)

CONFIG_VERSION = 1
VERSION_KEY = "config_version"
LARGEST_FILE_BYTES = 256 * 1024
CONTROL_TABLES = ("boat", "plant", "membrane", "drive", "inputs", "outputs", "limits", "sequence", "interlock")
REPORT_TABLES = ("http", "mqtt", "record", "units", "plan")
FROM_A_CHAIR: Mapping[str, Any] = {"sequence": {"attendance": False, "start_questions": False}}
"""A simulated boat has no button to press and no seacock to look at."""

NOT_IN_THIS_VERSION = frozenset({"signalk"})
"""Tables that were accepted before anything read them."""

DEEPEST_DIFFERENCE = 3  # table, channel, key: nothing in a configuration lies deeper

_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")

Document = Mapping[str, Any]


def read_document(path: Path, wanted: str = "a configuration file") -> dict[str, Any]:
    """The file's tables. Raises `ConfigError`, which says what was `wanted`, for a file that cannot be read or is no
    TOML."""
    remedy = "check the path, and that this user may read it"
    try:
        data = read_regular(path, LARGEST_FILE_BYTES)
    except FileNotFoundError:
        raise _unusable(str(path), "no such file", wanted, remedy) from None
    except NotRegular as error:
        raise _unusable(str(path), error.kind, f"{wanted}, a regular one", "check the path") from None
    except TooLarge:
        raise _too_large(str(path), wanted) from None
    except OSError as error:
        found = f"a file that cannot be read ({error.strerror})"
        raise _unusable(str(path), found, wanted, remedy) from None
    return parse_document(data, str(path), wanted)


def parse_document(data: bytes, file: str, wanted: str = "a configuration file") -> dict[str, Any]:
    """The tables in a file's bytes; `file` is the name for errors, `wanted` what it should be. Raises `ConfigError`."""
    if len(data) > LARGEST_FILE_BYTES:
        raise _too_large(file, wanted)
    try:
        return tomllib.loads(data.decode())
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        remedy = "save the file as UTF-8"
        raise _unusable(file, "a character that is not UTF-8", "UTF-8 text", remedy, line) from None
    except tomllib.TOMLDecodeError as error:
        raise _syntax_error(file, str(error)) from None
    except (ValueError, RecursionError):
        found = "a number with too many digits, or brackets within brackets without end"
        raise _unusable(file, found, "TOML", "look for what does not belong there") from None


def _too_large(file: str, wanted: str) -> ConfigError:
    allowed = f"up to {LARGEST_FILE_BYTES // 1024} KiB"
    return _unusable(file, "a file too large", allowed, f"check that this is {wanted}")


def _syntax_error(file: str, message: str) -> ConfigError:
    place = _PLACE.search(message)
    line = int(place[1]) if place and place[1] else None
    what = _PLACE.sub("", message)
    found = f"text that is no TOML ({what})" if line else f"text that is no TOML ({what}, at the end of the file)"
    remedy = "correct the line, or the one before it" if line else "complete what was begun and not ended"
    return _unusable(file, found, 'lines such as key = 1, key = "text" and [table]', remedy, line)


def _unusable(file: str, found: str, allowed: str, remedy: str, line: int | None = None) -> ConfigError:
    return ConfigError([Problem(file, "", found, allowed, remedy, line)])


def settings_from_document(document: Document, file: str, *, simulated: bool = False) -> Settings:
    """Control's settings from parsed tables; report's tables are not looked at.

    A `simulated` boat has what `FROM_A_CHAIR` says where the file says nothing. Raises `ConfigError` with everything
    wrong: each key by itself, then what does not fit together.
    """
    if simulated:
        document = with_overrides(FROM_A_CHAIR, document)
    findings = _version_findings(document)
    findings += _unknown_tables(document)
    channels, contacts = read_inputs(document.get("inputs"), findings)
    settings = Settings(
        boat=read_table(BoatSettings, document.get("boat"), "boat", findings),
        plant=read_table(PlantSettings, document.get("plant"), "plant", findings),
        membrane=read_table(MembraneSettings, document.get("membrane"), "membrane", findings),
        drive=read_table(DriveSettings, document.get("drive"), "drive", findings),
        inputs=channels,
        contacts=contacts,
        outputs=read_outputs(document.get("outputs"), findings),
        limits=read_table(LimitSettings, document.get("limits"), "limits", findings),
        sequence=read_table(SequenceSettings, document.get("sequence"), "sequence", findings),
        interlock=_read_interlock(document, findings),
    )
    findings += settings_findings(settings, complete=not findings, simulated=simulated)
    _raise(findings, file)
    return settings


def _read_interlock(document: Document, findings: list[Finding]) -> InterlockSettings | None:
    """What is not fitted has no table."""
    raw = document.get("interlock")
    return None if raw is None else read_table(InterlockSettings, raw, "interlock", findings)


def report_settings_from_document(document: Document, file: str) -> ReportSettings:
    """Report's settings from parsed tables; control's tables are not looked at. Raises `ConfigError`."""
    findings = _version_findings(document)
    settings = ReportSettings(
        http=read_table(HttpSettings, document.get("http"), "http", findings),
        mqtt=read_table(MqttSettings, document.get("mqtt"), "mqtt", findings),
        record=read_table(RecordSettings, document.get("record"), "record", findings),
        units=read_table(UnitSettings, document.get("units"), "units", findings),
        plan=read_table(PlanSettings, document.get("plan"), "plan", findings),
    )
    findings += report_findings(settings, complete=not findings)
    _raise(findings, file)
    return settings


def _raise(findings: list[Finding], file: str) -> None:
    if findings:
        raise ConfigError(Problem(file, *finding) for finding in findings)


def _version_findings(document: Document) -> list[Finding]:
    version = document.get(VERSION_KEY)
    if version == CONFIG_VERSION and type(version) is int:
        return []
    found = "nothing" if version is None else shown(version)
    remedy = f"write {VERSION_KEY} = {CONFIG_VERSION} at the top, above the first table"
    return [Finding(VERSION_KEY, found, str(CONFIG_VERSION), remedy)]


def _unknown_tables(document: Document) -> list[Finding]:
    known = (VERSION_KEY, *CONTROL_TABLES, *REPORT_TABLES)
    return [_unknown_table(name, document[name], known) for name in document if name not in known]


def _unknown_table(name: str, value: object, known: tuple[str, ...]) -> Finding:
    near = nearest(name, known)
    is_table = isinstance(value, dict)
    if name in NOT_IN_THIS_VERSION:
        remedy = "remove it: this version does not have it"
    else:
        remedy = f"did you mean {near}?" if near else "remove it" if is_table else "move it below its table"
    found = "an unknown table" if is_table else "a key outside every table"
    return Finding(dotted(name), found, f"the tables {', '.join(known[1:])}", remedy)


def with_overrides(document: Document, overrides: Document) -> dict[str, Any]:
    """The document with the differences laid over it, table by table, key by key; neither is changed.

    An input whose `kind` differs replaces the whole input, for the old kind's keys mean nothing to the new.
    """
    return _merge(document, overrides, DEEPEST_DIFFERENCE)


def _merge(below: Document, above: Document, depth: int) -> dict[str, Any]:
    merged = dict(below)
    for key, value in above.items():
        old = merged.get(key)
        if depth > 1 and isinstance(old, dict) and isinstance(value, dict) and not _other_kind(old, value):
            merged[key] = _merge(old, value, depth - 1)
        else:
            merged[key] = value
    return merged


def _other_kind(old: Document, new: Document) -> bool:
    return "kind" in new and "kind" in old and new["kind"] != old["kind"]


def problems_in(path: Path, *, simulated: bool = False) -> list[Problem]:
    """Everything wrong with a file, for both processes, each once; empty when it can be used."""
    try:
        document = read_document(path)
    except ConfigError as error:
        return error.problems
    problems: list[Problem] = []
    for reader in (partial(settings_from_document, simulated=simulated), report_settings_from_document):
        try:
            reader(document, str(path))
        except ConfigError as error:
            problems += [problem for problem in error.problems if problem not in problems]
    return problems
