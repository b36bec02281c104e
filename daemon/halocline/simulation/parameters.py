"""Everything of the simulated boat that a rehearsal may change, each with its unit, range and default."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Self

from halocline.physics.membrane import Membrane
from halocline.plant.fields import setting
from halocline.plant.settings import MembraneSettings, Settings

ROOM_L = 200.0
"""Room in the tank when a rehearsal begins, where the tank has it."""

LEAST_FILLED = 1 / 3
"""A smaller tank begins as full as this: a flush takes its water from it."""

AGED_WATER = 0.78
"""Water permeability of an element some years old over that on its nameplate (invented)."""


LARGEST_PERMEABILITY = 50.0
"""Beyond this an element is a hole, and the membrane model has nothing to say."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantParameters:
    """The simulated sea, plant, tank, battery and person. Defaults without a source are invented.

    `for_settings` fills in what the boat's own settings already say; quick settings give quick volumes, and
    `quick` shortens only what the settings do not know.
    """

    salinity_g_kg: float = setting("salinity of the sea", default=36.3, unit="g/kg", low=1, high=45)
    temperature_c: float = setting("temperature of the sea", default=22.0, unit="°C", low=0, high=44)
    fresh_salinity_g_kg: float = setting(
        "salinity of the water used to flush", default=0.35, unit="g/kg", low=0.01, high=2
    )
    rested_product_g_l: float = setting(
        "salt on the product side at the beginning, after a fresh flush",
        default=0.15,
        unit="g/L",
        low=0.001,
        high=40,
    )
    rested_feed_g_kg: float | None = setting(
        "salinity in the element at the beginning; without it flushed fresh",
        default=None,
        unit="g/kg",
        low=0,
        high=45,
    )

    tank_capacity_l: float = setting("drinking-water tank", default=300.0, unit="L", low=5, high=20000)
    tank_litres: float = setting("in the tank at the beginning", default=100.0, unit="L", low=0, high=20000)
    crew_use_l_h: float = setting("what the crew takes from it", default=0.0, unit="L/h", low=0, high=2000)
    tank_float_percent: float = setting("level of the float switch", default=98.0, unit="%", low=5, high=100)

    water_permeability_lmh_bar: float = setting(
        "A of the element at 25 °C", default=1.255, unit="LMH/bar", low=0.01, high=20
    )
    salt_permeability_lmh: float = setting("B of the element at 25 °C", default=0.185, unit="LMH", low=0.001, high=20)
    membrane_area_m2: float = setting("active area", default=2.6, unit="m²", low=0.1, high=50)
    feed_side_volume_l: float = setting(
        "sea-water side from pump to regulator", default=1.5, unit="L", low=0.01, high=50
    )
    product_side_volume_l: float = setting(
        "product side from membrane to cell and diverter", default=0.6, unit="L", low=0.01, high=20
    )
    product_in_element: float = setting(
        "share of the product side that lies within the element", default=0.58, low=0.05, high=0.95
    )
    suck_back_l: float = setting(
        "product that osmosis draws back at a stop before it is balanced",
        default=0.05,
        unit="L",
        low=0.0,
        high=2,
    )

    feed_flow_l_h: float = setting("flow of the high-pressure pump", default=340.0, unit="L/h", low=50, high=5000)
    pump_run_up_s: float = setting("run-up of a pump", default=0.3, unit="s", low=0.05, high=5)
    pump_run_down_s: float = setting(
        "run-down of a pump (0.1 to 1 s, common practice)", default=0.5, unit="s", low=0.05, high=5
    )
    contactor_s: float = setting(
        "delay of a contactor (20 to 50 ms, common practice)", default=0.035, unit="s", low=0.0, high=0.5
    )
    compliance_ml_bar: float = setting(
        "water that one bar squeezes into the high-pressure side (0.08 to 0.8)",
        default=0.4,
        unit="mL/bar",
        low=0.02,
        high=5,
    )
    regulator_open_bar: float = setting(
        "pressure with the pump on and the regulator fully open", default=5.7, unit="bar", low=0.5, high=9
    )
    relief_bar: float = setting("setting of the relief valve", default=69.0, unit="bar", low=5, high=100)
    pressure_switch_bar: float = setting(
        "setting of the hard-wired pressure switch", default=66.0, unit="bar", low=5, high=100
    )
    product_relief_bar: float = setting("relief valve of the product line", default=1.5, unit="bar", low=0.3, high=5)

    feed_stall_bar: float = setting(
        "pressure of the feed pump against a shut valve", default=2.2, unit="bar", low=0.5, high=4
    )
    feed_working_bar: float = setting(
        "feed pressure after clean filters with the high-pressure pump on",
        default=1.5,
        unit="bar",
        low=0.2,
        high=3.5,
    )
    filter_clean_drop_bar: float = setting(
        "pressure lost in clean filters at working flow", default=0.06, unit="bar", low=0.005, high=1
    )
    feed_settle_s: float = setting("time constant of the feed pressure", default=0.3, unit="s", low=0.02, high=5)
    flush_supply_bar: float = setting("pressure of the fresh-water system", default=3.5, unit="bar", low=0.5, high=6)

    diverter_travel_s: float = setting("travel of the diverter", default=0.8, unit="s", low=0.05, high=1, quick=0.25)
    probe_lag_s: float = setting("lag of the conductivity cell", default=5.0, unit="s", low=0.05, high=10, quick=0.1)
    water_settle_s: float = setting(
        "time in which a change of the sea's temperature arrives",
        default=10.0,
        unit="s",
        low=0.5,
        high=600,
    )
    noise_lsb: float = setting(
        "standard deviation of every analogue signal, in steps of the converter", default=3.0, low=2, high=50
    )
    meter_threshold: float = setting(
        "share of its range below which a turbine stands still", default=0.005, low=0.0, high=0.2
    )
    sensor_supply_v: float = setting(
        "true supply of ratiometric sensors over the nominal one", default=0.99, low=0.9, high=1.05
    )

    pump_power_w: float = setting(
        "power of both pumps at working pressure", default=1400.0, unit="W", low=50, high=10000
    )
    feed_pump_power_w: float = setting("power of the feed pump alone", default=90.0, unit="W", low=5, high=2000)
    idle_power_share: float = setting(
        "share of the high-pressure pump's power that it needs without pressure",
        default=0.25,
        low=0.0,
        high=0.9,
    )
    motor_voltage_v: float = setting(
        "supply of the high-pressure pump's motor", default=230.0, unit="V", low=10, high=400
    )
    motor_rise_k: float = setting(
        "how much warmer than the air the motor gets at full load", default=45.0, unit="K", low=0, high=150
    )
    motor_warm_s: float = setting(
        "time constant of the motor's temperature", default=900.0, unit="s", low=10, high=20000, quick=0.1
    )
    air_c: float = setting("temperature of the engine room", default=28.0, unit="°C", low=-10, high=60)
    battery_v: float = setting("battery full and at rest", default=13.4, unit="V", low=10, high=60)
    battery_empty_v: float = setting("battery empty and at rest", default=12.4, unit="V", low=9, high=58)
    battery_ah: float = setting("capacity of the battery", default=600.0, unit="Ah", low=10, high=20000)
    battery_ohm: float = setting(
        "internal resistance of the battery and its cables", default=0.004, unit="ohm", low=0.0, high=1
    )
    battery_charge_percent: float = setting("charge at the beginning", default=90.0, unit="%", low=0, high=100)
    boat_power_w: float = setting(
        "what the rest of the boat takes from the battery", default=40.0, unit="W", low=0, high=5000
    )
    charging_w: float = setting(
        "what sun, wind and engine put into the battery", default=0.0, unit="W", low=0, high=10000
    )

    hand_raise_bar_s: float = setting(
        "how fast the person raises pressure", default=0.5, unit="bar/s", low=0.05, high=100
    )
    hand_open_s: float = setting(
        "time to open the regulator fully", default=1.8, unit="s", low=0.1, high=30, quick=0.25
    )
    # No faster in a demonstration: a pump that turns within a second of its permission had its switch on before.
    hand_switch_s: float = setting("time to reach the pump's own switch", default=3.0, unit="s", low=0.1, high=600)
    hand_rearm_s: float = setting(
        "time after which the person re-arms the time-out relay", default=0.8, unit="s", low=0.05, high=600
    )

    @classmethod
    def for_settings(cls, settings: Settings) -> Self:
        """The simulated boat that has the plant, tank and element of these settings."""
        plant, capacity_l = settings.plant, settings.plant.tank_capacity_l
        water, salt = _permeabilities(settings.membrane)
        volts = _battery_scale(settings.limits.battery_start_v)
        return cls(
            salinity_g_kg=plant.sea_salinity_g_kg,
            tank_capacity_l=capacity_l,
            tank_litres=max(LEAST_FILLED * capacity_l, capacity_l - ROOM_L),
            water_permeability_lmh_bar=water,
            salt_permeability_lmh=salt,
            membrane_area_m2=settings.membrane.area_m2,
            feed_side_volume_l=plant.feed_side_volume_l,
            product_side_volume_l=plant.product_side_volume_l,
            feed_flow_l_h=plant.feed_flow_l_h,
            relief_bar=plant.relief_bar,
            pressure_switch_bar=plant.pressure_switch_bar,
            pump_power_w=plant.pump_power_w,
            hand_raise_bar_s=settings.drive.raise_bar_s,
            battery_v=13.4 * volts,
            battery_empty_v=12.4 * volts,
            battery_ohm=0.004 * volts * volts,
            battery_ah=600.0 / volts,
        )

    def quick(self) -> Self:
        """The same with everything slow that the settings do not know made faster."""
        factors = {field.name: field.metadata.get("quick") for field in fields(self)}
        return replace(self, **{name: getattr(self, name) * factor for name, factor in factors.items() if factor})

    def membrane(self, water_factor: float = 1.0, salt_factor: float = 1.0) -> Membrane:
        """The element, its permeabilities multiplied by what happened to it."""
        return Membrane(
            min(LARGEST_PERMEABILITY, self.water_permeability_lmh_bar * water_factor),
            min(LARGEST_PERMEABILITY, self.salt_permeability_lmh * salt_factor),
            self.membrane_area_m2,
        )


def _permeabilities(membrane: MembraneSettings) -> tuple[float, float]:
    water, salt = membrane.water_permeability_lmh_bar, membrane.salt_permeability_lmh
    if water is not None and salt is not None:
        return water, salt
    plate = Membrane.from_nameplate(membrane.nameplate_flow_m3_d, membrane.nameplate_rejection, membrane.area_m2)
    return (
        AGED_WATER * plate.water_permeability_lmh_bar if water is None else water,
        plate.salt_permeability_lmh if salt is None else salt,
    )


def _battery_scale(start_v: float) -> float:
    """1 for a 12 V battery, 2 for 24 V, 4 for 48 V."""
    return 1.0 if start_v < 18.0 else 2.0 if start_v < 36.0 else 4.0
