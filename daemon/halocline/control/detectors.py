"""What has to be watched over some seconds before it is worth an alarm: kept as notes for the conditions."""

from collections import deque
from dataclasses import dataclass, field

from halocline.control.hydraulic_state import STEADY_FEED_BAR
from halocline.control.plant_state import PlantState
from halocline.control.situation import Situation
from halocline.control.suction import SuctionWatch
from halocline.control.timing import Held
from halocline.plant.vocabulary import PUMPING, State
from halocline.signals.trend import Span

TANK_FULL_S = 30.0
"""A tank sloshes: a level counts once it has lasted through some waves (chosen)."""
TANK_BAND_PERCENT = 2.0
"""Heel and waves move a level by a per cent or two (from memory): a tank that was full is not full again with each of
them."""
FALLING_WINDOW_S = 60.0
"""First water falls by far more in a minute, a torn membrane's salt by nothing (from memory)."""
FALLING_EVERY_S = 5.0
"""A dozen values over the window; a cell hardly answers faster (5 to 10 s, common practice)."""
FALLING_TO = 0.9
"""Share of its value that salt has to come down to within the window: a cell's noise and drift make less of it
(chosen)."""
UNSTEADY_WINDOW_S = 3.0
"""A slug of air is through within a second or two (common practice): over three the whole jump is seen."""
UNSTEADY_FEED_BAR = 0.35
"""More than waves at the inlet and a pump's pulses make, less than a slug of air (from memory); a feed pump gives 0.5
bar or more."""
BURST_S = UNSTEADY_WINDOW_S + 1.0
"""What lasts no longer than the window and a second is one single step: a valve, a wave (computed)."""
BURSTS = 3
"""Air that comes a third time within ten minutes comes from a leak (chosen)."""
BURSTS_WITHIN_S = 600.0
"""Slugs of one and the same leak follow each other within minutes (from memory)."""


@dataclass(slots=True)
class Bursts:
    """How often something that comes and goes has come of late; a single step is over within its window."""

    _ended_s: deque[float] = field(default_factory=deque)
    _since_s: float | None = None

    def begin(self, now_s: float) -> None:
        """It is there."""
        self._since_s = now_s if self._since_s is None else self._since_s

    def end(self, now_s: float) -> None:
        """It is gone."""
        if self._since_s is not None and now_s - self._since_s >= BURST_S:
            self._ended_s.append(now_s)
        self._since_s = None

    def many(self, now_s: float) -> bool:
        """Whether it has come so often that it counts as lasting."""
        while self._ended_s and now_s - self._ended_s[0] > BURSTS_WITHIN_S:
            self._ended_s.popleft()
        return len(self._ended_s) >= BURSTS


class Detectors:
    """Keeps the notes of one plant."""

    def __init__(self, at: PlantState) -> None:
        self._at = at
        self._held = Held()
        self._feed_span = Span(UNSTEADY_WINDOW_S)
        self._tds_recent: deque[tuple[float, float]] = deque()
        self._bursts = Bursts()
        self._suction = SuctionWatch()

    def update(self, now: Situation) -> None:
        """Bring the notes to this tick."""
        self._lost_quality()
        self._falling_salt(now)
        self._unsteady_feed(now)
        self._weak_feed(now)
        self._full_tank(now)

    def _lost_quality(self) -> None:
        at = self._at
        if at.state is State.PRODUCING and at.quality.lost:
            if at.quality.salty is not None:
                at.notes.set("quality_lost", at.quality.salty)
        elif at.quality.held_s >= 0 or at.state not in PUMPING:
            at.notes.clear("quality_lost")
        if at.quality.noisy is not None:
            at.notes.set("product_salt_noisy", at.quality.noisy)
        else:
            at.notes.clear("product_salt_noisy")

    def _full_tank(self, now: Situation) -> None:
        level, limit = now.value("tank_fill"), self._at.settings.limits.tank_full_percent
        band = TANK_BAND_PERCENT if "tank_full" in self._at.notes.standing else 0.0
        full = level is not None and level >= limit - band
        full_s = self._held.seconds("tank_full", full, now.now_s)
        if full_s >= TANK_FULL_S:
            self._at.notes.set("tank_full", {"percent": level, "limit_percent": limit})
        elif full_s < 0:
            self._at.notes.clear("tank_full")

    def _falling_salt(self, now: Situation) -> None:
        """Salt that falls by a tenth a minute is first water being washed out, not a torn membrane."""
        recent, notes, tds_mg_l = self._tds_recent, self._at.notes, self._at.quality.salt.mean
        if tds_mg_l is None or self._at.state not in PUMPING:
            recent.clear()
            notes.clear("tds_falling")
            return
        if not recent or now.now_s - recent[-1][0] >= FALLING_EVERY_S:
            recent.append((now.now_s, tds_mg_l))
        while now.now_s - recent[0][0] > FALLING_WINDOW_S:
            recent.popleft()
        if tds_mg_l < FALLING_TO * recent[0][1]:
            notes.set("tds_falling")
        else:
            notes.clear("tds_falling")

    def _weak_feed(self, now: Situation) -> None:
        """Where the feed is held up while it is weak, and as long as a start waits for it: air comes and goes."""
        if now.clocks.feed_pump_on_s < 0:
            self._suction.forget()
            return
        self._suction.see(now.now_s, now.value("filter_inlet_pressure"), now.feed_bar)
        weak = now.feed_bar is None or now.feed_bar < now.settings.limits.feed_pressure_start_bar
        if weak or self._at.state is State.PRIMING:
            self._at.notes.set("suction", self._suction.values(now))
        else:
            self._at.notes.clear("suction")

    def _unsteady_feed(self, now: Situation) -> None:
        """Air in the suction makes the feed pressure jump about within seconds."""
        notes = self._at.notes
        fed = self._at.state in PUMPING or (self._at.state is State.STOPPING and "feed_pump" in self._at.actuators)
        if now.feed_bar is None or not fed:
            self._feed_span.clear()
            self._bursts = Bursts()
            notes.clear("feed_unsteady")
            return
        span_bar = self._feed_span.update(now.feed_bar, now.now_s)
        if span_bar > UNSTEADY_FEED_BAR:
            self._bursts.begin(now.now_s)
            notes.set("feed_unsteady", {"span_bar": span_bar, "limit_bar": UNSTEADY_FEED_BAR})
        elif span_bar < STEADY_FEED_BAR:
            self._bursts.end(now.now_s)
            if self._bursts.many(now.now_s):
                return  # air that comes again and again is as bad as air that stays
            notes.clear("feed_unsteady")
