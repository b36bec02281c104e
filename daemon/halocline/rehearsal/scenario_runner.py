"""The rehearsal itself: real control on emulated chips, a simulated sea, and a clock that only we move."""

import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from halocline.config import ConfigError, Problem
from halocline.control.acquisition.board import Board
from halocline.control.acquisition.hardware_interlock import armed
from halocline.control.core import Core
from halocline.control.exchange import News, World
from halocline.control.inputs import Command
from halocline.control.loop import REST_TURN_S, Tick
from halocline.control.retained.retained_state import RetainedState
from halocline.plant import words
from halocline.plant.thresholds import TICK_S, TURN_PAUSE_S
from halocline.plant.until import seconds_until
from halocline.plant.vocabulary import Origin
from halocline.rehearsal.board_wiring import wiring_of
from halocline.rehearsal.scenario import Scenario, Step
from halocline.rehearsal.witness import Moment, Witness
from halocline.simulation import Sea
from halocline_hw.clock import VirtualClock
from halocline_hw.emulated import EmulatedBoard

START_S = 1000.0
NOON = datetime(2000, 6, 1, 12, tzinfo=UTC)
"""The time of day when a rehearsal begins."""

FAST_BAR_S = 20.0
FAST_AFTER_FAULT_S = 0.3
STUCK_TRANSFER_S = 0.02
SAMPLE_EVERY_S = 1.0


@dataclass(slots=True)
class Played:
    """What was seen while playing."""

    states: list[dict[str, Any]] = field(default_factory=list)
    alarms: list[dict[str, Any]] = field(default_factory=list)
    commands: list[dict[str, Any]] = field(default_factory=list)
    samples: list[dict[str, Any]] = field(default_factory=list)
    events: list[dict[str, Any]] = field(default_factory=list)
    faults: list[dict[str, Any]] = field(default_factory=list)


class ScenarioRunner:
    """Plays one scenario once."""

    def __init__(
        self,
        scenario: Scenario,
        seed: int,
        *,
        keep_samples: bool = False,
        before: RetainedState | None = None,
        off_s: float = 0.0,
    ) -> None:
        """before: what is on file instead of what the scenario says, left there so long ago. Raises ConfigError for a
        wiring that no board could have."""
        self._scenario = scenario
        self._clock = VirtualClock(START_S)
        self.sea = Sea(
            scenario.settings, scenario.parameters, seed=seed, now=START_S, on_chip_fault=self._on_chip_fault
        )
        wiring = wiring_of(scenario.settings)
        self.board = EmulatedBoard(
            wiring,
            {address: self._volts(address) for address in wiring.chip_addresses()},
            self._clock,
            on_output=self.sea.set_output,
        )
        for line in wiring.pulses:
            self.board.pins.set_pulse_source(line, self._pulses(line))
        on_file = _before(scenario) if before is None else before
        self.core = Core(scenario.settings, on_file, START_S, boot="rehearsal", simulated=True, off_s=off_s)
        self._world = World()
        self._has_interlock = scenario.settings.interlock is not None
        self._tick = Tick(scenario.settings, self._open_board(), self._clock, self.core, self._world, live=False)
        self._closed: dict[str, bool] = {}
        self._waiting: list[Command] = []
        self._steps = list(scenario.steps)
        self._witnesses = [Witness(expectation) for expectation in scenario.expectations]
        self._fast_until_s = 0.0
        self._rest_turn_s = 0.0
        self._due_s = START_S
        self._keep_samples = keep_samples
        self._sample_due_s = START_S
        self.played = Played()

    def _open_board(self) -> Board:
        """Raises ConfigError for a wiring that no board could have."""
        try:
            return armed(self.board.open(), self._scenario.settings, self._clock)
        except OSError as error:
            found = error.strerror or str(error)
            problem = Problem(self._scenario.file, "settings", found, "a wiring that can be", "choose other pins")
            raise ConfigError([problem]) from None

    def _volts(self, address: int) -> Any:
        return lambda mux, t_s: self.sea.volts(address, mux, t_s)

    def _pulses(self, line: str) -> Any:
        return lambda t_s: float(self.sea.edges(line, t_s)[0])

    def _on_chip_fault(self, name: str, address: int, clear: bool) -> None:
        if clear:
            self.board.bus.clear_fault(name, address)
        elif name == "i2c_stuck":
            self.board.bus.set_fault(name, address, delay_s=STUCK_TRANSFER_S)
        else:
            self.board.bus.set_fault(name, address)

    def give(self, command: Command) -> None:
        """Let a command arrive at the next tick."""
        self._waiting.append(command)

    # ---- playing ------------------------------------------------------------------------------

    def play(self) -> dict[str, Any]:
        """Play to the end; the result as `rehearse --json` prints it. Raises ConfigError for a fault that
        the simulated boat cannot have."""
        began_s = time.perf_counter()
        self.played.states.append({"t": 0.0, "state": self.core.plant.state.value, "why": self.core.why.id})
        self.live_until(self._scenario.duration_s)
        moment = self._moment()
        for witness in self._witnesses:
            witness.finish(moment)
        return self._result(time.perf_counter() - began_s)

    def live_until(self, t_s: float) -> None:
        """Play on to so many seconds after the beginning."""
        while self._due_s < START_S + t_s + TICK_S / 2:
            self._until(self._due_s)
            self._one_tick()
            self._due_s += self._tick.interval_s

    def _until(self, due_s: float) -> None:
        """Let time pass to the next tick. While pressure rises fast the scanner is played at its full pace, and
        a tick comes early when its watch fires; at rest it looks less often: all as aboard."""
        clock, scanner = self._clock, self._tick.scanner
        while clock.now() < due_s - 0.002 and self._is_fast():
            scanner.turn()
            clock.sleep(TURN_PAUSE_S)
            self._live()
            if self._tick.woken.is_set():
                self._tick.woken.clear()
                self._one_tick()
        clock.advance_to(due_s)
        self._live()
        if not self._tick.quiet or due_s >= self._rest_turn_s:
            self._rest_turn_s = due_s + REST_TURN_S - TICK_S / 2
            scanner.turn()

    def _live(self) -> None:
        """Let the boat live until now, the interlock's relay included."""
        self.sea.advance(self._clock.now())
        if self._has_interlock:
            self.sea.set_interlock(self.board.interlock_open(), self._clock.now())

    def _is_fast(self) -> bool:
        return self._clock.now() < self._fast_until_s or self.sea.pressure_rate_bar_s > FAST_BAR_S

    def _one_tick(self) -> None:
        now_s = self._clock.now()
        self._live()
        for line, closed in self.sea.contacts(now_s).items():
            if self._closed.get(line) is not closed:
                self._closed[line] = closed
                self.board.pins.set_contact(line, closed)
        wall_s = self._wall_s(now_s)
        if wall_s is not None:
            self._world.tell_time(wall_s)
        commands = self._waiting + self._due_commands(now_s)
        self._waiting = []
        self._take(self._tick.run(commands, 0), now_s)
        self.sea.ask(self.core.ask(), now_s)
        moment = self._moment()
        for witness in self._witnesses:
            witness.watch(moment)
        if self._keep_samples and now_s >= self._sample_due_s - TICK_S / 2:
            self._sample_due_s += SAMPLE_EVERY_S
            self.played.samples.append(self._sample(moment))

    def _due_commands(self, now_s: float) -> list[Command]:
        commands = []
        while self._steps and START_S + self._steps[0].at_s <= now_s + 1e-9:
            step = self._steps.pop(0)
            if step.fault is not None:
                self._inject(step, now_s)
            else:
                arguments = self._with_time(step.arguments, now_s)
                commands.append(
                    Command(step.command or "", arguments, Origin.CLI, "rehearsal", wall_s=self._wall_s(now_s))
                )
        return commands

    def _wall_s(self, now_s: float) -> float | None:
        """The time of day, where something rests on it: texts that tell it would differ between time zones."""
        if not self._scenario.settings.sequence.automatic_flush:
            return None
        return NOON.timestamp() + now_s - START_S

    @staticmethod
    def _with_time(arguments: Mapping[str, Any], now_s: float) -> dict[str, Any]:
        """`until` counted from a rehearsal's own noon, so that every computer plays the same."""
        resolved, until = dict(arguments), arguments.get("until")
        if isinstance(until, str):
            seconds = seconds_until(until, NOON + timedelta(seconds=now_s - START_S))
            if seconds is not None:
                resolved["until_s"] = seconds
        return resolved

    def _inject(self, step: Step, now_s: float) -> None:
        assert step.fault is not None
        try:
            self.sea.inject(step.fault, now_s, clear=step.clear, **step.arguments)
        except ValueError as error:
            raise ConfigError(
                [Problem(self._scenario.file, "step.fault", step.fault, "what that fault takes", str(error))]
            ) from None
        told = {"fault": step.fault, "clear": step.clear, "arguments": dict(step.arguments)}
        self.played.faults.append({"t": round(now_s - START_S, 3), **told})
        self._fast_until_s = now_s + FAST_AFTER_FAULT_S

    def _take(self, news: News, now_s: float) -> None:
        t_s = round(now_s - START_S, 3)
        played = self.played
        for event in news.events:
            played.events.append({"t": t_s, **event})
            if event["kind"] == "state":
                played.states.append({"t": t_s, "state": event["to"], "why": event["why"]["id"]})
            elif event["kind"] == "alarm":
                played.alarms.append({"t": t_s, "id": event["id"], "to": event["to"], "priority": event["priority"]})
            elif event["kind"] == "command":
                played.commands.append(
                    {
                        "t": t_s,
                        "command": event["command"],
                        "accepted": event["accepted"],
                        "reasons": [words.reason(reason) for reason in event["reasons"]],
                    }
                )
        for command, _retained in news.persist:
            self._waiting.append(command)
        for command in news.simulate:
            self._simulate(command, now_s)

    def _simulate(self, command: Command, now_s: float) -> None:
        arguments = dict(command.arguments)
        name, clear = arguments.pop("fault", None), bool(arguments.pop("clear", False))
        self._inject(Step(now_s - START_S, None, str(name), clear, arguments), now_s)

    # ---- what comes of it ------------------------------------------------------------------------

    def _moment(self) -> Moment:
        now_s = self._clock.now()
        return Moment(now_s - START_S, self.core, lambda: self.sea.truth(now_s))

    def _sample(self, moment: Moment) -> dict[str, Any]:
        last = self.core.last
        assert last is not None
        readings = {name: _rounded(reading.value) for name, reading in last.inputs.readings.items()}
        return {
            "t": round(moment.t_s, 2),
            "state": self.core.plant.state.value,
            **readings,
            "product_tds_mg_l": _rounded(last.tds_mg_l),
            "true_vessel_pressure_bar": _rounded(moment.truth.vessel_pressure_bar),
            "true_product_tds_mg_l": _rounded(moment.truth.product_tds_mg_l),
            "tank_added_l": _rounded(moment.truth.tank_added_l),
            "outputs": " ".join(sorted(self.core.on - {"heartbeat", "buzzer", "beacon"})),
        }

    def _result(self, wall_s: float) -> dict[str, Any]:
        expectations = [witness.report() for witness in self._witnesses]
        played = self.played
        return {
            "title": self._scenario.title,
            "ok": all(expectation["ok"] for expectation in expectations),
            "duration_s": self._scenario.duration_s,
            "wall_s": round(wall_s, 3),
            "expectations": expectations,
            "states": played.states,
            "alarms": played.alarms,
            "commands": played.commands,
            "first_out": self.core.first_out,
            "final_state": self.core.plant.state.value,
            "outputs": {output: output in self.core.on for output in self._scenario.settings.outputs},
            "truth": truth_message(self.sea.truth(self._clock.now())),
        }


def _before(scenario: Scenario) -> RetainedState:
    """What is on file as the rehearsal begins: nothing, or how long the plant has stood since it was flushed well."""
    if scenario.stood_s <= 0:
        return RetainedState()
    return RetainedState(idle_s=scenario.stood_s, way_out_open=True)


def truth_message(truth: Any) -> dict[str, Any]:
    """The accumulated truth, as the result carries it."""
    names = (
        "peak_vessel_pressure_bar",
        "relief_lifted",
        "tank_added_l",
        "tank_worst_tds_mg_l",
        "overboard_l",
        "flush_l",
        "energy_wh",
        "hp_pump_dry_s",
    )
    return {name: _rounded(getattr(truth, name)) for name in names}


def _rounded(value: Any) -> Any:
    return round(value, 4) if isinstance(value, float) else value


def rehearse(scenario: Scenario, seed: int = 1) -> Mapping[str, Any]:
    """Play a scenario; the same scenario and seed give the same result, `wall_s` aside."""
    return ScenarioRunner(scenario, seed).play()
