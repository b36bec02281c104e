"""A small line plot as SVG text: panels side by side and one legend, drawn with nothing but strings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

PANEL_WIDTH = 420
PANEL_HEIGHT = 300
MARGIN_LEFT = 68
MARGIN_TOP = 48
MARGIN_BOTTOM = 52
GAP = 20
LEGEND_ROW = 18

# Okabe and Ito's colours, told apart by colour-blind eyes too; dashes carry the same news in print.
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000")
DASHES = ("", "7 3", "2 3", "10 3 2 3")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a panel; a single point is drawn as a dot."""

    label: str
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Panel:
    """One pair of axes. `limit` draws a level line across it."""

    title: str
    x_label: str
    lines: tuple[Line, ...]
    limit: float | None = None


def ticks(low: float, high: float, about: int = 6) -> list[float]:
    """Round numbers that cover low…high."""
    if high <= low:
        low, high = low - 1.0, high + 1.0
    rough = (high - low) / about
    magnitude = 10.0 ** math.floor(math.log10(rough))
    step = next(m * magnitude for m in (1.0, 2.0, 2.5, 5.0, 10.0) if m * magnitude >= rough * 0.999)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(index * step, 10) for index in range(first, last + 1)]


def plot(title: str, panels: Sequence[Panel]) -> str:
    """The whole picture as SVG text."""
    labels = list(dict.fromkeys(line.label for panel in panels for line in panel.lines))
    width = GAP + len(panels) * (MARGIN_LEFT + PANEL_WIDTH + GAP)
    height = MARGIN_TOP + PANEL_HEIGHT + MARGIN_BOTTOM + LEGEND_ROW * len(labels) + GAP
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" font-family="sans-serif" font-size="12" role="img">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        _text(GAP, 20, title, size=15),
    ]
    for index, panel in enumerate(panels):
        left = GAP + MARGIN_LEFT + index * (MARGIN_LEFT + PANEL_WIDTH + GAP)
        parts += _panel(panel, left, labels)
    for row, label in enumerate(labels):
        y = MARGIN_TOP + PANEL_HEIGHT + MARGIN_BOTTOM + LEGEND_ROW * row
        x = GAP + MARGIN_LEFT
        parts.append(f'<path d="M{x} {y}h36" {_stroke(row)}/>')
        parts.append(_text(x + 44, y + 4, label))
    return "\n".join([*parts, "</svg>", ""])


def _panel(panel: Panel, left: float, labels: list[str]) -> list[str]:
    points = [point for line in panel.lines for point in line.points]
    tallest = [y for _, y in points] + ([panel.limit] if panel.limit is not None else [])
    x_ticks = ticks(min(x for x, _ in points), max(x for x, _ in points))
    y_ticks = ticks(0.0, max([*tallest, 1e-9]))
    bottom = MARGIN_TOP + PANEL_HEIGHT

    def at_x(value: float) -> float:
        return left + PANEL_WIDTH * (value - x_ticks[0]) / (x_ticks[-1] - x_ticks[0])

    def at_y(value: float) -> float:
        return bottom - PANEL_HEIGHT * (value - y_ticks[0]) / (y_ticks[-1] - y_ticks[0])

    parts = [_text(left, MARGIN_TOP - 8, panel.title)]
    for value in x_ticks:
        parts.append(_grid(f"M{at_x(value):.1f} {MARGIN_TOP}v{PANEL_HEIGHT}"))
        parts.append(_text(at_x(value), bottom + 18, f"{value:g}", anchor="middle"))
    for value in y_ticks:
        parts.append(_grid(f"M{left} {at_y(value):.1f}h{PANEL_WIDTH}"))
        parts.append(_text(left - 8, at_y(value) + 4, f"{value:g}", anchor="end"))
    parts.append(_text(left + PANEL_WIDTH / 2, bottom + 36, panel.x_label, anchor="middle"))
    if panel.limit is not None:
        y = at_y(panel.limit)
        parts.append(f'<path d="M{left} {y:.1f}h{PANEL_WIDTH}" stroke="#B00020" stroke-width="1.5"/>')
    for line in panel.lines:
        parts += _line([(at_x(x), at_y(y)) for x, y in line.points], labels.index(line.label))
    return parts


def _line(places: list[tuple[float, float]], row: int) -> list[str]:
    if len(places) == 1:
        (x, y) = places[0]
        return [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="{COLOURS[row % len(COLOURS)]}"/>']
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in places)
    return [f'<path d="{path}" {_stroke(row)}/>']


def _stroke(row: int) -> str:
    dash = DASHES[row // len(COLOURS) % len(DASHES)]
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'fill="none" stroke="{COLOURS[row % len(COLOURS)]}" stroke-width="2"{dashed}'


def _grid(path: str) -> str:
    return f'<path d="{path}" stroke="#d8d8d8" stroke-width="1"/>'


def _text(x: float, y: float, text: str, *, anchor: str = "start", size: int = 12) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}" fill="#222222">{escape(text)}</text>'
    )
