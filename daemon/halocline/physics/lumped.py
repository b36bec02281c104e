"""The element as one stirred node: a fast stand-in for `project`, for simulation and for every-second use.

The flow-averaged feed concentration Cf ln(1/(1−Y))/Y, the mean flow and the mid pressure stand for the whole
channel: 0.5…1.4 % more flow and 0.7…2 % less salt than the integration along it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from halocline.physics import seawater
from halocline.physics.element import Membrane, fit_permeabilities, permeabilities
from halocline.physics.errors import require
from halocline.physics.march import MOST_RECOVERED
from halocline.physics.transport import Channel, falling_root, wall_and_product

LEAST_FEED_L_H = 1e-6
"""Less than a microlitre an hour is no flow."""


def log_mean_factor(recovery: float) -> float:
    """Mean feed concentration along the element over that at its inlet, ln(1/(1−Y))/Y.

    Valid 0…0.99. Raises `OutOfRange`. Source: ASTM D4516.
    """
    y = require("recovery", recovery, "", 0.0, 0.99)
    return _log_mean(y)


def _log_mean(recovery: float) -> float:
    return -math.log1p(-recovery) / recovery if recovery > 1e-9 else 1.0 + recovery / 2.0


@dataclass(frozen=True, slots=True)
class LumpedPoint:
    """What one node says of an element: flows L/h, product salt mg/L, brine g/kg, pressures bar."""

    product_flow_l_h: float
    product_tds_mg_l: float
    recovery: float
    brine_flow_l_h: float
    brine_salinity_g_kg: float
    pressure_drop_bar: float
    flux_lmh: float


class LumpedElement:
    """One membrane at one temperature; call `at` as often as you like.

    Building it costs tens of microseconds, a call to `at` some ten. Immutable. Raises `OutOfRange`.
    """

    __slots__ = ("_channel", "_water", "membrane", "salt_lmh", "temperature_c", "water_lmh_bar")

    def __init__(self, membrane: Membrane, temperature_c: float) -> None:
        self._water = seawater.at_temperature(temperature_c)
        self.membrane = membrane
        self.temperature_c = temperature_c
        self.water_lmh_bar, self.salt_lmh = permeabilities(membrane, temperature_c)
        # Friction and film follow the feed's salinity so weakly that one typical value serves them.
        self._channel = Channel(membrane, self._water, 36.0, temperature_c)

    def at(
        self,
        feed_salinity_g_kg: float,
        membrane_inlet_bar: float,
        feed_flow_l_h: float,
        product_pressure_bar: float = 0.0,
    ) -> LumpedPoint:
        """Steady state with this feed (g/kg, L/h) at these gauge pressures (bar).

        Without feed flow or driving pressure nothing flows and the product side stands at the feed's
        concentration. Raises `OutOfRange` (see `project` for the ranges).
        """
        salinity, inlet, feed, back = require_point(
            feed_salinity_g_kg, membrane_inlet_bar, feed_flow_l_h, product_pressure_bar
        )
        feed_g_l = self._water.concentration_g_l(salinity)
        drop = self._channel.pressure_drop_bar(feed)
        if feed < LEAST_FEED_L_H or inlet - drop / 2.0 <= back:
            return LumpedPoint(0.0, 1000.0 * feed_g_l, 0.0, feed, salinity, drop, 0.0)
        flux = self._flux(feed_g_l, inlet, feed, back)
        return self._point(flux, feed_g_l, feed)

    def water_flux_pressure_bar(self, feed_salinity_g_kg: float, product_flow_l_h: float) -> float:
        """A first guess at the pressure for this product, bar: osmotic pressure plus what drives the flux."""
        flux = product_flow_l_h / self.membrane.area_m2
        return self._water.osmotic_pressure_bar(feed_salinity_g_kg) * 1.3 + flux / self.water_lmh_bar

    def _mean(self, flux: float, feed_g_l: float, feed: float) -> tuple[float, float, float, float]:
        """Mean bulk, wall and product concentration (g/L) and pressure drop (bar) for a trial flux."""
        recovery = min(flux * self.membrane.area_m2 / feed, MOST_RECOVERED)
        flow = feed * (1.0 - recovery / 2.0)
        bulk = feed_g_l * _log_mean(recovery)
        film = self._channel.film_lmh(flow)
        wall, product = wall_and_product(flux, bulk, self.salt_lmh, film, 1.0)
        return bulk, wall, product, self._channel.pressure_drop_bar(flow)

    def _flux(self, feed_g_l: float, inlet: float, feed: float, back: float) -> float:
        water, osmotic = self.water_lmh_bar, self._water.osmotic_pressure_of_g_l_bar

        def residual(flux: float) -> float:
            _, wall, product, drop = self._mean(flux, feed_g_l, feed)
            return water * (inlet - drop / 2.0 - back - osmotic(wall) + osmotic(product)) - flux

        highest = min(water * (inlet - back), MOST_RECOVERED * feed / self.membrane.area_m2)
        if residual(highest) >= 0.0:
            return highest  # fresh water, or a feed so small that all of it passes
        guess = water * max(0.72 * (inlet - back - osmotic(feed_g_l)), 0.05 * (inlet - back))
        return falling_root(residual, highest, min(guess, 0.9 * highest))

    def _point(self, flux: float, feed_g_l: float, feed: float) -> LumpedPoint:
        _, _, product_g_l, drop = self._mean(flux, feed_g_l, feed)
        product_flow = flux * self.membrane.area_m2
        # The mean product cannot carry more salt than came in; at high recovery the one node would say so.
        product_g_l = min(product_g_l, feed_g_l * feed / product_flow, feed_g_l)
        brine_flow = feed - product_flow
        brine_g_l = (feed_g_l * feed - product_g_l * product_flow) / brine_flow
        return LumpedPoint(
            product_flow_l_h=product_flow,
            product_tds_mg_l=1000.0 * product_g_l,
            recovery=product_flow / feed,
            brine_flow_l_h=brine_flow,
            brine_salinity_g_kg=self._water.salinity_g_kg(brine_g_l),
            pressure_drop_bar=drop,
            flux_lmh=flux,
        )


def require_point(
    feed_salinity_g_kg: float,
    membrane_inlet_bar: float,
    feed_flow_l_h: float,
    product_pressure_bar: float,
) -> tuple[float, float, float, float]:
    """The four checked; raises `OutOfRange`."""
    return (
        require("feed salinity", feed_salinity_g_kg, "g/kg", 0.0, seawater.HIGHEST_SALINITY_G_KG),
        require("membrane inlet pressure", membrane_inlet_bar, "bar", -1.0, 150.0),
        require("feed flow", feed_flow_l_h, "L/h", 0.0, 50_000.0),
        require("product pressure", product_pressure_bar, "bar", -1.0, 100.0),
    )


@lru_cache(maxsize=64)
def lumped_element(membrane: Membrane, temperature_c: float) -> LumpedElement:
    """`LumpedElement`, remembered."""
    return LumpedElement(membrane, temperature_c)


def lumped(
    membrane: Membrane,
    feed_salinity_g_kg: float,
    temperature_c: float,
    membrane_inlet_bar: float,
    feed_flow_l_h: float,
    product_pressure_bar: float = 0.0,
) -> LumpedPoint:
    """Steady state of one element, fast. Arguments, ranges and errors as `LumpedElement.at` and `project`."""
    element = lumped_element(membrane, temperature_c)
    return element.at(feed_salinity_g_kg, membrane_inlet_bar, feed_flow_l_h, product_pressure_bar)


def fit_lumped(
    membrane: Membrane,
    feed_salinity_g_kg: float,
    temperature_c: float,
    membrane_inlet_bar: float,
    feed_flow_l_h: float,
    *,
    product_flow_l_h: float,
    product_tds_mg_l: float,
) -> Membrane:
    """This membrane with the A and B (at 25 °C) with which `lumped` gives a measured product flow and salt.

    `fit_membrane` does the same along the channel, more exactly and fifty times slower; use this one where `lumped`
    will be asked afterwards. Raises `OutOfRange`, and `Unsolvable` when no membrane could have done it.
    """
    flow = require("product flow", product_flow_l_h, "L/h", 1e-3, 50_000.0)
    salt_g_l = require("product salt", product_tds_mg_l, "mg/L", 1e-3, 100_000.0) / 1000.0

    def trial(a: float, b: float) -> Membrane:
        return replace(membrane, water_permeability_lmh_bar=a, salt_permeability_lmh=b)

    def product_of(a: float, b: float) -> tuple[float, float]:
        element = LumpedElement(trial(a, b), temperature_c)
        point = element.at(feed_salinity_g_kg, membrane_inlet_bar, feed_flow_l_h)
        return point.product_flow_l_h, point.product_tds_mg_l / 1000.0

    return trial(
        *fit_permeabilities(
            product_of,
            flow,
            salt_g_l,
            membrane.water_permeability_lmh_bar,
            max(membrane.salt_permeability_lmh, 1e-3),
        )
    )
