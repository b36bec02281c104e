"""What a check of a command looks at, and what it answers: None, the reason against the command, or several."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from halocline.control.annunciator import Annunciator
from halocline.control.evidence import Evidence
from halocline.control.inputs import Command, Reason
from halocline.control.retained_state import RetainedState
from halocline.control.situation import Situation
from halocline.plant.vocabulary import AT_REST, Quality, State


@dataclass(frozen=True, slots=True)
class Context:
    """All that a check may look at."""

    now: Situation
    retained: RetainedState
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
    has_baseline: bool = False
    evidence: Evidence = field(kw_only=True)


Check = Callable[[Context], Reason | Sequence[Reason] | None]


FIRST_READINGS_S = 3.0
"""As long after control began a channel may not have had its turn yet: a scan of all of them takes a second or two
(chosen)."""


def not_good(at: Context, channel: str) -> Reason | None:
    """Why the channel's reading is not good, None where it is."""
    reading = at.now.inputs.readings.get(channel)
    quality = Quality.MISSING if reading is None else reading.quality
    if quality is Quality.GOOD:
        return None
    if quality is Quality.MISSING and at.now.clocks.since_up_s < FIRST_READINGS_S:
        return Reason("sensor_not_read_yet", {"channel": channel})
    return Reason("sensor_not_good", {"channel": channel, "quality": quality.value})


def state_is(*allowed: State) -> Callable[[Context], Reason | None]:
    """The sequence stands in one of these states."""

    def check(at: Context) -> Reason | None:
        if at.now.state in allowed:
            return None
        return Reason(f"is_{at.now.state.value}")

    return check


not_running = state_is(*AT_REST)
