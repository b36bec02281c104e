"""The process image of the outputs: what the last tick energised."""

from collections.abc import Iterable, Set


class OutputImage:
    """actuators: without heartbeat, buzzer and beacon, which move no water; on: all of them."""

    def __init__(self, fitted: Iterable[str]) -> None:
        self._fitted = frozenset(fitted)
        self.actuators: frozenset[str] = frozenset()
        self.on: frozenset[str] = frozenset()

    def drive(self, actuators: frozenset[str]) -> None:
        """What the state wants energised; the rest is off."""
        self.actuators = actuators

    def add_signals(self, signals: Set[str]) -> frozenset[str]:
        """All outputs of this tick: the actuators and these signals, as far as they are fitted."""
        self.on = (self.actuators | signals) & self._fitted
        return self.on

    def all_off(self) -> None:
        """Nothing is energised."""
        self.actuators = self.on = frozenset()
