"""Small line charts as SVG, for paper: a band from lowest to highest, the mean as a line, limits as dashes.

Lengths are those of the drawing, 180 wide; the page scales it.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from halocline.report.history import Bucket

WIDTH = 180.0
HEIGHT = 30.0
LEFT, RIGHT, TOP, BOTTOM = 14.0, 2.0, 5.0, 5.0

LEAST_SPAN = 1.0
NICE = (1.0, 2.0, 2.5, 5.0, 10.0)
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


def ticks(low: float, high: float, count: int = 4) -> list[float]:
    """Round numbers that span low to high."""
    span = max(high - low, 1e-9)
    power = 10.0 ** math.floor(math.log10(span / count))
    step = next(nice * power for nice in NICE if nice * power * count >= span * 0.999)
    first = math.floor(low / step + 1e-9)
    last = math.ceil(high / step - 1e-9)
    return [round(number * step, 10) for number in range(first, max(last, first + 1) + 1)]


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
    frame = _Frame(length_s, marks[0], marks[-1])
    yield f'<svg viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" aria-label="{escape(chart.title)}">'
    yield f'<text class="title" x="{LEFT}" y="3.4">{escape(chart.title)}, {escape(chart.unit)}</text>'
    yield from _phases(phases, frame)
    yield from _grid(marks, minute_ticks(length_s), frame)
    for limit in shown:
        y = frame.y(limit.value)
        yield f'<path class="limit" d="M{LEFT} {y:.2f}H{WIDTH - RIGHT}"/>'
        yield f'<text class="note" x="{WIDTH - RIGHT}" y="{y - 0.6:.2f}" text-anchor="end">{escape(limit.name)}</text>'
    for part in _unbroken(chart.points):
        yield f'<path class="band" d="{_band(part, frame)}"/>'
        yield f'<path class="mean" d="{_mean(part, frame)}"/>'
    yield "</svg>"


def _marks(chart: Chart, values: Sequence[float], shown: Sequence[Limit]) -> list[float]:
    heights = [*values, *(limit.value for limit in shown)]
    low = min([0.0, *heights]) if chart.from_zero or not heights else min(heights)
    high = max([low, *heights])
    return ticks(low, max(high, low + LEAST_SPAN))


@dataclass(frozen=True, slots=True)
class _Frame:
    length_s: float
    low: float
    high: float

    def x(self, time_s: float) -> float:
        share = min(max(time_s / self.length_s, 0.0), 1.0)
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)


def _phases(phases: Sequence[Phase], frame: _Frame) -> Iterator[str]:
    for phase in phases:
        x, end = frame.x(phase.begin_s), frame.x(phase.end_s)
        box = f'x="{x:.2f}" y="{TOP}" width="{max(end - x, 0):.2f}" height="{HEIGHT - TOP - BOTTOM}"'
        yield f'<rect class="{escape(phase.state)}" {box}><title>{escape(phase.name)}</title></rect>'


def _grid(values: Sequence[float], minutes: Sequence[float], frame: _Frame) -> Iterator[str]:
    for value in values:
        y = frame.y(value)
        yield f'<path class="grid" d="M{LEFT} {y:.2f}H{WIDTH - RIGHT}"/>'
        yield f'<text class="axis" x="{LEFT - 1}" y="{y + 0.9:.2f}" text-anchor="end">{value:g}</text>'
    for minute in minutes:
        x = frame.x(minute * 60.0)
        yield f'<text class="axis" x="{x:.2f}" y="{HEIGHT - 1.6}" text-anchor="middle">{minute:g}</text>'


def _unbroken(points: Sequence[Bucket]) -> Iterator[list[Bucket]]:
    part: list[Bucket] = []
    for point in points:
        if point.mean is None:
            if part:
                yield part
            part = []
        else:
            part.append(point)
    if part:
        yield part


def _mean(points: Sequence[Bucket], frame: _Frame) -> str:
    return _path((frame.x(point.time_s), frame.y(point.mean or 0.0)) for point in points)


def _band(points: Sequence[Bucket], frame: _Frame) -> str:
    above = [(frame.x(point.time_s), frame.y(point.high or 0.0)) for point in points]
    below = [(frame.x(point.time_s), frame.y(point.low or 0.0)) for point in reversed(points)]
    return f"{_path(iter([*above, *below]))}Z"


def _path(places: Iterator[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in places)
