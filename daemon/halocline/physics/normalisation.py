"""Running data brought to the conditions of a reference day, so that age shows and weather does not.

Source: the structure of ASTM D4516; common practice for differential pressure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from halocline.physics import seawater
from halocline.physics.errors import Unsolvable, require
from halocline.physics.lumped import log_mean_factor, require_point
from halocline.physics.transport import temperature_factor

OsmoticLaw = Literal["seawater", "d4516"]

FLOW_EXPONENT = 1.2
"""Pressure drop grows with this power of flow in the slow channel of one small element; 1.5 in big plants."""


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """One steady state, measured: pressures bar (gauge), flows L/h, feed g/kg, product mg/L, °C.

    Raises `OutOfRange`; `Unsolvable` when product is not less than feed.
    """

    membrane_inlet_bar: float
    pressure_drop_bar: float
    product_pressure_bar: float
    feed_salinity_g_kg: float
    temperature_c: float
    feed_flow_l_h: float
    product_flow_l_h: float
    product_tds_mg_l: float

    def __post_init__(self) -> None:
        require_point(self.feed_salinity_g_kg, self.membrane_inlet_bar, self.feed_flow_l_h, self.product_pressure_bar)
        require("pressure drop", self.pressure_drop_bar, "bar", 0.0, 50.0)
        require("water temperature", self.temperature_c, "°C", seawater.LOWEST_C, seawater.HIGHEST_C)
        require("product flow", self.product_flow_l_h, "L/h", 1e-6, 50_000.0)
        require("product salt", self.product_tds_mg_l, "mg/L", 0.0, 75_000.0)
        if self.product_flow_l_h > 0.9 * self.feed_flow_l_h:
            raise Unsolvable(
                f"product of {self.product_flow_l_h:g} L/h from a feed of {self.feed_flow_l_h:g} L/h "
                f"is more than a membrane can take: check both flow meters"
            )

    @property
    def recovery(self) -> float:
        """Product over feed."""
        return self.product_flow_l_h / self.feed_flow_l_h

    @property
    def mean_feed_salinity_g_kg(self) -> float:
        """Logarithmic mean of the feed's salinity along the element, g/kg."""
        return self.feed_salinity_g_kg * log_mean_factor(self.recovery)


@dataclass(frozen=True, slots=True)
class Normalised:
    """The actual point at reference conditions. Changes are fractions of the reference: −0.1 is 10 % less.

    `osmotic` names the law used; values of one trend must all come from the same law. Salt passage is a
    fraction (0.008 is 0.8 %).
    """

    product_flow_l_h: float
    flow_change: float
    salt_passage: float
    salt_passage_change: float
    pressure_drop_bar: float
    pressure_drop_change: float
    net_driving_pressure_bar: float
    reference_net_driving_pressure_bar: float
    osmotic: OsmoticLaw


def net_driving_pressure_bar(point: OperatingPoint, osmotic: OsmoticLaw = "seawater") -> float:
    """Mean pressure that drives water through, bar: P − dP/2 − Pp − π(mean feed) + π(product).

    Polarisation is left out, as in ASTM D4516. Raises `ValueError` for another law, `OutOfRange`.
    """
    mean, product = point.mean_feed_salinity_g_kg, point.product_tds_mg_l / 1000.0
    t = point.temperature_c
    if osmotic == "seawater":
        difference = seawater.osmotic_pressure_bar(mean, t) - seawater.osmotic_pressure_bar(product, t)
    elif osmotic == "d4516":
        law = seawater.osmotic_pressure_d4516_bar
        difference = law(1000.0 * mean, t) - law(1000.0 * product, t)
    else:
        raise ValueError(f"osmotic law {osmotic!r} is not known; choose seawater or d4516")
    return point.membrane_inlet_bar - point.pressure_drop_bar / 2.0 - point.product_pressure_bar - difference


def salt_passage(point: OperatingPoint) -> float:
    """Product salt over mean feed salt, 0…1. Raises `Unsolvable` for a feed without salt."""
    if point.feed_salinity_g_kg <= 0.0:
        raise Unsolvable("a feed without salt has no salt passage; normalise points run on sea water")
    return point.product_tds_mg_l / (1000.0 * point.mean_feed_salinity_g_kg)


def normalised_pressure_drop_bar(
    reference: OperatingPoint, actual: OperatingPoint, flow_exponent: float = FLOW_EXPONENT
) -> float:
    """Pressure drop the actual channel would have at the reference's flow and temperature, bar.

    Valid exponents 1…2; viscosity enters with 2 − exponent. Raises `OutOfRange`.
    """
    n = require("flow exponent", flow_exponent, "", 1.0, 2.0)
    flow_ratio = _mean_flow(reference) / _mean_flow(actual)
    viscosity_ratio = _water_viscosity(reference) / _water_viscosity(actual)
    return float(actual.pressure_drop_bar * flow_ratio**n * viscosity_ratio ** (2.0 - n))


def normalise(
    reference: OperatingPoint,
    actual: OperatingPoint,
    osmotic: OsmoticLaw = "seawater",
    *,
    water_activation_kj_mol: float = 22.0,
    salt_activation_kj_mol: float = 28.0,
    flow_exponent: float = FLOW_EXPONENT,
) -> Normalised:
    """The actual point at the reference's conditions; valid at steady state only (30 min of constant run).

    Raises `Unsolvable` when one of the points has no driving pressure or no salt in its feed, `OutOfRange`,
    `ValueError` for another osmotic law. `pressure_drop_change` is NaN-free: 0 when the reference has none.
    Source: ASTM D4516, with temperature factors that rise with temperature.
    """
    driving_r = _driving(reference, osmotic, "reference")
    driving_a = _driving(actual, osmotic, "actual")
    water_ratio = _factor_ratio(reference, actual, water_activation_kj_mol)
    salt_ratio = _factor_ratio(reference, actual, salt_activation_kj_mol)
    flow = actual.product_flow_l_h * driving_r / driving_a * water_ratio
    passage = salt_passage(actual) * actual.product_flow_l_h / reference.product_flow_l_h * salt_ratio
    drop = normalised_pressure_drop_bar(reference, actual, flow_exponent)
    return Normalised(
        product_flow_l_h=flow,
        flow_change=flow / reference.product_flow_l_h - 1.0,
        salt_passage=passage,
        salt_passage_change=_change(passage, salt_passage(reference)),
        pressure_drop_bar=drop,
        pressure_drop_change=_change(drop, reference.pressure_drop_bar),
        net_driving_pressure_bar=driving_a,
        reference_net_driving_pressure_bar=driving_r,
        osmotic=osmotic,
    )


def _driving(point: OperatingPoint, osmotic: OsmoticLaw, name: str) -> float:
    driving = net_driving_pressure_bar(point, osmotic)
    if driving > 0.1:
        return driving
    raise Unsolvable(
        f"the {name} point has a net driving pressure of {driving:.2f} bar: its pressure does not overcome "
        f"the osmotic pressure of its feed; check pressure and salinity"
    )


def _factor_ratio(reference: OperatingPoint, actual: OperatingPoint, activation_kj_mol: float) -> float:
    return temperature_factor(activation_kj_mol, reference.temperature_c) / temperature_factor(
        activation_kj_mol, actual.temperature_c
    )


def _mean_flow(point: OperatingPoint) -> float:
    return point.feed_flow_l_h - point.product_flow_l_h / 2.0


def _water_viscosity(point: OperatingPoint) -> float:
    return seawater.at_temperature(point.temperature_c).water_viscosity_pa_s


def _change(value: float, reference: float) -> float:
    return value / reference - 1.0 if reference > 0.0 and math.isfinite(value / reference) else 0.0
