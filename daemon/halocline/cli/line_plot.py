"""A small line plot as SVG text: panels side by side and one legend, drawn with nothing but strings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from halocline.plant import svg
from halocline.plant.svg import Axes

PANEL_WIDTH = 420
PANEL_HEIGHT = 300
MARGIN_LEFT = 68
MARGIN_TOP = 48
MARGIN_BOTTOM = 52
GAP = 20
LEGEND_ROW = 18
TICKS = 6
GRID = "#d8d8d8"

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


def plot(title: str, panels: Sequence[Panel]) -> str:
    """The whole picture as SVG text."""
    labels = list(dict.fromkeys(line.label for panel in panels for line in panel.lines))
    width = GAP + len(panels) * (MARGIN_LEFT + PANEL_WIDTH + GAP)
    height = MARGIN_TOP + PANEL_HEIGHT + MARGIN_BOTTOM + LEGEND_ROW * len(labels) + GAP
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" font-family="sans-serif" font-size="12" role="img">',
        svg.titled(title),
        svg.tag("rect", width=width, height=height, fill="#ffffff"),
        _text(GAP, 20, title, size=15),
    ]
    for index, panel in enumerate(panels):
        left = GAP + MARGIN_LEFT + index * (MARGIN_LEFT + PANEL_WIDTH + GAP)
        parts += _panel(panel, left, labels)
    for row, label in enumerate(labels):
        y = MARGIN_TOP + PANEL_HEIGHT + MARGIN_BOTTOM + LEGEND_ROW * row
        x = GAP + MARGIN_LEFT
        parts.append(_stroke(f"M{x} {y}h36", row))
        parts.append(_text(x + 44, y + 4, label))
    return "\n".join([*parts, "</svg>", ""])


def _panel(panel: Panel, left: float, labels: list[str]) -> Iterator[str]:
    points = [point for line in panel.lines for point in line.points]
    tallest = [y for _, y in points] + ([panel.limit] if panel.limit is not None else [])
    x_ticks = svg.ticks(min(x for x, _ in points), max(x for x, _ in points), TICKS)
    y_ticks = svg.ticks(0.0, max([*tallest, 1e-9]), TICKS)
    axes = Axes(left, MARGIN_TOP, PANEL_WIDTH, PANEL_HEIGHT, (x_ticks[0], x_ticks[-1]), (y_ticks[0], y_ticks[-1]))
    yield _text(left, MARGIN_TOP - 8, panel.title)
    for value in x_ticks:
        yield svg.tag("path", d=f"M{axes.x(value):.1f} {axes.top}V{axes.bottom}", stroke=GRID, stroke_width=1)
        yield _text(axes.x(value), axes.bottom + 18, f"{value:g}", anchor="middle")
    for value in y_ticks:
        yield svg.tag("path", d=svg.level(axes, value), stroke=GRID, stroke_width=1)
        yield _text(left - 8, axes.y(value) + 4, f"{value:g}", anchor="end")
    yield _text(left + PANEL_WIDTH / 2, axes.bottom + 36, panel.x_label, anchor="middle")
    if panel.limit is not None:
        yield svg.tag("path", d=svg.level(axes, panel.limit), stroke="#B00020", stroke_width=1.5)
    for line in panel.lines:
        yield _line([axes.place(*point) for point in line.points], labels.index(line.label))


def _line(places: list[svg.Place], row: int) -> str:
    if len(places) == 1:
        ((x, y),) = places
        return svg.tag("circle", cx=x, cy=y, r=4.5, fill=COLOURS[row % len(COLOURS)])
    return _stroke(svg.path(places), row)


def _stroke(way: str, row: int) -> str:
    dash, colour = DASHES[row // len(COLOURS) % len(DASHES)], COLOURS[row % len(COLOURS)]
    dashed = {"stroke_dasharray": dash} if dash else {}
    return svg.tag("path", d=way, fill="none", stroke=colour, stroke_width=2, **dashed)


def _text(x: float, y: float, words: str, *, anchor: str = "start", size: int = 12) -> str:
    return svg.text(x, y, words, text_anchor=anchor, font_size=size, fill="#222222")
