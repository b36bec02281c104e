"""What has to survive a restart: owed flush and purge, trips, time off, the motor's work and heat, and whether the
plant was at rest."""

import math
from dataclasses import replace

from halocline.control.conditions.pressure import HAND_BAR
from halocline.control.drift import usual_to_remember
from halocline.control.latch import Latch
from halocline.control.permissions.motor import MOTOR_COOLS_S
from halocline.control.purging import new_purge
from halocline.control.situation import Situation
from halocline.control.standing import MOTOR_NOTE_S, Standing
from halocline.plant.vocabulary import State

IDLE_NOTE_S = 900.0
PURGE_NOTE_L = 1.0
PURGE_NOTE_S = 15.0
AT_REST = frozenset({State.STANDBY, State.TRIPPED, State.LAID_UP, State.BENCH})


def remembered(at: Standing, now: Situation) -> Latch:
    """The latch after this tick."""
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
    if abs(at.clocks.idle_s - (latch.idle_s or 0.0)) >= IDLE_NOTE_S:
        latch = replace(latch, idle_s=round(at.clocks.idle_s))
    if len(at.pump_starts_s) != len(latch.pump_starts_ago_s):
        latch = replace(latch, pump_starts_ago_s=tuple(round(now.now_s - at_s) for at_s in at.pump_starts_s))
    if at.state is State.STOPPING and (usual := usual_to_remember(at)) is not None and usual != latch.usual:
        latch = replace(latch, usual=usual)
    worked_s = round(at.motor_worked_s)
    if worked_s != latch.motor_worked_s and (not at.driven or worked_s - latch.motor_worked_s >= MOTOR_NOTE_S):
        latch = replace(latch, motor_worked_s=worked_s)
    hot_ago_s = now.now_s - at.motor_hot_at_s
    latch = replace(latch, motor_hot_ago_s=math.floor(hot_ago_s) if hot_ago_s < MOTOR_COOLS_S else None)
    if (at.state in AT_REST) != latch.clean_stop:
        latch = replace(latch, clean_stop=at.state in AT_REST)
    return latch


class LatchNotes:
    """Says when the file is to be renewed: at every change; while a purge runs or a motor cools, now and then."""

    def __init__(self, on_file: Latch) -> None:
        self._noted: Latch | None = _coarse(on_file)

    def due(self, latch: Latch, *, taken_back: bool) -> Latch | None:
        """The latch when it is to be written now. `taken_back`: the file says something that was refused since."""
        coarse = _coarse(latch)
        if coarse == self._noted and not taken_back:
            return None
        self._noted = coarse
        return latch

    def forget(self) -> None:
        """Nobody knows what is on file: write at the next chance."""
        self._noted = None


def _coarse(latch: Latch) -> Latch:
    """The latch with what goes on by itself in steps worth a write to the card."""
    purge = latch.purge
    if latch.motor_hot_ago_s is not None:
        latch = replace(latch, motor_hot_ago_s=latch.motor_hot_ago_s // MOTOR_NOTE_S * MOTOR_NOTE_S)
    if purge is None:
        return latch
    rinsed_l = purge.rinsed_l // PURGE_NOTE_L * PURGE_NOTE_L
    left_s = math.ceil(purge.left_s / PURGE_NOTE_S) * PURGE_NOTE_S
    return replace(latch, purge=replace(purge, rinsed_l=rinsed_l, left_s=left_s))
