"""The configuration file: its tables, its errors, the demonstration boat.

Control and report each load their own tables from the same file and refuse only those.
"""

from os import PathLike
from pathlib import Path
from typing import Any

from halocline.config.checks import settings_findings
from halocline.config.document import (
    CONFIG_VERSION,
    CONTROL_TABLES,
    REPORT_TABLES,
    parse_document,
    problems_in,
    read_document,
    report_settings_from_document,
    settings_from_document,
    with_overrides,
)
from halocline.config.durations import parse_duration, show_duration
from halocline.config.notes import notes
from halocline.config.problems import ConfigError, Problem
from halocline.config.profile import quick
from halocline.plant.settings import ReportSettings, Settings

_quick = quick  # load_demo's argument has the same name

__all__ = [
    "CONFIG_VERSION",
    "CONTROL_TABLES",
    "DEMO_FILE",
    "REPORT_TABLES",
    "ConfigError",
    "Problem",
    "consistency_problems",
    "demo_document",
    "demo_text",
    "load_control",
    "load_demo",
    "load_example",
    "load_report",
    "notes",
    "parse_document",
    "parse_duration",
    "problems_in",
    "quick",
    "read_document",
    "report_settings_from_document",
    "settings_from_document",
    "show_duration",
    "with_overrides",
]

DEMO_FILE = "demo.toml"


def load_control(path: str | PathLike[str], *, simulated: bool = False) -> Settings:
    """Control's settings from a file, for a plant or for a `simulated` boat. Raises `ConfigError` with every problem of
    control's tables."""
    return settings_from_document(read_document(Path(path)), str(path), simulated=simulated)


def load_report(path: str | PathLike[str]) -> ReportSettings:
    """Report's settings from a file. Raises `ConfigError` with every problem of report's tables."""
    return report_settings_from_document(read_document(Path(path)), str(path))


def demo_text() -> str:
    """The demonstration boat's configuration file, comments included: the example that is copied aboard."""
    return (Path(__file__).parent / DEMO_FILE).read_text(encoding="utf-8")


def demo_document() -> dict[str, Any]:
    """The demonstration boat's tables, to lay differences over."""
    return parse_document(demo_text().encode(), DEMO_FILE)


def load_example() -> Settings:
    """The settings of the example that is copied aboard."""
    return settings_from_document(demo_document(), DEMO_FILE)


def load_demo(quick: bool = False) -> tuple[Settings, ReportSettings]:
    """The simulated demonstration boat's settings, with `quick` in fewer litres and seconds."""
    document = demo_document()
    settings = settings_from_document(document, DEMO_FILE, simulated=True)
    report = report_settings_from_document(document, DEMO_FILE)
    return (_quick(settings), _quick(report)) if quick else (settings, report)


def consistency_problems(settings: Settings, file: str, *, simulated: bool = False) -> list[Problem]:
    """What does not fit together in settings made otherwise than from a file; ranges are not looked at."""
    return [Problem(file, *finding) for finding in settings_findings(settings, complete=True, simulated=simulated)]
