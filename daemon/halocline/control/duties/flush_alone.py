"""Flushes that nobody orders: when one was last announced, how long nobody has touched the plant, and what speaks
against one now."""

import math
from collections.abc import Sequence

from halocline.control.inputs import Reason
from halocline.control.retained.retained_state import RetainedState, with_changes
from halocline.plant.thresholds import DAY_S

ENDED = "automatic_flush_ended"
"""The alarm of a consent that is over; acknowledging it puts the consent away."""
NOTICE_S = 60.0
"""Whoever is at the plant hears the buzzer, and has the time to press its button or to say stop; the file with the
attempt is on the card by then, for a card stalls for some seconds (chosen)."""


class FlushAlone:
    """One plant's flushes by themselves. All `…_s` are monotonic.

    people, plant: what speaks against one now, as of the last tick: what a person has done or wants, and what the plant
    shows.
    """

    def __init__(self, before: RetainedState, now_s: float, off_s: float | None) -> None:
        """`before` is the retained state as it was on file, `off_s` how long control was away; None: not known, and
        counted as not at all."""
        tried_ago_s = math.inf if before.flush_tried_ago_s is None else before.flush_tried_ago_s + (off_s or 0.0)
        self._tried_at_s = now_s - tried_ago_s
        # Who switched the computer on is there.
        self._hands_at_s = now_s
        self._announced_at_s: float | None = None
        self.people: Sequence[Reason] = ()
        self.plant: Sequence[Reason] = ()

    def hands(self, now_s: float) -> None:
        """A person has given a command, or pressed the button at the plant."""
        self._hands_at_s = now_s

    def hands_ago_s(self, now_s: float) -> float:
        """How long ago that was."""
        return now_s - self._hands_at_s

    def tried_ago_s(self, now_s: float) -> float:
        """How long ago the last one was announced; infinite for never."""
        return now_s - self._tried_at_s

    def judged(self, people: Sequence[Reason], plant: Sequence[Reason]) -> None:
        """What speaks against one in this tick."""
        self.people, self.plant = people, plant

    def announce(self, now_s: float) -> None:
        """One is announced, and counts as tried from now on."""
        self._tried_at_s = self._announced_at_s = now_s

    def begin(self, now_s: float) -> None:
        """It begins, and its day with it: a notice that a computer slept through gives none of that away."""
        self._tried_at_s, self._announced_at_s = now_s, None

    def over(self) -> None:
        """It is called off."""
        self._announced_at_s = None

    @property
    def announced(self) -> bool:
        """Whether one is announced that has not begun."""
        return self._announced_at_s is not None

    def left_s(self, now_s: float) -> float | None:
        """How long the notice still lasts; None while none is given."""
        return None if self._announced_at_s is None else max(0.0, self._announced_at_s + NOTICE_S - now_s)

    def begins(self, now_s: float) -> bool:
        """Whether the notice is over and nothing speaks against it."""
        return self.left_s(now_s) == 0.0 and not self.people and not self.plant

    def persistence(self, retained: RetainedState, now_s: float) -> RetainedState:
        """The retained state with the age of the last attempt, in whole seconds and never too old; what is older than a
        day matters no more."""
        ago_s = self.tried_ago_s(now_s)
        return with_changes(retained, flush_tried_ago_s=math.floor(ago_s) if ago_s < DAY_S else None)
