"""What control makes of its memory as it comes up: nothing is forgotten, and what nobody saw counts as the worst."""

from dataclasses import replace

from halocline.control.inputs import Reason
from halocline.control.latch import UNKNOWN, CutOff, Latch
from halocline.plant.alarms import CAUSES
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


def resumed(latch: Latch, *, computer: bool | None) -> Latch:
    """The memory that control begins with. `computer`: whether the whole computer was started anew, None: not known."""
    under_way = latch.under_way
    return replace(
        latch,
        under_way=None,
        closed=False,
        cut_off=latch.cut_off or (None if under_way is None else CutOff(under_way, computer)),
        out_of_service=tuple(aside for aside in latch.out_of_service if aside.alarm in CAUSES),
        flush_owed=latch.flush_owed or under_way in SALT_IN_THE_MEMBRANE,
        motor_worked_s=latch.motor_worked_s + unseen_work_s(latch),
    )


def unseen_work_s(latch: Latch) -> float:
    """How long the motor may have worked since the file was written."""
    return MOTOR_NOTE_S if latch.under_way in MOTOR_WORKS else 0.0


def begun(latch: Latch, *, computer: bool | None) -> Reason:
    """Why control begins now, by the memory as it was on file."""
    if latch.trips:
        return Reason("tripped_before_restart")
    if computer is False:
        return Reason("program_started" if latch.closed else "program_broke_off")
    if computer is None:
        return Reason("control_started" if latch.closed else "control_started_after_a_cut")
    return Reason("switched_on" if latch.closed else "switched_on_after_a_cut")


def started_event(latch: Latch, away_s: float | None, *, computer: bool | None) -> dict[str, object]:
    """The event of control's beginning: how the last one ended, in what, and for how long nobody looked."""
    at_rest = State.TRIPPED if latch.trips else State.LAID_UP if latch.laid_up else State.STANDBY
    return {
        "kind": "restarted",
        "ended": "told" if latch.closed and latch.under_way is None else "cut_off",
        "during": latch.under_way or at_rest.value,
        "computer": computer,
        "away_s": None if away_s is None else round(away_s, 1),
    }
