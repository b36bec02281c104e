"""A played rehearsal as one picture: pressures, salt and tank over time, states as bands, alarms as dashed lines."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

from halocline.plant import words

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
        f'<rect width="{WIDTH:g}" height="{height:g}" fill="white"/>',
        f'<text x="{LEFT:g}" y="20" font-size="16">{escape(result["title"])}</text>',
    ]
    across = _Across(max(1.0, result["duration_s"]))
    for number, (title, least_top, lines) in enumerate(PANELS):
        top = TOP + number * (PANEL + GAP)
        parts.extend(_panel(result, samples, across, top, title, least_top, lines, named=number == 0))
    parts.extend(_clock(across, TOP + len(PANELS) * (PANEL + GAP) - GAP + 16.0))
    return "\n".join([*parts, "</svg>", ""])


@dataclass(frozen=True, slots=True)
class _Across:
    duration_s: float

    def __call__(self, t_s: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * min(1.0, max(0.0, t_s / self.duration_s))


def _panel(
    result: dict[str, Any],
    samples: Sequence[Sample],
    across: _Across,
    top: float,
    title: str,
    least_top: float,
    lines: Sequence[Line],
    *,
    named: bool,
) -> list[str]:
    parts = _bands(result, across, top, named=named)
    highest = max([least_top, *(value for line in lines for s in samples if (value := line.read(s)) is not None)])
    parts.append(f'<text x="{LEFT - 8:g}" y="{top + 10:g}" text-anchor="end">{highest:g}</text>')
    parts.append(f'<text x="{LEFT - 8:g}" y="{top + PANEL:g}" text-anchor="end">0</text>')
    for line, ink in zip(lines, INKS, strict=False):
        parts.extend(_curve(line, samples, across, top, highest, ink))
    legend = f" — {lines[0].name} blue, {lines[1].name} orange" if len(lines) > 1 else ""
    parts.append(f'<text x="{LEFT + 6:g}" y="{top + 16:g}">{escape(title + legend)}</text>')
    for alarm in result["alarms"]:
        if alarm["to"] == "unacknowledged":
            x = across(alarm["t"])
            parts.append(
                f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{top:g}" y2="{top + PANEL:g}" stroke="#b00020" '
                f'stroke-dasharray="3 3"><title>{escape(words.alarm_name(alarm["id"]))}</title></line>'
            )
    return parts


def _bands(result: dict[str, Any], across: _Across, top: float, *, named: bool) -> list[str]:
    parts = []
    states = result["states"]
    ends = [state["t"] for state in states[1:]] + [result["duration_s"]]
    for state, end_s in zip(states, ends, strict=True):
        x, width = across(state["t"]), across(end_s) - across(state["t"])
        name = escape(words.state_name(state["state"]))
        parts.append(
            f'<rect x="{x:.1f}" y="{top:g}" width="{width:.1f}" height="{PANEL:g}" '
            f'fill="{BANDS.get(state["state"], "#eeeeee")}"><title>{name}</title></rect>'
        )
        if named and width > 7.0 * len(name):
            parts.append(f'<text x="{x + 3:.1f}" y="{top - 6:g}">{name}</text>')
    return parts


def _curve(line: Line, samples: Sequence[Sample], across: _Across, top: float, highest: float, ink: str) -> list[str]:
    parts, points = [], []
    for sample in [*samples, None]:
        value = None if sample is None else line.read(sample)
        if sample is not None and value is not None:
            y = top + PANEL * (1.0 - min(1.0, max(0.0, value / highest)))
            points.append(f"{across(sample['t']):.1f},{y:.1f}")
        elif points:
            parts.append(f'<polyline points="{" ".join(points)}" fill="none" stroke="{ink}" stroke-width="1.5"/>')
            points = []
    return parts


def _clock(across: _Across, y: float) -> list[str]:
    return [
        f'<text x="{across(share * across.duration_s):.1f}" y="{y:g}" text-anchor="middle">'
        f"{share * across.duration_s:.0f} s</text>"
        for share in (0.0, 0.25, 0.5, 0.75, 1.0)
    ]
