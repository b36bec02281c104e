"""The plant as control sees it in one tick: readings made into the few quantities that decisions rest on.

What a tick makes anew is a named tuple: frozen for whoever reads it, and made in a third of the time that a frozen
dataclass takes.
"""

import math
from collections.abc import Callable, Mapping
from typing import NamedTuple, Protocol, TypeAlias

from halocline.control.inputs import Inputs
from halocline.physics import conductivity, seawater
from halocline.physics.membrane import LumpedElement, Membrane, lumped_element
from halocline.plant.settings import Settings
from halocline.plant.thresholds import AHEAD_S, HOLDS_AHEAD, LARGEST_PRODUCT_SHARE
from halocline.plant.vocabulary import State
from halocline.signals.trend import Mean, PressureRate, Rise

EXPECTATION_EVERY_S = 1.0
"""The model costs more than all else of a tick, and sea and pressure hardly move in a second of steady running
(chosen)."""
LEVELS = ("battery_charge_percent", "battery_voltage", "sea_temperature")
"""What a start compares with a limit. The tank's level is not among them: its judge takes the median of half a
minute by itself."""
LEVEL_S = 10.0
"""A start is decided on means of so long: noise and a wave's heel are gone from them, and a person hardly waits
(chosen)."""
MODEL_TEMPERATURES_C = (0.5, 40.0)
"""Where the formula of the osmotic pressure holds: 0 to 40 °C (computed, see physics/seawater.py); the half degree
keeps clear of its end."""
MODEL_PRESSURE_BAR = 150.0
"""No relief valve lets more stand than 100 bar, which is the highest setting; beyond, the model has no solution to rely
on (chosen)."""
SALTIEST_US_CM = 100_000.0
"""Twice the sea at 25 °C (computed): a cell that shows more sees no water, and the formula of its salt ends soon
after."""
WETTED_SHARE, WETTED_L_H = 0.08, 2.0
"""Of the nameplate's flow, and at least as many litres an hour: with less product a conductivity cell may be dry
(chosen)."""
UNKNOWN_SEA_C = 18.0
"""A temperate sea, where its temperature is not known: the working minimum rests on it, and moves by 1 bar over 10 K
(computed)."""
UNKNOWN_MINIMUM_BAR = 45.0
"""Until the model has spoken: above the minimum of the saltiest warm sea, 43 bar at 41 g/kg and 32 °C (computed)."""
HALVINGS = 8
"""Halving 20 bar eight times leaves less than a tenth of a bar (computed)."""


class Expectation(NamedTuple):
    """What the membrane should do at the measured pressure and temperature."""

    flow_l_h: float | None = None
    tds_mg_l: float | None = None
    working_minimum_bar: float = UNKNOWN_MINIMUM_BAR
    target_pressure_bar: float | None = None
    target_flow_l_h: float | None = None


class Departure(NamedTuple):
    """How far product flow and salt depart from what is usual at this pressure, relatively, and what is usual.

    None while that is not known.
    """

    flow: float | None = None
    salt: float | None = None
    usual_flow_l_h: float | None = None
    usual_tds_mg_l: float | None = None


class Clocks(NamedTuple):
    """Seconds since each activity began (-1: it is not going on), and what a run has counted so far.

    turning_s: since the high-pressure pump was seen to turn, which with a switch of its own is later than
    `pump_on_s`. loaded_s: since it was on with no rinse at low pressure left to do. prime_s: how long the feed
    has to be steady this time. pressure_at_off_bar and lowest_since_off_bar: of the membrane, as the pump was
    switched off and since.
    """

    feed_pump_on_s: float = -1.0
    pump_on_s: float = -1.0
    pump_off_s: float = math.inf
    turning_s: float = -1.0
    loaded_s: float = -1.0
    prime_s: float = 0.0
    diverting_s: float = -1.0
    to_tank: bool = False
    run_s: float = -1.0
    working_s: float = 0.0
    working_product_l: float = 0.0
    peak_since_pump_bar: float = 0.0
    pressure_before_pump_bar: float = 0.0
    pressure_at_off_bar: float = 0.0
    lowest_since_off_bar: float = math.inf
    quality_breaks: int = 0
    unattended_s: float = 0.0
    since_up_s: float = 0.0
    idle_s: float = 0.0
    laid_up_s: float = 0.0
    motor_worked_s: float = 0.0
    motor_rested_s: float = 0.0


class Situation(NamedTuple):
    """One tick as all decisions see it: what the inputs tell, how long each activity has lasted, and how far product
    flow and salt depart from the usual. Quantities are None when they are not known well enough to act on.

    rate_bar_s: how fast the pressure changes at this moment. drift_bar_s: how fast it has moved over some seconds: what
    a pump's pulses and a sensor's noise leave of it. noise_bar: that noise, as the pressure itself shows it.
    levels: the means of the last seconds of what moves slowly, by channel.
    tds_peak_mg_l: of the highest single sample since the last tick, noise and all: for the record, for no decision.
    """

    settings: Settings
    inputs: Inputs
    now_s: float
    state: State
    in_state_s: float
    pressure_bar: float | None
    feed_bar: float | None
    tds_mg_l: float | None
    tds_peak_mg_l: float | None
    flow_l_h: float | None
    temperature_c: float | None
    rate_bar_s: float | None
    drift_bar_s: float | None
    noise_bar: float
    recovery: float | None
    filter_drop_bar: float | None
    power_w: float | None
    levels: Mapping[str, float | None]
    expectation: Expectation
    clocks: Clocks = Clocks()
    departure: Departure = Departure()

    def value(self, channel: str) -> float | None:
        """The channel's value if it is fitted and good."""
        reading = self.inputs.readings.get(channel)
        return None if reading is None else reading.good

    def known(self, channel: str) -> float | None:
        """The channel's value if it carries one: at the end of its span it still says which end."""
        reading = self.inputs.readings.get(channel)
        return None if reading is None else reading.value

    def active(self, contact: str) -> bool:
        """Whether a fitted contact is active."""
        return self.inputs.active.get(contact, False)

    @classmethod
    def of(cls, seen: "Observation", clocks: Clocks, departure: Departure) -> "Situation":
        """The observation with what the timers and the membrane's performance add to it."""
        return seen._replace(clocks=clocks, departure=departure)


Observation: TypeAlias = Situation
"""A situation of which only what the inputs tell is known yet: who takes this asks neither clocks nor departure."""


def product_cap_l_h(settings: Settings) -> float:
    """The most product the element should be asked for: its nameplate, and a quarter of the feed (common practice)."""
    return min(settings.membrane.nameplate_flow_m3_d * 1000 / 24, LARGEST_PRODUCT_SHARE * settings.plant.feed_flow_l_h)


def wetted_flow_l_h(settings: Settings) -> float:
    """Below this product flow a conductivity cell may be dry: 8 % of the nameplate, at least 2 L/h."""
    return max(WETTED_L_H, WETTED_SHARE * settings.membrane.nameplate_flow_m3_d * 1000 / 24)


class Permeabilities(Protocol):
    """What a membrane was found to pass, at 25 °C."""

    @property
    def water_permeability_lmh_bar(self) -> float | None:
        """A, LMH/bar."""

    @property
    def salt_permeability_lmh(self) -> float | None:
        """B, LMH."""


def nameplate_membrane(settings: Settings) -> Membrane:
    """The membrane as its nameplate has it."""
    plate = settings.membrane
    return Membrane.from_nameplate(plate.nameplate_flow_m3_d, plate.nameplate_rejection, plate.area_m2)


def membrane_of(settings: Settings, calibrated: Permeabilities | None = None) -> Membrane:
    """The membrane as calibrated by command, else as configured, else as its nameplate has it."""
    found = settings.membrane if calibrated is None else calibrated
    nameplate = nameplate_membrane(settings)
    return nameplate.aged(
        (found.water_permeability_lmh_bar or nameplate.water_permeability_lmh_bar)
        / nameplate.water_permeability_lmh_bar,
        (found.salt_permeability_lmh or nameplate.salt_permeability_lmh) / nameplate.salt_permeability_lmh,
    )


class Observer:
    """Turns inputs into situations. Holds the course of the pressure and the last expectation, nothing else."""

    def __init__(self, settings: Settings, calibrated: Permeabilities | None = None) -> None:
        self._settings = settings
        self._membrane = membrane_of(settings, calibrated)
        self._rate = PressureRate()
        self._drift = Rise(min(AHEAD_S, settings.sequence.quality_hold_s / HOLDS_AHEAD))
        self._levels = {channel: Mean(LEVEL_S, at_once=True) for channel in LEVELS}
        self._expectation = Expectation()
        self._expected_at_s = -math.inf

    def know_membrane(self, calibrated: Permeabilities | None) -> None:
        """What the membrane was found to be; None: as configured."""
        self._membrane = membrane_of(self._settings, calibrated)
        self._expected_at_s = -math.inf

    def observe(self, inputs: Inputs, state: State, in_state_s: float) -> Observation:
        """What this tick's inputs tell."""
        now_s = inputs.now_s
        readings = inputs.readings

        def good(channel: str) -> float | None:
            reading = readings.get(channel)
            return None if reading is None else reading.good

        pressure_reading = readings.get("vessel_pressure")
        pressure_bar = None if pressure_reading is None else pressure_reading.value
        temperature_c = good("sea_temperature")
        flow_l_h = good("product_flow")
        drift_bar = self._drift.update(pressure_bar, now_s)
        if now_s - self._expected_at_s >= EXPECTATION_EVERY_S:
            self._expected_at_s = now_s
            self._expectation = self._expect(pressure_bar, temperature_c)
        return Observation(
            settings=self._settings,
            inputs=inputs,
            now_s=now_s,
            state=state,
            in_state_s=in_state_s,
            pressure_bar=pressure_bar,
            feed_bar=good("feed_pressure"),
            tds_mg_l=_tds_mg_l(readings["product_conductivity"].value if "product_conductivity" in readings else None),
            tds_peak_mg_l=_tds_mg_l(inputs.conductivity_peak_us_cm),
            flow_l_h=flow_l_h,
            temperature_c=temperature_c,
            rate_bar_s=self._rate.update(pressure_bar, now_s),
            drift_bar_s=None if drift_bar is None else drift_bar / self._drift.window_s,
            noise_bar=self._rate.noise.usual,
            recovery=self._recovery(flow_l_h, good),
            filter_drop_bar=_difference(good("filter_inlet_pressure"), good("feed_pressure")),
            power_w=_product(good("battery_voltage"), good("battery_current")),
            levels={channel: mean.update(good(channel), now_s) for channel, mean in self._levels.items()},
            expectation=self._expectation,
        )

    def _recovery(self, flow_l_h: float | None, good: Callable[[str], float | None]) -> float | None:
        if flow_l_h is None:
            return None
        brine_l_h = good("brine_flow")
        feed_l_h = self._settings.plant.feed_flow_l_h if brine_l_h is None else brine_l_h + flow_l_h
        return flow_l_h / feed_l_h if feed_l_h > 0 else None

    def _expect(self, pressure_bar: float | None, temperature_c: float | None) -> Expectation:
        plant = self._settings.plant
        model_c = _within(UNKNOWN_SEA_C if temperature_c is None else temperature_c, *MODEL_TEMPERATURES_C)
        minimum_bar = (
            seawater.osmotic_pressure_bar(plant.sea_salinity_g_kg, model_c) + self._settings.limits.working_margin_bar
        )
        element = lumped_element(self._membrane, round(model_c, 1))
        target_bar = self._target(element, minimum_bar)
        if temperature_c is None:
            return Expectation(working_minimum_bar=minimum_bar, target_pressure_bar=target_bar)
        target_l_h = element.at(plant.sea_salinity_g_kg, target_bar, plant.feed_flow_l_h).product_flow_l_h
        if pressure_bar is None or pressure_bar < minimum_bar:
            return Expectation(None, None, minimum_bar, target_bar, target_l_h)
        point = element.at(plant.sea_salinity_g_kg, min(pressure_bar, MODEL_PRESSURE_BAR), plant.feed_flow_l_h)
        return Expectation(point.product_flow_l_h, point.product_tds_mg_l, minimum_bar, target_bar, target_l_h)

    def _target(self, element: LumpedElement, minimum_bar: float) -> float:
        """The working pressure, lowered where it would ask for more product than the cap."""
        plant = self._settings.plant
        high_bar = self._settings.drive.working_pressure_bar
        low_bar = min(minimum_bar, high_bar)
        cap_l_h = product_cap_l_h(self._settings)
        if element.at(plant.sea_salinity_g_kg, high_bar, plant.feed_flow_l_h).product_flow_l_h <= cap_l_h:
            return high_bar
        for _ in range(HALVINGS):
            middle_bar = (low_bar + high_bar) / 2
            flow_l_h = element.at(plant.sea_salinity_g_kg, middle_bar, plant.feed_flow_l_h).product_flow_l_h
            low_bar, high_bar = (middle_bar, high_bar) if flow_l_h <= cap_l_h else (low_bar, middle_bar)
        return low_bar


def _tds_mg_l(conductivity_us_cm: float | None) -> float | None:
    return (
        None if conductivity_us_cm is None else conductivity.tds_mg_l(_within(conductivity_us_cm, 0.0, SALTIEST_US_CM))
    )


def _difference(a: float | None, b: float | None) -> float | None:
    return None if a is None or b is None else a - b


def _product(a: float | None, b: float | None) -> float | None:
    return None if a is None or b is None else abs(a * b)


def _within(value: float, low: float, high: float) -> float:
    return min(high, max(low, value))
