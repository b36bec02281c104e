"""What a check of a command looks at, and what it answers: None, the reason against the command, or several."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import wraps

from halocline.control.annunciator import Annunciator
from halocline.control.evidence import Evidence
from halocline.control.inputs import Command, Reason
from halocline.control.retained.retained_state import RetainedState
from halocline.control.situation import Situation
from halocline.plant.vocabulary import AT_REST, Quality, State

PRESENT_S = 600.0
"""How long a press of the button at the plant counts for a start (common practice)."""
FIRST_READINGS_S = 3.0
"""As long after control began a channel may not have had its turn yet: a scan of all of them takes a second or two
(chosen)."""


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
    hands_ago_s: float = float("inf")
    flush_tried_s: float = float("inf")
    flushing_alone: bool = False
    simulated: bool = False
    against_calibration: Callable[[], Sequence[Reason]] = tuple
    calibrations_known: bool = True
    has_baseline: bool = False
    evidence: Evidence = field(kw_only=True)

    @property
    def misses_a_person(self) -> bool:
        """Whether the plant wants a person at hand and none was seen there lately."""
        return self.now.settings.sequence.attendance and self.person_seen_s > PRESENT_S


Check = Callable[[Context], Reason | Sequence[Reason] | None]


def where(applies: Callable[[Context], bool], check: Check, otherwise: Check | None = None) -> Check:
    """The check where it applies, else the other one, if there is one."""

    @wraps(check)
    def chosen(at: Context) -> Reason | Sequence[Reason] | None:
        if applies(at):
            return check(at)
        return None if otherwise is None else otherwise(at)

    return chosen


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


def still_open(at: Context, asked: Sequence[str], refusal: str, key: str) -> Reason | None:
    """What of `asked` the command does not confirm, as a refusal that lists it under `key`."""
    confirmed = at.command.arguments.get("confirmed", ())
    missing = [one for one in asked if one not in confirmed]
    return Reason(refusal, {key: ", ".join(missing)}) if missing else None


def unasked(at: Context, asked: Sequence[str]) -> Reason | None:
    """The first thing the command confirms that is none of `asked`."""
    for one in at.command.arguments.get("confirmed", ()):
        if one not in asked:
            return Reason("answer_unknown", {"answer": one, "known": ", ".join(asked)})
    return None
