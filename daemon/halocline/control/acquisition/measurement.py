"""The validators of one plant's channels: samples, pulses and contacts in, the tick's inputs out."""

from collections.abc import Mapping

from halocline.control.acquisition.board import Board
from halocline.control.acquisition.scanner import Sample, Scanner
from halocline.control.inputs import Inputs
from halocline.plant.sensors import Pulses
from halocline.plant.settings import Settings
from halocline.plant.thresholds import AGE_LIMITS_S, OTHER_AGE_LIMIT_S
from halocline.plant.vocabulary import FLOW_CHANNELS, Reading, State
from halocline.signals.calibration import Calibration
from halocline.signals.contacts import ContactValidator
from halocline.signals.signal_validation import ChannelValidator

PRESSURE_STATES = frozenset({State.PRESSURISING, State.DIVERTING, State.PRODUCING, State.STOPPING, State.HAND_RUN})
AGE_LIMIT_AT_REST_S = 3.0
"""Ten turns a second bring fifteen other inputs round in 1.5 s, and one round may fail (computed)."""
MOVES_WITHIN_S = 10.0
"""A living signal shows its converter's noise long before; one that stood still through a change of state is dead. A
value may rightly last some seconds (chosen)."""

LIVELY = frozenset({"vessel_pressure", "feed_pressure", "product_conductivity", "sea_temperature"})


class Measurement:
    """Owns the validators; used by the loop alone."""

    def __init__(self, settings: Settings, board: Board, calibrations: Mapping[str, Calibration] | None = None) -> None:
        self._board = board
        known = calibrations or {}
        self.judges = {
            channel: ChannelValidator(channel, sensor, known.get(channel))
            for channel, sensor in settings.inputs.items()
        }
        self._others = tuple(
            (channel, judge, AGE_LIMITS_S.get(channel, OTHER_AGE_LIMIT_S))
            for channel, judge in self.judges.items()
            if channel != "sea_temperature"
        )
        self._cell = self.judges.get("product_conductivity")
        self._contacts = {name: ContactValidator(contact) for name, contact in settings.contacts.items()}
        self._pulsed = [channel for channel, sensor in settings.inputs.items() if isinstance(sensor, Pulses)]
        self._flows = [channel for channel in settings.inputs if channel in FLOW_CHANNELS]
        self._totals_l = dict.fromkeys(self._flows, 0.0)

    def calibrate(self, calibrations: Mapping[str, Calibration]) -> None:
        """These are in force from now on; a channel that is not among them reads by its configuration."""
        for channel, judge in self.judges.items():
            judge.calibrate(calibrations.get(channel))

    def take_samples(self, scanner: Scanner) -> None:
        """Hand every waiting sample to its validator."""
        samples = scanner.samples
        while samples:
            self._take(samples.popleft())

    def _take(self, sample: Sample) -> None:
        judge = self.judges[sample.channel]
        if sample.supply:
            judge.take_supply(sample.t_s, sample.volts)
        else:
            judge.update(sample.t_s, sample.volts)

    def take_lines(self, now_s: float) -> None:
        """Read pulses and contacts; a line that cannot be read gives no news, and never good news."""
        with self._board.together():
            for channel in self._pulsed:
                try:
                    count, last_s = self._board.edges(channel)
                except OSError:
                    self.judges[channel].take_pulses(now_s, None, 0.0)
                else:
                    self.judges[channel].take_pulses(now_s, count, last_s)
            for name, contact in self._contacts.items():
                try:
                    contact.update(now_s, self._board.read(name))
                except OSError:
                    contact.update(now_s, None)
        for channel in self._flows:
            self._totals_l[channel] += self.judges[channel].take_litres()

    def readings(self, now_s: float, state: State) -> dict[str, Reading]:
        """Every channel as it is now."""
        running = state in PRESSURE_STATES
        temperature = self.judges["sea_temperature"].reading(
            now_s, OTHER_AGE_LIMIT_S if running else AGE_LIMIT_AT_REST_S
        )
        temperature_c = temperature.good
        readings = {"sea_temperature": temperature}
        for channel, judge, running_limit_s in self._others:
            limit_s = running_limit_s if running else AGE_LIMIT_AT_REST_S
            readings[channel] = judge.reading(now_s, limit_s, temperature_c)
        return readings

    def expect(self, now_s: float, state: State) -> None:
        """Tell each validator whether a signal that does not move counts as stuck in this state."""
        for channel, judge in self.judges.items():
            if channel in LIVELY and state in PRESSURE_STATES:
                judge.expect_movement(now_s, state.value, MOVES_WITHIN_S)
            else:
                judge.expect_rest()

    def inputs(
        self,
        now_s: float,
        state: State,
        scanner: Scanner,
        *,
        overpressure_bar: float | None,
        missed_ticks: int,
        clock_set: bool,
        wall_s: float | None,
        supply_voltage_low: bool,
        latch_writable: bool,
    ) -> Inputs:
        """Everything a tick decides on."""
        self.take_samples(scanner)
        self.take_lines(now_s)
        return Inputs(
            now_s=now_s,
            readings=self.readings(now_s, state),
            active={name: contact.active(now_s) for name, contact in self._contacts.items()},
            product_total_l=self._totals_l["product_flow"],
            flush_total_l=self._totals_l.get("flush_flow"),
            overpressure_bar=overpressure_bar,
            conductivity_peak_us_cm=None if self._cell is None else self._cell.take_peak(),
            lost_chips=scanner.lost_chips(now_s),
            interlock_lost=scanner.interlock_lost,
            retries=scanner.retries(),
            missed_ticks=missed_ticks,
            clock_set=clock_set,
            wall_s=wall_s,
            supply_voltage_low=supply_voltage_low,
            latch_writable=latch_writable,
        )

    def take_statistics(self) -> dict[str, tuple[float, float] | None]:
        """Lowest and highest value of each channel since the last call."""
        statistics: dict[str, tuple[float, float] | None] = {}
        for channel, judge in self.judges.items():
            low, high = judge.take_statistics()
            statistics[channel] = None if low is None or high is None else (low, high)
        return statistics
