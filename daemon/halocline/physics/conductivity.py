"""Conductivity of product water: temperature compensation, dissolved salt and calibration solutions.

Product of reverse osmosis is mostly sodium chloride; its salt content follows from the molar conductivity of
NaCl. A reading must be compensated once and only once: find out whether the instrument already does it.
"""

from __future__ import annotations

import math
from typing import Literal

from halocline.physics.errors import require

Method = Literal["natural", "nacl", "linear"]

NACL_G_MOL = 58.443
HIGHEST_CONDUCTIVITY_US_CM = 120_000.0
HIGHEST_TDS_MG_L = 80_000.0
LINEAR_PER_K = 0.02

_RANGE_C: dict[str, tuple[float, float]] = {
    "natural": (0.0, 36.0),
    "nacl": (-2.0, 45.0),
    "linear": (-2.0, 45.0),
}

KCL_STANDARDS_US_CM: dict[str, dict[float, float]] = {
    "0.01 m": {15.0: 1141.45, 20.0: 1273.03, 25.0: 1408.23},
    "0.1 m": {25.0: 12824.6},
    "1 m": {25.0: 108620.0},
    "0.001 M": {25.0: 147.0},
    "0.01 M": {25.0: 1413.0},
    "0.1 M": {25.0: 12880.0},
    "0.01 D": {25.0: 1408.3},
    "0.1 D": {25.0: 12852.0},
}
"""µS/cm by label and °C. m = mol per kg of water (NIST, in the CRC Handbook), M = mol per litre (laboratory
tables; 0.001 M from memory), D = demal (OIML R 56). 0.01 m, 0.01 M and 0.01 D differ by 0.3 %: the label is
part of the value."""


def _natural_ratio(d: float) -> float:
    return 1.0 + d * (0.021063 + d * (6.6555e-5 - 4.0371e-7 * d))


def _nacl_ratio(d: float) -> float:
    return 1.0 + d * (0.020826 + d * (7.6191e-5 - 3.7926e-7 * d))


def temperature_ratio(temperature_c: float, method: str = "nacl", per_kelvin: float = LINEAR_PER_K) -> float:
    """Conductivity at `temperature_c` over conductivity at 25 °C.

    `natural`: natural waters, ISO 7888 (EN 27888), own fit of its table within 0.0005, valid 0…36 °C.
    `nacl`: dilute sodium chloride, own fit of Robinson and Stokes' limiting ionic conductivities (from
    memory), ± 0.25 %, valid 0…45 °C and smooth to −2 °C. `linear`: 1 + `per_kelvin` (t − 25), −2…45 °C.
    Raises `OutOfRange`, and `ValueError` for another method.
    """
    if method not in _RANGE_C:
        raise ValueError(f"compensation {method!r} is not known; choose one of natural, nacl, linear")
    low, high = _RANGE_C[method]
    d = require("water temperature", temperature_c, "°C", low, high) - 25.0
    if method == "natural":
        return _natural_ratio(d)
    if method == "nacl":
        return _nacl_ratio(d)
    return 1.0 + require("temperature coefficient", per_kelvin, "1/K", 0.015, 0.03) * d


def at_25c(
    conductivity_us_cm: float,
    temperature_c: float,
    method: Method = "nacl",
    *,
    per_kelvin: float = LINEAR_PER_K,
) -> float:
    """Conductivity at 25 °C (µS/cm) from one measured at `temperature_c`, not yet compensated.

    Valid 0…120 000 µS/cm and the method's temperatures (see `temperature_ratio`). Raises `OutOfRange`,
    `ValueError`. Default: sodium chloride, which is what product water is.
    """
    measured = require("conductivity", conductivity_us_cm, "µS/cm", 0.0, HIGHEST_CONDUCTIVITY_US_CM)
    return measured / temperature_ratio(temperature_c, method, per_kelvin)


def at_temperature(
    conductivity_25c_us_cm: float,
    temperature_c: float,
    method: Method = "nacl",
    *,
    per_kelvin: float = LINEAR_PER_K,
) -> float:
    """What a probe without compensation shows at `temperature_c`, µS/cm: the inverse of `at_25c`."""
    k25 = require("conductivity at 25 °C", conductivity_25c_us_cm, "µS/cm", 0.0, HIGHEST_CONDUCTIVITY_US_CM)
    return k25 * temperature_ratio(temperature_c, method, per_kelvin)


def molar_conductivity_nacl(concentration_mol_l: float) -> float:
    """Molar conductivity of sodium chloride at 25 °C, S·cm²/mol.

    Within 0.15 % to 0.1 mol/L, about 1 % high at 0.7 mol/L. Valid 0…1.4 mol/L. Raises `OutOfRange`.
    Source: Onsager's law in Falkenhagen's form, ion size 4 Å.
    """
    root = math.sqrt(require("concentration", concentration_mol_l, "mol/L", 0.0, 1.4))
    return 126.45 - 89.14 * root / (1.0 + 1.3144 * root)


def conductivity_25c_us_cm(tds_mg_l: float) -> float:
    """Conductivity at 25 °C, µS/cm, of sodium chloride in water: the inverse of `tds_mg_l`.

    Valid 0…80 000 mg/L. Raises `OutOfRange`.
    """
    salt = require("dissolved salt", tds_mg_l, "mg/L", 0.0, HIGHEST_TDS_MG_L)
    mol_l = salt / 1000.0 / NACL_G_MOL
    return 1000.0 * mol_l * molar_conductivity_nacl(mol_l)


def tds_mg_l(conductivity_25c_us_cm: float) -> float:
    """Dissolved salt, mg/L as sodium chloride, from conductivity at 25 °C.

    Within 0.15 % for NaCl and 1.5 % for diluted sea water up to 5 g/L; above that it still tells sea water
    from fresh (undiluted sea water reads 6 % low). Valid 0…120 000 µS/cm; a result above 80 000 mg/L is
    refused. Raises `OutOfRange`. It sees salt only: not germs, boron or oil.
    """
    k25 = require("conductivity at 25 °C", conductivity_25c_us_cm, "µS/cm", 0.0, HIGHEST_CONDUCTIVITY_US_CM)
    mol_l = k25 / 120_000.0
    for _ in range(50):
        root = math.sqrt(mol_l)
        following = k25 / (1000.0 * (126.45 - 89.14 * root / (1.0 + 1.3144 * root)))
        if abs(following - mol_l) <= 1e-13 * following:
            break
        mol_l = following
    return require("dissolved salt", mol_l * NACL_G_MOL * 1000.0, "mg/L", 0.0, HIGHEST_TDS_MG_L)
