"""What is true aboard the simulated boat, whatever the sensors say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """The plant now, and what happened since the beginning. Units as in the names; flows are true flows."""

    time_s: float
    vessel_pressure_bar: float
    pressure_rate_bar_s: float
    feed_pressure_bar: float
    filter_inlet_pressure_bar: float
    brine_pressure_bar: float
    product_pressure_bar: float
    feed_flow_l_h: float
    product_flow_l_h: float
    brine_flow_l_h: float
    relief_flow_l_h: float
    flush_flow_l_h: float
    element_salinity_g_kg: float
    brine_salinity_g_kg: float
    product_tds_mg_l: float
    """Of the water at the cell, which is the water at the diverter."""
    sea_temperature_c: float
    diverter_position: float
    """0 overboard, 1 at the tank."""
    regulator_open: float
    tank_litres: float
    battery_v: float
    battery_current_a: float
    battery_charge_percent: float
    pumps_w: float
    pump_motor_temperature_c: float
    high_pressure_pump_speed: float
    feed_pump_speed: float
    flush_valve_open: bool
    relay_closed: bool
    effective_outputs: Mapping[str, bool]
    faults: tuple[str, ...]
    peak_vessel_pressure_bar: float
    relief_lifted: bool
    tank_added_l: float
    tank_worst_tds_mg_l: float | None
    overboard_l: float
    flush_l: float
    energy_wh: float
    hp_pump_dry_s: float
