"""Water under pressure: a blocked outlet, and what a plunger pump asks of its suction."""

from __future__ import annotations

from halocline.physics import seawater
from halocline.physics.errors import require

BULK_MODULUS_PA = 2.4e9
"""Sea water at working pressure, between the isothermal (2.41) and a little air."""


def bulk_modulus_pa(salinity_g_kg: float, temperature_c: float, pressure_bar: float) -> float:
    """Isentropic bulk modulus of sea water, Pa, from the speed of sound: ρ c².

    Valid 0…45 g/kg, 0…35 °C, 0…100 bar, ± 0.5 %. Raises `OutOfRange`. Source: Medwin 1975 (from memory).
    """
    s = require("salinity", salinity_g_kg, "g/kg", 0.0, 45.0)
    t = require("water temperature", temperature_c, "°C", 0.0, 35.0)
    depth_m = require("pressure", pressure_bar, "bar", 0.0, 100.0) * 1e5 / (1025.0 * 9.81)
    practical = s / seawater.GRAM_PER_PRACTICAL_UNIT
    speed = 1449.2 + t * (4.6 + t * (-0.055 + 0.00029 * t))
    speed += (1.34 - 0.010 * t) * (practical - 35.0) + 0.016 * depth_m
    return seawater.density_kg_m3(s, t) * speed**2


def compliance_m3_pa(
    volume_l: float,
    *,
    bulk_modulus_pa: float = BULK_MODULUS_PA,
    wall_compliance_per_pa: float = 0.0,
    hose_m3_pa: float = 0.0,
) -> float:
    """Volume a closed high-pressure side takes up for each pascal, m³/Pa. Raises `OutOfRange`."""
    volume = require("volume", volume_l, "L", 1e-3, 1000.0) / 1000.0
    modulus = require("bulk modulus", bulk_modulus_pa, "Pa", 1e6, 1e11)
    wall = require("compliance of the walls", wall_compliance_per_pa, "1/Pa", 0.0, 1e-6)
    return volume * (1.0 / modulus + wall) + require("compliance of hoses", hose_m3_pa, "m³/Pa", 0.0, 1e-6)


def blocked_outlet_rate_bar_ms(net_flow_l_h: float, compliance_m3_pa: float) -> float:
    """Pressure rise, bar per millisecond, when this flow has nowhere to go. Raises `OutOfRange`.

    Source: conservation of volume. 0.1…1 bar/ms in a small plant: a relief valve's work, not a program's.
    """
    flow_m3_s = require("net flow", net_flow_l_h, "L/h", -100_000.0, 100_000.0) / 3.6e6
    return flow_m3_s / require("compliance", compliance_m3_pa, "m³/Pa", 1e-15, 1e-6) / 1e5 / 1000.0


def triplex_pulse_hz(speed_rpm: float, plungers: int = 3) -> float:
    """Pulses a second of a plunger pump. Raises `OutOfRange`."""
    return require("pump speed", speed_rpm, "rpm", 0.0, 10_000.0) * plungers / 60.0


def acceleration_head_m(
    suction_length_m: float,
    velocity_m_s: float,
    speed_rpm: float,
    *,
    pump_factor: float = 0.066,
    liquid_factor: float = 1.5,
) -> float:
    """Head lost in the suction line because each stroke starts the water anew, m: L v n C / (K g).

    `pump_factor` 0.066 for three plungers, `liquid_factor` 1.4…1.5 for water. Raises `OutOfRange`.
    Source: Hydraulic Institute (from memory).
    """
    length = require("suction length", suction_length_m, "m", 0.0, 100.0)
    velocity = require("suction velocity", velocity_m_s, "m/s", 0.0, 20.0)
    speed = require("pump speed", speed_rpm, "rpm", 0.0, 10_000.0)
    pump = require("pump factor", pump_factor, "", 0.001, 1.0)
    return length * velocity * speed * pump / (require("liquid factor", liquid_factor, "", 0.5, 5.0) * 9.81)
