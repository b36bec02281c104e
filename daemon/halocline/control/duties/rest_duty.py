"""How long the plant has stood: since its last flush, and preserved; and whether its relay waits for a hand."""

import math

from halocline.control.alarm_conditions.rest import FLUSHED_COOL_S
from halocline.control.retained.retained_state import RetainedState, with_changes

REARM_ASKED_S = 600.0
"""No wire tells whether the relays hold: after this time, or once water has moved, no person is asked (chosen)."""
UNKNOWN_IDLE_S = FLUSHED_COOL_S + 1.0
"""Time off that was not measured counts as longer than flushed water may stand in any water (chosen)."""


class RestDuty:
    """Ages of what stands in the membrane. All `…_s` are monotonic."""

    def __init__(self, before: RetainedState, now_s: float, off_s: float | None) -> None:
        """`before` is the retained state as it was on file, `off_s` how long control was away; None: not known."""
        self._idle_since_s = now_s - _age_s(before.idle_s, off_s)
        self._laid_up_since_s = now_s - _age_s(before.laid_up_s, off_s)
        self._rearm_until_s = now_s + REARM_ASKED_S

    def flushed(self, now_s: float) -> None:
        """Fresh water stands in the membrane from now on."""
        self._idle_since_s = now_s

    def laid_up(self, now_s: float) -> None:
        """What preserves the membrane stands in it from now on."""
        self._laid_up_since_s = now_s

    def relay_dropped(self, now_s: float) -> None:
        """The time-out relay has let go: a hand has to press its button before anything moves."""
        self._rearm_until_s = now_s + REARM_ASKED_S

    def relay_holds(self, now_s: float) -> None:
        """Water has moved, so the relay holds."""
        self._rearm_until_s = now_s

    def asks_for_rearming(self, now_s: float) -> bool:
        """Whether a person may still have to press the relay's button."""
        return now_s < self._rearm_until_s

    def idle_s(self, now_s: float) -> float:
        """Time since the last whole flush."""
        return now_s - self._idle_since_s

    def laid_up_s(self, now_s: float) -> float:
        """Time since the plant was laid up."""
        return now_s - self._laid_up_since_s

    def persistence(self, retained: RetainedState, now_s: float) -> RetainedState:
        """The retained state with these ages, in whole seconds and never too young: so it is another one once a second,
        not in every tick."""
        laid_up_s = math.ceil(self.laid_up_s(now_s)) if retained.laid_up else None
        return with_changes(retained, idle_s=math.ceil(self.idle_s(now_s)), laid_up_s=laid_up_s)


def _age_s(on_file_s: float | None, off_s: float | None) -> float:
    """An age with the time away; what was not measured counts as long."""
    return (on_file_s or 0.0) + (UNKNOWN_IDLE_S if off_s is None else off_s)
