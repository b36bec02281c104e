"""What a transition does: notes its reason, begins and ends runs and flushes, resets trips."""

from typing import Any

from halocline.control.forecast import tank_ceiling_l
from halocline.control.inputs import Command, Reason
from halocline.control.orders import Orders
from halocline.control.plant_state import PlantState
from halocline.control.run import Flush, Need, Run
from halocline.control.sequence.transition_conditions import TransitionConditions
from halocline.control.situation import Situation
from halocline.plant.alarms import AlarmDefinition, Effect
from halocline.plant.vocabulary import RUNNING, State

Event = dict[str, Any]
CALLED_OFF = frozenset({"stop", "flush_called_off"})
"""A person has ended it: nothing failed."""
EFFECT_OF = {"trip": Effect.TRIP, "stop": Effect.STOP, "quality_lost": Effect.DIVERT}


class TransitionActions:
    """Keeps the account of one plant's runs, flushes and first causes as the sequence goes on."""

    def __init__(self, at: PlantState, facts: TransitionConditions) -> None:
        self._at = at
        self._conditions = facts

    def enter(
        self, to: State, fact: str, now: Situation, orders: Orders, holding: list[AlarmDefinition]
    ) -> list[Event]:
        """Go to another state. Returns the events that tell of it."""
        at, came_from = self._at, self._at.state
        why = self._why(fact, now, orders, holding)
        at.position.explain(why)
        events = [state_event(came_from, to, why)]
        if to is State.TRIPPED or fact == "stop":
            self._note_first_out(Effect.TRIP if to is State.TRIPPED else Effect.STOP, holding)
        if to is State.TRIPPED:
            self._trip()
        if any(cause.id == "motor_too_warm" for cause in holding):
            at.motor.was_too_warm(now.now_s)
        if to is State.PRIMING:
            events.append(self._begin_run(now, orders.command("start")))
        if at.run and to is State.STOPPING:
            at.work.explain_end(why)
        if at.run and to in (State.TRIPPED, State.FLUSHING, State.STANDBY):
            told = at.run.ended_by
            ended_by = why if to is State.TRIPPED or told is None else told
            events.append(end_run(at, at.run, ended_by, now.now_s))
        if came_from is State.FLUSHING and at.flush:
            events.append(self._end_flush(at.flush, fact, now))
        if to is State.FLUSHING:
            self._begin_flush(now, orders.command("flush"), alone=fact == "flush_alone")
        if to not in RUNNING and to is not State.STOPPING:
            at.work.close_run()
        if came_from is State.TRIPPED:
            self._let_go(now)
        if to is State.PRESSURISING:
            at.rest.relay_holds(now.now_s)
        if to is State.LAID_UP and came_from is not State.TRIPPED:
            at.rest.laid_up(now.now_s)
        at.position.go_to(to, now.now_s)
        return events

    def fail(self, cause: str, now_s: float) -> list[Event]:
        """Trip on an error of control's own: the table is not asked, for what works out its facts has failed."""
        at, came_from, why = self._at, self._at.state, Reason(cause)
        at.position.explain(why)
        at.position.note_first_out(cause)
        at.alarms.restore(cause, now_s)
        if at.driven:
            at.motor.switched_off(now_s)
        events = [] if came_from is State.TRIPPED else [state_event(came_from, State.TRIPPED, why)]
        if at.run:
            events.append(end_run(at, at.run, why, now_s))
        at.work.close_run()
        at.work.close_flush()
        if came_from is not State.TRIPPED:
            at.position.go_to(State.TRIPPED, now_s)
        at.persistence.failed(at.trips, at.position.first_out)
        return events

    def _why(self, fact: str, now: Situation, orders: Orders, holding: list[AlarmDefinition]) -> Reason:
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
            return self._conditions.need_met(now) or Reason("target_reached")
        if fact == "raise_timeout":
            return self._conditions.raise_timeout(now) or Reason("pressure_not_set")
        if fact == "flush_failed" and at.flush:
            return self._conditions.flush_failure(now) or Reason("flush_failed")
        if fact == "flush_called_off" and at.alone.people:
            return at.alone.people[0]
        return Reason(fact)

    def _note_first_out(self, effect: Effect, holding: list[AlarmDefinition]) -> None:
        causes = [cause.id for cause in holding if cause.effect is effect]
        if causes:
            self._at.position.note_first_out(causes[0])

    def _let_go(self, now: Situation) -> None:
        at = self._at
        at.alarms.reset()
        at.position.forget_first_out()
        at.rest.relay_dropped(now.now_s)
        at.persistence.reset()

    def _trip(self) -> None:
        at = self._at
        at.persistence.tripped(at.position.first_out)
        if at.run is None:
            at.position.forget_last_end()

    def _begin_run(self, now: Situation, command: Command | None) -> Event:
        at = self._at
        arguments = dict(command.arguments) if command else {}
        minutes, until_s = arguments.get("minutes"), arguments.get("until_s")
        need = Need(
            litres=arguments.get("litres"),
            producing_s=None if minutes is None else minutes * 60.0,
            deadline_s=None if until_s is None else now.now_s + until_s,
        )
        number = at.persistence.next_run_number()
        run = Run(f"{at.boot}-{number}", need, now.now_s, tank_ceiling_l(now), arguments, rest_w=now.power_w)
        at.work.begin_run(run)
        at.position.forget_first_out()
        at.notes.clear("flush_failed")
        return {"kind": "run_started", "run": {"id": run.id, "why": arguments, "target_l": need.litres}}

    def _begin_flush(self, now: Situation, command: Command | None, *, alone: bool) -> None:
        at = self._at
        litres = command.arguments.get("litres") if command else None
        wanted_l = at.settings.sequence.flush_l if litres is None else litres
        run_id = at.run.id if at.run else None
        at.work.begin_flush(Flush(wanted_l, now.now_s, run_id, now.inputs.flush_total_l, alone))
        if alone:
            at.alone.begin(now.now_s)

    def _end_flush(self, flush: Flush, fact: str, now: Situation) -> Event:
        at, complete = self._at, fact == "flush_complete"
        at.work.close_flush()
        if flush.alone:
            self._account_for(flush, None if fact in CALLED_OFF else not complete)
        if complete:
            at.persistence.way_out_is(open_=flush.has_flowed_freely)
            at.rest.relay_holds(now.now_s)
        if complete and flush.wanted_l >= at.settings.sequence.flush_l:
            at.persistence.flush_is_done()
            at.rest.flushed(now.now_s)
            at.notes.clear("flush_failed")
        elif fact == "flush_failed":
            at.notes.set("flush_failed", {**at.position.why.values, "why": at.position.why.id})
        return {"kind": "flush_ended", **flush.summary(now.now_s, complete)}

    def _account_for(self, flush: Flush, failed: bool | None) -> None:
        """What a flush that nobody ordered has come to; its water is charged by the meter."""
        given_back_l = flush.wanted_l - flush.litres
        self._at.persistence.flush_alone_is_over(given_back_l=given_back_l, failed=failed)


def end_run(at: PlantState, run: Run, ended_by: Reason, now_s: float) -> Event:
    """Close the account of the run; the event that says so."""
    run.end(ended_by)
    at.position.run_ended(ended_by)
    return {"kind": "run_ended", "run": run.summary(now_s, at.position.first_out)}


def state_event(came_from: State, to: State, why: Reason) -> Event:
    """The event of a change of state."""
    return {"kind": "state", "from": came_from.value, "to": to.value, "why": why.as_message()}
