"""Integration along one element: d(flow), d(salt) and d(pressure) over the length, by the midpoint rule."""

from __future__ import annotations

from dataclasses import dataclass

from halocline.physics.transport import Channel, Solution, falling_root, wall_and_product

NODES = 6
"""0.05 % from the continuous solution in ordinary use."""

MOST_RECOVERED = 0.98
"""The model stops here: beyond, the brine would be crystals rather than water."""

_LARGEST_SHARE = 0.08
"""A step may take this share of the local flow at most, so that starved elements get more, shorter steps."""

_MOST_STEPS = 400
"""An end for certain: 49 steps of the largest share leave 2 % of a feed, and six cross an element."""


@dataclass(frozen=True, slots=True)
class Polarisation:
    """How the salt piles up at the membrane: by correlation, by a given film (L/m²/h) or factor."""

    film_lmh: float | None = None
    factor: float | None = None


CORRELATION = Polarisation()


@dataclass(frozen=True, slots=True)
class Passage:
    """What came out of one element, and means over its area. Flows L/h, concentrations g/L, pressures bar."""

    product_flow_l_h: float
    product_g_l: float
    brine_flow_l_h: float
    brine_g_l: float
    outlet_bar: float
    mean_osmotic_bar: float
    wall_osmotic_bar: float
    driving_bar: float
    polarisation_inlet: float
    polarisation_outlet: float


@dataclass(frozen=True, slots=True)
class _Here:
    flux_lmh: float
    bulk_g_l: float
    wall_g_l: float
    product_g_l: float


@dataclass(frozen=True, slots=True)
class Site:
    """One membrane in one water: permeabilities at its temperature, channel, and pressure behind it (bar)."""

    water_lmh_bar: float
    salt_lmh: float
    area_m2: float
    solution: Solution
    channel: Channel
    product_bar: float = 0.0
    polarisation: Polarisation = CORRELATION

    def flux_at(self, flow: float, bulk: float, pressure: float, guess: float) -> _Here:
        """Solve J = A (P − Pp − π(wall) + π(product)) at one place."""
        fixed = self.polarisation.factor
        film = None if fixed else self.polarisation.film_lmh or self.channel.film_lmh(flow)
        water, salt, factor = self.water_lmh_bar, self.salt_lmh, fixed or 1.0
        osmotic = self.solution.osmotic_pressure_of_g_l_bar
        driving = pressure - self.product_bar
        if driving <= 0.0:
            _, product = wall_and_product(0.0, bulk, salt, film, factor)
            return _Here(0.0, bulk, bulk, product)

        def residual(flux: float) -> float:
            wall, product = wall_and_product(flux, bulk, salt, film, factor)
            return water * (driving - osmotic(wall) + osmotic(product)) - flux

        # A little above what no salt at all would allow, so that fresh water has its root inside.
        highest = 1.001 * water * driving
        flux = falling_root(residual, highest, min(guess, 0.95 * highest) if guess > 0.0 else 0.3 * highest)
        wall, product = wall_and_product(flux, bulk, salt, film, factor)
        return _Here(flux, bulk, wall, product)


class _March:
    """Where the feed has got to: what has passed the membrane so far, and means over the area behind."""

    __slots__ = (
        "carried",
        "driving",
        "feed",
        "feed_g_l",
        "first",
        "fixed_drop",
        "last",
        "made",
        "osmotic",
        "place",
        "pressure",
        "site",
        "wall_osmotic",
    )

    def __init__(self, site: Site, feed_g_l: float, feed: float, inlet_bar: float, fixed_drop: float | None) -> None:
        self.site, self.feed_g_l, self.feed, self.fixed_drop = site, feed_g_l, feed, fixed_drop
        self.pressure = inlet_bar
        self.place = self.made = self.carried = 0.0
        self.osmotic = self.wall_osmotic = self.driving = 0.0
        self.first = self.last = site.flux_at(feed, feed_g_l, inlet_bar, 0.0)

    def friction(self, flow: float) -> float:
        return self.site.channel.pressure_drop_bar(flow) if self.fixed_drop is None else self.fixed_drop

    def advance(self) -> bool:
        """One step of the midpoint rule; False when there is nowhere to go."""
        flow = self.feed - self.made
        if self.place >= 1.0 or flow <= (1.0 - MOST_RECOVERED) * self.feed:
            return False
        site, area = self.site, self.site.area_m2
        salt = self.feed * self.feed_g_l - self.carried
        start = self.first
        if self.place > 0.0:
            start = site.flux_at(flow, salt / flow, self.pressure, self.last.flux_lmh)
        loss = start.flux_lmh * area
        step = min(1.0 / NODES, 1.0 - self.place, _LARGEST_SHARE * flow / loss if loss > 0.0 else 1.0)
        middle_flow = flow - 0.5 * step * loss
        middle_g_l = (salt - 0.5 * step * loss * start.product_g_l) / middle_flow
        middle_bar = self.pressure - 0.5 * step * self.friction(flow)
        middle = site.flux_at(middle_flow, middle_g_l, middle_bar, start.flux_lmh)
        self._take(middle, step)
        self.pressure -= step * self.friction(middle_flow)
        self.place = self.place + step if self.place + step < 1.0 - 1e-12 else 1.0
        return True

    def _take(self, middle: _Here, step: float) -> None:
        osmotic = self.site.solution.osmotic_pressure_of_g_l_bar
        passed = step * middle.flux_lmh * self.site.area_m2
        self.made += passed
        self.carried += passed * middle.product_g_l
        self.osmotic += step * osmotic(middle.bulk_g_l)
        self.wall_osmotic += step * osmotic(middle.wall_g_l)
        self.driving += step * middle.flux_lmh / self.site.water_lmh_bar
        self.last = middle

    def passage(self) -> Passage:
        brine = self.feed - self.made
        return Passage(
            product_flow_l_h=self.made,
            product_g_l=self.carried / self.made if self.made > 0.0 else self.last.product_g_l,
            brine_flow_l_h=brine,
            brine_g_l=max(0.0, self.feed * self.feed_g_l - self.carried) / brine,
            outlet_bar=self.pressure,
            mean_osmotic_bar=self.osmotic / self.place,
            wall_osmotic_bar=self.wall_osmotic / self.place,
            driving_bar=self.driving,
            polarisation_inlet=_factor(self.first),
            polarisation_outlet=_factor(self.last),
        )


def march(
    site: Site,
    feed_g_l: float,
    feed_flow_l_h: float,
    inlet_bar: float,
    pressure_drop_bar: float | None = None,
) -> Passage:
    """Take a feed (above 0 L/h) through one element; `pressure_drop_bar` replaces the computed friction."""
    marching = _March(site, feed_g_l, feed_flow_l_h, inlet_bar, pressure_drop_bar)
    for _ in range(_MOST_STEPS):
        if not marching.advance():
            break
    return marching.passage()


def _factor(here: _Here) -> float:
    return here.wall_g_l / here.bulk_g_l if here.bulk_g_l > 0.0 else 1.0
