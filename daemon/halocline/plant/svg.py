"""Line charts as SVG text, made of nothing but strings: scales, round ticks, and the marks that charts are made of.

Three sheets are drawn with it, each with its own layout: a run on paper (`report.charts`), a rehearsal
(`rehearsal.picture`), a projection (`cli.line_plot`).
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from html import escape
from typing import TypeVar

NICE = (1.0, 2.0, 2.5, 5.0, 10.0)

Place = tuple[float, float]
T = TypeVar("T")


def ticks(low: float, high: float, about: int) -> list[float]:
    """Round numbers that span low to high, about so many steps; at least two."""
    if high <= low:
        low, high = low - 1.0, high + 1.0
    span = max(high - low, 1e-9)
    power = 10.0 ** math.floor(math.log10(span / about))
    step = next(nice * power for nice in NICE if nice * power * about >= span * 0.999)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(number * step, 10) for number in range(first, max(last, first + 1) + 1)]


@dataclass(frozen=True, slots=True)
class Axes:
    """A pair of axes in the drawing's own lengths, y downwards; what lies outside of a scale is drawn at its end."""

    left: float
    top: float
    width: float
    height: float
    across: tuple[float, float]
    upwards: tuple[float, float]

    @property
    def right(self) -> float:
        """Where the axes end."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Where the axis across lies."""
        return self.top + self.height

    def x(self, value: float) -> float:
        """Where a value stands across."""
        return self.left + self.width * _share(value, *self.across)

    def y(self, value: float) -> float:
        """Where a value stands upwards."""
        return self.bottom - self.height * _share(value, *self.upwards)

    def place(self, x: float, y: float) -> Place:
        """Where a pair of values stands."""
        return self.x(x), self.y(y)


def _share(value: float, low: float, high: float) -> float:
    return min(max((value - low) / (high - low), 0.0), 1.0)


def tag(name: str, content: str = "", /, **attributes: float | str) -> str:
    """An element. Its content is SVG already, its attributes are escaped; `_` in their names stands for `-`, and a last
    one is left out (`class_`)."""
    said = "".join(f' {key.rstrip("_").replace("_", "-")}="{_said(value)}"' for key, value in attributes.items())
    return f"<{name}{said}>{content}</{name}>" if content else f"<{name}{said}/>"


def _said(value: float | str) -> str:
    return escape(value) if isinstance(value, str) else f"{value:.2f}".rstrip("0").rstrip(".")


def text(x: float, y: float, words: str, **attributes: float | str) -> str:
    """Words at a place."""
    return tag("text", escape(words, quote=False), x=x, y=y, **attributes)


def titled(words: str) -> str:
    """What an element says when it is pointed at."""
    return tag("title", escape(words, quote=False))


def path(places: Iterable[Place]) -> str:
    """The way through these places, for the attribute `d` of a path."""
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in places)


def level(axes: Axes, value: float) -> str:
    """The way across the axes at one height."""
    return f"M{axes.left:g} {axes.y(value):.2f}H{axes.right:g}"


def unbroken(points: Iterable[T | None]) -> Iterator[list[T]]:
    """The points between gaps."""
    part: list[T] = []
    for point in points:
        if point is not None:
            part.append(point)
        elif part:
            yield part
            part = []
    if part:
        yield part
