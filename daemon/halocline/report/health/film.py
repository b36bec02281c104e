"""Each steady period brought to the reference day by the film model: A and B, and what they would give there.

Both signals together give A and B; polarisation is in the model. `log_flow` and `log_salt` are what this element, as
these sensors show it, would give on the reference day. Beside them stand their slopes by everything that is not known
well: the sea's salinity, the laws of temperature, the salt film, the zero of the pressure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from halocline.physics.conductivity import tds_mg_l
from halocline.physics.errors import OutOfRange
from halocline.physics.lumped import LumpedElement
from halocline.physics.membrane import Membrane, project

Pair = tuple[float, float]
Square = tuple[Pair, Pair]

STEP = 1e-3
NEWTON = 8
CLOSE = 1e-7
SALINITY_STEP_G_KG = 0.2
ENERGY_STEP_KJ_MOL = 1.0
PRESSURE_STEP_BAR = 0.2
HEIGHT_STEP = 1.01
"""A lower channel has a thinner film; friction does not matter here."""
UNKNOWN = ("salinity", "water_energy", "salt_energy", "film", "pressure", "feed")


@dataclass(frozen=True, slots=True)
class Reference:
    """The day that flow and salt are brought to."""

    temperature_c: float
    pressure_bar: float
    salinity_g_kg: float
    feed_flow_l_h: float


@dataclass(frozen=True, slots=True)
class Point:
    """What was measured in a steady period, zeros taken off."""

    salinity_g_kg: float
    temperature_c: float
    pressure_bar: float
    feed_flow_l_h: float
    product_flow_l_h: float
    conductivity_us_cm: float


@dataclass(frozen=True, slots=True)
class Normal:
    """A period on the reference day. `salt` is product salt over the log-mean feed factor, so that salt passage is
    flow times salt. `slopes`: of (log flow, log salt) by each of `UNKNOWN`, if what was assumed is too small by one
    unit. `mix`: of the same by (log product flow, log conductivity) as read. `drop_bar`: of a clean channel."""

    log_flow: float
    log_salt: float
    log_a: float
    log_b: float
    slopes: dict[str, Pair]
    mix: Square
    drop_bar: float


class FilmModel:
    """The element's nameplate and the reference day; `normal` a period."""

    def __init__(self, membrane: Membrane, reference: Reference) -> None:
        self.membrane = membrane
        self.reference = reference
        r = reference
        self._day = Point(r.salinity_g_kg, r.temperature_c, r.pressure_bar, r.feed_flow_l_h, 0.0, 0.0)
        self.start = (math.log(membrane.water_permeability_lmh_bar), math.log(membrane.salt_permeability_lmh))

    def _of(self, logs: Pair) -> Membrane:
        m = self.membrane
        return replace(m, water_permeability_lmh_bar=math.exp(logs[0]), salt_permeability_lmh=math.exp(logs[1]))

    def _with_film(self, logs: Pair) -> Membrane:
        m = self._of(logs)
        return replace(m, channel_height_m=m.channel_height_m * HEIGHT_STEP)

    def on_the_day(self, logs: Pair, *, pressure_bar: float = 0.0, salinity_g_kg: float = 0.0) -> Pair:
        """Log flow and log salt of an element with these log A and B on the reference day, or off it by so much."""
        r = self.reference
        z = LumpedElement(self._of(logs), r.temperature_c).at(
            r.salinity_g_kg + salinity_g_kg, r.pressure_bar + pressure_bar, r.feed_flow_l_h
        )
        mean = -math.log1p(-z.recovery) / z.recovery
        return math.log(z.product_flow_l_h), math.log(z.product_tds_mg_l / mean)

    def day_slopes(self, logs: Pair) -> Square:
        """Rows: log flow, log salt; columns: by log A, by log B."""
        base = self.on_the_day(logs)
        by_a = self.on_the_day((logs[0] + STEP, logs[1]))
        by_b = self.on_the_day((logs[0], logs[1] + STEP))
        return (
            ((by_a[0] - base[0]) / STEP, (by_b[0] - base[0]) / STEP),
            ((by_a[1] - base[1]) / STEP, (by_b[1] - base[1]) / STEP),
        )

    def day_drop_bar(self, logs: Pair) -> float:
        """Pressure lost along the clean channel on the reference day."""
        r = self.reference
        element = LumpedElement(self._of(logs), r.temperature_c)
        return element.at(r.salinity_g_kg, r.pressure_bar, r.feed_flow_l_h).pressure_drop_bar

    def normal(self, point: Point, near: Pair | None = None) -> Normal | None:
        """None where no membrane could have done it. `near`: log A and B to start from."""
        try:
            return self._normal(point, near or self.start)
        except (OutOfRange, ValueError, ZeroDivisionError, OverflowError):
            return None

    def _normal(self, point: Point, logs: Pair) -> Normal | None:
        wanted = (math.log(point.product_flow_l_h), math.log(tds_mg_l(point.conductivity_us_cm)))
        base, slopes = logs, ((1.0, 0.0), (0.0, 1.0))
        for _ in range(NEWTON):
            base = _asked(self._of(logs), point)
            by_a = _asked(self._of((logs[0] + STEP, logs[1])), point)
            by_b = _asked(self._of((logs[0], logs[1] + STEP)), point)
            slopes = (
                ((by_a[0] - base[0]) / STEP, (by_b[0] - base[0]) / STEP),
                ((by_a[1] - base[1]) / STEP, (by_b[1] - base[1]) / STEP),
            )
            off = (wanted[0] - base[0], wanted[1] - base[1])
            move = solved(slopes, off)
            logs = (logs[0] + _bounded(move[0]), logs[1] + _bounded(move[1]))
            if max(abs(move[0]), abs(move[1])) < CLOSE:
                break
        else:
            return None
        here = self._along(logs, point, base)
        move = solved(slopes, here)
        logs = (logs[0] - move[0], logs[1] - move[1])
        base = _asked(self._of(logs), point)
        day = self.day_slopes(logs)
        lumped = self.on_the_day(logs)
        there = self._along(logs, self._day, (lumped[0], lumped[1]))
        log_flow, log_salt = lumped[0] + there[0], lumped[1] + there[1]
        mix = product(day, inverse(slopes))
        found = {
            name: _times(mix, ((moved[0] - base[0]) / step, (moved[1] - base[1]) / step))
            for name, step, moved in self._moved(logs, point)
        }
        # The reference day has the same film, so only the difference between the two days is felt.
        thinner = _asked(self._with_film(logs), self._day)
        film, day_film = found["film"], _asked(self._of(logs), self._day)
        recovered = [math.exp(each[0]) / self.reference.feed_flow_l_h for each in (thinner, day_film)]
        mean = [math.log(-math.log1p(-y) / y) for y in recovered]
        found["film"] = (
            film[0] - (thinner[0] - day_film[0]) / FILM_STEP,
            film[1] - (thinner[1] - day_film[1] - mean[0] + mean[1]) / FILM_STEP,
        )
        element = LumpedElement(self._of(logs), point.temperature_c)
        drop = element.at(point.salinity_g_kg, point.pressure_bar, point.feed_flow_l_h).pressure_drop_bar
        return Normal(log_flow, log_salt, logs[0], logs[1], found, mix, drop)

    def _along(self, logs: Pair, p: Point, lumped: Pair) -> Pair:
        """What integration along the element adds to the one node: it grows with the share that is recovered."""
        z = project(self._of(logs), p.salinity_g_kg, p.temperature_c, p.pressure_bar, p.feed_flow_l_h)
        salt = math.log(z.product_tds_mg_l)
        if p is self._day:
            salt -= math.log(-math.log1p(-z.recovery) / z.recovery)
        return math.log(z.product_flow_l_h) - lumped[0], salt - lumped[1]

    def _moved(self, logs: Pair, p: Point) -> list[tuple[str, float, Pair]]:
        m = self._of(logs)
        energies = (m.water_activation_kj_mol + ENERGY_STEP_KJ_MOL, m.salt_activation_kj_mol + ENERGY_STEP_KJ_MOL)
        log_feed = STEP * 10
        return [
            ("salinity", SALINITY_STEP_G_KG, _asked(m, replace(p, salinity_g_kg=p.salinity_g_kg + SALINITY_STEP_G_KG))),
            ("water_energy", ENERGY_STEP_KJ_MOL, _asked(replace(m, water_activation_kj_mol=energies[0]), p)),
            ("salt_energy", ENERGY_STEP_KJ_MOL, _asked(replace(m, salt_activation_kj_mol=energies[1]), p)),
            ("film", FILM_STEP, _asked(self._with_film(logs), p)),
            ("pressure", PRESSURE_STEP_BAR, _asked(m, replace(p, pressure_bar=p.pressure_bar + PRESSURE_STEP_BAR))),
            ("feed", log_feed, _asked(m, replace(p, feed_flow_l_h=p.feed_flow_l_h * math.exp(log_feed)))),
        ]


FILM_STEP = -math.log(HEIGHT_STEP)
"""Log of the film coefficient for that height: at the same flow Re stays, and k goes with one over the height."""


def _asked(membrane: Membrane, point: Point) -> Pair:
    """Log flow and log salt of this element at this point."""
    z = LumpedElement(membrane, point.temperature_c).at(point.salinity_g_kg, point.pressure_bar, point.feed_flow_l_h)
    return math.log(z.product_flow_l_h), math.log(z.product_tds_mg_l)


def _bounded(step: float) -> float:
    return min(max(step, -0.7), 0.7)


def inverse(m: Square) -> Square:
    """Of a 2 × 2 matrix. Raises ZeroDivisionError."""
    (a, b), (c, d) = m
    det = a * d - b * c
    return ((d / det, -b / det), (-c / det, a / det))


def product(m: Square, n: Square) -> Square:
    """Of two 2 × 2 matrices."""
    (a, b), (c, d) = m
    (e, f), (g, h) = n
    return ((a * e + b * g, a * f + b * h), (c * e + d * g, c * f + d * h))


def _times(m: Square, v: Pair) -> Pair:
    return (m[0][0] * v[0] + m[0][1] * v[1], m[1][0] * v[0] + m[1][1] * v[1])


def solved(m: Square, v: Pair) -> Pair:
    """x with m x = v."""
    return _times(inverse(m), v)
