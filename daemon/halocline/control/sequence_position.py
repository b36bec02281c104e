"""Where the sequence stands, since when, and why."""

from halocline.control.inputs import Reason
from halocline.plant.vocabulary import State


class SequencePosition:
    """why: what led to `state`; last_end: to the end of the last run; first_out: the first cause of the last trip or
    stop (IEC 62682 calls it that), until a reset or the next start. feed_steady_s: how long the
    feed has been steady, while the suction is primed. `since_s` is monotonic.
    """

    def __init__(self, state: State, now_s: float, why: Reason, first_out: str | None) -> None:
        self.state = state
        self.since_s = now_s
        self.why = why
        self.first_out = first_out
        self.last_end: Reason | None = None
        self.feed_steady_s = 0.0

    def explain(self, why: Reason) -> None:
        """Why the sequence is about to go on."""
        self.why = why

    def go_to(self, state: State, now_s: float) -> None:
        """The sequence stands in that state from now on."""
        self.state, self.since_s, self.feed_steady_s = state, now_s, 0.0

    def feed_is_steady(self, seconds: float) -> None:
        """The feed has been steady for so long, while the suction is primed."""
        self.feed_steady_s = seconds

    def note_first_out(self, cause: str) -> None:
        """The first cause is kept: those that follow from it do not take its place."""
        if self.first_out is None:
            self.first_out = cause

    def forget_first_out(self) -> None:
        """After a reset, and when a new run begins."""
        self.first_out = None

    def run_ended(self, by: Reason) -> None:
        """The last run ended so."""
        self.last_end = by

    def forget_last_end(self) -> None:
        """A trip at rest: how an earlier run ended is no news after its reset."""
        self.last_end = None
