"""The person aboard: does what the page asks, at human speed, and otherwise leaves everything as it is."""

from __future__ import annotations

from halocline.plant.vocabulary import Ask
from halocline.simulation.coils import TimeoutRelay
from halocline.simulation.parameters import PlantParameters
from halocline.simulation.pressure import Regulator

ASKS = frozenset(ask.value for ask in Ask)
TURNING = 0.5
"""The person raises pressure only while the pump runs at more than this share of its speed."""


class Hand:
    """One pair of hands at the regulator, the pump's own switch and the relay's button."""

    __slots__ = ("_parameters", "_raised_bar", "_ready_s", "_switch_s", "_working_bar", "ask", "pump_switch")

    def __init__(self, parameters: PlantParameters, working_bar: float) -> None:
        self._parameters = parameters
        self._working_bar = working_bar
        self._raised_bar: float | None = None
        self._ready_s = self._switch_s = 0.0
        self.ask: str | None = None
        self.pump_switch = False

    def listen(self, ask: str | None) -> None:
        """Hear what is asked. Raises ValueError for words nobody could follow."""
        if ask is not None and ask not in ASKS:
            raise ValueError(f"nobody can be asked to {ask!r}; there are {', '.join(sorted(ASKS))}")
        if ask != self.ask:
            self.ask, self._raised_bar, self._switch_s = ask, None, 0.0

    def rearm(self, seconds: float, relay: TimeoutRelay) -> bool:
        """Go to an open relay once the heartbeat is back, or when asked; True when it was re-armed."""
        wanted = self.ask == Ask.REARM_RELAY or relay.beating_anew
        if relay.closed or relay.ready_since_s is None or not wanted:
            self._ready_s = 0.0
            return False
        self._ready_s += seconds
        return self._ready_s >= self._parameters.hand_rearm_s - 1e-9 and relay.rearm()

    def switch(self, seconds: float) -> bool:
        """Move the pump's own switch if that is asked; True when it changed."""
        if self.ask not in (Ask.SWITCH_PUMP_ON, Ask.SWITCH_PUMP_OFF):
            return False
        self._switch_s += seconds
        wanted = self.ask == Ask.SWITCH_PUMP_ON
        if wanted is self.pump_switch or self._switch_s < self._parameters.hand_switch_s:
            return False
        self.pump_switch = wanted
        return True

    def open(self, seconds: float, regulator: Regulator) -> None:
        """Turn the regulator towards fully open."""
        if not regulator.fully_open:
            regulator.turn_open(seconds / self._parameters.hand_open_s, self._working_bar)

    def raise_pressure(
        self, seconds: float, regulator: Regulator, bar: float, pump_speed: float, brine_at_bar: tuple[float, float]
    ) -> None:
        """Turn the regulator so that pressure follows a steady ramp up to working pressure, and hold it there.

        `brine_at_bar` is what must leave as brine at `bar` (L/h), and how that falls with pressure (L/h/bar).
        """
        if pump_speed < TURNING:
            self._raised_bar = None
            return
        if self._raised_bar is None:
            self._raised_bar = bar
        step_bar = self._parameters.hand_raise_bar_s * seconds
        self._raised_bar = min(max(self._raised_bar, 0.0) + step_bar, max(self._working_bar, self._raised_bar))
        brine_l_h, slope = brine_at_bar
        if brine_l_h <= 0.0:
            # Nothing flows: no turn raises pressure, and who sees that stops turning.
            return
        regulator.stand_for(self._raised_bar, max(0.0, brine_l_h - slope * (self._raised_bar - bar)))
