"""A plant of which everything is known, as the record's steady periods: the simulated boat's element, made to age.

The element is the one that the simulated plant uses; seasons, seas, meters and their noise are invented.
"""

import math
import random

from halocline.physics.conductivity import NACL_G_MOL
from halocline.physics.membrane import Membrane
from halocline.report.health.periods import Kept
from halocline.report.health.seen import Seen
from halocline.report.health.steady import Period
from halocline.simulation.element import Element

A, B, AREA_M2 = 1.25, 0.185, 2.6
SEA_G_KG, FEED_L_H = 36.3, 340.0
START_S = 1_790_000_000.0
RUN_H = 2.0
SETTINGS = {
    "plant": {"sea_salinity_g_kg": SEA_G_KG, "feed_flow_l_h": FEED_L_H},
    "membrane": {"area_m2": AREA_M2, "water_permeability_lmh_bar": A, "salt_permeability_lmh": B},
    "drive": {"working_pressure_bar": 55.0},
}


def conductivity_us_cm(g_l):
    """Of sodium chloride, by the law of Falkenhagen that the signals are read with."""
    mol = g_l / NACL_G_MOL
    return 1000.0 * mol * (126.45 - 89.14 * math.sqrt(mol) / (1.0 + 1.3144 * math.sqrt(mol)))


def reference_day(water=1.0, salt=1.0):
    """Product flow and salt passage that this element gives on the reference day."""
    product_l_h, product_g_l = asked(water, salt, 55.0, SEA_G_KG, 25.0, FEED_L_H)
    recovery = product_l_h / FEED_L_H
    return product_l_h, product_g_l * product_l_h * recovery / -math.log1p(-recovery)


def asked(water, salt, bar, sea_g_kg, temperature_c, feed_l_h):
    element = Element(Membrane(A * water, B * salt, AREA_M2), feed_l_h)
    element.refresh(bar, 0.0, feed_g_kg=sea_g_kg, temperature_c=temperature_c, feed_l_h=feed_l_h, seconds=10.0)
    return element.product_l_h, element.product_g_l


def plant(
    runs=60,
    *,
    seed=1,
    noise=1.0,
    full=True,
    water=lambda h: 1.0,
    salt=lambda h: 1.0,
    feed=lambda h: 1.0,
    cell=lambda h: 1.0,
    meter=lambda h: 1.0,
    zero=lambda h: 0.0,
    sea=lambda h: 0.0,
    drop=lambda h: 0.08,
    work=(),
    until=None,
):
    """What the record holds after so many runs of two hours, three a week. The laws are factors by running hours
    (`zero` bar, `sea` g/kg). `until`: running hours after which nothing is known."""
    rng = random.Random(seed)
    kept, sea_g_kg = [], 0.0
    for i in range(runs):
        h = RUN_H * (i + 0.8)
        day = 2.4 * i
        if i % 8 == 0:
            sea_g_kg = rng.gauss(0.0, 0.2)
        temperature_c = 20.0 + 6.0 * math.sin(2 * math.pi * day / 365.0) + rng.gauss(0.0, 0.3)
        bar, feed_l_h = 54.0 + rng.gauss(0.0, 1.2), FEED_L_H * feed(h)
        flow, salt_g_l = asked(
            water(h), salt(h), bar, SEA_G_KG + sea_g_kg + sea(h) + noise * rng.gauss(0.0, 0.08), temperature_c, feed_l_h
        )
        flow *= meter(h) * math.exp(noise * rng.gauss(0.0, 0.004))
        shown = conductivity_us_cm(salt_g_l) * cell(h) * math.exp(noise * rng.gauss(0.0, 0.008))
        rest = zero(h) + rng.gauss(0.0, 0.1)
        inlet_bar = 1.5
        end_s = START_S + day * 86400.0 + RUN_H * 3600.0
        period = Period(
            unfit=None,
            at_s=end_s - 600.0,
            into_s=RUN_H * 3600.0 - 600.0,
            pump_s=RUN_H * 3600.0,
            vessel_pressure_bar=bar + rest + rng.gauss(0.0, 0.01),
            product_flow_l_h=flow,
            product_conductivity_us_cm=shown,
            sea_temperature_c=temperature_c,
            feed_pressure_bar=inlet_bar - drop(h) + rng.gauss(0.0, 0.004),
            filter_inlet_pressure_bar=inlet_bar,
            brine_pressure_bar=bar - 0.18 + rng.gauss(0.0, 0.02) if full else None,
            brine_flow_l_h=(feed_l_h - flow / meter(h)) * math.exp(rng.gauss(0.0, 0.006)) if full else None,
            rest_vessel_pressure_bar=rest,
            rest_brine_pressure_bar=0.0 if full else None,
            sea_salinity_g_kg=SEA_G_KG,
            feed_flow_l_h=FEED_L_H,
        )
        kept.append(Kept(i + 1, 1, f"r{i + 1}", end_s, period))
    if until is not None:
        kept = kept[: int(until / RUN_H)]
    at_s = kept[-1].ended_s if kept else START_S
    done = [(START_S + 2.4 * 86400.0 * h / RUN_H, kind, note) for h, kind, note in work]
    return Seen(at_s, kept, [each for each in done if each[0] <= at_s], [], SETTINGS)
