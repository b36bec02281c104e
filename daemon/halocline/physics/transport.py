"""How water and salt cross a membrane at one place, and what the flow past it does: no element, no plant yet.

Concentrations are g/L, fluxes L/m²/h (which is mm/h), permeabilities at the water's own temperature.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Protocol

from halocline.physics import seawater
from halocline.physics.errors import require

GAS_CONSTANT_KJ_MOL_K = 8.314462618e-3
REFERENCE_K = 298.15
LMH_PER_M_S = 3.6e6
DIFFUSIVITY_25C_M2_S = 1.48e-9
"""Sodium chloride at about 0.5 mol/L (from memory)."""


def temperature_factor(activation_kj_mol: float, temperature_c: float) -> float:
    """Permeability at `temperature_c` over that at 25 °C (rises with temperature). Raises `OutOfRange`.

    Source: Arrhenius' law; typical energies are 18…25 kJ/mol for water and 25…35 for salt (from memory).
    """
    energy = require("activation energy", activation_kj_mol, "kJ/mol", 0.0, 60.0)
    t = require("water temperature", temperature_c, "°C", seawater.LOWEST_C, seawater.HIGHEST_C)
    return math.exp(-energy / GAS_CONSTANT_KJ_MOL_K * (1.0 / (t + seawater.ZERO_CELSIUS_K) - 1.0 / REFERENCE_K))


def activation_energy_kj_mol(factor_per_kelvin: float) -> float:
    """The energy (kJ/mol) that changes flow by this factor per kelvin at 25 °C: 1.03 gives 21.85.

    For suppliers' sheets that state a factor. Valid 1…1.09. Raises `OutOfRange`. Source: Arrhenius' law.
    """
    factor = require("temperature factor", factor_per_kelvin, "1/K", 1.0, 1.09)
    return GAS_CONSTANT_KJ_MOL_K * REFERENCE_K**2 * math.log(factor)


class Solution(Protocol):
    """What the membrane model asks of the salt water: sea water, or the nameplate test's sodium chloride."""

    def osmotic_pressure_of_g_l_bar(self, concentration_g_l: float) -> float: ...
    def density_kg_m3(self, salinity_g_kg: float) -> float: ...
    def viscosity_pa_s(self, salinity_g_kg: float) -> float: ...
    def salinity_g_kg(self, concentration_g_l: float) -> float: ...


class Geometry(Protocol):
    """The feed channel's measures; a `Membrane` has them."""

    @property
    def area_m2(self) -> float: ...
    @property
    def length_m(self) -> float: ...
    @property
    def channel_height_m(self) -> float: ...
    @property
    def spacer_porosity(self) -> float: ...


class Channel:
    """The feed channel of one element at one temperature: salt film and friction from the flow through it.

    Sh = 0.46 (Re Sc)^0.36 and f = 0.42 + 189.3/Re, attributed to Guillen and Hoek (2009); k is known ± 30 %.
    Density and viscosity are those of the element's feed, all along it.
    """

    __slots__ = ("_film_scale", "_friction_linear", "_friction_square")

    def __init__(self, geometry: Geometry, solution: Solution, feed_salinity_g_kg: float, temperature_c: float) -> None:
        height, porosity = geometry.channel_height_m, geometry.spacer_porosity
        diameter = 4.0 * porosity / (2.0 / height + (1.0 - porosity) * 8.0 / height)
        speed_per_l_h = 2.0 * geometry.length_m / geometry.area_m2 / (height * porosity) / LMH_PER_M_S
        density = solution.density_kg_m3(feed_salinity_g_kg)
        viscosity = solution.viscosity_pa_s(feed_salinity_g_kg)
        diffusivity = (
            DIFFUSIVITY_25C_M2_S
            * ((temperature_c + seawater.ZERO_CELSIUS_K) / REFERENCE_K)
            * (seawater.at_temperature(25.0).water_viscosity_pa_s / solution.viscosity_pa_s(0.0))
        )
        peclet_per_l_h = speed_per_l_h * diameter / diffusivity
        self._film_scale = 0.46 * peclet_per_l_h**0.36 * diffusivity / diameter * LMH_PER_M_S
        dynamic_per_l_h2 = density * speed_per_l_h**2 / (2.0 * diameter) * geometry.length_m / 1e5
        reynolds_per_l_h = density * speed_per_l_h * diameter / viscosity
        self._friction_square = 0.42 * dynamic_per_l_h2
        self._friction_linear = 189.3 / reynolds_per_l_h * dynamic_per_l_h2

    def film_lmh(self, flow_l_h: float) -> float:
        """Mass-transfer coefficient of the salt film, L/m²/h."""
        return float(self._film_scale * flow_l_h**0.36)

    def pressure_drop_bar(self, flow_l_h: float) -> float:
        """Pressure lost over a whole element at this flow, bar."""
        return flow_l_h * (self._friction_linear + self._friction_square * flow_l_h)


def wall_and_product(
    flux_lmh: float, bulk_g_l: float, salt_permeability_lmh: float, film_lmh: float | None, factor: float
) -> tuple[float, float]:
    """Concentrations at the membrane's surface and behind it, for a trial flux.

    Film theory with `film_lmh`; with None the surface is `factor` times the bulk. At no flux the product
    takes the concentration of the surface: an element at rest makes no fresh water.
    """
    if film_lmh is None:
        wall = factor * bulk_g_l
        total = flux_lmh + salt_permeability_lmh
        return wall, (salt_permeability_lmh * wall / total if total > 0.0 else wall)
    # The exponent is bounded so that a first trial flux far above the answer cannot overflow.
    growth = math.exp(min(flux_lmh / film_lmh, 50.0))
    carried = salt_permeability_lmh * growth
    total = flux_lmh + carried
    if total <= 0.0:
        return bulk_g_l, bulk_g_l
    return bulk_g_l * growth * (flux_lmh + salt_permeability_lmh) / total, bulk_g_l * carried / total


def falling_root(residual: Callable[[float], float], highest: float, guess: float) -> float:
    """Where `residual`, positive at 0 and falling, crosses zero in 0…`highest`: bracketed secant steps."""
    low, high = 0.0, highest
    last, last_value = guess, residual(guess)
    if last_value > 0.0:
        low = last
    else:
        high = last
    trial = min(max(guess + 0.6 * last_value, 0.5 * (low + guess)), 0.5 * (high + guess))
    for _ in range(100):
        value = residual(trial)
        if value > 0.0:
            low = trial
        else:
            high = trial
        if value == 0.0 or abs(trial - last) <= 1e-11 * trial or high - low <= 1e-13 * high:
            return trial
        slope = (value - last_value) / (trial - last)
        last, last_value = trial, value
        trial = trial - value / slope if slope < 0.0 else 0.5 * (low + high)
        if not low < trial < high:
            trial = 0.5 * (low + high)
    return trial
