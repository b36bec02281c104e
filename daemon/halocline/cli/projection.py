"""`halocline projection`: what a membrane will make, for one sea or a table of seas."""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from halocline.cli.line_plot import Line, Panel, plot
from halocline.physics import conductivity, energy, guidance, seawater
from halocline.physics.membrane import Caution, Membrane, PolarisationChoice, Projection, project_series

MOST_POINTS = 5000
MOST_LINES = 14

_CAUTIONS: dict[str, str] = {
    "no_feed_flow": "There is no feed flow, so nothing can be made: enter the high-pressure pump's flow.",
    "pump_inlet_pressure": "{value:.3g} bar looks like the pressure at the pump's inlet: enter the pressure "
    "at the membrane's inlet, 50 to 60 bar for sea water.",
    "below_osmotic_pressure": "{value:.3g} bar does not overcome the osmotic pressure of this feed, "
    "{limit:.3g} bar: hardly any water, and salty. Raise the pressure.",
    "recovery_high": "Recovery {value:.1%} is above {limit:.1%}: the membrane scales and fouls quickly. "
    "Lower the pressure or feed more.",
    "flux_high": "Flux {value:.3g} L/m²/h is above {limit:.3g}: the membrane fouls quickly. Lower the pressure.",
    "tds_high": "Salt {value:.0f} mg/L is above the accept limit of {limit:.0f}: this water would go overboard.",
    "pressure_high": "{value:.3g} bar is above the element's {limit:.3g} bar: do not run it there.",
    "feed_flow_high": "Feed {value:.4g} L/h is above the element's {limit:.4g} L/h: it may be damaged.",
    "pressure_drop_high": "Pressure drop {value:.3g} bar is above {limit:.3g} bar: feed less, or use fewer "
    "elements in series.",
    "brine_beyond_formulas": "Brine of {value:.0f} g/kg is beyond {limit:.0f} g/kg, where the formulas are "
    "proved: take these figures as a hint only.",
}

_COLUMNS = (
    ("°C", "temperature_c", "{:.4g}"),
    ("bar", "membrane_inlet_bar", "{:.4g}"),
    ("g/kg", "feed_salinity_g_kg", "{:.4g}"),
    ("L/h", "product_flow_l_h", "{:.1f}"),
    ("mg/L", "product_tds_mg_l", "{:.0f}"),
    ("recovery", "recovery", "{:.1%}"),
    ("L/m²/h", "flux_lmh", "{:.1f}"),
    ("brine g/kg", "brine_salinity_g_kg", "{:.1f}"),
    ("net bar", "net_driving_pressure_bar", "{:.1f}"),
    ("drop bar", "pressure_drop_bar", "{:.2f}"),
)


class Unreadable(ValueError):
    """An argument nobody can compute with; the text names it and the remedy."""


@dataclass(frozen=True, slots=True)
class Point:
    """One sea, one pressure, and what came of it."""

    temperature_c: float
    membrane_inlet_bar: float
    feed_salinity_g_kg: float
    result: Projection


@dataclass(frozen=True, slots=True)
class Plant:
    """Everything that is the same in all points of a table."""

    membrane: Membrane
    elements: int
    feed_flow_l_h: float
    product_pressure_bar: float
    polarisation: PolarisationChoice
    pressure_drop_bar: float | None
    accept_tds_mg_l: float

    def at(self, temperature_c: float, pressure_bar: float, salinity_g_kg: float) -> Point:
        """Project one point."""
        result = project_series(
            (self.membrane,) * self.elements,
            salinity_g_kg,
            temperature_c,
            pressure_bar,
            self.feed_flow_l_h,
            product_pressure_bar=self.product_pressure_bar,
            polarisation=self.polarisation,
            pressure_drop_bar=self.pressure_drop_bar,
            accept_tds_mg_l=self.accept_tds_mg_l,
        )
        return Point(temperature_c, pressure_bar, salinity_g_kg, result)


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> argparse.ArgumentParser:
    """Add `projection` to the command line. Values are read in `run`, so that each error is one line."""
    parser = subparsers.add_parser(
        "projection",
        help="what a membrane will make: product flow, salt, recovery",
        description="Product flow and salt of a membrane, for one point or a table. A list is 20,24,28; a "
        "range is 45:60:5; with a minus in front write --temperature=-1,4. Without options: the demonstration's "
        "plant with a new element, not your own.",
    )
    sea = parser.add_argument_group("sea and running")
    sea.add_argument("--temperature", default="24", metavar="C", help="water, °C (list or range; default 24)")
    sea.add_argument("--pressure", default="55", metavar="BAR", help="membrane inlet (list or range; 55)")
    sea.add_argument("--salinity", default="38", metavar="G_KG", help="sea, g/kg (list or range; default 38)")
    sea.add_argument("--feed-flow", default="340", metavar="L_H", help="high-pressure pump, L/h (default 340)")
    sea.add_argument("--product-pressure", default="0", metavar="BAR", help="behind the membrane (default 0)")
    element = parser.add_argument_group("membrane: by nameplate, or by A and B at 25 °C")
    element.add_argument("--nameplate-flow", default="2.4", metavar="M3_D", help="m³/d at the test (2.4)")
    element.add_argument("--rejection", default="0.994", help="salt rejection, 0 to 1 (default 0.994)")
    element.add_argument("--area", default="2.6", metavar="M2", help="membrane area, m² (default 2.6)")
    element.add_argument("--water-permeability", metavar="A", help="L/m²/h/bar, instead of the nameplate")
    element.add_argument("--salt-permeability", metavar="B", help="L/m²/h, together with A")
    element.add_argument("--water-factor", default="1", help="ageing of A: 0.8 is 20 %% less (default 1)")
    element.add_argument("--salt-factor", default="1", help="ageing of B (default 1)")
    element.add_argument("--elements", default="1", help="equal elements in series (default 1)")
    element.add_argument("--film", metavar="M_S", help="given film coefficient instead of the correlation")
    element.add_argument("--polarisation-factor", metavar="M", help="given factor instead; 1 means none")
    element.add_argument("--pressure-drop", metavar="BAR", help="given feed-side drop instead of friction")
    output = parser.add_argument_group("output")
    output.add_argument("--accept", default="500", metavar="MG_L", help="salt you accept (default 500)")
    output.add_argument("--json", action="store_true", help="one JSON object")
    output.add_argument("--plot", metavar="FILE.svg", help="write flow and salt as a picture")
    parser.set_defaults(handler=run, unasked={name: parser.get_default(name) for name in ITS_OWN})
    return parser


def run(args: argparse.Namespace) -> int:
    """Print the projection; 0 when done, 2 with one line on standard error for unusable input."""
    try:
        plant = _plant(args)
        points = list(_points(plant, args))
        if args.plot:
            _write_plot(Path(args.plot), plant, points)
    except (ValueError, OSError) as error:
        print(f"halocline projection: {error}", file=sys.stderr)
        return 2
    if args.json:
        print(json.dumps(_as_json(plant, points), ensure_ascii=False, indent=2, allow_nan=False))
    elif len(points) == 1:
        print("\n".join([*_whose(args), *_one(plant, points[0])]))
    else:
        print("\n".join([*_whose(args), *_table(plant, points)]))
    return 0


ITS_OWN = ("nameplate_flow", "rejection", "area", "water_permeability", "feed_flow")


def _whose(args: argparse.Namespace) -> list[str]:
    """That the figures are of no plant of the person's own, where nothing of one was given."""
    own = any(getattr(args, name) != args.unasked[name] for name in ITS_OWN)
    return [] if own else ["The demonstration's plant with a new element; give your own membrane and feed by options."]


def parse_values(name: str, text: str) -> list[float]:
    """Numbers from `a`, `a,b,c`, `first:last:step` (last included when the steps meet it) or a mixture.

    Raises `Unreadable`.
    """
    values: list[float] = []
    for part in text.split(","):
        values += _range(name, part) if ":" in part else [_number(name, part)]
    return values


def _range(name: str, text: str) -> list[float]:
    parts = [_number(name, part) for part in text.split(":")]
    if len(parts) != 3:
        raise Unreadable(f"{name} {text!r}: a range is written first:last:step, for example 45:60:5")
    first, last, step = parts
    if step <= 0 or last < first:
        raise Unreadable(f"{name} {text!r}: the step must be above 0 and the last value not below the first")
    count = (last - first) / step + 1e-9
    if count >= MOST_POINTS:
        raise Unreadable(f"{name} {text!r}: that is more than {MOST_POINTS} values; take a larger step")
    return [round(first + index * step, 12) for index in range(math.floor(count) + 1)]


def _number(name: str, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise Unreadable(f"{name}: {text!r} is not a number; write it like 38.5") from None
    if not math.isfinite(value):
        raise Unreadable(f"{name}: {text!r} is not a finite number")
    return value


def _plant(args: argparse.Namespace) -> Plant:
    elements = _number("--elements", args.elements)
    if elements not in range(1, 21):
        raise Unreadable(f"--elements: {args.elements!r} must be a whole number from 1 to 20")
    return Plant(
        membrane=_membrane(args),
        elements=int(elements),
        feed_flow_l_h=_number("--feed-flow", args.feed_flow),
        product_pressure_bar=_number("--product-pressure", args.product_pressure),
        polarisation=_polarisation(args),
        pressure_drop_bar=None if args.pressure_drop is None else _number("--pressure-drop", args.pressure_drop),
        accept_tds_mg_l=_number("--accept", args.accept),
    )


def _membrane(args: argparse.Namespace) -> Membrane:
    area = _number("--area", args.area)
    if (args.water_permeability is None) != (args.salt_permeability is None):
        raise Unreadable("--water-permeability and --salt-permeability belong together: give both or neither")
    if args.water_permeability is None:
        flow = _number("--nameplate-flow", args.nameplate_flow)
        membrane = Membrane.from_nameplate(flow, _number("--rejection", args.rejection), area)
    else:
        a = _number("--water-permeability", args.water_permeability)
        membrane = Membrane(a, _number("--salt-permeability", args.salt_permeability), area)
    return membrane.aged(_number("--water-factor", args.water_factor), _number("--salt-factor", args.salt_factor))


def _polarisation(args: argparse.Namespace) -> PolarisationChoice:
    if args.film is not None and args.polarisation_factor is not None:
        raise Unreadable("--film and --polarisation-factor exclude each other: give one of them")
    if args.film is not None:
        return {"film_m_s": _number("--film", args.film)}
    if args.polarisation_factor is not None:
        return {"factor": _number("--polarisation-factor", args.polarisation_factor)}
    return "correlation"


def _points(plant: Plant, args: argparse.Namespace) -> Iterator[Point]:
    temperatures = parse_values("--temperature", args.temperature)
    pressures = parse_values("--pressure", args.pressure)
    salinities = parse_values("--salinity", args.salinity)
    count = len(temperatures) * len(pressures) * len(salinities)
    if count > MOST_POINTS:
        raise Unreadable(f"the table would have {count} points; {MOST_POINTS} is the most, take larger steps")
    for salinity in salinities:
        for temperature in temperatures:
            for pressure in pressures:
                yield plant.at(temperature, pressure, salinity)


def caution_text(caution: Caution) -> str:
    """The sentence for one warning: what was found, the limit, what to do."""
    return _CAUTIONS[caution.id].format(value=caution.value, limit=caution.limit)


def _inputs(point: Point) -> dict[str, float]:
    return {
        "temperature_c": point.temperature_c,
        "membrane_inlet_bar": point.membrane_inlet_bar,
        "feed_salinity_g_kg": point.feed_salinity_g_kg,
    }


def _as_json(plant: Plant, points: list[Point]) -> dict[str, Any]:
    rows = []
    for point in points:
        row = _inputs(point) | asdict(point.result)
        row["warnings"] = [asdict(c) | {"text": caution_text(c)} for c in point.result.warnings]
        rows.append(row)
    return {
        "membrane": asdict(plant.membrane),
        "elements": plant.elements,
        "feed_flow_l_h": plant.feed_flow_l_h,
        "product_pressure_bar": plant.product_pressure_bar,
        "accept_tds_mg_l": plant.accept_tds_mg_l,
        "points": rows,
    }


def _heading(plant: Plant) -> str:
    m = plant.membrane
    count = f"{plant.elements} elements in series, each " if plant.elements > 1 else ""
    return (
        f"Membrane: {count}A {m.water_permeability_lmh_bar:.3g} L/m²/h/bar, B {m.salt_permeability_lmh:.3g} "
        f"L/m²/h at 25 °C, {m.area_m2:g} m²; feed {plant.feed_flow_l_h:g} L/h"
    )


def _table(plant: Plant, points: list[Point]) -> list[str]:
    notes: dict[str, str] = {}
    rows = [[title for title, _, _ in _COLUMNS]]
    for point in points:
        values = _inputs(point) | asdict(point.result)
        row = [form.format(values[name]) for _, name, form in _COLUMNS]
        for caution in point.result.warnings:
            notes.setdefault(caution.id, chr(ord("a") + len(notes)))
        rows.append([*row, " ".join(notes[c.id] for c in point.result.warnings)])
    rows[0].append("")
    widths = [max(len(row[index]) for row in rows) for index in range(len(rows[0]) - 1)]
    lines = [_heading(plant), ""]
    for row in rows:
        cells = (cell.rjust(width) for cell, width in zip(row, widths, strict=False))
        lines.append(("  ".join(cells) + "  " + row[-1]).rstrip())
    if notes:
        lines += ["", "The first of each kind:"]
    for name, mark in notes.items():
        first = next(c for point in points for c in point.result.warnings if c.id == name)
        lines.append(f"  {mark}  {caution_text(first)}")
    return lines


def _one(plant: Plant, point: Point) -> list[str]:
    r = point.result
    osmotic = seawater.osmotic_pressure_bar(point.feed_salinity_g_kg, point.temperature_c)
    lines = [
        _heading(plant),
        f"Sea: {point.feed_salinity_g_kg:g} g/kg at {point.temperature_c:g} °C, osmotic pressure "
        f"{osmotic:.1f} bar; {point.membrane_inlet_bar:g} bar at the membrane",
        "",
        f"Product     {r.product_flow_l_h:8.1f} L/h",
        f"Salt        {r.product_tds_mg_l:8.0f} mg/L{_salt_words(r)}",
        f"Recovery    {r.recovery:8.1%}",
        f"Flux        {r.flux_lmh:8.1f} L/m²/h",
        f"Brine       {r.brine_flow_l_h:8.1f} L/h with {r.brine_salinity_g_kg:.1f} g/kg",
        f"Osmotic     {r.mean_osmotic_pressure_bar:8.1f} bar in the channel, "
        f"{r.wall_osmotic_pressure_bar:.1f} bar at the membrane",
        f"Driving     {r.net_driving_pressure_bar:8.1f} bar net",
        f"Drop        {r.pressure_drop_bar:8.2f} bar along the feed side",
    ]
    if r.recovery >= 1e-3 and point.membrane_inlet_bar > 0.0:
        work = energy.pump_work_wh_l(point.membrane_inlet_bar, r.recovery)
        lines.append(f"Pump work   {work:8.2f} Wh/L in the water (the motor takes more)")
    lines += ["", *(f"Warning: {caution_text(c)}" for c in r.warnings)] if r.warnings else []
    return [*lines, "", "This is about salt only: it says nothing about germs, boron or oil."]


def _salt_words(result: Projection) -> str:
    if result.product_flow_l_h <= 0.0 or result.product_tds_mg_l > conductivity.HIGHEST_TDS_MG_L:
        return ""
    k25 = conductivity.conductivity_25c_us_cm(result.product_tds_mg_l)
    return f" ({k25:.0f} µS/cm at 25 °C; taste: {guidance.taste(result.product_tds_mg_l)})"


_AXES = (
    ("membrane_inlet_bar", "membrane inlet pressure, bar", "{:g} bar"),
    ("temperature_c", "water temperature, °C", "{:g} °C"),
    ("feed_salinity_g_kg", "salinity of the feed, g/kg", "{:g} g/kg"),
)


def _write_plot(path: Path, plant: Plant, points: list[Point]) -> None:
    if path.suffix.lower() != ".svg":
        raise Unreadable(f"--plot {str(path)!r}: the picture is written as SVG; end the name in .svg")
    curves = _sweep(plant, points[0]) if len(points) == 1 else points
    axis = next(a for a in _AXES if len({getattr(p, a[0]) for p in curves}) > 1)
    groups: dict[str, list[Point]] = {}
    for point in curves:
        label = ", ".join(form.format(getattr(point, name)) for name, _, form in _AXES if name != axis[0])
        groups.setdefault(label, []).append(point)
    if len(groups) > MOST_LINES:
        raise Unreadable(f"--plot: {len(groups)} lines would be a tangle; {MOST_LINES} is the most")
    panels = [
        Panel("Product, L/h", axis[1], _lines(groups, axis[0], "product_flow_l_h", points)),
        Panel(
            f"Salt, mg/L (line: accept limit {plant.accept_tds_mg_l:g})",
            axis[1],
            _lines(groups, axis[0], "product_tds_mg_l", points),
            plant.accept_tds_mg_l,
        ),
    ]
    path.write_text(plot(_heading(plant), panels), encoding="utf-8")


def _sweep(plant: Plant, point: Point) -> list[Point]:
    """A single point says little in a picture: draw the pressures around it."""
    osmotic = seawater.osmotic_pressure_bar(point.feed_salinity_g_kg, point.temperature_c)
    low = min(osmotic + 12.0, point.membrane_inlet_bar)
    high = max(plant.membrane.max_pressure_bar, point.membrane_inlet_bar + 1.0)
    return [
        plant.at(point.temperature_c, low + (high - low) * index / 24.0, point.feed_salinity_g_kg)
        for index in range(25)
    ]


def _lines(groups: dict[str, list[Point]], axis: str, value: str, points: list[Point]) -> tuple[Line, ...]:
    lines = [
        Line(label, tuple((getattr(p, axis), getattr(p.result, value)) for p in sorted(group, key=_by(axis))))
        for label, group in groups.items()
    ]
    if len(points) == 1:
        mark = (getattr(points[0], axis), getattr(points[0].result, value))
        lines.append(Line(f"at {mark[0]:g} bar", (mark,)))
    return tuple(lines)


def _by(axis: str) -> Any:
    return lambda point: getattr(point, axis)
