"""For how long a condition has held, and for how long a value has stayed within a band."""

from dataclasses import dataclass, field


@dataclass(slots=True)
class Held:
    """How long each named condition has been true without a break."""

    _since: dict[str, float] = field(default_factory=dict)

    def seconds(self, name: str, condition: bool, now_s: float) -> float:
        """Seconds for which `condition` has held, 0.0 the first time it is seen, -1.0 while it does not."""
        if not condition:
            self._since.pop(name, None)
            return -1.0
        return now_s - self._since.setdefault(name, now_s)


@dataclass(slots=True)
class Steady:
    """How long a value has stayed within a band around where it was."""

    band: float
    _reference: float | None = None
    _since_s: float = 0.0

    def seconds(self, value: float | None, now_s: float) -> float:
        """Seconds within ± `band`; 0.0 after every step outside it and for a value that is not known."""
        if value is None:
            self._reference = None
            return 0.0
        if self._reference is None or abs(value - self._reference) > self.band:
            self._reference = value
            self._since_s = now_s
        return now_s - self._since_s
