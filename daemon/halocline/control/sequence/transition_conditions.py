"""The conditions of the sequence's transitions: the facts of a tick as booleans with names."""

from collections.abc import Callable

from halocline.control.hydraulic_state import (
    HAND_BAR,
    RELEASE_S,
    RINSE_BELOW_BAR,
    STEADY_FEED_BAR,
    feed_is_enough,
    is_below,
    is_sucking,
)
from halocline.control.inputs import Reason
from halocline.control.orders import Orders
from halocline.control.plant_state import PlantState
from halocline.control.situation import Situation
from halocline.control.timing import Held, Steady
from halocline.plant.alarms import AlarmDefinition, Effect
from halocline.plant.thresholds import GONE_BAR, RUN_DOWN_S
from halocline.plant.vocabulary import RUNNING, State
from halocline.signals.trend import Rise

SETTLED_BAR = 1.0
"""Flow and salt follow the pressure: 1 bar is 4 % of what drives the water through (computed: 25 bar above the osmotic
pressure at 55 bar)."""
SETTLED_NOISES = 3.0
"""Three standard deviations of what noise makes of a rise: by chance that happens once in 370 (computed)."""
SWITCH_WAIT_S = 300.0
"""From wherever aboard to the pump's own switch a person takes less; a permission that stood for longer would be
forgotten (chosen)."""
SWITCHED_BEFORE_S = 1.0
"""No person answers a permission within a second: the switch was on already, and would have started the pump unasked
(chosen)."""
BENCH_FEED_S = 10.0
"""As long as priming asks by default: a jog, too, must not turn the pump dry (chosen)."""
LEFT_OVER_S = RELEASE_S["needle"]
"""What shows so soon after the pump was off may be left over: a needle lets it go as slowly as that."""
LEFT_OVER_FALLS_BAR_S = -0.5
"""What is left over falls at least so fast while it is above 5 bar (chosen)."""
UNBIDDEN_S = 0.2
"""Four ticks: one wild value is no pump that a person runs by hand (chosen)."""
GONE_FOR_S, HAND_GONE_FOR_S = 0.5, 2.0
"""Ten ticks after our own pump went off; where a person runs the pump four times as long, so that a regulator turned to
and fro does not end the hand run (chosen)."""


class TransitionConditions:
    """Works out the facts of one plant. It remembers only how long each condition has held."""

    def __init__(self, at: PlantState, may_flush: Callable[[Situation], bool]) -> None:
        """`may_flush`: whether the flush that ends a stop is permitted."""
        self._at = at
        self._may_flush = may_flush
        self._held = Held()
        self._settling = Rise(at.settings.sequence.settle_s)
        self._feed_steady = Steady(band=STEADY_FEED_BAR)

    def entered(self, to: State) -> None:
        """The sequence entered a state: what has to be steady is timed anew."""
        if to is State.PRIMING:
            self._feed_steady = Steady(band=STEADY_FEED_BAR)
        if to is State.PRESSURISING:
            self._settling.clear()

    def of(self, now: Situation, orders: Orders, holding: list[AlarmDefinition]) -> dict[str, bool]:
        """All that is true now and matters in the present state."""
        at = self._at
        effects = {cause.effect for cause in holding}
        facts = dict.fromkeys(orders.accepted, True)
        facts["trip"] = Effect.TRIP in effects
        facts["stop"] = orders.stop or Effect.STOP in effects
        facts["target_reached"] = at.state in RUNNING and self.need_met(now) is not None
        if at.state is State.STANDBY:
            facts["unbidden_pressure"] = self._unbidden(now)
            facts["flush_alone"] = at.alone.begins(now.now_s)
        elif at.state is State.PRIMING:
            facts["primed"] = self._primed(now)
        elif at.state is State.PRESSURISING:
            facts["raise_timeout"] = self.raise_timeout(now) is not None
            facts["settled"] = self._is_settled(now)
        elif at.state is State.DIVERTING:
            held = at.quality.held_s >= at.settings.sequence.quality_hold_s
            facts["quality_held"] = held and Effect.DIVERT not in effects
        elif at.state is State.PRODUCING:
            facts["quality_lost"] = bool(at.quality.lost) or Effect.DIVERT in effects or at.retained.purge is not None
        elif at.state is State.STOPPING:
            gone = self._pressure_gone(now)
            facts["depressurised"] = gone
            facts["depressurised_to_flush"] = gone and self._flush_wanted(now)
        elif at.state is State.FLUSHING and at.flush:
            facts["flush_complete"] = at.flush.litres >= at.flush.wanted_l
            facts["flush_called_off"] = at.flush.alone and bool(at.alone.people)
            facts["flush_failed"] = self.flush_failure(now) is not None
        elif at.state is State.HAND_RUN:
            facts["pressure_gone"] = (
                self._held.seconds("hand_gone", is_below(now, GONE_BAR), now.now_s) >= HAND_GONE_FOR_S
            )
        elif at.state is State.BENCH:
            facts["bench_over"] = self._bench_over(now)
        elif at.state is State.TRIPPED and at.retained.laid_up and facts.pop("reset_accepted", False):
            facts["lay_up_accepted"] = True
        return facts

    def _unbidden(self, now: Situation) -> bool:
        """Pressure without a command; what is only left over from before falls by itself."""
        above = now.pressure_bar is not None and (
            now.pressure_bar > HAND_BAR or (now.pressure_bar > GONE_BAR and is_sucking(now))
        )
        just_off = min(now.clocks.since_up_s, now.clocks.pump_off_s) < LEFT_OVER_S
        falling = (
            now.rate_bar_s is None or now.rate_bar_s < LEFT_OVER_FALLS_BAR_S or now.clocks.pump_off_s < 2 * RUN_DOWN_S
        )
        left_over = just_off and falling
        return self._held.seconds("unbidden", above and not left_over, now.now_s) >= UNBIDDEN_S

    def _primed(self, now: Situation) -> bool:
        enough = feed_is_enough(now)
        steady_s = self._feed_steady.seconds(now.feed_bar if enough else None, now.now_s)
        self._at.position.feed_is_steady(steady_s)
        return enough and steady_s >= self._at.prime_s()

    def raise_timeout(self, now: Situation) -> Reason | None:
        """Why waiting for working pressure is over, if it is."""
        drive, sequence, clocks = self._at.settings.drive, self._at.settings.sequence, now.clocks
        purge, rinsing = self._at.retained.purge, self._at.rinsing()
        if drive.pump != "relay" and clocks.turning_s < 0 and now.in_state_s > SWITCH_WAIT_S:
            return Reason("pump_not_switched_on", {"seconds": SWITCH_WAIT_S})
        turned_at_once = clocks.turning_s >= 0 and clocks.pump_on_s - clocks.turning_s <= SWITCHED_BEFORE_S
        if drive.pump == "permissive" and turned_at_once:
            return Reason("unbidden_pressure")
        rinse_s = purge.rinsed_l / self._at.settings.plant.feed_flow_l_h * 3600 if purge else 0.0
        too_long = now.in_state_s - rinse_s > sequence.raise_limit_s
        if too_long and rinsing:
            return Reason("pressure_present", {"pressure_bar": now.pressure_bar, "limit_bar": RINSE_BELOW_BAR})
        if too_long and drive.regulator == "hand_each_run":
            return Reason("pressure_not_set", {"seconds": sequence.raise_limit_s})
        return None

    def _is_settled(self, now: Situation) -> bool:
        """Steady within 1 bar over the whole time, or within what the sensor's noise makes of it."""
        reached = now.pressure_bar is not None and now.pressure_bar >= now.expectation.working_minimum_bar
        rise_bar = self._settling.update(now.pressure_bar if reached else None, now.now_s)
        allowed_bar = max(SETTLED_BAR, SETTLED_NOISES * self._settling.noise(now.noise_bar))
        steady = rise_bar is not None and self._settling.is_whole and abs(rise_bar) <= allowed_bar
        return steady and not self._at.rinsing()

    def need_met(self, now: Situation) -> Reason | None:
        """Why the run has made what it was started for, if it has."""
        run = self._at.run
        return run.need.met(run, now.now_s, run.ceiling_l) if run else Reason("no_run")

    def flush_failure(self, now: Situation) -> Reason | None:
        """Why the flush that goes on has to end, if it has."""
        if self._at.retained.chlorine_suspected:
            return Reason("flush_chlorine")
        flush, alone = self._at.flush, self._at.alone
        if flush is not None and flush.alone and alone.plant:
            return alone.plant[0]
        return flush.failure(now) if flush else None

    def _pressure_gone(self, now: Situation) -> bool:
        pump_off = "high_pressure_pump" not in self._at.actuators and now.clocks.pump_off_s >= RUN_DOWN_S
        return self._held.seconds("gone", pump_off and is_below(now, GONE_BAR), now.now_s) >= GONE_FOR_S

    def _flush_wanted(self, now: Situation) -> bool:
        """Owed and permitted; the flush itself waits until the pressure is gone."""
        return self._at.retained.flush_owed and self._may_flush(now)

    def _bench_over(self, now: Situation) -> bool:
        if self._at.work.bench is None or not is_below(now, HAND_BAR):
            return True
        output, seconds = self._at.work.bench
        if output == "flush_valve" and self._at.retained.chlorine_suspected:
            return True
        if output != "high_pressure_pump":
            return now.in_state_s >= seconds
        if now.clocks.pump_on_s < 0:
            return now.in_state_s >= self._at.settings.sequence.prime_limit_s + BENCH_FEED_S
        return now.clocks.pump_on_s >= seconds or not feed_is_enough(now)
