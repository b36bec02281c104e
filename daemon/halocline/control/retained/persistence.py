"""The owner of the retained state: owed flush and purge, trips, time off, the motor's work and heat, the work in
progress."""

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Protocol

from halocline.control.hydraulic_state import HAND_BAR
from halocline.control.retained.restart_recovery import MOTOR_NOTE_S, SALT_IN_THE_MEMBRANE
from halocline.control.retained.retained_state import (
    Moment,
    Purge,
    RetainedState,
    Trip,
    Usual,
    new_purge,
    with_changes,
    with_consent_ended,
)
from halocline.control.situation import Situation
from halocline.plant.vocabulary import AT_REST, State

IDLE_NOTE_S = 900.0
"""Ages are filed four times an hour: a card bears 35 000 small writes a year (computed: 4 × 24 × 365; that it does:
from memory)."""
MOST_FAILURES = 2
"""One flush may fail for a wave at the inlet of the tank; a second one in a row has a cause (common practice)."""
PURGE_NOTE_L = 1.0
"""What a cut-off forgets of a rinse is rinsed again: a litre costs seconds (chosen)."""
PURGE_NOTE_S = 15.0
"""What a cut-off forgets of a purge is made up again, while a purge of half an hour costs the card 120 writes
(computed; chosen)."""


class Duty(Protocol):
    """An obligation over time that must survive a restart."""

    def persistence(self, retained: RetainedState, now_s: float) -> RetainedState:
        """The retained state with this duty."""


class Persistence:
    """Owns the retained state. Each method is one thing that may happen to it; ages are as of the last tick."""

    def __init__(self, retained: RetainedState) -> None:
        self.retained = retained

    def carry_out(self, change: Callable[[RetainedState], RetainedState]) -> None:
        """A command that has to be on file before it counts, and is."""
        self.retained = change(self.retained)

    def update(
        self,
        now: Situation,
        state: State,
        trips: tuple[Trip, ...],
        usual: Callable[[], Usual | None],
        duties: Iterable[Duty],
    ) -> None:
        """Retain what this tick, which led to `state`, has changed. `usual`: what the membrane usually gives,
        asked for only where it is retained."""
        retained = self.retained
        pressed = now.pressure_bar is not None and now.pressure_bar > HAND_BAR
        # The feed pump's water goes through the membrane's housing: salt stands there before there is any pressure.
        fed = state in SALT_IN_THE_MEMBRANE or now.clocks.feed_pump_on_s >= 0
        if pressed or fed:
            retained = with_changes(retained, flush_owed=True)
            retained = with_changes(retained, way_out_open=False)
        if state is State.LAID_UP and pressed:
            retained = replace(
                retained, purge=new_purge(now.settings, retained.laid_up_with or "preservative", retained.purge)
            )
        if state is State.PRODUCING:
            retained = with_changes(retained, circuit_opened=False)
        if state is State.TRIPPED:
            retained = with_changes(retained, trips=trips)
        if state is State.STOPPING:  # once a run is worth a write to the card
            retained = with_changes(retained, usual=usual() or retained.usual)
        retained = with_changes(retained, under_way=None if state in AT_REST else state.value)
        for duty in duties:
            retained = duty.persistence(retained, now.now_s)
        self.retained = retained

    def purge_goes_on(self, purge: Purge) -> None:
        """Part of an owed purge was done."""
        self.retained = replace(self.retained, purge=purge)

    def flush_is_done(self) -> None:
        """Fresh water stands in the membrane: no flush is owed."""
        self.retained = replace(self.retained, flush_owed=False)

    def way_out_is(self, *, open_: bool) -> None:
        """A flush that was completed has flowed freely, or not."""
        self.retained = replace(self.retained, way_out_open=open_)

    def flush_is_announced(self, litres: float) -> None:
        """A flush that nobody ordered is charged, and counts as failed until it is known not to have."""
        consent = self.retained.flush_consent
        if consent is not None:
            told = replace(consent, failures=consent.failures + 1, left_l=consent.left_l - litres)
            self.retained = replace(self.retained, flush_consent=told)

    def flush_alone_is_over(self, *, given_back_l: float, failed: bool | None) -> None:
        """It has failed, or not; None: it was called off, and counts neither way."""
        consent = self.retained.flush_consent
        if consent is None:
            return
        failures = consent.failures if failed else 0 if failed is False else max(0, consent.failures - 1)
        told = replace(consent, failures=failures, left_l=consent.left_l + given_back_l)
        self.retained = replace(self.retained, flush_consent=told)
        if failures >= MOST_FAILURES:
            self.flush_consent_ends("consent_failed_twice")

    def flush_consent_ends(self, why: str) -> None:
        """The consent is over, and stays on file until a person has seen why."""
        self.retained = with_consent_ended(self.retained, why)

    def flush_consent_is_seen(self) -> None:
        """A person has acknowledged that it is over."""
        self.retained = replace(self.retained, flush_consent=None)

    def cut_off_is_seen(self) -> None:
        """A person has acknowledged that a run was cut off."""
        self.retained = replace(self.retained, cut_off=None)

    def usual_is_forgotten(self) -> None:
        """Another membrane, or another calibration: nothing is usual yet."""
        self.retained = replace(self.retained, usual=None)

    def next_run_number(self) -> int:
        """The number of the run that begins now."""
        self.retained = replace(self.retained, run_number=self.retained.run_number + 1)
        return self.retained.run_number

    def tripped(self, first_out: str | None) -> None:
        """The first cause of a trip, with the trip."""
        self.retained = replace(self.retained, first_out=first_out)
        self.flush_consent_ends("consent_tripped")

    def reset(self) -> None:
        """Every trip is let go."""
        self.retained = replace(self.retained, trips=(), first_out=None)

    def failed(self, trips: tuple[Trip, ...], first_out: str | None) -> None:
        """An error of control's own has switched everything off."""
        self.retained = replace(self.retained, trips=trips, first_out=first_out, under_way=None)
        self.flush_consent_ends("consent_tripped")


class WriteSchedule:
    """Says when the file is to be renewed: at first, to say that control is there; at every change; while a
    purge runs or a motor cools, now and then."""

    def __init__(self) -> None:
        self._seen: RetainedState | None = None
        self._noted: RetainedState | None = None

    def due(self, retained: RetainedState) -> RetainedState | None:
        """The latch when it is to be written now."""
        if retained is self._seen:
            return None
        self._seen, coarse = retained, _coarse(retained)
        if coarse == self._noted:
            return None
        self._noted = coarse
        return retained

    def forget(self) -> None:
        """What is on file is not known: write it at the next tick."""
        self._seen = self._noted = None


def _coarse(retained: RetainedState) -> RetainedState:
    """The latch with what goes on by itself in steps worth a write to the card."""
    purge = retained.purge
    if purge is not None:
        rinsed_l = purge.rinsed_l // PURGE_NOTE_L * PURGE_NOTE_L
        purge = replace(purge, rinsed_l=rinsed_l, left_s=math.ceil(purge.left_s / PURGE_NOTE_S) * PURGE_NOTE_S)
    return replace(
        retained,
        purge=purge,
        idle_s=_step(retained.idle_s or 0.0, IDLE_NOTE_S),
        laid_up_s=_step(retained.laid_up_s, IDLE_NOTE_S),
        motor_hot_ago_s=_step(retained.motor_hot_ago_s, MOTOR_NOTE_S),
        flush_tried_ago_s=_step(retained.flush_tried_ago_s, IDLE_NOTE_S),
        pump_starts_ago_s=tuple(0.0 for _ in retained.pump_starts_ago_s),
        saved=Moment(),
    )


def _step(value: float | None, step: float) -> float | None:
    return None if value is None else value // step * step
