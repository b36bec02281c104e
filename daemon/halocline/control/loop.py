"""The tick: newest values in, decisions, every output written again, the heartbeat last.

`Tick` is the body that both the real loop and a rehearsal run; `ControlLoop` gives it a thread's rhythm. Neither
opens a file, encodes JSON or waits for anyone: news for housekeeping goes into a bounded queue.
"""

import contextlib
import logging
import queue
import sys
import threading
import time
import traceback
from collections.abc import Callable, Iterable
from typing import Any

from halocline.control.acquisition.board import Board
from halocline.control.acquisition.measurement import Measurement
from halocline.control.acquisition.scanner import Clock, FastWatch, Scanner
from halocline.control.capture import RecentSamples
from halocline.control.core import Core, Outcome
from halocline.control.exchange import News, World
from halocline.control.hmi.snapshot_builder import now_message, row_message
from halocline.control.inputs import Command
from halocline.link.snapshot import SnapshotNow
from halocline.plant.settings import Settings
from halocline.plant.thresholds import GONE_BAR, SWITCH_S, TICK_S, TURN_PAUSE_S
from halocline.plant.vocabulary import AT_REST

NOW_EVERY_S = 0.25
"""Four times a second a number on the page moves smoothly enough; more often would keep a slow phone busy (chosen)."""
ROW_EVERY_S = 1.0
"""The record is one of seconds, with the lowest and highest of each (chosen)."""
NEWS_KEPT = 4000
"""200 s of ticks that all have news: longer than a card stands still (computed; that it is enough: chosen)."""
REST_TURN_S = 0.1
"""At rest the scanner looks so often, and a tick that came sooner would see nothing new: every input comes round in
time, and a small computer may sleep (chosen)."""
ERROR_TOLD = 300
"""Letters of an error that an event carries; all of it stands in the log (chosen)."""

log = logging.getLogger(__name__)


class Tick:
    """One plant's tick, whoever calls it."""

    def __init__(
        self, settings: Settings, board: Board, clock: Clock, core: Core, world: World, *, live: bool = True
    ) -> None:
        self.core = core
        self.world = world
        self.recent = RecentSamples()
        self._board = board
        self._clock = clock
        self._live = live
        self._lines = tuple(settings.outputs)
        self._heartbeat = "heartbeat" in settings.outputs
        self._beat = False
        self._failure = ""
        self._now_due_s = clock.now() + NOW_EVERY_S
        self._row_due_s = clock.now() + ROW_EVERY_S
        self.measurement = Measurement(settings, board, core.plant.calibrating.in_force.channels)
        self.measurement.expect(clock.now(), core.plant.state)
        self.watch = FastWatch(
            settings.limits.vessel_pressure_high_high_bar, self.measurement.judges["vessel_pressure"].instant
        )
        self.woken = threading.Event()
        self.scanner = Scanner(board, settings, clock, self.watch, self.woken.set)

    def run(self, commands: Iterable[Command], missed_ticks: int) -> News:
        """Carry out one tick; whatever goes wrong inside leaves every output off."""
        now_s = self._clock.now()
        try:
            news = self._run(now_s, commands, missed_ticks)
        except Exception as error:  # noqa: BLE001 - an error of ours must never leave a pump running
            self._log(error)
            self.release()
            events = self.core.fail("control_failed", now_s)
            failure = {"kind": "control_failed", "error": repr(error)[:ERROR_TOLD]}
            return News(now_s, events=[failure, *events], retained=self.core.on_file())
        self._failure = ""
        return news

    def _log(self, error: Exception) -> None:
        """Once for each new failure; where in the code only for an error of ours, not for one of the electronics."""
        said = repr(error)
        if said != self._failure:
            where = "" if isinstance(error, OSError) else "\n" + traceback.format_exc()
            log.critical("control failed: %s%s", error, where)
        self._failure = said

    def _run(self, now_s: float, commands: Iterable[Command], missed_ticks: int) -> News:
        core, world = self.core, self.world
        inputs = self.measurement.inputs(
            now_s,
            core.plant.state,
            self.scanner,
            overpressure_bar=self.watch.take_seen(),
            missed_ticks=missed_ticks,
            clock_set=world.clock_set,
            wall_s=world.wall_s,
            supply_voltage_low=world.supply_voltage_low,
            latch_writable=world.latch_writable,
        )
        if self._live:
            self.recent.note(now_s, inputs.readings)
        before = core.plant.state
        outcome = core.tick(inputs, commands)
        self._write(outcome)
        guard = self.scanner.guard
        if guard is not None and core.interlock_may_close:
            guard.ask_release()
        if outcome.calibrations is not None:
            self.measurement.calibrate(outcome.calibrations.channels)
        if core.plant.state is not before:
            self.measurement.expect(now_s, core.plant.state)
        return self._news(now_s, outcome)

    def _write(self, outcome: Outcome) -> None:
        """Every output again, what is to be off first; the heartbeat only once all of it has worked."""
        wanted = outcome.outputs
        with self._board.together():
            for line in self._lines:
                if line not in wanted and line != "heartbeat":
                    self._board.write(line, False)
            for line in self._lines:
                if line in wanted and line != "heartbeat":
                    self._board.write(line, True)
            if self._heartbeat:
                self._beat = not self._beat and "heartbeat" in wanted
                self._board.write("heartbeat", self._beat)

    def _news(self, now_s: float, outcome: Outcome) -> News:
        return News(
            now_s,
            outcome.events,
            outcome.answers,
            outcome.retained,
            outcome.persist,
            now=self._snapshot(now_s, outcome),
            row=self._row(now_s),
            simulate=outcome.simulate,
        )

    def _snapshot(self, now_s: float, outcome: Outcome) -> SnapshotNow | None:
        """The live snapshot where it is due; at once where something happened."""
        core, last = self.core, self.core.last
        due = now_s >= self._now_due_s - TICK_S / 2 or outcome.events
        if not self._live or not due or last is None:
            return None
        self._now_due_s = now_s + NOW_EVERY_S
        return now_message(core.plant, core.decisions, last)

    def _row(self, now_s: float) -> dict[str, Any] | None:
        """The row of the record where it is due."""
        core, last = self.core, self.core.last
        if not self._live or now_s < self._row_due_s or last is None:
            return None
        self._row_due_s = max(self._row_due_s + ROW_EVERY_S, now_s)
        return row_message(core.plant, last, self.measurement.take_statistics())

    @property
    def quiet(self) -> bool:
        """Whether the plant is at rest and without pressure, so that a look now and then will do."""
        at_rest = self.core.plant.state in AT_REST
        last = self.core.last
        return at_rest and (last is None or last.pressure_bar is None or last.pressure_bar < GONE_BAR)

    @property
    def interval_s(self) -> float:
        """When the next tick is due after this one."""
        return REST_TURN_S if self.quiet else TICK_S

    def release(self) -> None:
        """Every output off, as far as each will let itself be switched."""
        for line in self._lines:
            with contextlib.suppress(Exception):
                self._board.write(line, False)


class ControlLoop:
    """Runs the tick at 20 Hz (10 Hz at rest) in the calling thread and the scanner in another, until told to stop."""

    def __init__(self, tick: Tick, clock: Clock, on_good_tick: Callable[[], None]) -> None:
        self._tick = tick
        self._clock = clock
        self._on_good_tick = on_good_tick
        self._stopping = threading.Event()
        self.commands: queue.SimpleQueue[Command] = queue.SimpleQueue()
        self.news: queue.Queue[News] = queue.Queue(NEWS_KEPT)
        self.lost_news = 0
        self._scanning = threading.Thread(target=self._scan, name="scanner", daemon=True)

    def run(self) -> None:
        """Tick until `stop`; leaves every output off."""
        sys.setswitchinterval(SWITCH_S)
        self._scanning.start()
        due_s = self._clock.now()
        try:
            while not self._stopping.is_set():
                due_s += self._tick.interval_s
                woken = self._tick.woken.wait(max(0.0, due_s - self._clock.now()))
                self._tick.woken.clear()
                late_s = self._clock.now() - due_s
                missed = max(0, int(late_s / TICK_S))
                if woken:
                    due_s = self._clock.now()
                elif missed:
                    due_s += missed * TICK_S
                self._once(missed)
        finally:
            self._tick.release()

    def _once(self, missed: int) -> None:
        commands = []
        while not self.commands.empty():
            commands.append(self.commands.get_nowait())
        news = self._tick.run(commands, missed)
        if not any(event.get("kind") == "control_failed" for event in news.events):
            self._on_good_tick()
        if news.empty:
            return
        try:
            self.news.put_nowait(news)
        except queue.Full:
            self.lost_news += 1

    def stop(self) -> None:
        """End the loop at its next wake-up."""
        self._stopping.set()
        self._tick.woken.set()

    def _scan(self) -> None:
        """Turn after turn under pressure; slowly at rest."""
        while not self._stopping.is_set():
            self._tick.scanner.turn()
            if self._tick.quiet:
                self._stopping.wait(REST_TURN_S)
            else:
                time.sleep(TURN_PAUSE_S)  # too short for a stop to wait for, and half the cost of a wait for one
