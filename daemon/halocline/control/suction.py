"""Where the sea water is held up on its way to the high-pressure pump, told from the two senders about the filters.

Before the filters enough, behind them little: the filters. Little before them already: seacock, strainer or feed pump.
Pressure that falls and comes back within seconds: air. Between these no cause is named: a person then checks them in
order.
"""

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field

from halocline.control.situation import Situation
from halocline.plant.settings import LimitSettings

WINDOW_S = 5.0
"""A slug of air is through within a second or two; several of them fit into this time (common practice)."""

DIP_BAR = 0.2
"""A fall and a return of this much is no noise and no hand at a valve (chosen; a feed pump gives 0.5 bar or more)."""

FALLING_BAR = 0.15
"""An inlet that has just fallen by this much is on its way down with the rest: it proves nothing of the filters yet
(chosen)."""

LOW_TEXTS = ("feed_pressure_not_reached", "feed_pressure_low_low", "feed_pressure_low")
"""The alarms that say where the water is held up."""


def told_apart(limits: LimitSettings, inlet_bar: float | None, feed_bar: float, highest_bar: float) -> str | None:
    """`filters` or `supply`; None where the senders do not tell. `highest_bar`: of the inlet, within `WINDOW_S`.

    Filters that take more than half of a pressure that would be enough are the cause, whatever else is.
    """
    if inlet_bar is None:
        return None
    taken_by_filters = inlet_bar - feed_bar > inlet_bar / 2
    if inlet_bar >= limits.feed_pressure_start_bar:
        return "filters" if taken_by_filters and highest_bar - inlet_bar <= FALLING_BAR else None
    return None if taken_by_filters and inlet_bar >= limits.feed_pressure_low_bar else "supply"


@dataclass(slots=True)
class SuctionWatch:
    """Remembers the last seconds of both pressures; in bar."""

    _feed: deque[tuple[float, float]] = field(default_factory=deque)
    _inlet: deque[tuple[float, float]] = field(default_factory=deque)

    def see(self, now_s: float, inlet_bar: float | None, feed_bar: float | None) -> None:
        """Take one tick."""
        for recent, bar in ((self._inlet, inlet_bar), (self._feed, feed_bar)):
            if bar is not None:
                recent.append((now_s, bar))
            while recent and now_s - recent[0][0] > WINDOW_S:
                recent.popleft()

    def forget(self) -> None:
        """The feed pump stands: what it draws next is judged anew."""
        self._feed.clear()
        self._inlet.clear()

    def values(self, now: Situation) -> Mapping[str, object]:
        """Pressure before the filters and, where it can be told, the place; for the values of an alarm."""
        inlet_bar = now.value("filter_inlet_pressure")
        said: dict[str, object] = {} if inlet_bar is None else {"inlet_bar": inlet_bar}
        place = self._place(now.settings.limits, inlet_bar, now.known("feed_pressure"))
        return said if place is None else {**said, "suction": place}

    def _place(self, limits: LimitSettings, inlet_bar: float | None, feed_bar: float | None) -> str | None:
        if feed_bar is None:
            return None
        if self.dip_bar() >= DIP_BAR:
            return "air"
        highest_bar = max((bar for _, bar in self._inlet), default=0.0)
        return told_apart(limits, inlet_bar, feed_bar, highest_bar)

    def dip_bar(self) -> float:
        """The deepest fall of the pump's inlet pressure that was followed by a return: the lesser of the two."""
        bars = [bar for _, bar in self._feed]
        highest_before: list[float] = []
        highest_after: list[float] = []
        for bar in bars:
            highest_before.append(max(bar, highest_before[-1]) if highest_before else bar)
        for bar in reversed(bars):
            highest_after.append(max(bar, highest_after[-1]) if highest_after else bar)
        sides = zip(bars, highest_before, reversed(highest_after), strict=True)
        return max((min(before, after) - bar for bar, before, after in sides), default=0.0)
