"""The conditions under which the sequence's table energises an output, one method each."""

from collections.abc import Collection

from halocline.control.annunciator import WAITING
from halocline.control.hydraulic_state import (
    FLUSH_BELOW_BAR,
    HAND_BAR,
    TRAPPED_FRACTION,
    feed_is_enough,
    feed_is_low_low,
    is_below,
)
from halocline.control.plant_state import PlantState
from halocline.control.sequence.sequence_table import outputs
from halocline.control.sequence.transition_conditions import BENCH_FEED_S
from halocline.control.situation import Situation
from halocline.control.timing import Held
from halocline.plant.alarms import AlarmDefinition
from halocline.plant.motor import RELEASE_VALVE_S
from halocline.plant.thresholds import GONE_BAR, RUN_DOWN_S
from halocline.plant.vocabulary import State

DISOBEYS_AFTER_S = 3.0
"""A contactor takes 50 ms and the run-down up to 1 s (common practice): a pump that still holds its pressure after
three times that turns (chosen)."""


class OutputLogic:
    """Works out the actuators of one plant. It remembers only what holds until the state ends."""

    def __init__(self, at: PlantState) -> None:
        self._at = at
        self._fitted = frozenset(at.settings.outputs)
        self._held = Held()
        self._regulator_wait_over = True
        self._feed_dry = False
        self._pump_suffers = self._no_feed = False
        self._pressure_at_trip_bar = 0.0

    def entered(self, to: State, pressure_bar: float | None) -> None:
        """The sequence entered a state, at that membrane pressure."""
        if to is State.STOPPING and self._at.run:
            self._regulator_wait_over = False
        if to is State.TRIPPED:
            self._pressure_at_trip_bar = pressure_bar or 0.0

    def actuators(self, now: Situation, holding: Collection[AlarmDefinition]) -> frozenset[str]:
        """What is to be on in the present state; `holding` are the causes that hold now."""
        at = self._at
        self._pump_suffers = any(cause.pump_suffers for cause in holding)
        self._no_feed = any(cause.feed_is_dry for cause in holding)
        conditions = {
            "pump_permitted": at.settings.drive.pump != "watch_only",
            "unloaded_start_over": self._unloaded_start_over(now),
            "waiting_for_regulator": at.state is State.STOPPING and self._wait_for_regulator(now),
            "feed_needed": self._feed_needed(now),
            "pump_disobeys": at.state is State.TRIPPED and self._pump_disobeys(now),
            "flush_valve_may_open": at.state is State.FLUSHING and self._flush_valve_open(now),
            **self._bench_conditions(now),
        }
        return outputs(at.state, conditions) & self._fitted

    def interlock_may_close(self, now: Situation) -> bool:
        """Whether the latch of the comparator interlock may be closed: it is open, a person has acknowledged every
        trip, and the pressure is known and gone. The coil chain stays open all the same until a person presses the
        time-out relay's button."""
        at = self._at
        if at.state is not State.TRIPPED or not now.active("pressure_switch"):
            return False
        acknowledged = not any(alarm.state in WAITING for alarm in at.alarms.trips)
        return acknowledged and is_below(now, GONE_BAR)

    def _unloaded_start_over(self, now: Situation) -> bool:
        return now.clocks.turning_s > self._at.settings.sequence.regulator_check_s and not self._at.rinsing()

    def _wait_for_regulator(self, now: Situation) -> bool:
        """A stop keeps the pump on while a hand (or the release valve) lets the pressure go, but not for long."""
        if self._regulator_wait_over:
            return False
        at = self._at
        by_hand = at.settings.drive.regulator == "hand_each_run"
        limit_s = at.settings.sequence.stop_open_s if by_hand else RELEASE_VALVE_S
        unloads = by_hand or "pressure_release" in at.settings.outputs
        waiting = (
            unloads
            and "high_pressure_pump" in at.actuators
            and now.now_s - at.position.since_s < limit_s
            and now.pressure_bar is not None
            and now.pressure_bar > HAND_BAR
            and not self._pump_suffers
            and not self._feed_forbidden(now)
        )
        self._regulator_wait_over = not waiting
        return waiting

    def _feed_needed(self, now: Situation) -> bool:
        """The feed starts before the pump and stops after it: a pump that may still turn keeps its feed."""
        if self._feed_forbidden(now):
            return False
        if self._at.state is State.HAND_RUN:
            return True
        pump_on = "high_pressure_pump" in self._at.actuators
        may_turn = pump_on or not is_below(now, GONE_BAR) or now.clocks.pump_off_s < RUN_DOWN_S
        return self._at.state is State.STOPPING and may_turn

    def _feed_forbidden(self, now: Situation) -> bool:
        return self._is_dry(now) or now.active("bilge_wet") or now.active("stop_button")

    def _is_dry(self, now: Situation) -> bool:
        """Whether there is known to be no feed. With the feed pump off nothing could tell, so it holds until the state
        ends."""
        at = self._at
        if at.state is State.TRIPPED:
            told = any(alarm.cause.feed_is_dry for alarm in at.alarms.trips)
            self._feed_dry = self._feed_dry or told or ("feed_pump" in at.actuators and feed_is_low_low(now))
        elif at.state is State.STOPPING:
            self._feed_dry = self._feed_dry or self._no_feed
        else:
            self._feed_dry = False
        return self._feed_dry

    def _pump_disobeys(self, now: Situation) -> bool:
        """A tripped pump whose pressure does not fall is still turning: better fed than dry."""
        if now.pressure_bar is None or self._feed_forbidden(now):
            return False
        if "feed_pump" in self._at.actuators and self._at.position.since_s < now.now_s:
            return now.pressure_bar > GONE_BAR
        return now.clocks.pump_off_s > DISOBEYS_AFTER_S and now.pressure_bar > max(
            GONE_BAR, TRAPPED_FRACTION * self._pressure_at_trip_bar
        )

    def _flush_valve_open(self, now: Situation) -> bool:
        """Opens only without pressure; once open it stays so, for pressure behind a closed valve cannot be released."""
        flush = self._at.flush
        if flush is None:
            return False
        if flush.valve_open_s < 0 and is_below(now, FLUSH_BELOW_BAR):
            flush.open_valve()
        return flush.valve_open_s >= 0

    def _bench_conditions(self, now: Situation) -> dict[str, bool]:
        at = self._at
        if at.state is not State.BENCH or at.work.bench is None:
            return {}
        if at.work.bench[0] != "high_pressure_pump":
            return {f"bench_{at.work.bench[0]}": True}
        fed = "feed_pump" in at.actuators and feed_is_enough(now)
        fed_s = self._held.seconds("bench_feed", fed, now.now_s)
        return {
            "bench_feed_pump": True,
            "bench_inverter_enable": True,
            "bench_high_pressure_pump": fed_s >= BENCH_FEED_S,
        }
