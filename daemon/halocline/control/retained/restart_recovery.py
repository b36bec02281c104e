"""How control takes up the retained state as it starts: nothing is forgotten, what is not known counts as the worst."""

from dataclasses import replace

from halocline.control.inputs import Reason
from halocline.control.retained.retained_state import UNKNOWN, CutOff, RetainedState
from halocline.plant.alarms import DEFINITIONS
from halocline.plant.vocabulary import State

MOTOR_NOTE_S = 300.0
"""How much work of the motor may not have gone on file yet when the computer stops in the middle of a run. It counts as
worked: the twelfth part of an hour's rating (chosen)."""

MOTOR_WORKS = frozenset(
    {
        *(State.PRIMING, State.PRESSURISING, State.DIVERTING, State.PRODUCING, State.STOPPING, State.BENCH),
        UNKNOWN,
    }
)
"""Where the high-pressure pump may have turned since the file was written; priming, for the next state follows soon."""

SALT_IN_THE_MEMBRANE = MOTOR_WORKS - {State.BENCH} | {State.HAND_RUN}
"""Where sea water comes to the membrane; on the bench only if a feed pump is tried, which is on file then."""


def resumed(retained: RetainedState, *, computer: bool | None) -> RetainedState:
    """The retained state that control begins with. `computer`: whether the whole computer was started anew; None where
    that is not known."""
    under_way = retained.under_way
    return replace(
        retained,
        under_way=None,
        closed=False,
        cut_off=retained.cut_off or (None if under_way is None else CutOff(under_way, computer, retained.closed)),
        out_of_service=tuple(withdrawn for withdrawn in retained.out_of_service if withdrawn.alarm in DEFINITIONS),
        flush_owed=retained.flush_owed or under_way in SALT_IN_THE_MEMBRANE,
        motor_worked_s=retained.motor_worked_s + unseen_work_s(retained),
    )


def unseen_work_s(retained: RetainedState) -> float:
    """How long the motor may have worked since the file was written."""
    return MOTOR_NOTE_S if retained.under_way in MOTOR_WORKS else 0.0


def begun(retained: RetainedState, *, computer: bool | None) -> Reason:
    """Why control begins now, by the retained state as it was on file."""
    if retained.trips:
        return Reason("tripped_before_restart")
    if computer is False:
        return Reason("program_started" if retained.closed else "program_broke_off")
    if computer is None:
        return Reason("control_started" if retained.closed else "control_started_after_a_cut")
    return Reason("switched_on" if retained.closed else "switched_on_after_a_cut")


def started_event(retained: RetainedState, away_s: float | None, *, computer: bool | None) -> dict[str, object]:
    """The event of control's beginning: how the last one ended, in what state, and for how long it was away."""
    at_rest = State.TRIPPED if retained.trips else State.LAID_UP if retained.laid_up else State.STANDBY
    return {
        "kind": "restarted",
        "ended": "told" if retained.closed and retained.under_way is None else "cut_off",
        "during": retained.under_way or at_rest.value,
        "computer": computer,
        "on_purpose": retained.closed,
        "away_s": None if away_s is None else round(away_s, 1),
    }
