"""Energy: what the pump puts into the water, what comes out of the battery."""

from __future__ import annotations

from halocline.physics.errors import Unsolvable, require

BAR_PER_WH_L = 36.0
"""One watt-hour in a litre is 36 bar."""


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
