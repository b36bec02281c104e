"""One membrane element as a differential equation, written from the equations and not from the package.

Osmotic pressure is TEOS-10's (gsw), density too; the solver is scipy's. Slow, and the yardstick.
"""

from __future__ import annotations

from dataclasses import dataclass

import gsw
import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq

GAS_CONSTANT = 8.314462618


@dataclass(frozen=True)
class Element:
    """Permeabilities at 25 °C in L/m²/h/bar and L/m²/h, area in m²; channel in m."""

    a25: float
    b25: float
    area: float
    length: float = 0.90
    height: float = 0.00071
    porosity: float = 0.85
    energy_a: float = 22e3
    energy_b: float = 28e3


@dataclass(frozen=True)
class Answer:
    product_l_h: float
    product_mg_l: float
    brine_g_l: float
    drop_bar: float
    polarisation_inlet: float


def teos_osmotic_bar(salinity: float, t: float, permeate_dbar: float = 0.0) -> float:
    """From the equality of the chemical potential of water on both sides."""
    outside = gsw.chem_potential_water_t_exact(0.0, t, permeate_dbar)

    def imbalance(p: float) -> float:
        return float(gsw.chem_potential_water_t_exact(salinity, t, permeate_dbar + p) - outside)

    return float(brentq(imbalance, 0.0, 4000.0, xtol=1e-9)) / 10.0 if salinity > 0 else 0.0


class DenseElement:
    """An element in sea water of one temperature."""

    def __init__(self, element: Element, t: float) -> None:
        self.element, self.t, self.kelvin = element, t, t + 273.15
        salinities = np.linspace(0.0, 110.0, 56)
        pressures = [teos_osmotic_bar(s, t) for s in salinities]
        grams = salinities * gsw.rho_t_exact(salinities, t, 0.0) / 1000.0
        # A spline in the root, for near zero osmotic pressure goes with c and c^1.5.
        self._osmotic = CubicSpline(np.sqrt(grams), pressures)

        def arrhenius(energy: float) -> float:
            return float(np.exp(-energy / GAS_CONSTANT * (1 / self.kelvin - 1 / 298.15)))

        self.a = element.a25 * arrhenius(element.energy_a) / 3.6e6
        self.b = element.b25 * arrhenius(element.energy_b) / 3.6e6

    def osmotic(self, grams_per_litre: float) -> float:
        return float(self._osmotic(np.sqrt(grams_per_litre)))

    def water_viscosity(self, t: float) -> float:
        return 4.2844e-5 + 1.0 / (0.157 * (t + 64.993) ** 2 - 91.296)

    def solve(self, salinity: float, inlet_bar: float, feed_l_h: float, product_bar: float = 0.0) -> Answer:
        e, t = self.element, self.t
        diameter = 4 * e.porosity / (2 / e.height + (1 - e.porosity) * 8 / e.height)
        width = e.area / (2 * e.length)
        rho = float(gsw.rho_t_exact(salinity, t, 0.0))
        s = salinity / 1000.0
        mu = self.water_viscosity(t) * (
            1 + (1.541 + 1.998e-2 * t - 9.52e-5 * t**2) * s + (7.974 - 7.561e-2 * t + 4.724e-4 * t**2) * s**2
        )
        diffusivity = 1.48e-9 * self.kelvin / 298.15 * self.water_viscosity(25.0) / self.water_viscosity(t)

        def speed(q: float) -> float:
            return q / (width * e.height * e.porosity)

        def local(q: float, c: float, p: float) -> tuple[float, float, float]:
            reynolds = rho * speed(q) * diameter / mu
            schmidt = mu / rho / diffusivity
            k = 0.46 * (reynolds * schmidt) ** 0.36 * diffusivity / diameter

            def surface(j: float) -> tuple[float, float]:
                grow = np.exp(j / k)
                behind = self.b * grow * c / (j + self.b * grow)
                return behind + (c - behind) * grow, behind

            def imbalance(j: float) -> float:
                at_wall, behind = surface(j)
                return self.a * (p - product_bar - self.osmotic(at_wall) + self.osmotic(behind)) - j

            j = float(brentq(imbalance, 1e-14, 0.8 * self.a * (p - product_bar), xtol=1e-16, rtol=1e-12))
            at_wall, behind = surface(j)
            return j, behind, at_wall / c

        def slope(_: float, y: np.ndarray) -> list[float]:
            q, salt, p = y
            j, behind, _factor = local(q, salt / q, p)
            v = speed(q)
            friction = 0.42 + 189.3 / (rho * v * diameter / mu)
            return [
                -j * e.area / e.length,
                -j * behind * e.area / e.length,
                -friction * rho * v**2 / (2 * diameter) / 1e5,
            ]

        q0, c0 = feed_l_h / 3.6e6, salinity * rho / 1000.0
        run = solve_ivp(slope, (0.0, e.length), [q0, q0 * c0, inlet_bar], rtol=1e-8, atol=1e-14, max_step=0.05)
        q1, salt1, p1 = run.y[:, -1]
        made = q0 - q1
        return Answer(
            product_l_h=made * 3.6e6,
            product_mg_l=(q0 * c0 - salt1) / made * 1000.0,
            brine_g_l=salt1 / q1,
            drop_bar=inlet_bar - p1,
            polarisation_inlet=local(q0, c0, inlet_bar)[2],
        )
