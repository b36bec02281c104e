"""The state of the plant that control keeps from one tick to the next.

Each part of the core (`timers`, `detectors`, `transition_conditions`, `output_logic`, `transition_actions`,
`commands`) is given this, and keeps state of its own that no other part needs. Nothing is decided here.
"""

from dataclasses import asdict

from halocline.control.alarm_conditions.condition import Notes
from halocline.control.annunciator import Annunciator
from halocline.control.calibration.calibration_command import CalibrationCommand
from halocline.control.calibration.calibration_store import Calibrations
from halocline.control.duties.attendance import Attendance
from halocline.control.duties.flush_alone import FlushAlone
from halocline.control.duties.motor_duty import MotorDuty
from halocline.control.duties.rest_duty import RestDuty
from halocline.control.evidence import Evidence
from halocline.control.output_image import OutputImage
from halocline.control.performance import Performance
from halocline.control.quality import QualityJudge
from halocline.control.retained.persistence import Persistence
from halocline.control.retained.restart_recovery import begun, resumed
from halocline.control.retained.retained_state import RetainedState, Trip, plain
from halocline.control.run import ActiveWork, Flush, Run
from halocline.control.sequence_position import SequencePosition
from halocline.control.situation import Observer, Situation
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import PUMPING, State


class PlantState:
    """The holder of all that more than one part of control looks at; begins as control comes up: at rest, laid up or
    tripped. Each part has one owner, who alone changes it; what is read most often has a short name here.
    """

    def __init__(
        self,
        settings: Settings,
        retained: RetainedState,
        now_s: float,
        *,
        boot: str,
        simulated: bool,
        off_s: float | None,
        computer: bool | None,
        calibrations: Calibrations,
    ) -> None:
        """`off_s` is how long control was away before `now_s`, `computer` whether the whole computer was started anew;
        None where that is not known."""
        self.settings = settings
        self.boot = boot
        self.simulated = simulated
        self.started_up_s = now_s
        at_rest = State.TRIPPED if retained.trips else State.LAID_UP if retained.laid_up else State.STANDBY
        self.position = SequencePosition(at_rest, now_s, begun(retained, computer=computer), retained.first_out)
        self.persistence = Persistence(resumed(retained, computer=computer))
        self.work = ActiveWork()
        self.outputs = OutputImage(settings.outputs)
        self.quality = QualityJudge(settings.sequence.quality_hold_s)
        self.notes = Notes()
        self.calibrating = CalibrationCommand(settings, calibrations)
        self.observer = Observer(settings, self.calibrating.in_force.membrane)
        self.performance = Performance(settings, retained, self.calibrating.in_force.membrane)
        self.evidence = Evidence(settings)
        self.alarms = Annunciator(settings.limits)
        self.attendance = Attendance(self.alarms)
        self.motor = MotorDuty(settings, retained, now_s, off_s)
        self.rest = RestDuty(retained, now_s, off_s)
        self.alone = FlushAlone(retained, now_s, off_s)
        self._restore(retained, now_s)
        if calibrations.unreadable:
            self.notes.set("calibrations_unreadable")
        if self.calibrating.outdated:
            self.notes.set("calibrations_outdated", {"channels": ", ".join(self.calibrating.outdated)})

    def _restore(self, retained: RetainedState, now_s: float) -> None:
        for trip in retained.trips:
            self.alarms.restore(trip.cause, now_s, trip.values)
        if (cut_off := self.retained.cut_off) is not None:
            self.notes.set("restarted_unexpectedly", asdict(cut_off))
        for withdrawn in self.retained.out_of_service:
            self.alarms.take_out_of_service(withdrawn.alarm)

    @property
    def state(self) -> State:
        """The state of the sequence."""
        return self.position.state

    @property
    def retained(self) -> RetainedState:
        """What must survive a restart."""
        return self.persistence.retained

    @property
    def run(self) -> Run | None:
        """The run that goes on."""
        return self.work.run

    @property
    def flush(self) -> Flush | None:
        """The flush that goes on."""
        return self.work.flush

    @property
    def actuators(self) -> frozenset[str]:
        """The actuators that the last tick energised."""
        return self.outputs.actuators

    @property
    def driven(self) -> bool:
        """Whether the high-pressure pump is on or, with nothing of ours to switch it, asked to be."""
        if "high_pressure_pump" in self.outputs.actuators:
            return True
        return self.settings.drive.pump == "watch_only" and self.state in PUMPING

    def forget_usual(self) -> None:
        """Forget the usual performance: the element was changed or cleaned, or something was calibrated."""
        self.performance.forget(self.calibrating.in_force.membrane)
        self.persistence.usual_is_forgotten()

    def present(self, last: Situation) -> Situation:
        """The situation of the last tick in the state that it led to: what is told and offered from now on."""
        return last if last.state is self.state else last._replace(state=self.state, in_state_s=0.0)

    @property
    def trips(self) -> tuple[Trip, ...]:
        """All trips that have not been reset, as they are kept on file."""
        trips = sorted(self.alarms.trips, key=lambda alarm: alarm.cause.id)
        return tuple(Trip(alarm.cause.id, plain(alarm.values)) for alarm in trips)

    def prime_s(self) -> float:
        """How long the feed has to be steady before the high-pressure pump: longer after air was let in."""
        sequence = self.settings.sequence
        return sequence.prime_after_opening_s if self.retained.circuit_opened else sequence.prime_s

    def rinse_l(self) -> float:
        """Low-pressure rinse that a purge begins with."""
        return self.settings.sequence.rinse_volumes * self.settings.plant.wetted_volume_l

    def rinsing(self) -> bool:
        """Whether a purge is owed whose rinse is not done."""
        return self.retained.purge is not None and self.retained.purge.rinsed_l < self.rinse_l()
