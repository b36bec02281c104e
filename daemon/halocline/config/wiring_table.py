"""The wiring and the numbers of one boat as Markdown tables for the documents in hw/.

`python -m halocline.config.wiring_table` prints them for the demonstration boat, with `--config FILE` for
your own. `--write` puts them into hw/ between the marks that name them; `--into FOLDER` leaves hw/ as it is
and writes complete documents with your boat's numbers there, to be printed and kept at the plant.
"""

import argparse
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from functools import partial
from pathlib import Path
from typing import Any

from halocline.config import ConfigError, load_control, load_example, protection_rows
from halocline.config.checks.lookup import named, supply_inputs
from halocline.config.checks.wiring import ONLY_FOR
from halocline.config.problems import number
from halocline.config.signal_levels import signal_text
from halocline.config.tables import hints
from halocline.config.values import allowed, has_default
from halocline.physics.conductivity import KCL_STANDARDS_US_CM, conductivity_25c_us_cm, tds_mg_l
from halocline.plant import marked_blocks, words
from halocline.plant.motor import COOLS_S, rated_run_s
from halocline.plant.sensors import AnalogueInput, Input, Pulses
from halocline.plant.settings import LimitSettings, PlantSettings, Settings
from halocline.plant.vocabulary import ACTUATORS, CHANNELS, CONTACTS, OUTPUTS

DOCUMENTS = Path(__file__).parents[3] / "hw"

_GPIO = (2, 3, 4, 14, 15, 17, 18, 27, 22, 23, 24, 10, 9, 25, 11, 8, 7, 5, 6, 12, 13, 19, 16, 26, 20, 21)
_PIN = (3, 5, 7, 8, 10, 11, 12, 13, 15, 16, 18, 19, 21, 22, 23, 24, 26, 29, 31, 32, 33, 35, 36, 37, 38, 40)
HEADER_PINS: Mapping[int, int] = dict(zip(_GPIO, _PIN, strict=True))
"""Pin of the computer's 40-pin header by GPIO number; GPIO 0 and 1 belong to its add-on boards."""

BUS_PINS: Mapping[int, str] = {2: "I2C data", 3: "I2C clock"}
BUS_CLEAR: Mapping[str, str] = {
    "bus_clear_clock_pin": "I2C clock, to clear the bus",
    "bus_clear_data_pin": "I2C data, to clear the bus",
}
PULLED_UP_AT_POWER_ON = range(9)

Row = Sequence[object]


def _contact_text(contact: str) -> str:
    """How a contact is wired; the diverter's end switches open at their own end of its travel."""
    ends = {"diverter_at_tank": "at the tank", "diverter_overboard": "overboard"}
    if contact in ends:
        return f"contact to ground, open while the valve stands {ends[contact]}"
    return "contact to ground, closed at rest"


def table(head: Row, rows: Iterable[Row]) -> str:
    """A Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(str(cell) for cell in line) + " |" for line in lines) + "\n"


def boat(settings: Settings) -> str:
    """Whose numbers these are."""
    return f"Wiring and numbers of **{settings.boat.name}**.\n"


def header_pins(settings: Settings) -> str:
    """What hangs on each pin of the computer's header, in the header's order."""
    rows = sorted((HEADER_PINS[pin], pin, *cells) for pin, *cells in _lines(settings))
    return table(("header pin", "GPIO", "line", "what people call it", "circuit"), rows)


def _lines(settings: Settings) -> Iterator[tuple[Any, ...]]:
    for pin, name in BUS_PINS.items():
        yield pin, "–", name, "converter chips, 3.3 V, no other device that needs 5 V"
    for key, line in BUS_CLEAR.items():
        pin = getattr(settings.plant, key)
        if pin is not None:
            yield pin, "–", line, "to that wire of the bus through 330 Ω"
    for output, wire in settings.outputs.items():
        closes = "high" if wire.active_high else "low"
        yield wire.pin, f"`{output}`", words.output_name(output), f"output, {closes} = energised; pull-down 10 kΩ"
    for contact, wire_in in settings.contacts.items():
        yield wire_in.pin, f"`{contact}`", words.contact_name(contact), _contact_text(contact)
    for channel, sensor in settings.inputs.items():
        if isinstance(sensor, Pulses):
            circuit = f"pulses to ground, {number(sensor.pulses_per_l)} a litre"
            yield sensor.pin, f"`{channel}`", words.channel_name(channel), circuit


def free_pins(settings: Settings) -> str:
    """The pins nothing hangs on, and what each may be used for."""
    taken = {pin for pin, *_ in _lines(settings)}
    free = [pin for pin in sorted(HEADER_PINS) if pin not in taken]
    outputs = _listed(pin for pin in free if pin not in PULLED_UP_AT_POWER_ON)
    inputs = _listed(pin for pin in free if pin in PULLED_UP_AT_POWER_ON)
    return f"Free for anything: GPIO {outputs}. Free for contacts and pulses only: GPIO {inputs}.\n"


def _listed(pins: Iterable[int]) -> str:
    return ", ".join(str(pin) for pin in pins) or "none"


def converter_inputs(settings: Settings) -> str:
    """What hangs on each input of each converter chip, with the volts expected there."""
    rows: list[Row] = [
        (
            f"0x{sensor.address:02x}",
            sensor.mux,
            f"`{channel}`",
            sensor.kind,
            _span(channel, sensor),
            f"{signal_text(sensor, sensor.low)} … {signal_text(sensor, sensor.high)}",
            f"{number(sensor.gain_v)} V",
        )
        for channel, sensor in settings.inputs.items()
        if isinstance(sensor, AnalogueInput)
    ]
    rows += [
        (f"0x{address:02x}", mux, f"supply of `{channel}`", "voltage", "–", "–", "–")
        for channel, (address, mux) in supply_inputs(settings).items()
    ]
    rows += list(_interlock_input(settings))
    head = ("chip", "input", "channel", "kind", "span", "signal at the ends of the span", "range")
    return table(head, sorted(set(map(tuple, rows))))


def _interlock_input(settings: Settings) -> Iterator[Row]:
    fitted, sensor = settings.interlock, settings.inputs.get("vessel_pressure")
    if fitted is None or not isinstance(sensor, AnalogueInput):
        return
    opens = f"{number(fitted.opens_bar)} bar"
    signal = f"opens above {signal_text(sensor, fitted.opens_bar)}"
    yield (
        f"0x{fitted.address:02x}",
        fitted.mux,
        "comparator interlock",
        sensor.kind,
        opens,
        signal,
        f"{number(fitted.gain_v)} V",
    )


def _span(channel: str, sensor: Input) -> str:
    return f"{number(sensor.low)} … {number(sensor.high)} {CHANNELS[channel].unit}"


def everything(settings: Settings) -> str:
    """Every channel, contact and output there is, and where it is wired on this boat."""
    rows: list[Row] = []
    for channel in CHANNELS.values():
        duty = "needed" if channel.needed else "optional"
        sensor = settings.inputs.get(channel.id)
        kinds = f"channel, {channel.unit}{_kinds(channel.id)}"
        rows.append((f"`{channel.id}`", words.channel_name(channel.id), kinds, duty, _place(sensor)))
    for contact in CONTACTS:
        where = _place(settings.contacts.get(contact))
        rows.append((f"`{contact}`", words.contact_name(contact), _contact_text(contact), "optional", where))
    for output in OUTPUTS:
        duty = "needed" if output in (*ACTUATORS, "heartbeat") else "optional"
        kind = "output, in the coil chain" if output in ACTUATORS else "output"
        rows.append((f"`{output}`", words.output_name(output), kind, duty, _place(settings.outputs.get(output))))
    return table(("id", "what people call it", "what it is", "fitted", "here"), rows)


def _kinds(channel: str) -> str:
    special = [kind.kind for kind, channels in ONLY_FOR.items() if channel in channels]  # type: ignore[attr-defined]
    return f"; may be {' or '.join(special)}" if special else ""


def _place(line: Any) -> str:
    if line is None:
        return "not fitted"
    if isinstance(line, AnalogueInput):
        return f"chip 0x{line.address:02x} input {line.mux}"
    return f"GPIO {line.pin}"


def limits(settings: Settings) -> str:
    """Every limit with its default, this boat's value and what a file may say."""
    rows: list[Row] = []
    for path, owner in (("plant", PlantSettings), ("limits", LimitSettings)):
        for field in fields(owner):
            if field.name not in HARD_WIRED if path == "plant" else field.name == "accept_reason":
                continue
            unit = field.metadata["unit"]
            default = number(field.default) if has_default(field) else "–"  # type: ignore[arg-type]
            key, value = f"{path}.{field.name}", getattr(getattr(settings, path), field.name)
            permitted = allowed(field, hints(owner)[field.name])
            rows.append((f"`{key}`", field.metadata["doc"], unit, default, number(value), permitted))
    return table(("key", "meaning", "unit", "default", "here", "allowed"), rows)


def protections(settings: Settings) -> str:
    """How soon and how near each protection acts, against what the protected thing stands."""
    return table(protection_rows.HEAD, protection_rows.rows(settings))


HARD_WIRED = frozenset({"pressure_switch_bar", "relief_bar", "lowest_rated_part_bar"})

PRESSURE_LADDER = (
    ("drive.working_pressure_bar", "a run is set to", "you"),
    ("limits.working_pressure_max_bar", "never set higher", "you"),
    ("limits.vessel_pressure_high_bar", "warning", "program"),
    ("limits.vessel_pressure_high_high_bar", "trip", "program"),
    ("plant.pressure_switch_bar", "opens the coil chain", "pressure switch"),
    ("plant.relief_bar", "lifts", "relief valve"),
    ("plant.lowest_rated_part_bar", "rating of the weakest part", "nothing: it may burst"),
)


def pressure_ladder(settings: Settings) -> str:
    """What happens at which pressure, with the sensor's signal there."""
    sensor = settings.inputs["vessel_pressure"]
    rows = [
        (number(step.value), _signal(sensor, step.value), what, who, f"`{key}`")
        for key, what, who in PRESSURE_LADDER
        if (step := named(settings, key)) is not None
    ]
    return table(("bar", "signal", "what", "who acts", "key"), rows)


def _signal(sensor: Input, value: float) -> str:
    return signal_text(sensor, value) if isinstance(sensor, AnalogueInput) else "–"


def trip_signals(settings: Settings) -> str:
    """What a calibrator has to feed in to see each protection act."""
    rows = [
        (f"`{channel}`", meaning, limit.text, _signal(settings.inputs[channel], limit.value))
        for channel, key, meaning in TRIP_SIGNALS
        if channel in settings.inputs and (limit := named(settings, key)) is not None
    ]
    return table(("channel", "what must happen", "at", "signal"), rows)


TRIP_SIGNALS = (
    ("vessel_pressure", "limits.vessel_pressure_high_bar", "warning after 0.5 s, rising"),
    ("vessel_pressure", "limits.vessel_pressure_high_high_bar", "trip at once, rising"),
    ("vessel_pressure", "interlock.opens_bar", "interlock relay falls off"),
    ("feed_pressure", "limits.feed_pressure_low_bar", "warning after 1 s, falling"),
    ("feed_pressure", "limits.feed_pressure_low_low_bar", "trip, falling, 3 s or more after the feed pump"),
    ("product_pressure", "limits.product_pressure_high_bar", "trip after 2 s, rising"),
)


def card(settings: Settings) -> str:
    """The numbers a person needs to run the plant without the computer."""
    limit, sequence, plant = settings.limits, settings.sequence, settings.plant
    accept, reject = (round(conductivity_25c_us_cm(tds)) for tds in (limit.accept_tds_mg_l, limit.reject_tds_mg_l))
    rows: tuple[Row, ...] = (
        ("Pump inlet before the high-pressure pump", f"≥ {number(limit.feed_pressure_start_bar)} bar, steady"),
        ("Steady for", f"{number(sequence.prime_s)} s; {number(sequence.prime_after_opening_s)} s after an opening"),
        ("Pump inlet while running: stop below", f"{number(limit.feed_pressure_low_low_bar)} bar"),
        ("Regulator open, pump on: no more than", f"{number(limit.regulator_closed_bar)} bar"),
        ("Raise pressure no faster than", f"{number(settings.drive.raise_bar_s)} bar a second"),
        ("Working pressure", f"{number(settings.drive.working_pressure_bar)} bar"),
        ("Never above", f"{number(limit.working_pressure_max_bar)} bar"),
        ("Product never more than", f"{number(product_cap_l_h(settings))} L/h"),
        ("Hand meter, 25 °C: to the tank at or below", f"{accept} µS/cm ({number(limit.accept_tds_mg_l)} mg/L)"),
        ("Hand meter, 25 °C: overboard above", f"{reject} µS/cm ({number(limit.reject_tds_mg_l)} mg/L)"),
        ("First product overboard", f"≥ {number(sequence.first_product_l)} L; 10 L after 7 idle days"),
        ("Flush", f"{number(sequence.flush_l)} L of fresh water, ≤ {number(sequence.flush_limit_s / 60)} min"),
        (
            "Motor: work in one go, then rest",
            f"{number(rated_run_s(settings.drive) / 60)} min, then {number(settings.drive.motor_rest_s / 60)} min",
        ),
        ("Motor: starts", f"{sequence.motor_starts} in {number(sequence.motor_starts_window_s / 60)} min"),
        ("Motor: after a thermal cut-out", f"rest {number(COOLS_S / 60)} min"),
        ("Pressure switch, relief valve", f"{number(plant.pressure_switch_bar)}, {number(plant.relief_bar)} bar"),
    )
    return table((f"{settings.boat.name}, by hand", "your number"), rows)


def kcl_standards(_settings: Settings) -> str:
    """What the solutions sold for calibration must read."""
    rows = [
        (label, number(at_c), f"{value:.0f}", f"{tds_mg_l(value):.0f}")
        for label, values in KCL_STANDARDS_US_CM.items()
        for at_c, value in values.items()
        if at_c == 25.0 and value < 20_000.0
    ]
    return table(("KCl", "°C", "µS/cm", "shown as mg/L"), rows)


def product_cap_l_h(settings: Settings) -> float:
    """The most an element may be driven to: its nameplate, and a quarter of the feed (common practice)."""
    return min(settings.membrane.nameplate_flow_m3_d * 1000.0 / 24.0, 0.25 * settings.plant.feed_flow_l_h)


BLOCKS: Mapping[str, Callable[[Settings], str]] = {
    "boat": boat,
    "header-pins": header_pins,
    "free-pins": free_pins,
    "converter-inputs": converter_inputs,
    "everything": everything,
    "limits": limits,
    "protections": protections,
    "pressure-ladder": pressure_ladder,
    "trip-signals": trip_signals,
    "card": card,
    "kcl-standards": kcl_standards,
}
"""Everything the documents take from the settings, by the name in its mark."""


def filled(document: str, settings: Settings) -> str:
    """The document with every marked block written anew. Raises ValueError for a mark that no table has."""
    return marked_blocks.filled(document, {name: partial(block, settings) for name, block in BLOCKS.items()})


def write(settings: Settings, source: Path, folder: Path) -> list[Path]:
    """Write those documents of `source` that have marks to `folder`; drawings are not copied. Raises OSError."""
    written = []
    for path in sorted(source.glob("*.md")):
        document = path.read_text(encoding="utf-8")
        if marked_blocks.MARK.search(document):
            written.append(folder / path.name)
            written[-1].write_text(filled(document, settings), encoding="utf-8")
    return written


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the tables or write the documents; 2 for a file or folder that cannot be used."""
    parser = argparse.ArgumentParser(prog="python -m halocline.config.wiring_table", description=__doc__)
    parser.add_argument("--config", type=Path, metavar="FILE", help="your configuration; without: the demo boat")
    parser.add_argument("--write", action="store_true", help="write the demo boat's tables into hw/")
    parser.add_argument("--into", type=Path, metavar="FOLDER", help="write complete documents to this folder")
    given = parser.parse_args(arguments)
    if given.write and given.config:
        print("--write keeps hw/ true to the demo boat; with --config use --into FOLDER", file=sys.stderr)
        return 2
    try:
        settings = load_control(given.config) if given.config else load_example()
        if given.write or given.into:
            for path in _written(settings, given.into):
                print(path)
        else:
            print("\n".join(block(settings) for block in BLOCKS.values()))
    except (ConfigError, OSError) as error:
        print(error, file=sys.stderr)
        return 2
    return 0


def _written(settings: Settings, into: Path | None) -> list[Path]:
    if not DOCUMENTS.is_dir():
        raise FileNotFoundError(f"{DOCUMENTS} is not there: the documents come with the source, not with the package")
    if into is not None:
        into.mkdir(parents=True, exist_ok=True)
    return write(settings, DOCUMENTS, into or DOCUMENTS)


if __name__ == "__main__":
    sys.exit(main())
