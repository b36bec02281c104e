"""What a check of a command looks at, and what it answers: None, the reason against the command, or several."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from halocline.control.annunciation import Annunciator
from halocline.control.inputs import Command, Reason
from halocline.control.latch import Latch
from halocline.control.situation import Situation
from halocline.plant.vocabulary import AT_REST, State


@dataclass(frozen=True, slots=True)
class Context:
    """All that a check may look at."""

    now: Situation
    latch: Latch
    alarms: Annunciator
    command: Command
    starts_ago_s: Sequence[float] = ()
    rested_s: float = float("inf")
    motor_worked_s: float = 0.0
    motor_hot_s: float = float("inf")
    person_seen_s: float = float("inf")
    simulated: bool = False
    against_calibration: Callable[[], Sequence[Reason]] = tuple
    calibrations_known: bool = True


Check = Callable[[Context], Reason | Sequence[Reason] | None]


def state_is(*allowed: State) -> Callable[[Context], Reason | None]:
    """The sequence stands in one of these states."""

    def check(at: Context) -> Reason | None:
        if at.now.state in allowed:
            return None
        return Reason(f"is_{at.now.state.value}")

    return check


not_running = state_is(*AT_REST)
