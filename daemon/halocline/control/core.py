"""Control's decisions: one tick in, outputs and news out. No clock, no thread, no file.

The order within a tick is fixed: see the situation, keep the clocks, take commands, judge the water, judge the
causes, step the sequence, work out the outputs of the new state. Each of these stands in a file of its own; what
they share is `PlantState`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from halocline.control.calibration_store import NONE, Calibrations
from halocline.control.commands import Decisions, Orders, Paper
from halocline.control.detectors import Detectors
from halocline.control.duties.purge_duty import counted, purge_question
from halocline.control.inputs import Command, Inputs, Reason, sane
from halocline.control.operator_prompts import asked
from halocline.control.output_logic import OutputLogic
from halocline.control.persistence import WriteSchedule
from halocline.control.plant_state import PlantState
from halocline.control.restart_recovery import started_event
from halocline.control.retained_state import RetainedState
from halocline.control.sequence import next_state
from halocline.control.situation import Clocks, Situation
from halocline.control.timers import Timers
from halocline.control.transition_actions import TransitionActions, end_run, state_event
from halocline.control.transition_conditions import TransitionConditions
from halocline.plant.alarms import AlarmDefinition
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
    retained: RetainedState | None = None
    persist: list[tuple[Command, Paper]] = field(default_factory=list)
    calibrations: Calibrations | None = None
    simulate: list[Command] = field(default_factory=list)


class Core(PlantState):
    """The whole of control's judgement and memory for one plant."""

    def __init__(
        self,
        settings: Settings,
        retained: RetainedState,
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
            retained,
            now_s,
            boot=boot,
            simulated=simulated,
            off_s=off_s,
            computer=computer,
            calibrations=calibrations,
        )
        self._untold = [] if retained == RetainedState() else [started_event(retained, off_s, computer=computer)]
        self.decisions = Decisions(self)
        self.last: Situation | None = None
        self.timers = Timers(self)
        self._detectors = Detectors(self)
        self._conditions = TransitionConditions(self, self.decisions)
        self._output_logic = OutputLogic(self)
        self._actions = TransitionActions(self, self._conditions)
        self._write_schedule = WriteSchedule()

    def tick(self, inputs: Inputs, commands: Iterable[Command] = ()) -> Outcome:
        """Decide on one set of inputs; `inputs.now_s` never runs backwards."""
        now = self._see(sane(inputs, self.timers.product_total_l))
        self.calibrating.update(now)
        orders = self.decisions.execute(commands, now)
        if orders.calibrations is not None:
            self.observer.know_membrane(orders.calibrations.membrane)
            self.forget_usual()
        self.quality.update(now, purge_question(self.retained.purge))
        self._detectors.update(now)
        holding = self.alarms.judge(now, self.notes)
        events = [*self._untold, *orders.events, *self._step(now, orders, holding)]
        self._untold = []
        self.outputs.drive(self._output_logic.actuators(now, holding))
        self.last = now = self.timers.follow_outputs(now)
        self.persistence.update(now, self.state, self.trips, self.performance.usual(), (self.motor, self.rest))
        events.extend(self._alarm_events())
        return Outcome(
            outputs=self._with_signals(now.now_s),
            events=events,
            answers=orders.answers,
            retained=self._write_schedule.due(self.on_file()),
            persist=[(command, paper or self.on_file()) for command, paper in orders.persist],
            calibrations=orders.calibrations,
            simulate=orders.simulate,
        )

    def _see(self, inputs: Inputs) -> Situation:
        elapsed_s = 0.0 if self.last is None else inputs.now_s - self.last.now_s
        seen = self.observer.observe(inputs, self.state, inputs.now_s - self.position.since_s)
        self.attendance.see(seen)
        clocks = self.timers.update(seen, elapsed_s)
        departure = self.performance.update(seen, clocks.working_s, elapsed_s)
        self.last = now = Situation.of(seen, clocks, departure)
        self.evidence.update(now, self.outputs.actuators, elapsed_s)
        if self.driven and self.retained.purge is not None:
            self.persistence.purge_goes_on(counted(self.retained.purge, now, elapsed_s))
        return now

    def _step(self, now: Situation, orders: Orders, holding: list[AlarmDefinition]) -> list[dict[str, Any]]:
        came_from = self.state
        to, fact = next_state(came_from, self._conditions.of(now, orders, holding))
        if fact is None:
            return []
        events = self._actions.enter(to, fact, now, orders, holding)
        self.timers.entered(to, came_from, now)
        self._conditions.entered(to)
        self._output_logic.entered(to, now.pressure_bar)
        return events

    def _with_signals(self, now_s: float) -> frozenset[str]:
        extra = set()
        if self.state is not State.TRIPPED:
            extra.add("heartbeat")
        if self.alarms.buzzer(now_s):
            extra.add("buzzer")
        if self.alarms.beacon(now_s):
            extra.add("beacon")
        return self.outputs.add_signals(frozenset(extra))

    def _alarm_events(self) -> list[dict[str, Any]]:
        return [
            {
                "kind": "alarm",
                "id": change.id,
                "to": change.to.value,
                "priority": change.priority.value,
                "values": dict(change.values),
                "under": change.suppressed_by,
            }
            for change in self.alarms.take_changes()
        ]

    def safe(self, cause: str, now_s: float) -> list[dict[str, Any]]:
        """An error inside control itself: trip without asking the table. Returns the events."""
        came_from, why = self.state, Reason(cause)
        self.position.explain(why)
        self.position.note_first_out(cause)
        self.alarms.restore(cause, now_s)
        events: list[dict[str, Any]] = []
        if self.driven:
            self.motor.switched_off(now_s)
        if came_from is not State.TRIPPED:
            self.position.go_to(State.TRIPPED, now_s)
            self._output_logic.entered(State.TRIPPED, self.last.pressure_bar if self.last else None)
            events.append(state_event(came_from, State.TRIPPED, why))
        if self.run:
            events.append(end_run(self, self.run, why, now_s))
        self.work.close_run()
        self.work.close_flush()
        self.outputs.all_off()
        self.decisions.forget_promises()
        self.persistence.failed(self.trips, self.position.first_out)
        self._write_schedule.forget()
        return events + self._alarm_events()

    def on_file(self) -> RetainedState:
        """The latch as it is to be on file: with what was ordered and counts only once it is there."""
        return self.decisions.with_promises(self.retained)

    def present(self) -> Situation:
        """The situation of the last tick in the state that it led to: what is said and offered from now on."""
        assert self.last is not None
        if self.last.state is self.state:
            return self.last
        return self.last._replace(state=self.state, in_state_s=0.0)

    def ask(self) -> Ask | None:
        """What only a person can do now."""
        return None if self.last is None else asked(self, self.last)

    @property
    def clocks(self) -> Clocks:
        """How long what has lasted, as of the last tick."""
        return self.timers.clocks

    @property
    def on(self) -> frozenset[str]:
        """All outputs that the last tick energised."""
        return self.outputs.on

    @property
    def why(self) -> Reason:
        """What led to the present state."""
        return self.position.why

    @property
    def first_out(self) -> str | None:
        """The first cause of the last trip or stop."""
        return self.position.first_out
