"""What a `calibrate` command would come to: the calibrations after it, or every reason against it.

A point is a pair: what the page shows for the channel, and what a better instrument says; without the first (or with
null for it) it is what the channel shows now. One point near zero shifts the scale, one further out turns it about its
zero, two make a new line; a meter of pulses takes litres shown and litres in the bucket. A thermometer's single point
always shifts, a conductivity's always turns: that is its cell constant. The membrane is calibrated from what it does
now, steadily, or from a point that was written down.
"""

from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from difflib import get_close_matches
from functools import partial
from statistics import fmean, median
from typing import Any

from halocline.control.calibration.calibration_limits import (
    CalibrationRefused,
    require_believable,
    require_limits_in_reach,
    span_too_far,
    zero_too_far,
)
from halocline.control.calibration.calibration_store import MEMBRANE, POINT_NUMBERS, Calibrations, MembraneCalibration
from halocline.control.inputs import Command, Reason
from halocline.control.situation import Situation, membrane_of, nameplate_membrane
from halocline.physics.errors import OutOfRange, Unsolvable
from halocline.physics.membrane import fit_lumped, lumped_element
from halocline.plant.sensors import Input, Pulses
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import AT_REST, MAKING_WATER
from halocline.signals.calibration import (
    CLOSEST_POINTS,
    IDENTITY,
    SPAN_RANGE,
    Calibration,
    SlopeNotBelievable,
    ZeroTooFar,
    k_factor,
    span_point,
    two_point,
    zero_point,
)
from halocline.signals.compensation import Compensation
from halocline.signals.noise import SPACING_S

EVERYTHING = "all"
NEAR_ZERO = CLOSEST_POINTS
"""Fraction of the sensor's span within which one point says where zero is, not how steep the scale."""

LOOK_S = 10.0
"""A channel has to be still for so long, and is averaged over it: long against a pump's pulses and a converter's noise,
short for a person who waits at the instrument (chosen)."""
LOOK_EVERY_S = SPACING_S
"""As for noise and rises: values so far apart are independent of each other."""
SEEN_SHARE = 0.8
"""Of the looks within that time: a late tick or two do no harm, a channel that has only just come back does
(chosen)."""
STILL_SPAN = 0.01
"""Fraction of the span by which a channel may move while it is looked at. About what a usual transmitter is good for
(common practice)."""

STEADY_BAR = 2.0
"""Within 1 bar to either side a pressure counts as steady where a membrane's figures are taken (common practice)."""
MEMBRANE_EVERY_S = 5.0
"""120 points in the ten minutes that are averaged, each past the smoothing of the one before (chosen)."""
RUN_FOR_WINDOWS = 3.0
"""An element is steady after half an hour (common practice): three of the ten-minute windows that are averaged."""

SHIFTED = frozenset({"sea_temperature", "pump_motor_temperature"})
TURNED = frozenset({"product_conductivity"})
SOLUTIONS_US_CM = 2_000.0
"""The part of a cell's span in which it watches the product: points a tenth of it apart are far enough. They reach to
where the tank closes at once by default, 1000 mg/L (computed)."""

BELIEVABLE_WATER = (0.2, 2.0)
"""Water permeability over the nameplate's: at a fifth an element is past use, and twice as much passes a torn one, or a
flow meter is at fault (from memory)."""
BELIEVABLE_SALT = (0.2, 20.0)
"""Salt permeability over the nameplate's: beyond these a cell or a seal is at fault, not the element's age (from
memory)."""

Point = tuple[float | None, float]
MembranePoint = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Made:
    """What a command comes to: what it changes about the calibrations in force, what to tell the person, and what to
    put on record."""

    change: Callable[[Calibrations], Calibrations]
    told: Reason
    record: Mapping[str, Any]


class CalibrationCommand:
    """Looks at the channels as the ticks pass and says what a calibration would come to."""

    def __init__(self, settings: Settings, calibrations: Calibrations) -> None:
        outdated = calibrations.outdated(settings)
        self.outdated = outdated
        self.in_force = calibrations
        for what in outdated:
            self.in_force = self.in_force.without(what)
        self._settings = settings
        self._recent: dict[str, deque[tuple[float, float]]] = {channel: deque() for channel in settings.inputs}
        self._looked_s = float("-inf")
        self._steady: deque[tuple[float, MembranePoint]] = deque()

    def update(self, now: Situation) -> None:
        """Another tick has passed."""
        if now.now_s - self._looked_s >= LOOK_EVERY_S:
            self._looked_s = now.now_s
            for channel, recent in self._recent.items():
                _keep(recent, now.now_s, now.value(channel), LOOK_S)
        self._take_membrane(now)

    def _take_membrane(self, now: Situation) -> None:
        quantities = (now.pressure_bar, now.temperature_c, now.flow_l_h, now.tds_mg_l)
        if now.state not in MAKING_WATER or any(value is None for value in quantities):
            self._steady.clear()
            return
        if self._steady and now.now_s - self._steady[-1][0] < MEMBRANE_EVERY_S:
            return
        point = tuple(float(value or 0.0) for value in quantities)
        self._steady.append((now.now_s, (point[0], point[1], point[2], point[3])))
        while now.now_s - self._steady[0][0] > self._settings.sequence.membrane_window_s:
            self._steady.popleft()

    def reasons(self, command: Command, now: Situation) -> list[Reason]:
        """Every reason against the command, none when it can be carried out."""
        try:
            self.made(command, now)
        except CalibrationRefused as refused:
            return refused.reasons
        return []

    def made(self, command: Command, now: Situation) -> Made:
        """What the command comes to. Raises CalibrationRefused."""
        asked = _Asked(command)
        if self.in_force.unreadable and not asked.everything_as_configured:
            raise CalibrationRefused(Reason("calibrations_unreadable"))
        reasons = [*asked.reasons(self._settings), *self._state_reasons(asked, now)]
        if reasons:
            raise CalibrationRefused(*reasons)
        if asked.configured:
            return self._as_configured(asked)
        return self._made_membrane(asked, now) if asked.membrane else self._made_channel(asked, now)

    def take_over(self, made: Made) -> None:
        """What was made is on file and in force from now on."""
        self.in_force = made.change(self.in_force)

    @staticmethod
    def _state_reasons(asked: "_Asked", now: Situation) -> list[Reason]:
        if asked.both:
            return []
        if asked.membrane and not asked.configured and not asked.points and now.state not in MAKING_WATER:
            return [Reason("calibrate_membrane_while_making_water")]
        if not asked.membrane and now.state not in AT_REST:
            return [Reason(f"is_{now.state.value}")]
        return []

    # ---- back to the configuration ----------------------------------------------------------------

    @staticmethod
    def _as_configured(asked: "_Asked") -> Made:
        what = MEMBRANE if asked.membrane else asked.channel
        record = {"channel": what, "configured": True, "date": asked.date, "initials": asked.initials}
        if asked.everything_as_configured:
            return Made(lambda _book: Calibrations(), Reason("calibrations_all_as_configured"), record)
        return Made(lambda book: book.without(what), Reason("calibration_as_configured", {"channel": what}), record)

    # ---- a sensor ---------------------------------------------------------------------------------

    def _made_channel(self, asked: "_Asked", now: Situation) -> Made:
        channel = asked.channel
        sensor = self._settings.inputs[channel]
        kept = self.in_force.channels.get(channel, IDENTITY)
        try:
            made = self._fitted(asked, now, sensor, kept)
        except ZeroTooFar as error:
            raise CalibrationRefused(zero_too_far(channel, error.zero, error.allowed)) from error
        except SlopeNotBelievable as error:
            raise CalibrationRefused(span_too_far(channel, error.span, *SPAN_RANGE)) from error
        except ValueError as error:
            raise CalibrationRefused(Reason("calibration_refused", {"channel": channel, "text": str(error)})) from error
        require_believable(channel, made, sensor)
        require_limits_in_reach(self._settings, channel, made, sensor)
        told = _told(channel, made, sensor)
        change = partial(Calibrations.with_channel, channel=channel, calibration=made, sensor=sensor)
        return Made(change, told, {"channel": channel, **made.to_dict()})

    def _fitted(self, asked: "_Asked", now: Situation, sensor: Input, kept: Calibration) -> Calibration:
        signed = {"date": asked.date, "initials": asked.initials}
        if isinstance(sensor, Pulses):
            ((shown_l, true_l),) = asked.points
            if shown_l is None:
                raise CalibrationRefused(Reason("bucket_wants_both", {"channel": asked.channel}))
            return k_factor(shown_l, true_l, pulses_per_l=kept.pulses_per_l or sensor.pulses_per_l, **signed)
        factor = _factor_to_25c(sensor, asked.channel, now)
        span = sensor.high - sensor.low
        if asked.channel in TURNED:
            span = min(span, SOLUTIONS_US_CM)
        points = [
            (self._uncalibrated(asked.channel, shown, factor, kept, now), true / factor) for shown, true in asked.points
        ]
        least = CLOSEST_POINTS * span
        if len(points) == 2:
            (raw1, true1), (raw2, true2) = points
            _require_apart("calibration_too_close", asked.channel, abs(raw2 - raw1), least, factor)
            made = two_point(raw1, true1, raw2, true2, sensor_span=span, before=kept, **signed)
            return _as_shown(made, factor)
        ((raw, true),) = points
        near_zero = abs(true) <= NEAR_ZERO * span and asked.channel not in TURNED
        if asked.channel in SHIFTED or near_zero:
            return zero_point(raw, true, sensor_span=span, before=kept, **signed)
        _require_apart("calibration_near_zero", asked.channel, abs(raw - kept.zero), least, factor)
        return _as_shown(span_point(raw, true, sensor_span=span, before=kept, **signed), factor)

    def _uncalibrated(
        self, channel: str, shown: float | None, factor: float, kept: Calibration, now: Situation
    ) -> float:
        return kept.unapply((self._shown_now(channel, now) if shown is None else shown) / factor)

    def _shown_now(self, channel: str, now: Situation) -> float:
        reading = now.inputs.readings.get(channel)
        recent = [value for _, value in self._recent[channel]]
        if reading is None or reading.good is None:
            quality = "missing" if reading is None else reading.quality.value
            raise CalibrationRefused(Reason("calibration_wants_good", {"channel": channel, "quality": quality}))
        if len(recent) * LOOK_EVERY_S < SEEN_SHARE * LOOK_S:
            raise CalibrationRefused(Reason("calibration_wants_longer", {"channel": channel}))
        sensor = self._settings.inputs[channel]
        moved = max(recent) - min(recent)
        if moved > max(2 * sensor.error, STILL_SPAN * (sensor.high - sensor.low)):
            raise CalibrationRefused(Reason("calibration_wants_still", {"channel": channel, "value": moved}))
        return fmean(recent)

    # ---- the membrane -----------------------------------------------------------------------------

    def _made_membrane(self, asked: "_Asked", now: Situation) -> Made:
        point = asked.membrane_point or self._steady_point(now)
        pressure_bar, temperature_c, flow_l_h, tds_mg_l = point
        plant, plate = self._settings.plant, self._settings.membrane
        nameplate = nameplate_membrane(self._settings)
        present = membrane_of(self._settings, self.in_force.membrane)
        try:
            expected = lumped_element(present, round(temperature_c, 1)).at(
                plant.sea_salinity_g_kg, pressure_bar, plant.feed_flow_l_h
            )
            fitted = fit_lumped(
                present,
                plant.sea_salinity_g_kg,
                round(temperature_c, 1),
                pressure_bar,
                plant.feed_flow_l_h,
                product_flow_l_h=flow_l_h,
                product_tds_mg_l=tds_mg_l,
            )
        except (OutOfRange, Unsolvable) as error:
            raise CalibrationRefused(
                Reason("calibration_refused", {"channel": MEMBRANE, "text": str(error)})
            ) from error
        water = fitted.water_permeability_lmh_bar / nameplate.water_permeability_lmh_bar
        salt = fitted.salt_permeability_lmh / nameplate.salt_permeability_lmh
        if not (_within(water, BELIEVABLE_WATER) and _within(salt, BELIEVABLE_SALT)):
            raise CalibrationRefused(
                Reason("membrane_not_believable", {"water_percent": 100 * water, "salt_percent": 100 * salt})
            )
        made = MembraneCalibration(
            water_permeability_lmh_bar=fitted.water_permeability_lmh_bar,
            salt_permeability_lmh=fitted.salt_permeability_lmh,
            point=point,
            before=(expected.product_flow_l_h, expected.product_tds_mg_l),
            date=asked.date,
            initials=asked.initials,
        )
        told = {
            "before_l_h": expected.product_flow_l_h,
            "after_l_h": flow_l_h,
            "before_mg_l": expected.product_tds_mg_l,
            "after_mg_l": tds_mg_l,
        }
        change = partial(Calibrations.with_membrane, calibration=made, plate=plate)
        return Made(change, Reason("calibrated_membrane", told), {"channel": MEMBRANE, **asdict(made)})

    def _steady_point(self, now: Situation) -> MembranePoint:
        window_s = self._settings.sequence.membrane_window_s
        seen = [point for _, point in self._steady]
        covered_s = self._steady[-1][0] - self._steady[0][0] if seen else 0.0
        wanted_s = RUN_FOR_WINDOWS * window_s
        if now.clocks.working_s < wanted_s or covered_s < window_s - 2 * MEMBRANE_EVERY_S:
            left_s = max(wanted_s - now.clocks.working_s, window_s - covered_s)
            raise CalibrationRefused(Reason("membrane_not_steady_yet", {"seconds": left_s}))
        pressures = [point[0] for point in seen]
        if max(pressures) - min(pressures) > STEADY_BAR:
            span_bar = max(pressures) - min(pressures)
            raise CalibrationRefused(
                Reason("vessel_pressure_moves", {"pressure_bar": span_bar, "limit_bar": STEADY_BAR})
            )
        columns = list(zip(*seen, strict=True))
        return median(columns[0]), median(columns[1]), median(columns[2]), median(columns[3])


class _Asked:
    """A command's arguments, parsed."""

    def __init__(self, command: Command) -> None:
        arguments = command.arguments
        named = arguments.get("channel")
        self.channel = str(named or "")
        self.membrane = bool(arguments.get("membrane")) or self.channel == MEMBRANE
        self.both = bool(arguments.get("membrane")) and self.channel not in ("", MEMBRANE)
        self.configured = bool(arguments.get("configured"))
        self.everything_as_configured = self.configured and self.channel == EVERYTHING
        self.initials = str(arguments.get("initials") or "").strip()
        self.date = "" if command.wall_s is None else date.fromtimestamp(command.wall_s).isoformat()
        self.rows: Sequence[Sequence[float | None]] = [
            [None, *row] if len(row) == 1 else row for row in arguments.get("points") or ()
        ]

    @property
    def points(self) -> list[Point]:
        return [(row[0], float(row[1] or 0.0)) for row in self.rows]

    @property
    def membrane_point(self) -> MembranePoint | None:
        if not self.rows:
            return None
        pressure_bar, temperature_c, flow_l_h, tds_mg_l = (float(value or 0.0) for value in self.rows[0])
        return pressure_bar, temperature_c, flow_l_h, tds_mg_l

    def reasons(self, settings: Settings) -> list[Reason]:
        """What is wrong with what was asked, whatever the plant does."""
        reasons = []
        if self.both or not (self.membrane or self.channel):
            reasons.append(Reason("calibrate_wants_one"))
        elif not self.membrane and not self.everything_as_configured and self.channel not in settings.inputs:
            near = get_close_matches(self.channel, [*settings.inputs, MEMBRANE], 1, cutoff=0.0)[0]
            reasons.append(Reason("calibrate_unknown", {"channel": self.channel, "near": near}))
        elif not self.configured:
            reasons.extend(self._points_reasons(settings))
        if not self.initials:
            reasons.append(Reason("calibrate_wants_initials"))
        return reasons

    def _points_reasons(self, settings: Settings) -> list[Reason]:
        if self.membrane:
            whole = len(self.rows) <= 1 and all(len(row) == POINT_NUMBERS and None not in row for row in self.rows)
            return [] if whole else [Reason("calibrate_membrane_point")]
        most = 1 if isinstance(settings.inputs[self.channel], Pulses) else 2
        whole = all(len(row) == 2 and row[1] is not None for row in self.rows)
        nows = sum(1 for row in self.rows if row[0] is None)
        if whole and 1 <= len(self.rows) <= most and nows <= 1:
            return []
        wanted = {"channel": self.channel, "most": most}
        return [Reason("calibrate_points", wanted)]


def _keep(recent: deque[tuple[float, float]], now_s: float, value: float | None, window_s: float) -> None:
    if value is None:
        recent.clear()
        return
    recent.append((now_s, value))
    while now_s - recent[0][0] >= window_s:
        recent.popleft()


def _factor_to_25c(sensor: Input, channel: str, now: Situation) -> float:
    """What a conductivity as measured is multiplied with to be shown; 1 for everything else."""
    if channel != "product_conductivity" or isinstance(sensor, Pulses) or sensor.compensation == "done":
        return 1.0
    if now.temperature_c is None:
        raise CalibrationRefused(Reason("sensor_not_good", {"channel": "sea_temperature"}))
    compensation = Compensation(sensor.compensation)
    compensation.know(now.temperature_c)
    return compensation.apply(1.0)


def _require_apart(reason: str, channel: str, apart: float, least: float, factor: float) -> None:
    """Raises CalibrationRefused where a point says too little, in the numbers people see."""
    if apart < least:
        numbers = {"value": apart * factor, "limit": least * factor}
        raise CalibrationRefused(Reason(reason, {"channel": channel, **numbers}))


def _as_shown(made: Calibration, factor: float) -> Calibration:
    """The same with what it showed before and after as people see it: a conductivity at 25 °C."""
    before, after = (tuple(factor * value for value in values) for values in (made.before, made.after))
    return replace(made, before=before, after=after)


def _told(channel: str, made: Calibration, sensor: Input) -> Reason:
    """What the channel showed at the first point, and what it shows there from now on."""
    before, after = made.before[0], made.after[0]
    if isinstance(sensor, Pulses):
        return Reason("calibrated_meter", {"channel": channel, "before_l": before, "after_l": after})
    return Reason("calibrated", {"channel": channel, "before": before, "after": after})


def _within(value: float, bounds: tuple[float, float]) -> bool:
    return bounds[0] <= value <= bounds[1]
