"""Energy: the least that nature asks, what the pump puts into the water, what comes out of the battery."""

from __future__ import annotations

from halocline.physics import seawater
from halocline.physics.errors import Unsolvable, require

BAR_PER_WH_L = 36.0
"""One watt-hour in a litre is 36 bar."""

_GAUSS_POINTS = (
    (0.0, 0.5688888888888889),
    (0.5384693101056831, 0.4786286704993665),
    (0.9061798459386640, 0.2369268850561891),
)
"""Gauss and Legendre's five points on −1…1, without the mirror images."""


def least_work_wh_l(salinity_g_kg: float, temperature_c: float, recovery: float) -> float:
    """Least work of separation of a litre of pure product, Wh/L; recovery is product over feed by mass.

    Valid 0…75 g/kg, −2…45 °C, recovery 0…0.9 with a brine of at most 120 g/kg. Raises `OutOfRange`.
    Source: mean osmotic pressure of the brine while it is drawn off, W = ∫π(S/(1−x))dx / r.
    """
    salinity = require("feed salinity", salinity_g_kg, "g/kg", 0.0, 75.0)
    r = require("recovery", recovery, "", 0.0, 0.9)
    require("brine salinity", salinity / (1.0 - r), "g/kg", 0.0, seawater.HIGHEST_SALINITY_G_KG)
    water = seawater.at_temperature(temperature_c)
    mean = sum(
        weight * water.osmotic_pressure_bar(salinity / (1.0 - r * (1.0 + side * place) / 2.0)) / 2.0
        for place, weight in _GAUSS_POINTS
        for side in ((1.0, -1.0) if place else (1.0,))
    )
    return mean / BAR_PER_WH_L


def hydraulic_power_w(flow_l_h: float, pressure_bar: float) -> float:
    """Power in a flow under pressure, W. Raises `OutOfRange`."""
    flow = require("flow", flow_l_h, "L/h", 0.0, 100_000.0)
    return flow * require("pressure", pressure_bar, "bar", 0.0, 200.0) / BAR_PER_WH_L


def pump_work_wh_l(pressure_bar: float, recovery: float) -> float:
    """Hydraulic work a litre of product without energy recovery, Wh/L: P / (36 Y). Raises `OutOfRange`."""
    pressure = require("pressure", pressure_bar, "bar", 0.0, 200.0)
    return pressure / BAR_PER_WH_L / require("recovery", recovery, "", 1e-3, 1.0)


def specific_energy_wh_l(power_w: float, product_flow_l_h: float) -> float:
    """Electric energy a litre of product, Wh/L. Raises `OutOfRange`, `Unsolvable` without product."""
    power = require("power", power_w, "W", 0.0, 100_000.0)
    flow = require("product flow", product_flow_l_h, "L/h", 0.0, 50_000.0)
    if flow < 1e-6:
        raise Unsolvable("without product flow there is no energy a litre; wait until the plant makes water")
    return power / flow


def hydraulic_efficiency(power_w: float, feed_flow_l_h: float, pressure_bar: float) -> float:
    """Power in the feed over electric power. Raises `OutOfRange`."""
    power = require("power", power_w, "W", 1e-3, 100_000.0)
    return hydraulic_power_w(feed_flow_l_h, pressure_bar) / power


def second_law_efficiency(
    specific_energy_wh_l: float, salinity_g_kg: float, temperature_c: float, recovery: float
) -> float:
    """Least work over work spent: 0.03…0.05 is usual without energy recovery. Raises `OutOfRange`."""
    spent = require("specific energy", specific_energy_wh_l, "Wh/L", 1e-3, 10_000.0)
    return least_work_wh_l(salinity_g_kg, temperature_c, recovery) / spent
