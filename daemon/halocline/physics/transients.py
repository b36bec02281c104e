"""What happens between steady states: salt washed out of small volumes, and seeping through at standstill.

All formulas are exact solutions for well-stirred volumes and constant flow, so any time step is stable.
Concentrations may be in any one unit; volumes in L, flows in L/h, times in s. Source: salt balance.
"""

from __future__ import annotations

import math

from halocline.physics.errors import Unsolvable, require

_HIGHEST_FLOW_L_H = 100_000.0
_HIGHEST_VOLUME_L = 10_000.0
_HIGHEST_TIME_S = 1e9


def _volumes_exchanged(flow_l_h: float, volume_l: float, seconds: float) -> float:
    flow = require("flow", flow_l_h, "L/h", 0.0, _HIGHEST_FLOW_L_H)
    volume = require("volume", volume_l, "L", 1e-6, _HIGHEST_VOLUME_L)
    return flow * require("time", seconds, "s", 0.0, _HIGHEST_TIME_S) / (3600.0 * volume)


def washout(now: float, incoming: float, flow_l_h: float, volume_l: float, seconds: float) -> float:
    """Concentration in one stirred volume after `seconds` of inflow. Raises `OutOfRange`."""
    return incoming + (now - incoming) * math.exp(-_volumes_exchanged(flow_l_h, volume_l, seconds))


def _lag(a: float, b: float) -> float:
    """b (e^−a − e^−b) / (b − a), smooth where a = b: the share of the first volume's excess in the second."""
    if a > b:
        return b / a * _lag(b, a)
    difference = b - a
    return b * math.exp(-a) * (-math.expm1(-difference) / difference if difference > 1e-12 else 1.0)


def two_volumes_washout(
    first: float,
    second: float,
    incoming: float,
    flow_l_h: float,
    first_volume_l: float,
    second_volume_l: float,
    seconds: float,
) -> tuple[float, float]:
    """Concentrations in two stirred volumes in line after `seconds` of inflow into the first.

    For a plant: the product side of the element, then the pipe to the probe. Raises `OutOfRange`.
    """
    a = _volumes_exchanged(flow_l_h, first_volume_l, seconds)
    b = _volumes_exchanged(flow_l_h, second_volume_l, seconds)
    excess = first - incoming
    return (
        incoming + excess * math.exp(-a),
        incoming + (second - incoming) * math.exp(-b) + excess * _lag(a, b),
    )


def seconds_until_below(
    target: float,
    start: float,
    incoming: float,
    flow_l_h: float,
    first_volume_l: float,
    second_volume_l: float,
) -> float:
    """Seconds until the second of two volumes, both at `start`, has come down to `target`.

    0 when it is there already. Raises `Unsolvable` when the target is not above what flows in, or nothing
    flows; `OutOfRange`.
    """

    def second_at(seconds: float) -> float:
        return two_volumes_washout(start, start, incoming, flow_l_h, first_volume_l, second_volume_l, seconds)[1]

    if start <= target:
        return 0.0
    if target <= incoming or flow_l_h <= 0:
        raise Unsolvable(
            f"{target:g} is never reached: the water flowing in has {incoming:g} at {flow_l_h:g} L/h; "
            f"choose a higher target or a flow"
        )
    low, high = 0.0, 3600.0 * (first_volume_l + second_volume_l) / flow_l_h
    while second_at(high) > target:
        low, high = high, 2.0 * high
    for _ in range(100):
        middle = (low + high) / 2.0
        low, high = (middle, high) if second_at(middle) > target else (low, middle)
    return high


def standstill(
    product_side: float,
    feed_side: float,
    salt_permeability_lmh: float,
    area_m2: float,
    product_volume_l: float,
    seconds: float,
) -> float:
    """Concentration on the product side of an element at rest after `seconds`.

    Salt diffuses through with the time constant volume / (B · area). An upper bound: the membrane's support
    layer slows it. Pass B at the water's temperature. Raises `OutOfRange`.
    """
    b = require("salt permeability", salt_permeability_lmh, "L/m²/h", 0.0, 100.0)
    area = require("membrane area", area_m2, "m²", 1e-4, 1000.0)
    return washout(product_side, feed_side, b * area, product_volume_l, seconds)


def suck_back_l_h(
    water_permeability_lmh_bar: float,
    area_m2: float,
    feed_osmotic_bar: float,
    product_osmotic_bar: float,
    pressure_difference_bar: float = 0.0,
) -> float:
    """Water drawn from the product side into the feed side, L/h; 0 while pressure keeps it from flowing back.

    Right after a stop the salt side draws fresh water back, until its own film is diluted: an upper bound
    for the first seconds, and never production. Pass A at the water's temperature. Raises `OutOfRange`.
    """
    a = require("water permeability", water_permeability_lmh_bar, "L/m²/h/bar", 0.0, 100.0)
    area = require("membrane area", area_m2, "m²", 1e-4, 1000.0)
    feed = require("osmotic pressure of the feed", feed_osmotic_bar, "bar", 0.0, 500.0)
    product = require("osmotic pressure of the product", product_osmotic_bar, "bar", 0.0, 500.0)
    pressure = require("pressure difference", pressure_difference_bar, "bar", -100.0, 200.0)
    return max(0.0, a * area * (feed - product - pressure))
