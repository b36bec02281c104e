"""What has to survive a restart: owed flush and purge, trips, time off, the motor's work and heat, and what was under
way. And what control makes of it when it comes up again."""

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Protocol

from halocline.control.conditions.pressure import HAND_BAR
from halocline.control.latch import Latch, Moment, Purge, Trip, Usual
from halocline.control.purging import new_purge
from halocline.control.resuming import MOTOR_NOTE_S, SALT_IN_THE_MEMBRANE
from halocline.control.situation import Situation
from halocline.plant.vocabulary import AT_REST, State

IDLE_NOTE_S = 900.0
"""Ages are filed four times an hour: a card bears 35 000 small writes a year (computed: 4 × 24 × 365; that it does:
from memory)."""
PURGE_NOTE_L = 1.0
"""What a cut-off forgets of a rinse is rinsed again: a litre costs seconds (chosen)."""
PURGE_NOTE_S = 15.0
"""What a cut-off forgets of a purge is made up again, while a purge of half an hour costs the card 120 writes
(computed; chosen)."""


class Duty(Protocol):
    """What goes on as time goes by and has to be taken up again after a restart."""

    def retained(self, latch: Latch, now_s: float) -> Latch:
        """The retained state with this duty."""


class Persistence:
    """Owns the retained state. Each method is one thing that may happen to it; ages are as of the last tick."""

    def __init__(self, latch: Latch) -> None:
        self.latch = latch

    def carry_out(self, change: Callable[[Latch], Latch]) -> None:
        """A command that has to be on file before it counts, and is."""
        self.latch = change(self.latch)

    def update(
        self, now: Situation, state: State, trips: tuple[Trip, ...], usual: Usual | None, duties: Iterable[Duty]
    ) -> None:
        """What this tick, which led to `state`, leaves to be remembered. `usual`: what the membrane usually gives."""
        latch = self.latch
        pressed = now.pressure_bar is not None and now.pressure_bar > HAND_BAR
        # The feed pump's water goes through the membrane's housing: salt stands there before there is any pressure.
        fed = state in SALT_IN_THE_MEMBRANE or now.clocks.feed_pump_on_s >= 0
        if (pressed or fed) and not latch.flush_owed:
            latch = replace(latch, flush_owed=True)
        if state is State.LAID_UP and pressed:
            latch = replace(latch, purge=new_purge(now.settings, latch.laid_up_with or "preservative", latch.purge))
        if state is State.PRODUCING and latch.circuit_opened:
            latch = replace(latch, circuit_opened=False)
        if state is State.TRIPPED and latch.trips != trips:
            latch = replace(latch, trips=trips)
        if state is State.STOPPING and usual is not None:  # once a run is worth a write to the card
            latch = replace(latch, usual=usual)
        latch = replace(latch, under_way=None if state in AT_REST else state.value)
        for duty in duties:
            latch = duty.retained(latch, now.now_s)
        self.latch = latch

    def purge_goes_on(self, purge: Purge) -> None:
        """A part of an owed purge was done."""
        self.latch = replace(self.latch, purge=purge)

    def flush_is_done(self) -> None:
        """Fresh water stands in the membrane: no flush is owed."""
        self.latch = replace(self.latch, flush_owed=False)

    def cut_off_is_seen(self) -> None:
        """A person has acknowledged that a run was cut off."""
        self.latch = replace(self.latch, cut_off=None)

    def usual_is_forgotten(self) -> None:
        """The membrane is another one, or measured otherwise."""
        self.latch = replace(self.latch, usual=None)

    def next_run_number(self) -> int:
        """The number of the run that begins now."""
        self.latch = replace(self.latch, run_number=self.latch.run_number + 1)
        return self.latch.run_number

    def tripped(self, first_out: str | None) -> None:
        """The first cause of a trip, with the trip."""
        self.latch = replace(self.latch, first_out=first_out)

    def reset(self) -> None:
        """Every trip is let go."""
        self.latch = replace(self.latch, trips=(), first_out=None)

    def failed(self, trips: tuple[Trip, ...], first_out: str | None) -> None:
        """An error of control's own has switched everything off."""
        self.latch = replace(self.latch, trips=trips, first_out=first_out, under_way=None)


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
