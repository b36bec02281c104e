"""Sea water: osmotic pressure, density, viscosity, and practical salinity from conductivity.

Salinity here is Absolute Salinity in g/kg unless a name says `practical`. Temperatures are ITS-90 °C.
"""

from __future__ import annotations

import math
from functools import lru_cache

from halocline.physics.errors import Unsolvable, require

ZERO_CELSIUS_K = 273.15
LOWEST_C = -2.0
HIGHEST_C = 45.0
HIGHEST_SALINITY_G_KG = 120.0
GRAM_PER_PRACTICAL_UNIT = 35.16504 / 35.0
"""g/kg of Reference-Composition sea water for one unit of practical salinity (TEOS-10)."""

IPTS68_PER_ITS90 = 1.00024
CONDUCTIVITY_35_15_0_MS_CM = 42.914
"""Conductivity of sea water of practical salinity 35 at 15 °C (IPTS-68) and no pressure."""

PRACTICAL_LOW = 2.0
PRACTICAL_HIGH = 42.0


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


def absolute_from_practical(practical_salinity: float) -> float:
    """Absolute Salinity, g/kg, of open-ocean water of this practical salinity.

    Valid 0…42. Raises `OutOfRange`. Source: TEOS-10 reference salinity; regional composition is ignored.
    """
    checked = require("practical salinity", practical_salinity, "", 0.0, PRACTICAL_HIGH)
    return checked * GRAM_PER_PRACTICAL_UNIT


def practical_from_absolute(salinity_g_kg: float) -> float:
    """Practical salinity of open-ocean water of this Absolute Salinity (g/kg). Raises `OutOfRange`."""
    highest = PRACTICAL_HIGH * GRAM_PER_PRACTICAL_UNIT
    return require("salinity", salinity_g_kg, "g/kg", 0.0, highest) / GRAM_PER_PRACTICAL_UNIT


def _conductivity_ratio_35(t68: float) -> float:
    """rt of PSS-78: conductivity of standard sea water at this temperature over that at 15 °C."""
    return 0.6766097 + t68 * (2.00564e-2 + t68 * (1.104259e-4 + t68 * (-6.9698e-7 + 1.0031e-9 * t68)))


def _practical_of_root(root: float, t68: float) -> float:
    base = 0.0080 + root * (-0.1692 + root * (25.3851 + root * (14.0941 + root * (-7.0261 + 2.7081 * root))))
    shift = 0.0005 + root * (-0.0056 + root * (-0.0066 + root * (-0.0375 + root * (0.0636 - 0.0144 * root))))
    return base + (t68 - 15.0) / (1.0 + 0.0162 * (t68 - 15.0)) * shift


def _pressure_ratio(ratio: float, t68: float, pressure_dbar: float) -> float:
    """Rp of PSS-78: what pressure does to the conductivity ratio."""
    p = pressure_dbar
    return 1.0 + p * (2.070e-5 + p * (-6.370e-10 + 3.989e-15 * p)) / (
        1.0 + t68 * (3.426e-2 + 4.464e-4 * t68) + ratio * (4.215e-1 - 3.107e-3 * t68)
    )


def salinity_from_conductivity(conductivity_ms_cm: float, temperature_c: float, pressure_dbar: float = 0.0) -> float:
    """Practical salinity (PSS-78, no unit) of sea water measured at `temperature_c`, uncompensated.

    Valid −2…45 °C and a result of 2…42. `pressure_dbar` is the depth of the probe; a boat's plumbing may
    leave it at 0 (0.01 in salinity at 30 dbar). Raises `OutOfRange`, also when the result is outside 2…42.
    Source: UNESCO Technical Papers in Marine Science 44 (1983); the scale wants IPTS-68 temperatures.
    """
    c = require("sea water conductivity", conductivity_ms_cm, "mS/cm", 0.0, 200.0)
    t = require("water temperature", temperature_c, "°C", LOWEST_C, HIGHEST_C)
    p = require("probe pressure", pressure_dbar, "dbar", 0.0, 10_000.0)
    t68 = t * IPTS68_PER_ITS90
    ratio = c / CONDUCTIVITY_35_15_0_MS_CM
    relative = ratio / (_pressure_ratio(ratio, t68, p) * _conductivity_ratio_35(t68))
    practical = _practical_of_root(math.sqrt(relative), t68)
    return require("practical salinity", practical, "", PRACTICAL_LOW, PRACTICAL_HIGH)


def conductivity_ms_cm(practical_salinity: float, temperature_c: float) -> float:
    """Conductivity of sea water at `temperature_c` and no pressure, mS/cm: the inverse of PSS-78.

    Valid 2…42 and −2…45 °C. Raises `OutOfRange`. Source: UNESCO 44 (1983), inverted by Newton's method.
    """
    wanted = require("practical salinity", practical_salinity, "", PRACTICAL_LOW, PRACTICAL_HIGH)
    t = require("water temperature", temperature_c, "°C", LOWEST_C, HIGHEST_C)
    t68 = t * IPTS68_PER_ITS90
    root = math.sqrt(wanted / 35.0)
    for _ in range(30):
        error = _practical_of_root(root, t68) - wanted
        slope = (_practical_of_root(root + 1e-6, t68) - _practical_of_root(root - 1e-6, t68)) / 2e-6
        root -= error / slope
        if abs(error) < 1e-12:
            return root * root * _conductivity_ratio_35(t68) * CONDUCTIVITY_35_15_0_MS_CM
    raise Unsolvable(f"no conductivity belongs to practical salinity {wanted:g} at {t:g} °C")
