"""How things stand with the plant: what control holds in mind from one tick to the next.

Each part of the core (`clockwork`, `noticing`, `facts`, `driving`, `entering`, `commands`) is given this and keeps
to itself what only it needs. Nothing is decided here.
"""

import math

from halocline.control.annunciation import Annunciator
from halocline.control.calibrating import Calibrating
from halocline.control.calibrations import Calibrations
from halocline.control.conditions.feed import is_sucking
from halocline.control.conditions.forms import Notes
from halocline.control.conditions.pressure import GONE_BAR
from halocline.control.duties.motor_duty import MotorDuty
from halocline.control.inputs import Reason
from halocline.control.latch import Latch, Trip, plain
from halocline.control.quality import QualityJudge
from halocline.control.resuming import begun, resumed
from halocline.control.run import Flush, Run
from halocline.control.share import membrane_key, shares_on_file
from halocline.control.situation import Clocks, Situation
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import State

PUMPING = frozenset({State.PRESSURISING, State.DIVERTING, State.PRODUCING})
RUNNING = PUMPING | {State.PRIMING}
REARM_ASKED_S = 600.0
"""No wire tells whether the relays hold: after this time, or once water has moved, nobody is asked."""
UNKNOWN_IDLE_S = 7 * 86400.0 + 1.0
"""Time off that nobody measured counts as a week: the longest that fresh-flushed water may stand."""


class Standing:
    """All that more than one part of control looks at; begins as control comes up: at rest, laid up or tripped.

    why: what led to `state`; last_end: to the end of the last run. actuators: the outputs of the last tick without
    heartbeat, buzzer and beacon; on: all of them. `…_s` are monotonic seconds unless they say otherwise.
    """

    def __init__(
        self,
        settings: Settings,
        latch: Latch,
        now_s: float,
        *,
        boot: str,
        simulated: bool,
        off_s: float | None,
        computer: bool | None,
        calibrations: Calibrations,
    ) -> None:
        """`off_s` is how long control was away before `now_s`, `computer` whether the whole computer was started anew;
        None where nobody knows."""
        self.settings = settings
        self.latch = resumed(latch, computer=computer)
        self.boot = boot
        self.simulated = simulated
        self.started_up_s = now_s
        self.state = State.LAID_UP if latch.laid_up else State.STANDBY
        self.state_since_s = now_s
        self.why = begun(latch, computer=computer)
        self.first_out: str | None = latch.first_out
        self.last_end: Reason | None = None
        self.run: Run | None = None
        self.flush: Flush | None = None
        self.bench: tuple[str, float] | None = None
        self.last: Situation | None = None
        self.quality = QualityJudge(settings.sequence.quality_hold_s)
        self.notes = Notes()
        self.clocks = Clocks()
        self.calibrating = Calibrating(settings, calibrations)
        self.alarms = Annunciator({"feed_pressure_low_low": settings.limits.feed_pressure_low_low_s})
        self.actuators: frozenset[str] = frozenset()
        self.on: frozenset[str] = frozenset()
        self.rearm_until_s = now_s + REARM_ASKED_S
        self.shares = shares_on_file(latch, membrane_key(settings, self.calibrating.in_force.membrane))
        self.motor = MotorDuty(settings, latch, now_s, off_s)
        self.idle_since_s = now_s - _age_s(latch.idle_s, off_s)
        self.laid_up_since_s = now_s - _age_s(latch.laid_up_s, off_s)
        self.person_seen_s = -math.inf
        self.answered_s = -math.inf
        self._restore(latch, now_s)
        if calibrations.unreadable:
            self.notes.set("calibrations_unreadable")
        if self.calibrating.outdated:
            self.notes.set("calibrations_outdated", {"channels": ", ".join(self.calibrating.outdated)})

    def _restore(self, latch: Latch, now_s: float) -> None:
        if latch.trips:
            self.state = State.TRIPPED
            for trip in latch.trips:
                self.alarms.restore(trip.cause, now_s, trip.values)
        if (cut_off := self.latch.cut_off) is not None:
            self.notes.set("restarted_unexpectedly", {"during": cut_off.during, "computer": cut_off.computer})
        for aside in self.latch.out_of_service:
            self.alarms.take_out_of_service(aside.alarm)

    @property
    def driven(self) -> bool:
        """Whether the high-pressure pump is on or, with nothing of ours to switch it, asked to be."""
        watched = self.settings.drive.pump == "watch_only" and self.state in PUMPING
        return watched or "high_pressure_pump" in self.actuators

    @property
    def trips(self) -> tuple[Trip, ...]:
        """All trips that have not been reset, as they are kept on file."""
        trips = sorted(self.alarms.trips, key=lambda alarm: alarm.cause.id)
        return tuple(Trip(alarm.cause.id, plain(alarm.values)) for alarm in trips)

    def prime_s(self) -> float:
        """How long the feed has to be steady before the high-pressure pump: longer after air was let in."""
        sequence = self.settings.sequence
        return sequence.prime_after_opening_s if self.latch.circuit_opened else sequence.prime_s

    def rinse_l(self) -> float:
        """Low-pressure rinse that a purge begins with."""
        return self.settings.sequence.rinse_volumes * self.settings.plant.wetted_volume_l

    def rinsing(self) -> bool:
        """Whether a purge is owed whose rinse is not done."""
        return self.latch.purge is not None and self.latch.purge.rinsed_l < self.rinse_l()


def _age_s(on_file_s: float | None, off_s: float | None) -> float:
    """An age with the time away; what nobody measured counts as long."""
    return (on_file_s or 0.0) + (UNKNOWN_IDLE_S if off_s is None else off_s)


def is_below(now: Situation, limit_bar: float) -> bool:
    """Whether the membrane pressure is known to be below the limit."""
    return now.pressure_bar is not None and now.pressure_bar < limit_bar


def feed_is_enough(now: Situation) -> bool:
    """Whether the feed is known to be strong enough for the high-pressure pump."""
    return now.feed_bar is not None and now.feed_bar >= now.settings.limits.feed_pressure_start_bar


def turns_by_itself(now: Situation) -> bool:
    """Whether the high-pressure pump has to be taken to turn although nothing of ours drives it: by its own switch, a
    relay that sticks, or not yet switched off by the person who is asked to."""
    ending = now.state in (State.STOPPING, State.TRIPPED) and not is_below(now, GONE_BAR)
    return now.state is State.HAND_RUN or ending


def still_turns(now: Situation) -> bool:
    """Whether the high-pressure pump may still be turning, for all that is known."""
    return not is_below(now, GONE_BAR) or is_sucking(now)
