"""What an element, or elements in series, will make of a feed: the checked way into the integration."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from halocline.physics import seawater
from halocline.physics.element import Membrane, fit_permeabilities, permeabilities
from halocline.physics.errors import Unsolvable, require
from halocline.physics.guidance import US_SECONDARY_TDS_MG_L
from halocline.physics.lumped import LEAST_FEED_L_H, lumped_element, require_point
from halocline.physics.march import CORRELATION, Passage, Polarisation, Site, march
from halocline.physics.transport import LMH_PER_M_S, Channel, falling_root

PolarisationChoice = Literal["correlation", "none"] | Mapping[str, float]

PUMP_INLET_LOOKALIKE_BAR = 5.0
"""A feed-pressure sender ends at 4 bar, and no membrane works below 5: such a figure was read at the pump."""

HIGHEST_DROP_BAR = 1.0
"""For one element: common practice; more pushes the leaves out of the roll."""

FIT_HIGHEST_G_KG = 75.0


@dataclass(frozen=True, slots=True)
class Caution:
    """Something about a projection that a person should know: what was found, and the limit it passed."""

    id: str
    value: float
    limit: float
    unit: str


@dataclass(frozen=True, slots=True)
class Projection:
    """Steady state. Flows L/h, pressures bar, salt mg/L, g/L or g/kg as named, flux L/m²/h, recovery 0…1.

    The net driving pressure is the mean of what drives water through at the membrane's surface, so that
    flux = A × net driving pressure. Polarisation is salt at the surface over salt in the bulk.
    """

    product_flow_l_h: float
    product_tds_mg_l: float
    recovery: float
    brine_flow_l_h: float
    brine_salinity_g_kg: float
    brine_concentration_g_l: float
    feed_concentration_g_l: float
    mean_osmotic_pressure_bar: float
    wall_osmotic_pressure_bar: float
    net_driving_pressure_bar: float
    flux_lmh: float
    pressure_drop_bar: float
    polarisation_inlet: float
    polarisation_outlet: float
    warnings: tuple[Caution, ...] = ()


def project(
    membrane: Membrane,
    feed_salinity_g_kg: float,
    temperature_c: float,
    membrane_inlet_bar: float,
    feed_flow_l_h: float,
    *,
    product_pressure_bar: float = 0.0,
    polarisation: PolarisationChoice = "correlation",
    pressure_drop_bar: float | None = None,
    temperature_correction: bool = True,
    accept_tds_mg_l: float = US_SECONDARY_TDS_MG_L,
) -> Projection:
    """Steady state of one element, by integration along it.

    `polarisation`: the mass-transfer correlation, "none", `{"film_m_s": k}` or `{"factor": m}` (salt at the
    membrane over salt in the bulk). `pressure_drop_bar` replaces the computed friction. Without
    `temperature_correction` A and B are taken as valid at `temperature_c`.

    Valid for 0…120 g/kg (the osmotic formula is proved to 75), −2…45 °C, −1…150 bar, 0…50 000 L/h. Below
    the feed's osmotic pressure a trickle of salty water is the honest answer; without flow or driving
    pressure the product side stands at the feed's concentration. Raises `OutOfRange`, and `ValueError` for
    another `polarisation`.
    Source: solution-diffusion and film theory; Arrhenius' law for temperature.
    """
    return project_series(
        (membrane,),
        feed_salinity_g_kg,
        temperature_c,
        membrane_inlet_bar,
        feed_flow_l_h,
        product_pressure_bar=product_pressure_bar,
        polarisation=polarisation,
        pressure_drop_bar=pressure_drop_bar,
        temperature_correction=temperature_correction,
        accept_tds_mg_l=accept_tds_mg_l,
    )


def project_series(
    membranes: Sequence[Membrane],
    feed_salinity_g_kg: float,
    temperature_c: float,
    membrane_inlet_bar: float,
    feed_flow_l_h: float,
    *,
    product_pressure_bar: float = 0.0,
    polarisation: PolarisationChoice = "correlation",
    pressure_drop_bar: float | None = None,
    temperature_correction: bool = True,
    accept_tds_mg_l: float = US_SECONDARY_TDS_MG_L,
) -> Projection:
    """Steady state of elements in series, each fed with the brine of the one before; their products join.

    `pressure_drop_bar` is that of the whole series. All else as for `project`. Raises `OutOfRange`,
    `ValueError` without a membrane.
    """
    if not membranes:
        raise ValueError("there is no membrane in the series; name at least one")
    salinity, inlet, feed, back = require_point(
        feed_salinity_g_kg, membrane_inlet_bar, feed_flow_l_h, product_pressure_bar
    )
    accept = require("accept limit", accept_tds_mg_l, "mg/L", 1.0, 100_000.0)
    drop = None
    if pressure_drop_bar is not None:
        drop = require("pressure drop", pressure_drop_bar, "bar", 0.0, 50.0) / len(membranes)
    water = seawater.at_temperature(temperature_c)
    how = _polarisation(polarisation)
    chain = _Chain(temperature_c, water.concentration_g_l(salinity), feed, inlet, back, how, drop)
    if feed < LEAST_FEED_L_H:
        result = _at_rest(water.osmotic_pressure_bar(salinity), chain, salinity, inlet - back)
    else:
        result = _joined(membranes, chain.passages(membranes, temperature_correction), water, chain)
    return replace(result, warnings=_cautions(membranes, result, chain, salinity, accept))


def fit_membrane(
    membrane: Membrane,
    feed_salinity_g_kg: float,
    temperature_c: float,
    membrane_inlet_bar: float,
    feed_flow_l_h: float,
    *,
    product_flow_l_h: float,
    product_tds_mg_l: float,
    product_pressure_bar: float = 0.0,
    elements: int = 1,
) -> Membrane:
    """This membrane with the A and B (at 25 °C) that reproduce a measured product flow and salt.

    `elements` equal ones in series share the product. Ranges as for `project`. Raises `OutOfRange`, and
    `Unsolvable` when no membrane could have done what was measured.
    """
    flow = require("product flow", product_flow_l_h, "L/h", 1e-3, 50_000.0)
    salt_g_l = require("product salt", product_tds_mg_l, "mg/L", 1e-3, 100_000.0) / 1000.0
    count = int(require("number of elements", elements, "", 1, 20))
    point = require_point(feed_salinity_g_kg, membrane_inlet_bar, feed_flow_l_h, product_pressure_bar)
    salinity, inlet, feed, back = point
    if flow >= feed:
        raise Unsolvable(f"product of {flow:g} L/h from a feed of {feed:g} L/h: check both flow meters")
    water = seawater.at_temperature(temperature_c)
    chain = _Chain(temperature_c, water.concentration_g_l(salinity), feed, inlet, back, CORRELATION, None)

    def measured(a: float, b: float) -> tuple[float, float]:
        trial = replace(membrane, water_permeability_lmh_bar=a, salt_permeability_lmh=b)
        passages = chain.passages([trial] * count, correction=True)
        product = sum(p.product_flow_l_h for p in passages)
        return product, sum(p.product_flow_l_h * p.product_g_l for p in passages) / max(product, 1e-12)

    a25, b25 = fit_permeabilities(
        measured,
        flow,
        salt_g_l,
        membrane.water_permeability_lmh_bar,
        max(membrane.salt_permeability_lmh, 1e-3),
    )
    return replace(membrane, water_permeability_lmh_bar=a25, salt_permeability_lmh=b25)


def pressure_for_product_bar(
    membrane: Membrane,
    product_flow_l_h: float,
    feed_salinity_g_kg: float,
    temperature_c: float,
    feed_flow_l_h: float,
    *,
    product_pressure_bar: float = 0.0,
    highest_bar: float = 150.0,
) -> float:
    """Membrane inlet pressure, bar, that yields this product flow, by the one-node model (1 % of flow).

    Raises `Unsolvable` when `highest_bar` does not suffice, `OutOfRange`.
    """
    wanted = require("product flow", product_flow_l_h, "L/h", 1e-3, 50_000.0)
    element = lumped_element(membrane, temperature_c)

    def shortfall(pressure: float) -> float:
        got = element.at(feed_salinity_g_kg, pressure, feed_flow_l_h, product_pressure_bar)
        return wanted - got.product_flow_l_h

    if shortfall(highest_bar) > 0.0:
        raise Unsolvable(
            f"{wanted:g} L/h is not reached at {highest_bar:g} bar with {feed_salinity_g_kg:g} g/kg at "
            f"{temperature_c:g} °C from {feed_flow_l_h:g} L/h of feed; ask for less product"
        )
    start = product_pressure_bar + element.water_flux_pressure_bar(feed_salinity_g_kg, wanted)
    return falling_root(shortfall, highest_bar, min(max(start, 0.1), 0.95 * highest_bar))


def _polarisation(choice: PolarisationChoice) -> Polarisation:
    if choice == "correlation":
        return CORRELATION
    if choice == "none":
        return Polarisation(factor=1.0)
    if isinstance(choice, Mapping) and set(choice) == {"film_m_s"}:
        film = require("film coefficient", choice["film_m_s"], "m/s", 1e-7, 1.0)
        return Polarisation(film_lmh=film * LMH_PER_M_S)
    if isinstance(choice, Mapping) and set(choice) == {"factor"}:
        return Polarisation(factor=require("polarisation factor", choice["factor"], "", 1.0, 5.0))
    raise ValueError(
        f"polarisation {choice!r} is not known; choose correlation, none, {{'film_m_s': k}} or {{'factor': m}}"
    )


@dataclass(frozen=True, slots=True)
class _Chain:
    """A checked feed, ready to be taken through elements."""

    temperature_c: float
    feed_g_l: float
    feed_l_h: float
    inlet_bar: float
    back_bar: float
    how: Polarisation
    drop_each_bar: float | None

    def passages(self, membranes: Sequence[Membrane], correction: bool) -> list[Passage]:
        """Each element's passage; the brine of one is the feed of the next."""
        water = seawater.at_temperature(self.temperature_c)
        done: list[Passage] = []
        concentration, flow, pressure = self.feed_g_l, self.feed_l_h, self.inlet_bar
        for membrane in membranes:
            a, b = membrane.water_permeability_lmh_bar, membrane.salt_permeability_lmh
            if correction:
                a, b = permeabilities(membrane, self.temperature_c)
            channel = Channel(membrane, water, water.salinity_g_kg(concentration), self.temperature_c)
            site = Site(a, b, membrane.area_m2, water, channel, self.back_bar, self.how)
            passage = march(site, concentration, flow, pressure, self.drop_each_bar)
            done.append(passage)
            concentration, flow, pressure = passage.brine_g_l, passage.brine_flow_l_h, passage.outlet_bar
        return done


def _at_rest(osmotic_bar: float, chain: _Chain, salinity: float, driving_bar: float) -> Projection:
    return Projection(
        product_flow_l_h=0.0,
        product_tds_mg_l=1000.0 * chain.feed_g_l,
        recovery=0.0,
        brine_flow_l_h=0.0,
        brine_salinity_g_kg=salinity,
        brine_concentration_g_l=chain.feed_g_l,
        feed_concentration_g_l=chain.feed_g_l,
        mean_osmotic_pressure_bar=osmotic_bar,
        wall_osmotic_pressure_bar=osmotic_bar,
        net_driving_pressure_bar=min(0.0, driving_bar),
        flux_lmh=0.0,
        pressure_drop_bar=0.0,
        polarisation_inlet=1.0,
        polarisation_outlet=1.0,
    )


def _joined(
    membranes: Sequence[Membrane],
    passages: Sequence[Passage],
    water: seawater.SeaAtTemperature,
    chain: _Chain,
) -> Projection:
    areas = [membrane.area_m2 for membrane in membranes]
    area, last = sum(areas), passages[-1]

    def mean(values: Iterable[float]) -> float:
        return sum(share * value for share, value in zip(areas, values, strict=True)) / area

    product = sum(p.product_flow_l_h for p in passages)
    salt = sum(p.product_flow_l_h * p.product_g_l for p in passages)
    return Projection(
        product_flow_l_h=product,
        product_tds_mg_l=1000.0 * (salt / product if product > 0.0 else last.product_g_l),
        recovery=product / chain.feed_l_h,
        brine_flow_l_h=last.brine_flow_l_h,
        brine_salinity_g_kg=water.salinity_g_kg(last.brine_g_l),
        brine_concentration_g_l=last.brine_g_l,
        feed_concentration_g_l=chain.feed_g_l,
        mean_osmotic_pressure_bar=mean(p.mean_osmotic_bar for p in passages),
        wall_osmotic_pressure_bar=mean(p.wall_osmotic_bar for p in passages),
        net_driving_pressure_bar=mean(p.driving_bar for p in passages),
        flux_lmh=product / area,
        pressure_drop_bar=chain.inlet_bar - last.outlet_bar,
        polarisation_inlet=passages[0].polarisation_inlet,
        polarisation_outlet=last.polarisation_outlet,
    )


def _cautions(
    membranes: Sequence[Membrane], result: Projection, chain: _Chain, salinity: float, accept: float
) -> tuple[Caution, ...]:
    driving = chain.inlet_bar - chain.back_bar
    osmotic = seawater.osmotic_pressure_bar(salinity, chain.temperature_c)
    lookalike = salinity > 2.0 and chain.inlet_bar < PUMP_INLET_LOOKALIKE_BAR
    above = (
        ("recovery_high", result.recovery, _series_recovery(membranes), ""),
        ("flux_high", result.flux_lmh, min(m.max_flux_lmh for m in membranes), "L/m²/h"),
        ("tds_high", result.product_tds_mg_l if result.product_flow_l_h > 0.0 else 0.0, accept, "mg/L"),
        ("pressure_high", chain.inlet_bar, min(m.max_pressure_bar for m in membranes), "bar"),
        ("feed_flow_high", chain.feed_l_h, min(m.max_feed_flow_l_h for m in membranes), "L/h"),
        ("pressure_drop_high", result.pressure_drop_bar, HIGHEST_DROP_BAR * len(membranes), "bar"),
        ("brine_beyond_formulas", result.brine_salinity_g_kg, FIT_HIGHEST_G_KG, "g/kg"),
    )
    found = [Caution(*row) for row in above if row[1] > row[2]]
    if chain.feed_l_h < LEAST_FEED_L_H:
        found.insert(0, Caution("no_feed_flow", 0.0, 0.0, "L/h"))
    if lookalike:
        found.insert(0, Caution("pump_inlet_pressure", chain.inlet_bar, PUMP_INLET_LOOKALIKE_BAR, "bar"))
    elif driving < osmotic:
        found.insert(0, Caution("below_osmotic_pressure", driving, osmotic, "bar"))
    return tuple(found)


def _series_recovery(membranes: Sequence[Membrane]) -> float:
    """What elements may recover together, when each may take its own share of what reaches it."""
    left = 1.0
    for membrane in membranes:
        left *= 1.0 - membrane.max_recovery
    return 1.0 - left
