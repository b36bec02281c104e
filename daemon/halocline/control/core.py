"""Control's decisions: one tick in, outputs and news out. No clock, no thread, no file.

The order within a tick is fixed: observe, update the timers, execute commands, judge the water, judge the alarms,
step the sequence, work out the outputs of the new state. Each of these has a module of its own; what they share is
`PlantState`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from halocline.control.automatic_flush import AutomaticFlush
from halocline.control.calibration.calibration_store import NONE, Calibrations
from halocline.control.commands import Decisions
from halocline.control.detectors import Detectors
from halocline.control.duties.purge_duty import counted, purge_question
from halocline.control.hmi.operator_prompts import asked
from halocline.control.inputs import Command, Inputs, Reason, sane
from halocline.control.orders import Orders, ToFile
from halocline.control.plant_state import PlantState
from halocline.control.retained.persistence import WriteSchedule
from halocline.control.retained.restart_recovery import started_event
from halocline.control.retained.retained_state import RetainedState
from halocline.control.sequence.output_logic import OutputLogic
from halocline.control.sequence.sequence_table import next_state
from halocline.control.sequence.transition_actions import TransitionActions
from halocline.control.sequence.transition_conditions import TransitionConditions
from halocline.control.situation import Clocks, Situation
from halocline.control.timers import Timers
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
    persist: list[tuple[Command, ToFile]] = field(default_factory=list)
    calibrations: Calibrations | None = None
    simulate: list[Command] = field(default_factory=list)


class Core:
    """Control's decisions and state for one plant."""

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
        self.plant = PlantState(
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
        self.decisions = Decisions(self.plant)
        self.last: Situation | None = None
        self.timers = Timers(self.plant)
        self._detectors = Detectors(self.plant)
        self._automatic_flush = AutomaticFlush(self.plant, self.decisions.against_flush_alone)
        self._conditions = TransitionConditions(self.plant, self.decisions.may_flush_by_itself)
        self._output_logic = OutputLogic(self.plant)
        self._actions = TransitionActions(self.plant, self._conditions)
        self._write_schedule = WriteSchedule()

    def tick(self, inputs: Inputs, commands: Iterable[Command] = ()) -> Outcome:
        """Decide on one set of inputs; `inputs.now_s` never runs backwards."""
        plant = self.plant
        now = self._see(sane(inputs, self.timers.product_total_l))
        plant.calibrating.update(now)
        orders = self.decisions.execute(commands, now)
        if orders.calibrations is not None:
            plant.observer.know_membrane(orders.calibrations.membrane)
            plant.forget_usual()
        plant.quality.update(now, purge_question(plant.retained.purge))
        self._detectors.update(now)
        told = self._automatic_flush.update(now)
        holding = plant.alarms.judge(now, plant.notes)
        events = [*self._untold, *orders.events, *told, *self._step(now, orders, holding)]
        self._untold = []
        plant.outputs.drive(self._output_logic.actuators(now, holding))
        self.last = now = self.timers.follow_outputs(now)
        plant.persistence.update(
            now, plant.state, plant.trips, plant.performance.usual, (plant.motor, plant.rest, plant.alone)
        )
        events.extend(self._alarm_events())
        return Outcome(
            outputs=self._with_signals(now.now_s),
            events=events,
            answers=orders.answers,
            retained=self._write_schedule.due(self.on_file()),
            persist=[(command, content or self.on_file()) for command, content in orders.persist],
            calibrations=orders.calibrations,
            simulate=orders.simulate,
        )

    def _see(self, inputs: Inputs) -> Situation:
        plant = self.plant
        elapsed_s = 0.0 if self.last is None else inputs.now_s - self.last.now_s
        seen = plant.observer.observe(inputs, plant.state, inputs.now_s - plant.position.since_s)
        if plant.attendance.see(seen):
            plant.alone.hands(seen.now_s)
        clocks = self.timers.update(seen, elapsed_s)
        departure = plant.performance.update(seen, clocks.working_s, elapsed_s)
        self.last = now = Situation.of(seen, clocks, departure)
        plant.evidence.update(now, plant.outputs.actuators, elapsed_s)
        if plant.driven and plant.retained.purge is not None:
            plant.persistence.purge_goes_on(counted(plant.retained.purge, now, elapsed_s))
        return now

    def _step(self, now: Situation, orders: Orders, holding: list[AlarmDefinition]) -> list[dict[str, Any]]:
        came_from = self.plant.state
        to, fact = next_state(came_from, self._conditions.of(now, orders, holding))
        if fact is None:
            return []
        events = self._actions.enter(to, fact, now, orders, holding)
        self.timers.entered(to, came_from, now)
        self._conditions.entered(to)
        self._output_logic.entered(to, now.pressure_bar)
        return events

    def _with_signals(self, now_s: float) -> frozenset[str]:
        plant = self.plant
        signals = set()
        if plant.state is not State.TRIPPED:
            signals.add("heartbeat")
        if plant.alarms.buzzer(now_s) or plant.alone.announced:
            signals.add("buzzer")
        if plant.alarms.beacon(now_s) or plant.alone.announced:
            signals.add("beacon")
        return plant.outputs.add_signals(signals)

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
            for change in self.plant.alarms.take_changes()
        ]

    def fail(self, cause: str, now_s: float) -> list[dict[str, Any]]:
        """Trip on an error inside control itself, where no tick came to its end. Returns the events."""
        tripped_before = self.plant.state is State.TRIPPED
        events = self._actions.fail(cause, now_s)
        if not tripped_before:
            self._output_logic.entered(State.TRIPPED, self.last.pressure_bar if self.last else None)
        self.plant.outputs.all_off()
        self.decisions.forget_promises()
        self._write_schedule.forget()
        return events + self._alarm_events()

    def on_file(self) -> RetainedState:
        """The latch as it is to be on file: with what was ordered and counts only once it is there."""
        return self.decisions.with_promises(self.plant.retained)

    @property
    def interlock_may_close(self) -> bool:
        """Whether the latch of the comparator interlock may be closed, as of the last tick."""
        return self.last is not None and self._output_logic.interlock_may_close(self.last)

    def ask(self) -> Ask | None:
        """What only a person can do now."""
        return None if self.last is None else asked(self.plant, self.last)

    @property
    def clocks(self) -> Clocks:
        """The timers, as of the last tick."""
        return self.timers.clocks

    @property
    def on(self) -> frozenset[str]:
        """All outputs that the last tick energised."""
        return self.plant.outputs.on

    @property
    def why(self) -> Reason:
        """What led to the present state."""
        return self.plant.position.why

    @property
    def first_out(self) -> str | None:
        """The first cause of the last trip or stop."""
        return self.plant.position.first_out
