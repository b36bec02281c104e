"""Sea water: osmotic pressure, density, viscosity.

Salinity here is Absolute Salinity in g/kg. Temperatures are ITS-90 °C.
"""

from __future__ import annotations

import math
from functools import lru_cache

from halocline.physics.errors import require

ZERO_CELSIUS_K = 273.15
LOWEST_C = -2.0
HIGHEST_C = 45.0
HIGHEST_SALINITY_G_KG = 120.0


class SeaAtTemperature:
    """Sea water at one temperature: what depends on temperature alone is computed once, here.

    The methods take any non-negative salinity without checking it, because the salt film at a membrane may
    pass the range for a moment; the module's functions are the checked way in.
    """

    __slots__ = (
        "_mu_linear",
        "_mu_square",
        "_pi_linear",
        "_pi_root",
        "_pi_square",
        "_rho_linear",
        "_rho_square",
        "_rho_water",
        "temperature_c",
        "water_viscosity_pa_s",
    )

    def __init__(self, temperature_c: float) -> None:
        t = require("water temperature", temperature_c, "°C", LOWEST_C, HIGHEST_C)
        kelvin = t + ZERO_CELSIUS_K
        self.temperature_c = t
        self._pi_linear = kelvin * (2.54817e-3 - 6.95775e-7 * t - 1.06939e-8 * t * t)
        self._pi_root = kelvin * (-7.39393e-5 + 2.67996e-7 * t - 2.83884e-9 * t * t)
        self._pi_square = kelvin * (9.72177e-6 + 2.43519e-8 * t - 3.10692e-10 * t * t)
        self._rho_water = 999.9 + t * (2.034e-2 + t * (-6.162e-3 + t * (2.261e-5 - 4.657e-8 * t)))
        self._rho_linear = 802.0 + t * (-2.001 + t * (1.677e-2 - 3.060e-5 * t))
        self._rho_square = -1.613e-5 * t * t
        self.water_viscosity_pa_s = 4.2844e-5 + 1.0 / (0.157 * (t + 64.993) ** 2 - 91.296)
        self._mu_linear = 1.541 + 1.998e-2 * t - 9.52e-5 * t * t
        self._mu_square = 7.974 - 7.561e-2 * t + 4.724e-4 * t * t

    def osmotic_pressure_bar(self, salinity_g_kg: float) -> float:
        """Osmotic pressure, bar."""
        root = math.sqrt(salinity_g_kg)
        return salinity_g_kg * (self._pi_linear + self._pi_root * root + self._pi_square * salinity_g_kg)

    def density_kg_m3(self, salinity_g_kg: float) -> float:
        """Density at atmospheric pressure, kg/m³."""
        s = salinity_g_kg / 1000.0
        return self._rho_water + s * (self._rho_linear + s * self._rho_square)

    def viscosity_pa_s(self, salinity_g_kg: float) -> float:
        """Dynamic viscosity, Pa·s."""
        s = salinity_g_kg / 1000.0
        return self.water_viscosity_pa_s * (1.0 + s * (self._mu_linear + s * self._mu_square))

    def concentration_g_l(self, salinity_g_kg: float) -> float:
        """Grams of salt in a litre, from grams in a kilogram."""
        return salinity_g_kg * self.density_kg_m3(salinity_g_kg) / 1000.0

    def salinity_g_kg(self, concentration_g_l: float) -> float:
        """Grams of salt in a kilogram, from grams in a litre: the exact inverse of `concentration_g_l`."""
        r0, r1 = self._rho_water, self._rho_linear
        s = 2.0 * concentration_g_l / (r0 + math.sqrt(r0 * r0 + 4.0 * r1 * concentration_g_l))
        # The quadratic leaves out the small cubic term of the density; one Newton step puts it back.
        residual = s * (r0 + s * (r1 + s * self._rho_square)) - concentration_g_l
        return 1000.0 * (s - residual / (r0 + 2.0 * r1 * s))

    def osmotic_pressure_of_g_l_bar(self, concentration_g_l: float) -> float:
        """Osmotic pressure of a solution given in g/L, bar."""
        return self.osmotic_pressure_bar(self.salinity_g_kg(concentration_g_l))


@lru_cache(maxsize=256)
def at_temperature(temperature_c: float) -> SeaAtTemperature:
    """`SeaAtTemperature`, remembered: a simulation asks for the same few temperatures again and again."""
    return SeaAtTemperature(temperature_c)


def _salinity(salinity_g_kg: float) -> float:
    return require("salinity", salinity_g_kg, "g/kg", 0.0, HIGHEST_SALINITY_G_KG)


def osmotic_pressure_bar(salinity_g_kg: float, temperature_c: float) -> float:
    """Osmotic pressure of sea water against pure water at atmospheric pressure, bar.

    Valid 0…120 g/kg and −2…45 °C; within 0.16 % of TEOS-10 for 5…75 g/kg and 0…40 °C (0.014 bar below
    5 g/kg), 2.2 % low at 120 g/kg. Raises `OutOfRange`.
    Source: own nine-coefficient fit to TEOS-10 (equality of the chemical potential of water).
    """
    return at_temperature(temperature_c).osmotic_pressure_bar(_salinity(salinity_g_kg))


def osmotic_pressure_d4516_bar(concentration_mg_l: float, temperature_c: float) -> float:
    """Osmotic pressure by the formula of ASTM D4516, bar: 11…15 % high for sea water, kept for comparison.

    Valid 0…200 000 mg/L and −2…45 °C. Raises `OutOfRange`. Source: ASTM D4516 (a sodium-chloride formula).
    """
    c = require("concentration", concentration_mg_l, "mg/L", 0.0, 200_000.0)
    t = require("water temperature", temperature_c, "°C", LOWEST_C, HIGHEST_C)
    return 0.2654 * c * (t + ZERO_CELSIUS_K) / (1000.0 - c / 1000.0) / 100.0


def density_kg_m3(salinity_g_kg: float, temperature_c: float) -> float:
    """Density at atmospheric pressure, kg/m³, within 0.9 kg/m³ of TEOS-10 up to 75 g/kg.

    Valid 0…120 g/kg and −2…45 °C. Raises `OutOfRange`. Source: Sharqawy, Lienhard and Zubair 2010.
    """
    return at_temperature(temperature_c).density_kg_m3(_salinity(salinity_g_kg))


def viscosity_pa_s(salinity_g_kg: float, temperature_c: float) -> float:
    """Dynamic viscosity, Pa·s, ± 1.5 %.

    Valid 0…120 g/kg and −2…45 °C. Raises `OutOfRange`. Source: Sharqawy, Lienhard and Zubair 2010.
    """
    return at_temperature(temperature_c).viscosity_pa_s(_salinity(salinity_g_kg))


def concentration_g_l(salinity_g_kg: float, temperature_c: float) -> float:
    """Salt in a litre of sea water, g/L. Valid 0…120 g/kg and −2…45 °C. Raises `OutOfRange`."""
    return at_temperature(temperature_c).concentration_g_l(_salinity(salinity_g_kg))
