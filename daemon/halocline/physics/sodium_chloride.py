"""Sodium chloride in water: what nameplate tests are made with."""

from __future__ import annotations

import math

from halocline.physics import seawater
from halocline.physics.conductivity import NACL_G_MOL
from halocline.physics.errors import require

_GAS_CONSTANT_J_MOL_K = 8.314462618
_WATER_DENSITY_25C = 997.05


def density_of_g_l_kg_m3(concentration_g_l: float) -> float:
    """Density of NaCl solution at 25 °C, kg/m³ (linear, good to 0.1 % up to 100 g/L; from memory)."""
    return _WATER_DENSITY_25C + 0.695 * concentration_g_l


def osmotic_pressure_bar(concentration_g_l: float, temperature_c: float = 25.0) -> float:
    """Osmotic pressure of sodium chloride solution, bar.

    Valid 0…150 g/L, 15…35 °C (the osmotic coefficient is that of 25 °C). Raises `OutOfRange`.
    Source: Pitzer's equation at 25 °C.
    """
    c = require("sodium chloride", concentration_g_l, "g/L", 0.0, 150.0)
    t = require("test temperature", temperature_c, "°C", 15.0, 35.0)
    return SodiumChloride(t).osmotic_pressure_of_g_l_bar(c)


class SodiumChloride:
    """Sodium-chloride solution at one temperature, as the membrane model wants it. Raises `OutOfRange`."""

    __slots__ = ("_kelvin", "_sea")

    def __init__(self, temperature_c: float) -> None:
        t = require("test temperature", temperature_c, "°C", 15.0, 35.0)
        self._kelvin = t + seawater.ZERO_CELSIUS_K
        # Viscosity of sea water stands for that of NaCl at the same salinity: 1 % in the film coefficient.
        self._sea = seawater.at_temperature(t)

    def osmotic_pressure_of_g_l_bar(self, concentration_g_l: float) -> float:
        """Osmotic pressure, bar."""
        # Bounded, because a trial flux far from the answer may ask for more salt than a litre can hold.
        water_kg_l = max(density_of_g_l_kg_m3(concentration_g_l) - concentration_g_l, 300.0) / 1000.0
        molality = concentration_g_l / NACL_G_MOL / water_kg_l
        root = math.sqrt(molality)
        coefficient = (
            1.0
            - 0.3915 * root / (1.0 + 1.2 * root)
            + molality * (0.0765 + 0.2664 * math.exp(-2.0 * root))
            + 0.00127 * molality * molality
        )
        pascal = 2.0 * coefficient * molality * _GAS_CONSTANT_J_MOL_K * self._kelvin * _WATER_DENSITY_25C
        return pascal / 1e5

    def density_kg_m3(self, salinity_g_kg: float) -> float:
        """Density, kg/m³, of a solution given in g/kg."""
        return _WATER_DENSITY_25C / (1.0 - 0.695 * salinity_g_kg / 1000.0)

    def viscosity_pa_s(self, salinity_g_kg: float) -> float:
        """Dynamic viscosity, Pa·s."""
        return self._sea.viscosity_pa_s(salinity_g_kg)

    def salinity_g_kg(self, concentration_g_l: float) -> float:
        """Grams in a kilogram, from grams in a litre."""
        return 1000.0 * concentration_g_l / density_of_g_l_kg_m3(concentration_g_l)
