"""What entering a state brings with it: why it happened, runs and flushes begun and ended, what is let go."""

from dataclasses import replace
from typing import Any

from halocline.control.commands import Orders
from halocline.control.facts import Facts
from halocline.control.inputs import Command, Reason
from halocline.control.permissions.needs import tank_ceiling_l
from halocline.control.run import Flush, Need, Run
from halocline.control.situation import Situation
from halocline.control.standing import REARM_ASKED_S, RUNNING, Standing
from halocline.plant.alarms import Cause, Effect
from halocline.plant.vocabulary import State

Event = dict[str, Any]
EFFECT_OF = {"trip": Effect.TRIP, "stop": Effect.STOP, "quality_lost": Effect.DIVERT}


class Entering:
    """Keeps the account of one plant's runs, flushes and first causes as the sequence goes on."""

    def __init__(self, at: Standing, facts: Facts) -> None:
        self._at = at
        self._facts = facts

    def enter(self, to: State, fact: str, now: Situation, orders: Orders, holding: list[Cause]) -> list[Event]:
        """Go to another state; what there is to tell about it."""
        at, came_from = self._at, self._at.state
        at.why = self._why(fact, now, orders, holding)
        events = [state_event(came_from, to, at.why)]
        if to is State.TRIPPED or fact == "stop":
            self._note_first_out(Effect.TRIP if to is State.TRIPPED else Effect.STOP, holding)
        if to is State.TRIPPED:
            self._trip()
        if any(cause.id == "motor_too_warm" for cause in holding):
            at.motor.was_too_warm(now.now_s)
        if to is State.PRIMING:
            events.append(self._begin_run(now, orders.command("start")))
        if at.run and to is State.STOPPING:
            at.run.ended_by = at.why
        if at.run and to in (State.TRIPPED, State.FLUSHING, State.STANDBY):
            if to is State.TRIPPED or at.run.ended_by is None:
                at.run.ended_by = at.why
            events.append(end_run(at, at.run.ended_by, now.now_s))
        if came_from is State.FLUSHING and at.flush:
            events.append(self._end_flush(at.flush, fact, now))
        if to is State.FLUSHING:
            self._begin_flush(now, orders.command("flush"))
        if to not in RUNNING and to is not State.STOPPING:
            at.run = None
        if came_from is State.TRIPPED:
            self._let_go(now)
        if to is State.PRESSURISING:
            at.rearm_until_s = now.now_s
        at.state, at.state_since_s = to, now.now_s
        return events

    def _why(self, fact: str, now: Situation, orders: Orders, holding: list[Cause]) -> Reason:
        at = self._at
        for cause in holding:
            if cause.effect is EFFECT_OF.get(fact):
                alarm = at.alarms.get(cause.id)
                return Reason(cause.id, alarm.values if alarm else {})
        if fact == "stop":
            return Reason("stop_command", {"who": orders.who})
        if fact == "quality_lost" and at.quality.lost:
            return at.quality.lost[0]
        if fact == "target_reached":
            return self._facts.need_met(now) or Reason("target_reached")
        if fact == "raise_timeout":
            return self._facts.raise_timeout(now) or Reason("pressure_not_set")
        if fact == "flush_failed" and at.flush:
            return self._facts.flush_failure(now) or Reason("flush_failed")
        return Reason(fact)

    def _note_first_out(self, effect: Effect, holding: list[Cause]) -> None:
        causes = [cause.id for cause in holding if cause.effect is effect]
        if causes and self._at.first_out is None:
            self._at.first_out = causes[0]

    def _let_go(self, now: Situation) -> None:
        at = self._at
        at.alarms.reset()
        at.first_out = None
        at.rearm_until_s = now.now_s + REARM_ASKED_S
        at.latch = replace(at.latch, trips=(), first_out=None)

    def _trip(self) -> None:
        at = self._at
        at.latch = replace(at.latch, first_out=at.first_out)
        if at.run is None:
            at.last_end = None  # it came at rest: after the reset nobody wants to hear how an earlier run ended

    def _begin_run(self, now: Situation, command: Command | None) -> Event:
        at = self._at
        arguments = dict(command.arguments) if command else {}
        minutes, until_s = arguments.get("minutes"), arguments.get("until_s")
        need = Need(
            litres=arguments.get("litres"),
            producing_s=None if minutes is None else minutes * 60.0,
            deadline_s=None if until_s is None else now.now_s + until_s,
        )
        number = at.latch.run_number + 1
        at.latch = replace(at.latch, run_number=number)
        at.run = Run(f"{at.boot}-{number}", need, now.now_s, tank_ceiling_l(now), arguments, rest_w=now.power_w)
        at.first_out = None
        at.notes.clear("flush_failed")
        return {"kind": "run_started", "run": {"id": at.run.id, "why": arguments, "target_l": need.litres}}

    def _begin_flush(self, now: Situation, command: Command | None) -> None:
        at = self._at
        litres = command.arguments.get("litres") if command else None
        wanted_l = at.settings.sequence.flush_l if litres is None else litres
        at.flush = Flush(wanted_l, now.now_s, at.run.id if at.run else None, now.inputs.flush_total_l)

    def _end_flush(self, flush: Flush, fact: str, now: Situation) -> Event:
        at, complete = self._at, fact == "flush_complete"
        at.flush = None
        if complete:
            at.rearm_until_s = now.now_s
        if complete and flush.wanted_l >= at.settings.sequence.flush_l:
            at.latch = replace(at.latch, flush_owed=False)
            at.idle_since_s = now.now_s
            at.notes.clear("flush_failed")
        elif fact == "flush_failed":
            at.notes.set("flush_failed", {**at.why.values, "why": at.why.id})
        return {"kind": "flush_ended", **flush.summary(now.now_s, complete)}


def end_run(at: Standing, ended_by: Reason, now_s: float) -> Event:
    """Close the account of the run; the event that says so."""
    assert at.run is not None
    at.run.ended_by = at.last_end = ended_by
    return {"kind": "run_ended", "run": at.run.summary(now_s, at.first_out)}


def state_event(came_from: State, to: State, why: Reason) -> Event:
    """The event of a change of state."""
    return {"kind": "state", "from": came_from.value, "to": to.value, "why": why.as_message()}
