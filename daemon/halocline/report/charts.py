"""Small line charts as SVG, for paper: a band from lowest to highest, the mean as a line, limits as dashes.

Lengths are those of the drawing, 180 wide; the page scales it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from halocline.plant import svg
from halocline.plant.svg import Axes
from halocline.report.history import Bucket

WIDTH = 180.0
HEIGHT = 30.0
LEFT, RIGHT, TOP, BOTTOM = 14.0, 2.0, 5.0, 5.0

LEAST_SPAN = 1.0
MINUTES = (0.1, 0.25, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720, 1440)


@dataclass(frozen=True, slots=True)
class Limit:
    """A level worth a line, with its name."""

    value: float
    name: str


@dataclass(frozen=True, slots=True)
class Phase:
    """What the plant did from one second of the run to another."""

    begin_s: float
    end_s: float
    state: str
    name: str


@dataclass(frozen=True, slots=True)
class Chart:
    """One quantity over a run. Times are seconds since its beginning."""

    title: str
    unit: str
    points: Sequence[Bucket]
    limits: Sequence[Limit] = ()
    from_zero: bool = True


def minute_ticks(length_s: float, count: int = 9) -> list[float]:
    """Round minutes within a length of time."""
    step = next((step for step in MINUTES if step * 60 * count >= length_s), MINUTES[-1])
    return [round(number * step, 2) for number in range(int(length_s / 60 / step) + 1)]


def drawn(chart: Chart, length_s: float, phases: Sequence[Phase]) -> str:
    """The chart as an SVG element."""
    return "".join(_lines(chart, max(length_s, 1.0), phases))


def _lines(chart: Chart, length_s: float, phases: Sequence[Phase]) -> Iterator[str]:
    values = [value for point in chart.points for value in (point.low, point.high) if value is not None]
    shown = [limit for limit in chart.limits if values and limit.value <= 1.3 * max(values)]
    marks = _marks(chart, values, shown)
    axes = Axes(LEFT, TOP, WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM, (0.0, length_s), (marks[0], marks[-1]))
    yield f'<svg viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" aria-label="{escape(chart.title)}">'
    yield svg.text(LEFT, 3.4, f"{chart.title}, {chart.unit}", class_="title")
    yield from _phases(phases, axes)
    yield from _grid(marks, minute_ticks(length_s), axes)
    for limit in shown:
        yield svg.tag("path", class_="limit", d=svg.level(axes, limit.value))
        yield svg.text(axes.right, axes.y(limit.value) - 0.6, limit.name, class_="note", text_anchor="end")
    for part in svg.unbroken(None if point.mean is None else point for point in chart.points):
        yield svg.tag("path", class_="band", d=_band(part, axes))
        yield svg.tag("path", class_="mean", d=svg.path(axes.place(point.time_s, point.mean or 0.0) for point in part))
    yield "</svg>"


def _marks(chart: Chart, values: Sequence[float], shown: Sequence[Limit]) -> list[float]:
    heights = [*values, *(limit.value for limit in shown)]
    low = min([0.0, *heights]) if chart.from_zero or not heights else min(heights)
    high = max([low, *heights])
    return svg.ticks(low, max(high, low + LEAST_SPAN), 4)


def _phases(phases: Sequence[Phase], axes: Axes) -> Iterator[str]:
    for phase in phases:
        x, end = axes.x(phase.begin_s), axes.x(phase.end_s)
        name = svg.titled(phase.name)
        yield svg.tag("rect", name, class_=phase.state, x=x, y=axes.top, width=max(end - x, 0.0), height=axes.height)


def _grid(values: Sequence[float], minutes: Sequence[float], axes: Axes) -> Iterator[str]:
    for value in values:
        yield svg.tag("path", class_="grid", d=svg.level(axes, value))
        yield svg.text(axes.left - 1, axes.y(value) + 0.9, f"{value:g}", class_="axis", text_anchor="end")
    for minute in minutes:
        yield svg.text(axes.x(minute * 60.0), HEIGHT - 1.6, f"{minute:g}", class_="axis", text_anchor="middle")


def _band(points: Sequence[Bucket], axes: Axes) -> str:
    above = [axes.place(point.time_s, point.high or 0.0) for point in points]
    below = [axes.place(point.time_s, point.low or 0.0) for point in reversed(points)]
    return f"{svg.path([*above, *below])}Z"
