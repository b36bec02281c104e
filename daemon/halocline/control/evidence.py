"""What was seen of the plant since control's start that a step of its commissioning rests on.

Kept in memory only: what was seen and not signed is to be seen again after a restart.
"""

from halocline.control.situation import Situation, wetted_flow_l_h
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import MAKING_WATER, State

LOW_BAR = 7.0
"""Far below the osmotic pressure of any sea (some 20 bar and more): nothing passes a membrane
(common practice)."""

HIGH_BAR = 20.0
"""First step of the climb to working pressure (common practice; hw/commissioning.md)."""

FRESH_MG_L = 3500.0
"""A tenth of sea water: no membrane that works gives so much, and brine has ten times as much and more
(chosen)."""


class Evidence:
    """`tried`: outputs that were on in a bench trial. `flushed`: a flush was under way. `aired_s`: how long the feed
    pump ran alone with a steady feed. `still_s`: how long the product's meter stood still meanwhile, without a break;
    `strange_l_h`: what ran through it last, None while it stands. `fresh_s`: how long what ran through it under
    pressure was fresh, without a break; `salty_mg_l`: what it was otherwise, last."""

    def __init__(self, settings: Settings) -> None:
        self._fed_bar = settings.limits.feed_pressure_low_bar
        self._flow_l_h = wetted_flow_l_h(settings)
        self.tried: frozenset[str] = frozenset()
        self.flushed = False
        self.aired_s = 0.0
        self.still_s = 0.0
        self.strange_l_h: float | None = None
        self.fresh_s = 0.0
        self.salty_mg_l: float | None = None

    def update(self, now: Situation, on: frozenset[str], step_s: float) -> None:
        """One tick; `on`: what was driven since the last one."""
        pressure_bar, flow_l_h, tds_mg_l = now.pressure_bar, now.flow_l_h, now.tds_mg_l
        if now.state is State.BENCH:
            self.tried |= on
        self.flushed = self.flushed or now.state is State.FLUSHING
        if pressure_bar is None:
            # What is not known proves nothing: what has to be seen without a break begins anew.
            self.still_s = self.fresh_s = 0.0
            return
        fed = now.feed_bar is not None and now.feed_bar >= self._fed_bar
        if fed and "feed_pump" in on and "high_pressure_pump" not in on and pressure_bar < LOW_BAR:
            self.aired_s += step_s
            self._at_low_pressure(flow_l_h, step_s)
        if now.state in MAKING_WATER and pressure_bar >= HIGH_BAR and self._flows(flow_l_h):
            fresh = tds_mg_l is not None and tds_mg_l < FRESH_MG_L
            self.fresh_s = self.fresh_s + step_s if fresh else 0.0
            self.salty_mg_l = None if fresh else tds_mg_l

    def _at_low_pressure(self, flow_l_h: float | None, step_s: float) -> None:
        if flow_l_h is None:
            self.still_s = 0.0
        elif self._flows(flow_l_h):
            self.still_s, self.strange_l_h = 0.0, flow_l_h
        else:
            self.still_s, self.strange_l_h = self.still_s + step_s, None

    def _flows(self, flow_l_h: float | None) -> bool:
        return flow_l_h is not None and flow_l_h >= self._flow_l_h

    def figures(self, now: Situation) -> dict[str, float]:
        """What a step that is signed now is recorded with; what is not known is left out."""
        known = {
            "vessel_pressure_bar": now.pressure_bar,
            "feed_pressure_bar": now.feed_bar,
            "product_flow_l_h": now.flow_l_h,
            "product_tds_mg_l": now.tds_mg_l,
            "sea_temperature_c": now.temperature_c,
            "aired_s": self.aired_s,
            "still_s": self.still_s,
            "fresh_s": self.fresh_s,
        }
        return {name: round(value, 2) for name, value in known.items() if value is not None}
