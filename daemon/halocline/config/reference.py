"""The reference of every key a configuration file may have, written from the settings themselves.

`python -m halocline.config.reference` rewrites REFERENCE.md beside this file.
"""

from collections.abc import Iterator
from dataclasses import Field, fields
from pathlib import Path
from typing import Any

from halocline.config.document import CONFIG_VERSION, VERSION_KEY
from halocline.config.durations import show_duration
from halocline.config.problems import number, quoted, shown
from halocline.config.tables import hints
from halocline.config.values import allowed, has_default, is_duration, without_none
from halocline.plant.sensors import INPUT_KINDS, ContactInput, OutputPin
from halocline.plant.settings import ReportSettings, Settings
from halocline.plant.vocabulary import ACTUATORS, CHANNELS, CONTACTS, NEEDED_CHANNELS, OUTPUTS

REFERENCE_FILE = Path(__file__).parent / "REFERENCE.md"

HEAD = """# Every key of the configuration file

Written by `python -m halocline.config.reference`; do not edit. A key without a default must be given.
Durations are a number and a unit (`ms`, `s`, `min`, `h`, `d`) in quotes: `"500ms"`, `"10min"`.
Control refuses a file for what is wrong in the tables boat, plant, membrane, drive, inputs, outputs, limits,
sequence and interlock; report for what is wrong in http, mqtt, record and units.
"""

COLUMNS = """| table | key | unit | default | allowed | meaning |
|---|---|---|---|---|---|
"""


def reference() -> str:
    """The whole reference as Markdown."""
    rows = [f"| (top) | `{VERSION_KEY}` |  | must be given | {CONFIG_VERSION} | version of this reference |"]
    for owner in (Settings, ReportSettings):
        rows += [row for field in fields(owner) for row in _table(field.name, hints(owner)[field.name])]
    return f"{HEAD}\n{_names()}\n{COLUMNS}{chr(10).join(rows)}\n"


def _names() -> str:
    optional = [channel for channel in CHANNELS if channel not in NEEDED_CHANNELS]
    needed_outputs = (*ACTUATORS, "heartbeat")
    return (
        f"Channels that must be fitted: {_listed(NEEDED_CHANNELS)}.\n"
        f"Channels that may be: {_listed(optional)}.\n"
        f"Contacts that may be: {_listed(CONTACTS)}.\n"
        f"Outputs that must be wired: {_listed(needed_outputs)} (`high_pressure_pump` not with "
        '`drive.pump = "watch_only"`).\n'
        f"Outputs that may be: {_listed([name for name in OUTPUTS if name not in needed_outputs])}.\n"
    )


def _listed(names: Any) -> str:
    return ", ".join(f"`{name}`" for name in names)


def _table(name: str, hint: Any) -> Iterator[str]:
    if name == "inputs":
        kinds = ", ".join(quoted(kind) for kind in INPUT_KINDS)
        yield f"| inputs.‹channel› | `kind` |  | must be given | {kinds} | how the sensor is wired |"
        for kind, sensor in INPUT_KINDS.items():
            yield from _rows(f"inputs.‹channel› {kind}", sensor)
    elif name == "contacts":
        yield from _rows("inputs.‹contact›", ContactInput)
    elif name == "outputs":
        yield from _rows("outputs.‹output›", OutputPin)
    else:
        yield from _rows(name, without_none(hint))


def _rows(table: str, cls: Any) -> Iterator[str]:
    for field in fields(cls):
        hint = hints(cls)[field.name]
        unit = "duration" if is_duration(field) else field.metadata["unit"]
        cells = (table, f"`{field.name}`", unit, _default(field), allowed(field, hint), field.metadata["doc"])
        yield "| " + " | ".join(cells) + " |"


def _default(field: Field[Any]) -> str:
    if not has_default(field):
        return "must be given"
    value: Any = field.default
    if value is None:
        return "none"
    if is_duration(field):
        return quoted(show_duration(value))
    if isinstance(value, float):
        return number(value)
    return "[]" if value == () else shown(value)


if __name__ == "__main__":
    REFERENCE_FILE.write_text(reference(), encoding="utf-8")
