"""Flushes that nobody orders: begun under a person's standing consent, announced first, given up after two that failed.

Theory of operation
-------------------
Each tick the checks of two tables are asked: what a person has done or wants (`PEOPLE`), and what the plant shows
(`PLANT`). While nothing speaks against a flush that is due, it is announced: the buzzer sounds for a minute, and the
attempt goes on file, charged and counted as failed, so that no restart gives it away. Then the sequence takes it up
like any other flush, with less time and water.

A person's doing calls it off, which is no failure; whatever else it needs and loses breaks it off, which is one. The
second failure in a row ends the consent, and so do a trip, a lay-up, its date and its litres. What is over is told
until a person has acknowledged it.
"""

from collections.abc import Callable, Sequence
from typing import Any

from halocline.control.duties.flush_alone import ENDED
from halocline.control.inputs import Reason
from halocline.control.permissives import FLUSH_ALONE, FLUSH_ALONE_DUE, PEOPLE_LET_IT
from halocline.control.permissives.permissive import Check
from halocline.control.plant_state import PlantState
from halocline.control.retained.persistence import MOST_FAILURES
from halocline.control.retained.retained_state import FlushConsent
from halocline.control.situation import Situation
from halocline.plant.vocabulary import State

Against = Callable[[Situation, Sequence[Check]], list[Reason]]


class AutomaticFlush:
    """Follows one plant's consent and announces its flushes; the sequence begins and ends them."""

    def __init__(self, at: PlantState, against: Against) -> None:
        """`against`: what a table of checks says."""
        self._at = at
        self._against = against

    def update(self, now: Situation) -> list[dict[str, Any]]:
        """One tick, before the sequence is stepped. Returns the events that tell of it."""
        at, consent = self._at, self._at.retained.flush_consent
        if consent is not None and consent.ended is not None:
            at.notes.set(ENDED, {"why": consent.ended})
        else:
            at.notes.clear(ENDED)
        under_way = at.alone.announced or (at.flush is not None and at.flush.alone)
        if consent is None and not under_way:
            return []
        if not under_way and at.state is not State.STANDBY:
            at.alone.judged((), (Reason(f"is_{at.state.value}"),))
            return []
        people = self._against(now, PEOPLE_LET_IT)
        plant = self._against(now, FLUSH_ALONE if under_way else FLUSH_ALONE_DUE)
        at.alone.judged(people, plant)
        if at.alone.announced:
            return self._while_announced(now, [*people, *plant])
        if under_way or consent is None or consent.ended is not None:
            return []
        if (over := self._over(now, consent)) is not None:
            at.persistence.flush_consent_ends(over)
            return [_event("consent_ended", Reason(over))]
        if people or plant:
            return []
        at.alone.announce(now.now_s)
        at.persistence.flush_is_announced(now.settings.sequence.flush_l)
        return [_event("announced", Reason("flush_alone"))]

    def _while_announced(self, now: Situation, against: Sequence[Reason]) -> list[dict[str, Any]]:
        at = self._at
        if at.state is State.STANDBY and not against:
            return []
        at.alone.over()
        at.persistence.flush_alone_is_over(given_back_l=now.settings.sequence.flush_l, failed=None)
        why = against[0] if against else Reason(f"is_{at.state.value}")
        return [_event("called_off", why)]

    @staticmethod
    def _over(now: Situation, consent: FlushConsent) -> str | None:
        """Why the consent has run out, if it has."""
        if consent.failures >= MOST_FAILURES:  # control was cut off in the second one
            return "consent_failed_twice"
        if now.inputs.wall_s is not None and now.inputs.wall_s >= consent.until_wall_s:
            return "consent_run_out"
        return "consent_used_up" if consent.left_l < now.settings.sequence.flush_l else None


def _event(what: str, why: Reason) -> dict[str, Any]:
    return {"kind": "automatic_flush", "what": what, "why": why.as_message()}
