"""What has to survive a restart: owed flush and purge, trips, time off, the motor's work and heat, and what was under
way. And what control makes of it when it comes up again."""

import math
from dataclasses import replace

from halocline.control.conditions.pressure import HAND_BAR
from halocline.control.drift import usual_to_remember
from halocline.control.latch import Latch, Moment
from halocline.control.purging import new_purge
from halocline.control.resuming import MOTOR_NOTE_S
from halocline.control.situation import Situation
from halocline.control.standing import Standing
from halocline.plant.vocabulary import State

IDLE_NOTE_S = 900.0
PURGE_NOTE_L = 1.0
PURGE_NOTE_S = 15.0
AT_REST = frozenset({State.STANDBY, State.TRIPPED, State.LAID_UP})


def remembered(at: Standing, now: Situation) -> Latch:
    """The latch after this tick; its ages are as of this tick."""
    latch = at.latch
    pressed = now.pressure_bar is not None and now.pressure_bar > HAND_BAR
    if (pressed or at.state is State.HAND_RUN) and not latch.flush_owed:
        latch = replace(latch, flush_owed=True)
    if at.state is State.LAID_UP and pressed:
        latch = replace(latch, purge=new_purge(at.settings, latch.laid_up_with or "preservative", latch.purge))
    if at.state is State.PRODUCING and latch.circuit_opened:
        latch = replace(latch, circuit_opened=False)
    if at.state is State.TRIPPED and latch.trips != at.trips:
        latch = replace(latch, trips=at.trips)
    if at.state is State.STOPPING and (usual := usual_to_remember(at)) is not None and usual != latch.usual:
        latch = replace(latch, usual=usual)
    return replace(
        at.motor.retained(latch, now.now_s),
        under_way=None if at.state in AT_REST else at.state.value,
        idle_s=round(at.clocks.idle_s, 1),
        laid_up_s=round(at.clocks.laid_up_s, 1) if latch.laid_up else None,
    )


class LatchNotes:
    """Says when the file is to be renewed: at first, to say that control is there; at every change; while a
    purge runs or a motor cools, now and then."""

    def __init__(self) -> None:
        self._noted: Latch | None = None

    def due(self, latch: Latch) -> Latch | None:
        """The latch when it is to be written now."""
        coarse = _coarse(latch)
        if coarse == self._noted:
            return None
        self._noted = coarse
        return latch

    def forget(self) -> None:
        """Nobody knows what is on file: write at the next chance."""
        self._noted = None


def _coarse(latch: Latch) -> Latch:
    """The latch with what goes on by itself in steps worth a write to the card."""
    purge = latch.purge
    if purge is not None:
        rinsed_l = purge.rinsed_l // PURGE_NOTE_L * PURGE_NOTE_L
        purge = replace(purge, rinsed_l=rinsed_l, left_s=math.ceil(purge.left_s / PURGE_NOTE_S) * PURGE_NOTE_S)
    return replace(
        latch,
        purge=purge,
        idle_s=_step(latch.idle_s or 0.0, IDLE_NOTE_S),
        laid_up_s=_step(latch.laid_up_s, IDLE_NOTE_S),
        motor_hot_ago_s=_step(latch.motor_hot_ago_s, MOTOR_NOTE_S),
        pump_starts_ago_s=tuple(0.0 for _ in latch.pump_starts_ago_s),
        saved=Moment(),
    )


def _step(value: float | None, step: float) -> float | None:
    return None if value is None else value // step * step
