"""Quantities as people read them: the units they chose, as many digits as they can use, durations in words."""

import math
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from halocline.plant.settings import UnitSettings

UNKNOWN = "unknown"

PSI_PER_BAR = 14.503773773
"""NIST SP 811."""
LITRES_PER_GALLON = 3.785411784
"""US gallon, exact; NIST SP 811."""

NACL_G_MOL = 58.443
HIGHEST_NACL_MOL_L = 1.4
LARGEST_PLAIN = 1e7


def conductivity_us_cm(tds_mg_l: float) -> float:
    """Conductivity at 25 °C, µS/cm, of that much sodium chloride, mg/L.

    Source: Onsager's law in Falkenhagen's form, ion size 4 Å; held at its end above 1.4 mol/L.
    """
    mol_l = min(max(0.0, tds_mg_l) / 1000.0 / NACL_G_MOL, HIGHEST_NACL_MOL_L)
    root = math.sqrt(mol_l)
    return 1000.0 * mol_l * (126.45 - 89.14 * root / (1.0 + 1.3144 * root))


class Shown(NamedTuple):
    """How a unit is shown instead: the other unit and the way there."""

    unit: str
    convert: Callable[[float], float]


CONVERSIONS: Mapping[tuple[str, str], Shown] = {
    ("bar", "psi"): Shown("psi", lambda bar: bar * PSI_PER_BAR),
    ("bar/s", "psi"): Shown("psi/s", lambda bar_s: bar_s * PSI_PER_BAR),
    ("L", "gal"): Shown("gal", lambda litres: litres / LITRES_PER_GALLON),
    ("L/h", "gal"): Shown("gal/h", lambda l_h: l_h / LITRES_PER_GALLON),
    ("Wh/L", "gal"): Shown("Wh/gal", lambda wh_l: wh_l * LITRES_PER_GALLON),
    ("°C", "F"): Shown("°F", lambda celsius: celsius * 9 / 5 + 32),
    ("mg/L", "uS/cm"): Shown("µS/cm", conductivity_us_cm),
    ("1", ""): Shown("%", lambda share: share * 100),
}
"""(unit in the interfaces, choice of the owner) → what is shown."""

ALWAYS = math.inf
DIGITS: Mapping[str, tuple[tuple[float, int], ...]] = {
    "bar": ((2, 2), (ALWAYS, 1)),
    "psi": ((100, 1), (ALWAYS, 0)),
    "bar/s": ((10, 1), (ALWAYS, 0)),
    "psi/s": ((10, 1), (ALWAYS, 0)),
    "L": ((1, 2), (10, 1), (ALWAYS, 0)),
    "gal": ((1, 2), (100, 1), (ALWAYS, 0)),
    "L/h": ((10, 1), (ALWAYS, 0)),
    "gal/h": ((100, 1), (ALWAYS, 0)),
    "mg/L": ((ALWAYS, 0),),
    "µS/cm": ((10, 1), (ALWAYS, 0)),
    "°C": ((ALWAYS, 1),),
    "°F": ((ALWAYS, 1),),
    "V": ((5, 2), (ALWAYS, 1)),
    "A": ((10, 1), (ALWAYS, 0)),
    "%": ((10, 1), (ALWAYS, 0)),
    "Wh": ((10, 1), (ALWAYS, 0)),
    "Hz": ((ALWAYS, 1),),
}
"""Decimals by size: the first pair whose bound the size stays below."""
OTHER_DIGITS = ((1.0, 3), (100.0, 1), (ALWAYS, 0))

SECONDS_IN: Mapping[str, float] = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}


def number_of(value: Any) -> float | None:
    """The value as a finite number; None for anything that is not one."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        number = float(value)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None


def quantity(
    value: Any, unit: str, units: UnitSettings | None = None, *, more_digits: int = 0, down: bool = False
) -> str:
    """A number with its unit, converted to what the owner reads; "unknown" for anything but a finite number.

    `unit` is that of the interfaces (bar, L, L/h, °C, mg/L, V, %, 1 for a share, s, min, h, d …). `down`: rounded down,
    for what is said to be "at least" so much.
    """
    number = number_of(value)
    if number is None:
        return UNKNOWN
    if unit in SECONDS_IN:
        return duration(number * SECONDS_IN[unit], down=down)
    shown = _shown_as(unit, units)
    if shown is not None:
        number, unit = shown.convert(number), shown.unit
    return f"{_plain(number, unit, more_digits, down)} {unit}".rstrip()


def shown_in(unit: str, units: UnitSettings | None = None) -> tuple[str, Callable[[float], float]]:
    """What the owner reads instead of this unit, and how a number gets there."""
    shown = _shown_as(unit, units)
    return (unit, float) if shown is None else (shown.unit, shown.convert)


def _shown_as(unit: str, units: UnitSettings | None) -> Shown | None:
    choices = ("",) if units is None else ("", units.pressure, units.volume, units.temperature, units.salt)
    return next((CONVERSIONS[unit, choice] for choice in choices if (unit, choice) in CONVERSIONS), None)


def _plain(number: float, unit: str, more_digits: int, down: bool) -> str:
    if abs(number) >= LARGEST_PLAIN:
        return f"{number:.1e}"
    decimals = next(decimals for below, decimals in DIGITS.get(unit, OTHER_DIGITS) if abs(number) < below)
    places = decimals + more_digits
    text = f"{_rounded_down(number * 10**places) / 10**places if down else number:.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _rounded_down(number: float) -> int:
    """Whole below it; what misses a whole one by less than its own arithmetic is that one."""
    return math.floor(number + 1e-9 * max(1.0, abs(number)))


def duration(seconds: float, *, down: bool = False) -> str:
    """A span of time in the two units that matter: "45 s", "2 min 30 s", "20 min", "1 h 5 min", "3 days"."""
    to_whole: Callable[[float], int] = _rounded_down if down else round
    whole = to_whole(max(0.0, seconds))
    if whole < 120:
        return f"{whole} s"
    minutes, rest_s = divmod(whole, 60)
    if minutes < 10:
        return f"{minutes} min {rest_s} s" if rest_s else f"{minutes} min"
    minutes = to_whole(whole / 60)
    if minutes < 120:
        return f"{minutes} min"
    if minutes < 48 * 60:
        hours, rest_min = divmod(minutes, 60)
        return f"{hours} h {rest_min} min" if rest_min else f"{hours} h"
    days = to_whole(whole / 86400)
    return f"{days} days" if days < 10_000 else "years"
