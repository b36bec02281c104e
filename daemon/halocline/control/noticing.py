"""What has to be watched over some seconds before it is worth an alarm: kept as notes for the conditions."""

from collections import deque

from halocline.control.situation import Situation
from halocline.control.standing import PUMPING, Standing
from halocline.control.timing import Held
from halocline.plant.vocabulary import State

TANK_FULL_S = 30.0
FALLING_WINDOW_S = 60.0
FALLING_EVERY_S = 5.0
FALLING_TO = 0.9
UNSTEADY_WINDOW_S = 3.0
UNSTEADY_FEED_BAR = 0.35
STEADY_FEED_BAR = 0.2


class Noticing:
    """Takes the notes of one plant."""

    def __init__(self, at: Standing) -> None:
        self._at = at
        self._held = Held()
        self._feed_recent: deque[tuple[float, float]] = deque()
        self._tds_recent: deque[tuple[float, float]] = deque()

    def take(self, now: Situation) -> None:
        """Bring the notes to this tick."""
        self._lost_quality()
        self._falling_salt(now)
        self._unsteady_feed(now)
        self._full_tank(now)

    def _lost_quality(self) -> None:
        at = self._at
        if at.state is State.PRODUCING and at.quality.lost:
            lost = at.quality.lost[0]
            if lost.id == "tds_high":
                at.notes.set("quality_lost", lost.values)
        elif at.quality.held_s >= 0 or at.state not in PUMPING:
            at.notes.clear("quality_lost")

    def _full_tank(self, now: Situation) -> None:
        level = now.value("tank_level")
        full = level is not None and level >= self._at.settings.limits.tank_full_percent
        full_s = self._held.seconds("tank_full", full, now.now_s)
        if full_s >= TANK_FULL_S:
            self._at.notes.set("tank_full", {"percent": level})
        elif full_s < 0:
            self._at.notes.clear("tank_full")

    def _falling_salt(self, now: Situation) -> None:
        """Salt that falls by a tenth a minute is first water on its way out, not a torn membrane."""
        recent, notes = self._tds_recent, self._at.notes
        if now.tds_mg_l is None or self._at.state not in PUMPING:
            recent.clear()
            notes.clear("tds_falling")
            return
        if not recent or now.now_s - recent[-1][0] >= FALLING_EVERY_S:
            recent.append((now.now_s, now.tds_mg_l))
        while now.now_s - recent[0][0] > FALLING_WINDOW_S:
            recent.popleft()
        if now.tds_mg_l < FALLING_TO * recent[0][1]:
            notes.set("tds_falling")
        else:
            notes.clear("tds_falling")

    def _unsteady_feed(self, now: Situation) -> None:
        """Air in the suction makes the feed pressure jump about within seconds."""
        recent, notes = self._feed_recent, self._at.notes
        if now.feed_bar is None or self._at.state not in PUMPING:
            recent.clear()
            notes.clear("feed_unsteady")
            return
        recent.append((now.now_s, now.feed_bar))
        while now.now_s - recent[0][0] > UNSTEADY_WINDOW_S:
            recent.popleft()
        span_bar = max(bar for _, bar in recent) - min(bar for _, bar in recent)
        if span_bar > UNSTEADY_FEED_BAR:
            notes.set("feed_unsteady", {"span_bar": span_bar, "limit_bar": UNSTEADY_FEED_BAR})
        elif span_bar < STEADY_FEED_BAR:
            notes.clear("feed_unsteady")
