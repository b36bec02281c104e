"""Control's decisions: one tick in, outputs and news out. No clock, no thread, no file.

The order within a tick is fixed: see the situation, take commands, judge the water, judge the causes, step the
sequence, work out the outputs of the new state.
"""

import math
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from halocline.control.annunciation import Annunciator
from halocline.control.commands import Decisions, Orders
from halocline.control.conditions import GONE_BAR, HAND_BAR, PUMP_PROOF_BAR, Notes, feed_is_low_low, is_sucking
from halocline.control.inputs import Command, Inputs, Reason, sane
from halocline.control.latch import Latch, Purge
from halocline.control.permission import FLUSH_BELOW_BAR, Context, tank_ceiling_l
from halocline.control.quality import QualityJudge
from halocline.control.run import Flush, Need, Run
from halocline.control.sequence import next_state, outputs
from halocline.control.situation import Clocks, Observer, Situation, wetted_flow_l_h
from halocline.control.timing import Held, Steady
from halocline.plant.alarms import Cause, Effect
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import Ask, State

PUMPING = frozenset({State.PRESSURISING, State.DIVERTING, State.PRODUCING})
RUNNING = PUMPING | {State.PRIMING}
RINSE_BELOW_BAR = 7.0
RUN_DOWN_S = 1.0
DISOBEYS_AFTER_S = 3.0
DISOBEYS_FRACTION = 0.8
UNSTEADY_FEED_BAR = 0.35
STEADY_FEED_BAR = 0.2
SWITCH_WAIT_S = 300.0
SWITCHED_BEFORE_S = 1.0
BENCH_FEED_S = 10.0
IDLE_NOTE_S = 900.0
UNKNOWN_IDLE_S = 7 * 86400.0 + 1.0
"""Time off that nobody measured counts as a week: the longest that fresh-flushed water may stand."""
PURGE_NOTE_L = 1.0
PURGE_NOTE_S = 15.0
STOP_AT_ONCE = frozenset({"feed_pressure_unsteady", "motor_too_warm"})
BREAKS_WITHIN_S = 1800.0


@dataclass(slots=True)
class Outcome:
    """What one tick decided.

    latch: set when what must survive a restart has changed. persist: commands to be given again, marked as
    persisted, once the latch beside them is on file. simulate: faults for a simulated boat.
    """

    outputs: frozenset[str]
    events: list[dict[str, Any]] = field(default_factory=list)
    answers: list[tuple[str, bool, list[Reason]]] = field(default_factory=list)
    latch: Latch | None = None
    persist: list[tuple[Command, Latch]] = field(default_factory=list)
    simulate: list[Command] = field(default_factory=list)


class Core:
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
    ) -> None:
        self.settings = settings
        self.latch = replace(latch, clean_stop=True)
        self.boot = boot
        self.simulated = simulated
        self.state = State.LAID_UP if latch.laid_up else State.STANDBY
        self.state_since_s = now_s
        self.first_out: str | None = latch.first_out
        self.why = Reason("switched_on")
        self.last_end: Reason | None = None
        self.run: Run | None = None
        self.flush: Flush | None = None
        self.quality = QualityJudge()
        self.notes = Notes()
        self.alarms = Annunciator({"feed_pressure_low_low": settings.limits.feed_pressure_low_low_s})
        self.clocks = Clocks()
        self.started_up_s = now_s
        self.last: Situation | None = None
        self.decisions = Decisions(self)
        self.rearm_until_s = now_s + 10.0
        self._observer = Observer(settings)
        self._held = Held()
        self._settled = Steady(band=1.0)
        self._feed_steady = Steady(band=0.2)
        self._feed_recent: deque[tuple[float, float]] = deque()
        self._pump_off_at_s = -math.inf
        self._pump_on_at_s = -math.inf
        self._feed_on_at_s = -math.inf
        self._on: frozenset[str] = frozenset()
        self.on: frozenset[str] = frozenset()
        self._totals_l: float | None = None
        self._turning_at_s: float | None = None
        self._rinsing_at_s = -math.inf
        self._button_pressed: bool | None = None
        self._noted: Latch | None = _coarse(latch)
        self._pressure_at_trip_bar = 0.0
        self._feed_dry = False
        self._regulator_wait_over = True
        self._breaks_s: deque[float] = deque()
        self._tds_recent: deque[tuple[float, float]] = deque()
        self.bench: tuple[str, float] | None = None
        self.pump_starts_s: deque[float] = deque(now_s - ago_s - (off_s or 0.0) for ago_s in latch.pump_starts_ago_s)
        self.motor_worked_s = 0.0
        self.idle_since_s = now_s - (UNKNOWN_IDLE_S if off_s is None else (latch.idle_s or 0.0) + off_s)
        self.laid_up_since_s = now_s
        self.person_seen_s = -math.inf
        self._restore(latch, now_s)

    def _restore(self, latch: Latch, now_s: float) -> None:
        if latch.trips:
            self.state = State.TRIPPED
            self.why = Reason("tripped_before_restart")
            for cause in latch.trips:
                self.alarms.restore(cause, now_s)
        if not latch.clean_stop:
            self.notes.set("restarted_unexpectedly")

    # ---- one tick ---------------------------------------------------------------------------

    def tick(self, inputs: Inputs, commands: Iterable[Command] = ()) -> Outcome:
        """Decide on one set of inputs; `inputs.now_s` never runs backwards."""
        inputs = sane(inputs, self._totals_l or 0.0)
        previous_s = self.last.now_s if self.last else inputs.now_s
        now = self._observer.situation(inputs, self.state, inputs.now_s - self.state_since_s)
        self._keep_clocks(now, inputs.now_s - previous_s)
        now.clocks = self.clocks
        self.last = now
        orders = self.decisions.take(commands, now)
        self.quality.take(now, self._purge_question())
        self._note(now)
        holding = self.alarms.judge(now, self.notes)
        facts = self._facts(now, orders, holding)
        events = list(orders.events)
        to, fact = next_state(self.state, facts)
        if fact is not None:
            events.extend(self._enter(to, fact, now, orders, holding))
        self._on = self._outputs(now)
        self._follow_outputs(now)
        self._remember(now)
        events.extend(self._alarm_events())
        return Outcome(
            outputs=self._with_signals(now.now_s),
            events=events,
            answers=orders.answers,
            latch=self._latch_to_note(taken_back=orders.taken_back),
            persist=orders.persist,
            simulate=orders.simulate,
        )

    def safe(self, cause: str, now_s: float) -> list[dict[str, Any]]:
        """An error inside control itself: trip without asking the table. Returns the events."""
        came_from, self.why = self.state, Reason(cause)
        self.first_out = self.first_out or cause
        self.alarms.restore(cause, now_s)
        events: list[dict[str, Any]] = []
        if came_from is not State.TRIPPED:
            self.state, self.state_since_s = State.TRIPPED, now_s
            self._pressure_at_trip_bar = (self.last.pressure_bar if self.last else None) or 0.0
            events.append(
                {"kind": "state", "from": came_from.value, "to": self.state.value, "why": self.why.as_message()}
            )
        if self.run:
            self.run.ended_by = self.last_end = self.why
            events.append({"kind": "run_ended", "run": self.run.summary(now_s, self.first_out)})
        if self._driven():
            self._pump_off_at_s = now_s
        self.run = self.flush = None
        self._on = self.on = frozenset()
        self.latch = replace(self.latch, trips=self._trips(), first_out=self.first_out)
        self._noted = None
        return events + self._alarm_events()

    def _trips(self) -> tuple[str, ...]:
        return tuple(sorted(alarm.cause.id for alarm in self.alarms.trips))

    def _latch_to_note(self, *, taken_back: bool) -> Latch | None:
        """The latch when the file is to be renewed: at every change, while a purge runs only now and then."""
        coarse = _coarse(self.latch)
        if coarse == self._noted and not taken_back:
            return None
        self._noted = coarse
        return self.latch

    # ---- clocks and notes -------------------------------------------------------------------

    def _keep_clocks(self, now: Situation, elapsed_s: float) -> None:
        clocks, now_s, inputs = self.clocks, now.now_s, now.inputs
        pump_on = self._driven()
        feed_on = "feed_pump" in self._on
        clocks.to_tank = "product_to_tank" in self._on
        clocks.prime_s = self.prime_s()
        clocks.pump_on_s = now_s - self._pump_on_at_s if pump_on else -1.0
        clocks.pump_off_s = -1.0 if pump_on else now_s - self._pump_off_at_s
        clocks.feed_pump_on_s = now_s - self._feed_on_at_s if feed_on else -1.0
        clocks.run_s = now_s - self.run.started_s if self.run else -1.0
        clocks.idle_s = now_s - self.idle_since_s
        clocks.laid_up_s = now_s - self.laid_up_since_s
        clocks.since_up_s = now_s - self.started_up_s
        clocks.unattended_s = now_s - max(self.person_seen_s, self.run.started_s if self.run else now_s)
        if pump_on:
            self.motor_worked_s += elapsed_s
            clocks.peak_since_pump_bar = max(clocks.peak_since_pump_bar, now.pressure_bar or 0.0)
        elif clocks.pump_off_s > 900:
            self.motor_worked_s = 0.0
        first = self.quality.first_water
        clocks.working_s = first.seconds(now_s)
        clocks.working_product_l = first.product_l(inputs.product_total_l)
        if self.state is not State.DIVERTING:
            clocks.diverting_s = -1.0
        elif self.latch.purge is None:
            clocks.diverting_s = max(0.0, clocks.diverting_s) + elapsed_s
        while self._breaks_s and now_s - self._breaks_s[0] > BREAKS_WITHIN_S:
            self._breaks_s.popleft()
        clocks.quality_breaks = len(self._breaks_s)
        product_l = inputs.product_total_l - (inputs.product_total_l if self._totals_l is None else self._totals_l)
        self._totals_l = inputs.product_total_l
        if self.run:
            self.run.count(now, elapsed_s, max(0.0, product_l), pump_on)
        if self.flush:
            self.flush.count(now, elapsed_s)
        self._see_pump_turn(now, pump_on)
        self._see_person(now)
        self._count_purge(now, elapsed_s)

    def _driven(self) -> bool:
        """Whether the high-pressure pump is on or, with nothing of ours to switch it, asked to be."""
        watched = self.settings.drive.pump == "watch_only" and self.state in PUMPING
        return watched or "high_pressure_pump" in self._on

    def _see_pump_turn(self, now: Situation, pump_on: bool) -> None:
        clocks, now_s = self.clocks, now.now_s
        if self.rinsing():
            self._rinsing_at_s = now_s
        clocks.loaded_s = min(clocks.pump_on_s, now_s - self._rinsing_at_s) if pump_on else -1.0
        if not pump_on:
            self._turning_at_s = None
        elif self._turning_at_s is None and self._is_turning(now):
            self._turning_at_s = self._pump_on_at_s if self.settings.drive.pump == "relay" else now_s
        clocks.turning_s = -1.0 if self._turning_at_s is None else now_s - self._turning_at_s

    def _is_turning(self, now: Situation) -> bool:
        """Our relay turns the pump at once; behind a switch of its own only pressure shows that it turns."""
        if self.settings.drive.pump == "relay":
            return True
        proof_bar = min(HAND_BAR, self.clocks.pressure_before_pump_bar + PUMP_PROOF_BAR)
        return now.pressure_bar is not None and now.pressure_bar > proof_bar

    def _see_person(self, now: Situation) -> None:
        """Somebody is there when the button goes down; one that stays down is a broken wire."""
        pressed = now.active("plant_button")
        if pressed and self._button_pressed is False:
            self.person_seen_s = now.now_s
        self._button_pressed = pressed

    def _count_purge(self, now: Situation, elapsed_s: float) -> None:
        purge = self.latch.purge
        if purge is None or not self._driven() or now.pressure_bar is None:
            return
        turned = self.clocks.peak_since_pump_bar >= self.clocks.pressure_before_pump_bar + PUMP_PROOF_BAR
        flowing = now.flow_l_h is not None and now.flow_l_h >= wetted_flow_l_h(self.settings)
        if self.state is State.PRESSURISING and now.pressure_bar < RINSE_BELOW_BAR and turned:
            rinsed_l = purge.rinsed_l + elapsed_s * self.settings.plant.feed_flow_l_h / 3600
            self.latch = replace(self.latch, purge=replace(purge, rinsed_l=rinsed_l))
        elif self.state is State.DIVERTING and flowing:
            self.latch = replace(self.latch, purge=replace(purge, left_s=max(0.0, purge.left_s - elapsed_s)))

    def rinse_l(self) -> float:
        """Low-pressure rinse that a purge begins with."""
        return self.settings.sequence.rinse_volumes * self.settings.plant.wetted_volume_l

    def rinsing(self) -> bool:
        """Whether a purge is owed whose rinse is not done."""
        return self.latch.purge is not None and self.latch.purge.rinsed_l < self.rinse_l()

    def _purge_question(self) -> Reason | None:
        purge = self.latch.purge
        if purge is None:
            return None
        if purge.left_s > 0:
            return Reason("purge_running", {"of": purge.of, "seconds": purge.left_s})
        return Reason("purge_to_confirm", {"of": purge.of})

    def _note(self, now: Situation) -> None:
        if self.state is State.PRODUCING and self.quality.lost:
            lost = self.quality.lost[0]
            if lost.id == "tds_high":
                self.notes.set("quality_lost", lost.values)
        elif self.quality.held_s >= 0 or self.state not in PUMPING:
            self.notes.clear("quality_lost")
        self._note_tds_falling(now)
        self._note_unsteady_feed(now)
        full_s = self._held.seconds("tank_full", self._level_full(now), now.now_s)
        if full_s >= 30.0:
            self.notes.set("tank_full", {"percent": now.value("tank_level")})
        elif full_s < 0:
            self.notes.clear("tank_full")

    def _level_full(self, now: Situation) -> bool:
        level = now.value("tank_level")
        return level is not None and level >= self.settings.limits.tank_full_percent

    def _note_tds_falling(self, now: Situation) -> None:
        """Salt that falls by a tenth a minute is first water on its way out, not a torn membrane."""
        recent = self._tds_recent
        if now.tds_mg_l is None or self.state not in PUMPING:
            recent.clear()
            self.notes.clear("tds_falling")
            return
        if not recent or now.now_s - recent[-1][0] >= 5.0:
            recent.append((now.now_s, now.tds_mg_l))
        while now.now_s - recent[0][0] > 60.0:
            recent.popleft()
        if now.tds_mg_l < 0.9 * recent[0][1]:
            self.notes.set("tds_falling")
        else:
            self.notes.clear("tds_falling")

    def _note_unsteady_feed(self, now: Situation) -> None:
        """Air in the suction makes the feed pressure jump about within seconds."""
        recent = self._feed_recent
        if now.feed_bar is None or self.state not in PUMPING:
            recent.clear()
            self.notes.clear("feed_unsteady")
            return
        recent.append((now.now_s, now.feed_bar))
        while now.now_s - recent[0][0] > 3.0:
            recent.popleft()
        span_bar = max(bar for _, bar in recent) - min(bar for _, bar in recent)
        if span_bar > UNSTEADY_FEED_BAR:
            self.notes.set("feed_unsteady", {"span_bar": span_bar, "limit_bar": UNSTEADY_FEED_BAR})
        elif span_bar < STEADY_FEED_BAR:
            self.notes.clear("feed_unsteady")

    # ---- facts ------------------------------------------------------------------------------

    def _facts(self, now: Situation, orders: Orders, holding: list[Cause]) -> dict[str, bool]:
        effects = {cause.effect for cause in holding}
        facts = dict.fromkeys(orders.accepted, True)
        facts["trip"] = Effect.TRIP in effects
        facts["stop"] = orders.stop or Effect.STOP in effects
        if self.state is State.STANDBY:
            facts["unbidden_pressure"] = self._unbidden(now)
        elif self.state is State.PRIMING:
            facts["primed"] = self._primed(now)
        elif self.state is State.PRESSURISING:
            facts["raise_timeout"] = self._raise_timeout(now) is not None
            facts["settled"] = self._is_settled(now)
        elif self.state is State.DIVERTING:
            facts["quality_held"] = self.quality.held_s >= self.settings.sequence.quality_hold_s and (
                Effect.DIVERT not in effects
            )
        elif self.state is State.PRODUCING:
            facts["quality_lost"] = bool(self.quality.lost) or Effect.DIVERT in effects or self.latch.purge is not None
            facts["target_reached"] = self._need_met(now) is not None
        elif self.state is State.STOPPING:
            gone = self._pressure_gone(now)
            facts["depressurised"] = gone
            facts["depressurised_to_flush"] = gone and self._flush_wanted(now)
        elif self.state is State.FLUSHING and self.flush:
            facts["flush_complete"] = self.flush.litres >= self.flush.wanted_l
            facts["flush_failed"] = self.flush.failure(now) is not None
        elif self.state is State.HAND_RUN:
            facts["pressure_gone"] = self._held.seconds("hand_gone", self._below(now, GONE_BAR), now.now_s) >= 2.0
        elif self.state is State.BENCH:
            facts["bench_over"] = self._bench_over(now)
        elif self.state is State.TRIPPED and self.latch.laid_up and facts.pop("reset_accepted", False):
            facts["lay_up_accepted"] = True
        return facts

    @staticmethod
    def _below(now: Situation, limit_bar: float) -> bool:
        return now.pressure_bar is not None and now.pressure_bar < limit_bar

    def _unbidden(self, now: Situation) -> bool:
        """Pressure that nobody commanded; what is only left over from before falls by itself."""
        above = now.pressure_bar is not None and (
            now.pressure_bar > HAND_BAR or (now.pressure_bar > GONE_BAR and is_sucking(now))
        )
        just_off = min(now.clocks.since_up_s, now.clocks.pump_off_s) < 15.0
        falling = now.rate_bar_s is None or now.rate_bar_s < -0.5 or now.clocks.pump_off_s < 2 * RUN_DOWN_S
        left_over = just_off and falling
        return self._held.seconds("unbidden", above and not left_over, now.now_s) >= 0.2

    def _still_turns(self, now: Situation) -> bool:
        return not self._below(now, GONE_BAR) or is_sucking(now)

    def _primed(self, now: Situation) -> bool:
        enough = self._feed_is_enough(now)
        steady_s = self._feed_steady.seconds(now.feed_bar if enough else None, now.now_s)
        return enough and steady_s >= self.prime_s()

    def prime_s(self) -> float:
        """How long the feed has to be steady before the high-pressure pump: longer after air was let in."""
        sequence = self.settings.sequence
        return sequence.prime_after_opening_s if self.latch.circuit_opened else sequence.prime_s

    def _feed_is_enough(self, now: Situation) -> bool:
        return now.feed_bar is not None and now.feed_bar >= self.settings.limits.feed_pressure_start_bar

    def _raise_timeout(self, now: Situation) -> Reason | None:
        drive, sequence, clocks = self.settings.drive, self.settings.sequence, now.clocks
        if drive.pump != "relay" and clocks.turning_s < 0 and now.in_state_s > SWITCH_WAIT_S:
            return Reason("pump_not_switched_on", {"seconds": SWITCH_WAIT_S})
        if (
            drive.pump == "permissive"
            and clocks.turning_s >= 0
            and clocks.pump_on_s - clocks.turning_s <= SWITCHED_BEFORE_S
        ):
            return Reason("unbidden_pressure")
        rinse_s = self.latch.purge.rinsed_l / self.settings.plant.feed_flow_l_h * 3600 if self.latch.purge else 0.0
        too_long = now.in_state_s - rinse_s > sequence.raise_limit_s
        if too_long and self.rinsing():
            return Reason("pressure_present", {"pressure_bar": now.pressure_bar, "limit_bar": RINSE_BELOW_BAR})
        if too_long and drive.regulator == "hand_each_run":
            return Reason("pressure_not_set", {"seconds": sequence.raise_limit_s})
        return None

    def _is_settled(self, now: Situation) -> bool:
        steady_s = self._settled.seconds(now.pressure_bar, now.now_s)
        reached = now.pressure_bar is not None and now.pressure_bar >= now.expectation.working_minimum_bar
        return reached and steady_s >= self.settings.sequence.settle_s and not self.rinsing()

    def _need_met(self, now: Situation) -> Reason | None:
        return self.run.need.met(self.run, now.now_s, self.run.ceiling_l) if self.run else Reason("no_run")

    def _pressure_gone(self, now: Situation) -> bool:
        pump_off = "high_pressure_pump" not in self._on and now.clocks.pump_off_s >= RUN_DOWN_S
        return self._held.seconds("gone", pump_off and self._below(now, GONE_BAR), now.now_s) >= 0.5

    def _flush_wanted(self, now: Situation) -> bool:
        """Owed and allowed; for what pressure is still left the flush itself waits."""
        against = self.decisions.refused("flush", now, ignoring_state=True)
        return self.latch.flush_owed and all(reason.id == "pressure_present" for reason in against)

    def _bench_over(self, now: Situation) -> bool:
        if self.bench is None or not self._below(now, HAND_BAR):
            return True
        output, seconds = self.bench
        if output != "high_pressure_pump":
            return now.in_state_s >= seconds
        if now.clocks.pump_on_s < 0:
            return now.in_state_s >= self.settings.sequence.prime_limit_s + BENCH_FEED_S
        return now.clocks.pump_on_s >= seconds or not self._feed_is_enough(now)

    def _bench_conditions(self, now: Situation) -> dict[str, bool]:
        if self.state is not State.BENCH or self.bench is None:
            return {}
        if self.bench[0] != "high_pressure_pump":
            return {f"bench_{self.bench[0]}": True}
        fed = "feed_pump" in self._on and self._feed_is_enough(now)
        fed_s = self._held.seconds("bench_feed", fed, now.now_s)
        return {
            "bench_feed_pump": True,
            "bench_inverter_enable": True,
            "bench_high_pressure_pump": fed_s >= BENCH_FEED_S,
        }

    # ---- entering a state ------------------------------------------------------------------------

    def _enter(
        self, to: State, fact: str, now: Situation, orders: Orders, holding: list[Cause]
    ) -> list[dict[str, Any]]:
        came_from, self.why = self.state, self._why(fact, now, orders, holding)
        events: list[dict[str, Any]] = []
        if to is State.TRIPPED or fact == "stop":
            self._note_first_out(Effect.TRIP if to is State.TRIPPED else Effect.STOP, holding)
        if came_from is State.PRODUCING and to is State.DIVERTING:
            self._breaks_s.append(now.now_s)
        if to is State.PRIMING:
            events.append(self._begin_run(now, orders.command("start")))
        if to is State.PRESSURISING:
            self._begin_pressure(now)
        if to is State.STOPPING and self.run:
            self.run.ended_by = self.why
            self._regulator_wait_over = False
        if to is State.TRIPPED:
            self._pressure_at_trip_bar = now.pressure_bar or 0.0
            self._feed_dry = self.why.id in ("feed_pressure_low_low", "feed_pressure_not_reached")
            self.latch = replace(self.latch, first_out=self.first_out)
        if self.run and to in (State.TRIPPED, State.FLUSHING, State.STANDBY):
            self.run.ended_by = self.run.ended_by if to is not State.TRIPPED and self.run.ended_by else self.why
            self.last_end = self.run.ended_by
            events.append({"kind": "run_ended", "run": self.run.summary(now.now_s, self.first_out)})
        if came_from is State.FLUSHING and self.flush:
            events.append(self._end_flush(fact, now))
        if to is State.FLUSHING:
            command = orders.command("flush")
            self._begin_flush(now, command.arguments.get("litres") if command else None)
        if to not in RUNNING and to is not State.STOPPING:
            self.run = None
        if came_from is State.TRIPPED:
            self._let_go(now)
        elif to is State.LAID_UP:
            self.laid_up_since_s = now.now_s
        self.state, self.state_since_s = to, now.now_s
        events.insert(0, {"kind": "state", "from": came_from.value, "to": to.value, "why": self.why.as_message()})
        return events

    def _note_first_out(self, effect: Effect, holding: list[Cause]) -> None:
        causes = [cause.id for cause in holding if cause.effect is effect]
        if causes and self.first_out is None:
            self.first_out = causes[0]

    def _let_go(self, now: Situation) -> None:
        self.alarms.reset()
        self.first_out = None
        self.rearm_until_s = now.now_s + 10.0
        self.latch = replace(self.latch, trips=(), first_out=None)

    def _why(self, fact: str, now: Situation, orders: Orders, holding: list[Cause]) -> Reason:
        effect = {"trip": Effect.TRIP, "stop": Effect.STOP, "quality_lost": Effect.DIVERT}.get(fact)
        for cause in holding:
            if cause.effect is effect:
                alarm = self.alarms.get(cause.id)
                return Reason(cause.id, alarm.values if alarm else {})
        if fact == "stop":
            return Reason("stop_command", {"who": orders.who})
        if fact == "quality_lost" and self.quality.lost:
            return self.quality.lost[0]
        if fact == "target_reached":
            return self._need_met(now) or Reason("target_reached")
        if fact == "raise_timeout":
            return self._raise_timeout(now) or Reason("pressure_not_set")
        if fact == "flush_failed" and self.flush:
            return self.flush.failure(now) or Reason("flush_failed")
        return Reason(fact)

    def _begin_run(self, now: Situation, command: Command | None) -> dict[str, Any]:
        arguments = dict(command.arguments) if command else {}
        minutes, until_s = arguments.get("minutes"), arguments.get("until_s")
        need = Need(
            litres=arguments.get("litres"),
            producing_s=None if minutes is None else minutes * 60.0,
            deadline_s=None if until_s is None else now.now_s + until_s,
        )
        number = self.latch.run_number + 1
        self.latch = replace(self.latch, run_number=number, clean_stop=False)
        self.run = Run(f"{self.boot}-{number}", need, now.now_s, tank_ceiling_l(now), arguments)
        self.first_out = None
        self._feed_steady = Steady(band=0.2)
        self.notes.clear("flush_failed")
        self.notes.clear("restarted_unexpectedly")
        self._breaks_s.clear()
        return {
            "kind": "run_started",
            "run": {"id": self.run.id, "why": arguments, "target_l": need.litres},
        }

    def _begin_pressure(self, now: Situation) -> None:
        self._settled = Steady(band=1.0)
        self.clocks.pressure_before_pump_bar = now.pressure_bar or 0.0
        self.clocks.peak_since_pump_bar = 0.0

    def _begin_flush(self, now: Situation, litres: float | None) -> None:
        run_id = self.run.id if self.run else None
        wanted_l = self.settings.sequence.flush_l if litres is None else litres
        self.flush = Flush(wanted_l, now.now_s, run_id, now.inputs.flush_total_l)

    def _end_flush(self, fact: str, now: Situation) -> dict[str, Any]:
        flush, self.flush = self.flush, None
        complete = fact == "flush_complete"
        assert flush is not None
        if complete and flush.wanted_l >= self.settings.sequence.flush_l:
            self.latch = replace(self.latch, flush_owed=False)
            self.idle_since_s = now.now_s
            self.notes.clear("flush_failed")
        elif fact == "flush_failed":
            self.notes.set("flush_failed", {**self.why.values, "why": self.why.id})
        return {"kind": "flush_ended", **flush.summary(now.now_s, complete)}

    # ---- outputs ----------------------------------------------------------------------------

    def _outputs(self, now: Situation) -> frozenset[str]:
        conditions = {
            "pump_permitted": self.settings.drive.pump != "watch_only",
            "unloaded_start_over": self._unloaded_start_over(now),
            "waiting_for_regulator": self.state is State.STOPPING and self._wait_for_regulator(now),
            "feed_needed": self._feed_needed(now),
            "pump_disobeys": self.state is State.TRIPPED and self._pump_disobeys(now),
            "flush_valve_may_open": self.state is State.FLUSHING and self._flush_valve_open(now),
            **self._bench_conditions(now),
        }
        return outputs(self.state, conditions) & frozenset(self.settings.outputs)

    def _unloaded_start_over(self, now: Situation) -> bool:
        return now.clocks.turning_s > self.settings.sequence.regulator_check_s and not self.rinsing()

    def _wait_for_regulator(self, now: Situation) -> bool:
        """A stop keeps the pump on while a hand (or the release valve) lets the pressure go, but not for long."""
        if self._regulator_wait_over:
            return False
        by_hand = self.settings.drive.regulator == "hand_each_run"
        limit_s = self.settings.sequence.stop_open_s if by_hand else 5.0
        unloads = by_hand or "pressure_release" in self.settings.outputs
        waiting = (
            unloads
            and "high_pressure_pump" in self._on
            and now.now_s - self.state_since_s < limit_s
            and now.pressure_bar is not None
            and now.pressure_bar > HAND_BAR
            and self.why.id not in STOP_AT_ONCE
            and not self._feed_forbidden(now)
        )
        self._regulator_wait_over = not waiting
        return waiting

    def _feed_needed(self, now: Situation) -> bool:
        """Feed before, feed after: never take the feed from a pump that may still turn."""
        if self._feed_forbidden(now):
            return False
        return self.state is State.HAND_RUN or (
            self.state is State.STOPPING
            and (
                "high_pressure_pump" in self._on or not self._below(now, GONE_BAR) or now.clocks.pump_off_s < RUN_DOWN_S
            )
        )

    def _feed_forbidden(self, now: Situation) -> bool:
        if "feed_pump" in self._on and feed_is_low_low(now) and self.state in (State.TRIPPED, State.STOPPING):
            self._feed_dry = True
        elif self.state not in (State.TRIPPED, State.STOPPING):
            self._feed_dry = False
        return self._feed_dry or now.active("bilge_wet") or now.active("stop_button")

    def _pump_disobeys(self, now: Situation) -> bool:
        """A tripped pump whose pressure does not fall is still turning: better fed than dry."""
        if now.pressure_bar is None or self._feed_forbidden(now):
            return False
        if "feed_pump" in self._on and self.state_since_s < now.now_s:
            return now.pressure_bar > GONE_BAR
        return now.clocks.pump_off_s > DISOBEYS_AFTER_S and now.pressure_bar > max(
            GONE_BAR, DISOBEYS_FRACTION * self._pressure_at_trip_bar
        )

    def _flush_valve_open(self, now: Situation) -> bool:
        """Opens only without pressure; once open it stays so, for pressure behind a closed valve has nowhere to go."""
        if self.flush is None:
            return False
        if self.flush.valve_open_s < 0 and self._below(now, FLUSH_BELOW_BAR):
            self.flush.valve_open_s = 0.0
        return self.flush.valve_open_s >= 0

    def _follow_outputs(self, now: Situation) -> None:
        now_s, before = now.now_s, self.clocks
        pump_was_on, feed_was_on = before.pump_on_s >= 0, before.feed_pump_on_s >= 0
        pump_on, feed_on = self._driven(), "feed_pump" in self._on
        if pump_on and not pump_was_on:
            self._pump_on_at_s = now_s
            before.pressure_before_pump_bar = now.pressure_bar or 0.0
            before.peak_since_pump_bar = 0.0
            self.pump_starts_s.append(now_s)
        if pump_was_on and not pump_on:
            self._pump_off_at_s = now_s
        if feed_on and not feed_was_on:
            self._feed_on_at_s = now_s
        before.pump_on_s = now_s - self._pump_on_at_s if pump_on else -1.0
        before.feed_pump_on_s = now_s - self._feed_on_at_s if feed_on else -1.0
        while self.pump_starts_s and now_s - self.pump_starts_s[0] > self.settings.sequence.motor_starts_window_s:
            self.pump_starts_s.popleft()

    def _remember(self, now: Situation) -> None:
        """What has to survive a restart: owed flush and purge, and whether the plant was at rest."""
        latch = self.latch
        salted = self.state is State.HAND_RUN or (now.pressure_bar is not None and now.pressure_bar > HAND_BAR)
        if salted and not latch.flush_owed:
            latch = replace(latch, flush_owed=True)
        if self.state is State.LAID_UP and now.pressure_bar is not None and now.pressure_bar > HAND_BAR:
            latch = replace(latch, purge=self.new_purge(latch.laid_up_with or "preservative"))
        if self.state is State.PRODUCING and latch.circuit_opened:
            latch = replace(latch, circuit_opened=False)
        if self.state is State.TRIPPED and latch.trips != self._trips():
            latch = replace(latch, trips=self._trips())
        if abs(self.clocks.idle_s - (latch.idle_s or 0.0)) >= IDLE_NOTE_S:
            latch = replace(latch, idle_s=round(self.clocks.idle_s))
        if len(self.pump_starts_s) != len(latch.pump_starts_ago_s):
            latch = replace(latch, pump_starts_ago_s=tuple(round(now.now_s - at_s) for at_s in self.pump_starts_s))
        at_rest = self.state in (State.STANDBY, State.TRIPPED, State.LAID_UP, State.BENCH)
        if at_rest != latch.clean_stop:
            latch = replace(latch, clean_stop=at_rest)
        self.latch = latch

    def new_purge(self, of: str) -> Purge:
        """A purge not yet begun."""
        sequence = self.settings.sequence
        return Purge(of, left_s=sequence.purge_preservative_s if of == "preservative" else sequence.purge_s)

    def _with_signals(self, now_s: float) -> frozenset[str]:
        extra = set()
        if self.state is not State.TRIPPED:
            extra.add("heartbeat")
        if self.alarms.buzzer(now_s):
            extra.add("buzzer")
        if self.alarms.beacon(now_s):
            extra.add("beacon")
        self.on = (self._on | extra) & frozenset(self.settings.outputs)
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
            }
            for change in changes
        ]

    # ---- what a person is asked to do ----------------------------------------------------------

    def ask(self) -> Ask | None:
        """What only a person can do now."""
        now, drive = self.last, self.settings.drive
        if now is None:
            return None
        if self.state is State.STANDBY and now.now_s < self.rearm_until_s:
            return Ask.REARM_RELAY
        by_hand = drive.regulator == "hand_each_run"
        if self.state is State.PRESSURISING:
            if drive.pump != "relay" and now.clocks.turning_s < 0:
                return Ask.SWITCH_PUMP_ON
            if self.rinsing():
                return None if self._below(now, RINSE_BELOW_BAR) else Ask.OPEN_REGULATOR
            checking = now.clocks.turning_s <= self.settings.sequence.regulator_check_s
            return Ask.RAISE_PRESSURE if by_hand and not checking else None
        if self.state in (State.STOPPING, State.FLUSHING) and by_hand:
            if drive.pump != "relay" and self.state is State.STOPPING and self._below(now, HAND_BAR):
                return Ask.SWITCH_PUMP_OFF
            return Ask.OPEN_REGULATOR
        if self.state is State.TRIPPED and drive.pump == "watch_only" and self._still_turns(now):
            return Ask.SWITCH_PUMP_OFF
        if self.state is State.TRIPPED and by_hand:
            return Ask.OPEN_REGULATOR
        if self.state is State.STANDBY and by_hand and "restarted_unexpectedly" in self.notes.standing:
            return Ask.OPEN_REGULATOR
        return None

    def context(self, command: Command, now: Situation) -> Context:
        """What the checks of a command look at."""
        return Context(
            now=now,
            latch=self.latch,
            alarms=self.alarms,
            command=command,
            recent_starts=len(self.pump_starts_s),
            rested_s=now.clocks.pump_off_s if now.clocks.pump_off_s >= 0 else 0.0,
            motor_worked_s=self.motor_worked_s,
            person_seen_s=now.now_s - self.person_seen_s,
            simulated=self.simulated,
        )


def _coarse(latch: Latch) -> Latch:
    """The latch with a purge's progress in steps worth a write to the card."""
    purge = latch.purge
    if purge is None:
        return latch
    rinsed_l = purge.rinsed_l // PURGE_NOTE_L * PURGE_NOTE_L
    left_s = math.ceil(purge.left_s / PURGE_NOTE_S) * PURGE_NOTE_S
    return replace(latch, purge=replace(purge, rinsed_l=rinsed_l, left_s=left_s))
