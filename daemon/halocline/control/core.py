"""Control's decisions: one tick in, outputs and news out. No clock, no thread, no file.

The order within a tick is fixed: see the situation, keep the clocks, take commands, judge the water, judge the
causes, step the sequence, work out the outputs of the new state. Each of these stands in a file of its own; what
they share is `Standing`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from halocline.control.asking import asked
from halocline.control.attendance import Attendance
from halocline.control.calibrations import NONE, Calibrations
from halocline.control.clockwork import Clockwork
from halocline.control.commands import Decisions, Orders, Paper
from halocline.control.drift import follow_shares, without_usual
from halocline.control.driving import Driving
from halocline.control.entering import Entering, end_run, state_event
from halocline.control.facts import Facts
from halocline.control.inputs import Command, Inputs, Reason, sane
from halocline.control.latch import Latch
from halocline.control.noticing import Noticing
from halocline.control.purging import purge_question
from halocline.control.remembering import LatchNotes, remembered
from halocline.control.resuming import started_event
from halocline.control.sequence import next_state
from halocline.control.situation import Observer, Situation
from halocline.control.standing import Standing
from halocline.plant.alarms import Cause
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import Ask, State


@dataclass(slots=True)
class Outcome:
    """What one tick decided.

    latch: set when what must survive a restart has changed. persist: commands to be given again, marked as
    persisted, once what stands beside them is on file. calibrations: set when they have changed. simulate: faults
    for a simulated boat.
    """

    outputs: frozenset[str]
    events: list[dict[str, Any]] = field(default_factory=list)
    answers: list[tuple[str, bool, list[Reason]]] = field(default_factory=list)
    latch: Latch | None = None
    persist: list[tuple[Command, Paper]] = field(default_factory=list)
    calibrations: Calibrations | None = None
    simulate: list[Command] = field(default_factory=list)


class Core(Standing):
    """The whole of control's judgement and memory for one plant."""

    def __init__(
        self,
        settings: Settings,
        latch: Latch,
        now_s: float,
        *,
        boot: str = "0",
        simulated: bool = False,
        off_s: float | None = 0.0,
        computer: bool | None = None,
        calibrations: Calibrations = NONE,
    ) -> None:
        super().__init__(
            settings,
            latch,
            now_s,
            boot=boot,
            simulated=simulated,
            off_s=off_s,
            computer=computer,
            calibrations=calibrations,
        )
        self._untold = [] if latch == Latch() else [started_event(latch, off_s, computer=computer)]
        self.decisions = Decisions(self)
        self._observer = Observer(settings, self.calibrating.in_force.membrane)
        self._clockwork = Clockwork(self)
        self._attendance = Attendance(self)
        self._noticing = Noticing(self)
        self._facts = Facts(self, self.decisions)
        self._driving = Driving(self)
        self._entering = Entering(self, self._facts)
        self._latch_notes = LatchNotes()

    def tick(self, inputs: Inputs, commands: Iterable[Command] = ()) -> Outcome:
        """Decide on one set of inputs; `inputs.now_s` never runs backwards."""
        now = self._see(sane(inputs, self._clockwork.product_total_l))
        self.calibrating.take(now)
        orders = self.decisions.take(commands, now)
        if orders.calibrations is not None:
            self._observer.know_membrane(orders.calibrations.membrane)
            without_usual(self)
        self.quality.take(now, purge_question(self))
        self._noticing.take(now)
        holding = self.alarms.judge(now, self.notes)
        events = [*self._untold, *orders.events, *self._step(now, orders, holding)]
        self._untold = []
        self.actuators = self._driving.actuators(now, holding)
        self._clockwork.follow_outputs(now)
        self.latch = remembered(self, now)
        events.extend(self._alarm_events())
        return Outcome(
            outputs=self._with_signals(now.now_s),
            events=events,
            answers=orders.answers,
            latch=self._latch_notes.due(self.on_file()),
            persist=[(command, paper or self.on_file()) for command, paper in orders.persist],
            calibrations=orders.calibrations,
            simulate=orders.simulate,
        )

    def _see(self, inputs: Inputs) -> Situation:
        previous_s = self.last.now_s if self.last else inputs.now_s
        self.last = self._observer.situation(inputs, self.state, inputs.now_s - self.state_since_s)
        self._clockwork.keep(self.last, inputs.now_s - previous_s)
        self._attendance.see(self.last)
        follow_shares(self, self.last, inputs.now_s - previous_s)
        return self.last

    def _step(self, now: Situation, orders: Orders, holding: list[Cause]) -> list[dict[str, Any]]:
        came_from = self.state
        to, fact = next_state(came_from, self._facts.of(now, orders, holding))
        if fact is None:
            return []
        events = self._entering.enter(to, fact, now, orders, holding)
        self._clockwork.entered(to, came_from, now)
        self._facts.entered(to)
        self._driving.entered(to, now.pressure_bar)
        return events

    def _with_signals(self, now_s: float) -> frozenset[str]:
        extra = set()
        if self.state is not State.TRIPPED:
            extra.add("heartbeat")
        if self.alarms.buzzer(now_s):
            extra.add("buzzer")
        if self.alarms.beacon(now_s):
            extra.add("beacon")
        self.on = (self.actuators | extra) & frozenset(self.settings.outputs)
        return self.on

    def _alarm_events(self) -> list[dict[str, Any]]:
        changes, self.alarms.changes = self.alarms.changes, []
        return [
            {
                "kind": "alarm",
                "id": change.id,
                "to": change.to.value,
                "priority": change.priority.value,
                "values": dict(change.values),
                "under": change.under,
            }
            for change in changes
        ]

    def safe(self, cause: str, now_s: float) -> list[dict[str, Any]]:
        """An error inside control itself: trip without asking the table. Returns the events."""
        came_from, self.why = self.state, Reason(cause)
        self.first_out = self.first_out or cause
        self.alarms.restore(cause, now_s)
        events: list[dict[str, Any]] = []
        if came_from is not State.TRIPPED:
            self.state, self.state_since_s = State.TRIPPED, now_s
            self._driving.entered(State.TRIPPED, self.last.pressure_bar if self.last else None)
            events.append(state_event(came_from, State.TRIPPED, self.why))
        if self.run:
            events.append(end_run(self, self.why, now_s))
        if self.driven:
            self.motor.switched_off(now_s)
        self.run = self.flush = None
        self.actuators = self.on = frozenset()
        self.decisions.forget_promises()
        self.latch = replace(self.latch, trips=self.trips, first_out=self.first_out, under_way=None)
        self._latch_notes.forget()
        return events + self._alarm_events()

    def on_file(self) -> Latch:
        """The latch as it is to be on file: with what was ordered and counts only once it is there."""
        return self.decisions.with_promises(self.latch)

    def present(self) -> Situation:
        """The situation of the last tick in the state that it led to: what is said and offered from now on."""
        assert self.last is not None
        if self.last.state is self.state:
            return self.last
        return replace(self.last, state=self.state, in_state_s=0.0)

    def ask(self) -> Ask | None:
        """What only a person can do now."""
        return asked(self)
