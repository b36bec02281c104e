"""The quality of a channel, settled in both directions."""

from halocline.plant.thresholds import ROUNDING_S
from halocline.plant.vocabulary import Quality

GOOD = Quality.GOOD

SUSPICION_PER_FAULT = 2
"""A fault weighs as much as two good samples take away (chosen)."""
CONVICTED_AT = 4
"""Two faults in a row convict, or three among as many good samples: a loose wire does not get away with every second
sample. A good sample takes away 1, a fault adds 2 (chosen)."""

LONGEST_DOUBT_S = 0.2
"""A single fault convicts too, if no good sample follows within this time. Four ticks (chosen)."""

ACQUITTED_S = 1.0
"""How long samples must be good without a break before a channel is good again. A loose plug makes contact for moments
(chosen)."""


class QualityDebounce:
    """Turns the quality of single samples into the quality of the channel. None before the first sample."""

    __slots__ = ("_clean_since_s", "_doubt", "_doubt_since_s", "_suspicion", "now")

    def __init__(self) -> None:
        self.now: Quality | None = None
        self._suspicion = 0
        self._doubt = GOOD
        self._doubt_since_s = 0.0
        self._clean_since_s: float | None = None

    def update(self, t_s: float, sample: Quality) -> None:
        """One sample's quality."""
        if sample is GOOD:
            if self.now is GOOD:
                self._doubt = GOOD
                if self._suspicion:
                    self._suspicion -= 1
            else:
                self._acquit(t_s)
        elif self.now is not GOOD:
            self._convict(sample)
        else:
            self._suspect(t_s, sample)

    def at(self, now_s: float) -> Quality | None:
        """The quality at `now_s`: a doubt that nobody dispelled has become a verdict."""
        if self._doubt is not GOOD and now_s - self._doubt_since_s >= LONGEST_DOUBT_S - ROUNDING_S:
            self._convict(self._doubt)
        return self.now

    def _suspect(self, t_s: float, sample: Quality) -> None:
        if self._doubt is GOOD:
            self._doubt_since_s = t_s
        self._doubt = sample
        self._suspicion += SUSPICION_PER_FAULT
        if self._suspicion >= CONVICTED_AT or t_s - self._doubt_since_s >= LONGEST_DOUBT_S - ROUNDING_S:
            self._convict(sample)

    def _convict(self, sample: Quality) -> None:
        self.now = sample
        self._doubt = GOOD
        self._suspicion = 0
        self._clean_since_s = None

    def _acquit(self, t_s: float) -> None:
        if self.now is None:
            self.now = GOOD
        elif self._clean_since_s is None:
            self._clean_since_s = t_s
        elif t_s - self._clean_since_s >= ACQUITTED_S - ROUNDING_S:
            self.now = GOOD
            self._clean_since_s = None
