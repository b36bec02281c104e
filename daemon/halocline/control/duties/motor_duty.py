"""The high-pressure pump's motor: its running time without a rest, its rest, its starts, and its heat (duty S2 after
IEC 60034-1)."""

import math
from collections import deque

from halocline.control.retained.restart_recovery import MOTOR_NOTE_S, unseen_work_s
from halocline.control.retained.retained_state import RetainedState, with_changes
from halocline.plant.motor import COOLS_S
from halocline.plant.settings import Settings


class MotorDuty:
    """Running time adds up over stops and starts, until the motor has had its whole rest.

    worked_s: running time since the last whole rest. off_at_s: when the pump was last switched off, as far as is known.
    rests_since_s: since when the motor stands for certain. `…_at_s` are monotonic.
    """

    def __init__(self, settings: Settings, before: RetainedState, now_s: float, off_s: float | None) -> None:
        """`before` is the retained state as it was on file, `off_s` how long control was away; None: not known."""
        away_s = off_s or 0.0
        hot_ago_s = math.inf if before.motor_hot_ago_s is None else before.motor_hot_ago_s
        unseen_s = unseen_work_s(before)
        self._settings = settings
        self._starts_s: deque[float] = deque(now_s - ago_s - away_s for ago_s in before.pump_starts_ago_s)
        self._hot_at_s = now_s - hot_ago_s - away_s
        self.worked_s = before.motor_worked_s + unseen_s
        self.off_at_s = now_s - away_s if self.worked_s > 0 else -math.inf
        self.rests_since_s = min(now_s, self.off_at_s + unseen_s)

    def follow(self, now_s: float, elapsed_s: float, *, turns: bool) -> None:
        """One tick, in which the motor turned or has to be taken to have turned, or stood."""
        if turns:
            self.worked_s += elapsed_s
            self.rests_since_s = now_s
        elif self.rested_s(now_s) > self._settings.drive.motor_rest_s:
            self.worked_s = 0.0

    def switched_on(self, now_s: float) -> None:
        """One more start, of those that the motor may have within a window."""
        self._starts_s.append(now_s)

    def switched_off(self, now_s: float) -> None:
        """The pump was switched off; from now on its motor rests, if it obeys."""
        self.off_at_s = self.rests_since_s = now_s

    def forget_old_starts(self, now_s: float) -> None:
        """Starts that lie further back than the window count no more."""
        while self._starts_s and now_s - self._starts_s[0] > self._settings.sequence.motor_starts_window_s:
            self._starts_s.popleft()

    def was_too_warm(self, now_s: float) -> None:
        """The motor was found too warm; it takes its time to cool."""
        self._hot_at_s = now_s

    def rested_s(self, now_s: float) -> float:
        """For how long the motor has stood for certain."""
        return now_s - self.rests_since_s

    def hot_ago_s(self, now_s: float) -> float:
        """How long ago the motor was too warm; infinite for never."""
        return now_s - self._hot_at_s

    def starts_ago_s(self, now_s: float) -> tuple[float, ...]:
        """How long ago each start within the window was."""
        return tuple(now_s - start_s for start_s in self._starts_s)

    def persistence(self, retained: RetainedState, now_s: float) -> RetainedState:
        """The retained state with this duty; running time in steps while the motor turns, so that not every tick is
        worth a write to the card."""
        worked_s, hot_ago_s = round(self.worked_s), self.hot_ago_s(now_s)
        is_news = self.rested_s(now_s) > 0 or worked_s - retained.motor_worked_s >= MOTOR_NOTE_S
        return with_changes(
            retained,
            motor_worked_s=worked_s if is_news else retained.motor_worked_s,
            pump_starts_ago_s=tuple(math.floor(ago_s) for ago_s in self.starts_ago_s(now_s)),
            motor_hot_ago_s=math.floor(hot_ago_s) if hot_ago_s < COOLS_S else None,
        )
