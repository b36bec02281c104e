"""A played rehearsal as one picture: pressures, salt and tank over time, states as bands, alarms as dashed lines."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from halocline.plant import svg, words
from halocline.plant.svg import Axes

WIDTH, LEFT, RIGHT, TOP = 960.0, 70.0, 20.0, 56.0
PANEL, GAP = 130.0, 34.0
BANDS = {
    "standby": "#e9edf0",
    "priming": "#d7e6ee",
    "pressurising": "#c3d9ea",
    "diverting": "#f3e2bd",
    "producing": "#cfe8cf",
    "stopping": "#e2dcea",
    "flushing": "#d4eef0",
    "tripped": "#f2c9c4",
    "laid_up": "#dddddd",
    "hand_run": "#f5d3ae",
    "bench": "#e6e6cf",
}
INKS = ("#1f4e79", "#b3541e")

Sample = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Line:
    """One curve: its name and how to read it from a sample; None leaves a gap."""

    name: str
    read: Callable[[Sample], float | None]


def _of(key: str) -> Callable[[Sample], float | None]:
    return lambda sample: sample.get(key)


PANELS: tuple[tuple[str, float, tuple[Line, ...]], ...] = (
    (
        "membrane, bar",
        70.0,
        (Line("true", _of("true_vessel_pressure_bar")), Line("measured", _of("vessel_pressure"))),
    ),
    ("pump inlet, bar", 2.5, (Line("measured", _of("feed_pressure")),)),
    (
        "product salt, mg/L",
        1200.0,
        (Line("true", _of("true_product_tds_mg_l")), Line("measured", _of("product_tds_mg_l"))),
    ),
    ("into the tank, L", 0.5, (Line("true", _of("tank_added_l")),)),
)
"""Title, the least top of the scale, and the curves of each panel."""


def as_svg(result: dict[str, Any], samples: Sequence[Sample]) -> str:
    """The picture of a result and its samples."""
    height = TOP + len(PANELS) * (PANEL + GAP) + 10.0
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {height:g}" font-family="sans-serif" '
        'font-size="12">',
        svg.tag("rect", width=WIDTH, height=height, fill="white"),
        svg.text(LEFT, 20.0, result["title"], font_size="16"),
    ]
    across = (0.0, max(1.0, result["duration_s"]))
    for number, (title, least_top, lines) in enumerate(PANELS):
        highest = max([least_top, *(value for line in lines for s in samples if (value := line.read(s)) is not None)])
        top = TOP + number * (PANEL + GAP)
        axes = Axes(LEFT, top, WIDTH - LEFT - RIGHT, PANEL, across, (0.0, highest))
        parts += _bands(result, axes, named=number == 0)
        parts += _panel(result["alarms"], samples, axes, title, lines)
    parts += [
        svg.text(axes.x(share * across[1]), axes.bottom + 16.0, f"{share * across[1]:.0f} s", text_anchor="middle")
        for share in (0.0, 0.25, 0.5, 0.75, 1.0)
    ]
    return "\n".join([*parts, "</svg>", ""])


def _panel(
    alarms: Sequence[dict[str, Any]], samples: Sequence[Sample], axes: Axes, title: str, lines: Sequence[Line]
) -> Iterator[str]:
    yield svg.text(LEFT - 8, axes.top + 10, f"{axes.upwards[1]:g}", text_anchor="end")
    yield svg.text(LEFT - 8, axes.bottom, "0", text_anchor="end")
    for line, ink in zip(lines, INKS, strict=False):
        for part in svg.unbroken(_place(line, sample, axes) for sample in samples):
            yield svg.tag("path", d=svg.path(part), fill="none", stroke=ink, stroke_width=1.5)
    legend = f" — {lines[0].name} blue, {lines[1].name} orange" if len(lines) > 1 else ""
    yield svg.text(LEFT + 6, axes.top + 16, title + legend)
    for alarm in alarms:
        if alarm["to"] == "unacknowledged":
            name = svg.titled(words.alarm_name(alarm["id"]))
            way = f"M{axes.x(alarm['t']):.1f} {axes.top:g}V{axes.bottom:g}"
            yield svg.tag("path", name, d=way, stroke="#b00020", stroke_dasharray="3 3")


def _place(line: Line, sample: Sample, axes: Axes) -> svg.Place | None:
    value = line.read(sample)
    return None if value is None else axes.place(sample["t"], value)


def _bands(result: dict[str, Any], axes: Axes, *, named: bool) -> Iterator[str]:
    states = result["states"]
    ends = [state["t"] for state in states[1:]] + [result["duration_s"]]
    for state, end_s in zip(states, ends, strict=True):
        x, width = axes.x(state["t"]), axes.x(end_s) - axes.x(state["t"])
        name, colour = words.state_name(state["state"]), BANDS.get(state["state"], "#eeeeee")
        yield svg.tag("rect", svg.titled(name), x=x, y=axes.top, width=width, height=PANEL, fill=colour)
        if named and width > 7.0 * len(name):
            yield svg.text(x + 3, axes.top - 6, name)
