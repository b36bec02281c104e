"""The reference of every key a configuration file may have, written from the settings themselves.

`python -m halocline.config.reference` rewrites REFERENCE.md beside this file.
"""

from collections.abc import Iterable, Iterator
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
from halocline.plant.words import channel_name

REFERENCE_FILE = Path(__file__).parent / "REFERENCE.md"

HEAD = """# Every key of the configuration file

Written by `python -m halocline.config.reference`; do not edit. A key without a default must be given.

Where the column *unit* says `duration`, the value is a number and a unit of time (`ms`, `s`, `min`, `h`, `d`) in
quotes: `"500ms"`, `"10min"`. Every other number stands bare, in the unit of that column: so `prime_s` is `"10s"`, but
`raise_bar_s` is `0.5`, for it is no time but bar a second.
Control refuses a file for what is wrong in the tables boat, plant, membrane, drive, inputs, outputs, limits,
sequence and interlock; report for what is wrong in http, mqtt, record, units and plan.

## A file to begin with

All that must be given, for a plant whose pump the computer switches. Write your own numbers, then ask
`halocline check --config FILE` until it is content. With the pump on a switch or a remote of its own write
`pump = "watch_only"` and leave `[outputs.high_pressure_pump]` out.

"""

EXAMPLE = """```toml
config_version = 1

[boat]
name = "Cagarra"

[plant]
feed_flow_l_h = 340
tank_capacity_l = 300

[membrane]
nameplate_flow_m3_d = 2.4
nameplate_rejection = 0.994
area_m2 = 2.6

[drive]
pump = "relay"
regulator = "hand_each_run"

[inputs.vessel_pressure]
kind = "current_loop"
address = 0x48
mux = 0
low = 0
high = 100
error = 0.5

[inputs.feed_pressure]
kind = "current_loop"
address = 0x48
mux = 1
low = -1
high = 4
error = 0.02

[inputs.product_conductivity]
kind = "current_loop"
address = 0x48
mux = 2
low = 0
high = 40000
error = 100

[inputs.sea_temperature]
kind = "thermistor"
address = 0x48
mux = 3
low = -2
high = 50
error = 0.3

[inputs.product_flow]
kind = "pulses"
pin = 21
pulses_per_l = 2200
high = 250

[inputs.stop_button]
pin = 5

[outputs.feed_pump]
pin = 17

[outputs.high_pressure_pump]
pin = 27

[outputs.product_to_tank]
pin = 22

[outputs.flush_valve]
pin = 23

[outputs.heartbeat]
pin = 18
```
"""

COLUMNS = """| table | key | unit | default | allowed | meaning |
|---|---|---|---|---|---|
"""


def reference() -> str:
    """The whole reference as Markdown."""
    rows = [f"| (top) | `{VERSION_KEY}` |  | must be given | {CONFIG_VERSION} | version of this reference |"]
    for owner in (Settings, ReportSettings):
        rows += [row for field in fields(owner) for row in _table(field.name, hints(owner)[field.name])]
    return f"{HEAD}{EXAMPLE}\n{_names()}\n## Keys\n\n{COLUMNS}{chr(10).join(rows)}\n"


def _names() -> str:
    optional = [channel for channel in CHANNELS if channel not in NEEDED_CHANNELS]
    needed_outputs = (*ACTUATORS, "heartbeat")
    kinds = "\n".join(f"- `{kind}`: {_first_line(sensor)}" for kind, sensor in INPUT_KINDS.items())
    return (
        "## Names\n\n"
        "Each channel, contact and output is a table of its own: `[inputs.‹channel›]`, `[inputs.‹contact›]`, "
        "`[outputs.‹output›]`.\nA channel's unit is that of its `low`, `high` and `error`.\n\n"
        f"Channels that must be fitted:\n{_channels(NEEDED_CHANNELS)}\n\n"
        f"Channels that may be:\n{_channels(optional)}\n\n"
        f"How a channel is wired, its `kind`:\n{kinds}\n\n"
        f"Contacts that may be, each closed at rest from its pin to ground: {_listed(CONTACTS)}.\n"
        f"Outputs that must be wired: {_listed(needed_outputs)} (`high_pressure_pump` not with "
        '`drive.pump = "watch_only"`).\n'
        f"Outputs that may be: {_listed([name for name in OUTPUTS if name not in needed_outputs])}.\n"
    )


def _channels(names: Iterable[str]) -> str:
    return "\n".join(f"- `{name}` in {CHANNELS[name].unit}: {channel_name(name)}" for name in names)


def _first_line(cls: type) -> str:
    return str(cls.__doc__).partition("\n")[0]


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
