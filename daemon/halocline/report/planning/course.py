"""What stands in every step of the time that is planned: product, use, sun and engine, forbidden or not."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate
from math import ceil, floor

from halocline.physics.membrane import Membrane, project
from halocline.report.planning.question import Plant, Question, Sea, Unaskable

LEAST_FLOW_L_H = 1.0
"""Below, the pressure hardly overcomes this sea, and the product is too salty for any tank."""


@dataclass(frozen=True, slots=True)
class Course:
    """One value a step; `made` and `used` have one more: sums up to the begin of each step, L."""

    step_min: float
    steps: int
    flow_l_h: list[float]
    made_l: list[float]
    used_l: list[float]
    net_wh: list[float]
    net_low_wh: list[float]
    blocked: list[bool]


def course_of(question: Question, step_min: float) -> Course:
    """The course in steps of so many minutes; the last step that does not fit into the time is left out.

    net_wh is charge less loads, with the sun as foreseen and with little of it. Raises `Unaskable` where the pressure
    makes no water of this sea.
    """
    q, step_s = question, step_min * 60.0
    n = int((q.to_s - q.from_s) / step_s + 1e-9)
    begins = [q.from_s + i * step_s for i in range(n)]
    share = q.use.people * q.use.l_per_person_day * step_min / 60
    used = [q.use.by_hour[int((t + q.clock_offset_s) % 86400 // 3600)] * share for t in begins]
    sun = [q.sun_w[h] if (h := int((t - q.from_s + 1) // 3600)) < len(q.sun_w) else 0.0 for t in begins]
    other = [-q.loads_w] * n
    for engine in q.engine:
        for i in _touched(q, engine.from_s, engine.to_s, step_s, n):
            part = min(engine.to_s, begins[i] + step_s) - max(engine.from_s, begins[i])
            other[i] += engine.w * part / step_s
    flow = [0.0] * n
    for sea, until_s in zip(q.sea, [*(s.from_s for s in q.sea[1:]), q.to_s], strict=True):
        made = flow_l_h(q.plant, sea)
        for i in _touched(q, sea.from_s, until_s, step_s, n):
            flow[i] = made
    blocked = [False] * n
    for each in q.blocked:
        for i in _touched(q, each.from_s, each.to_s, step_s, n):
            blocked[i] = True
    hours = step_min / 60
    return Course(
        step_min,
        n,
        flow,
        list(accumulate((f * hours for f in flow), initial=0.0)),
        list(accumulate(used, initial=0.0)),
        [(s + o) * hours for s, o in zip(sun, other, strict=True)],
        [(s * q.sun_low_factor + o) * hours for s, o in zip(sun, other, strict=True)],
        blocked,
    )


def _touched(q: Question, from_s: float, to_s: float, step_s: float, n: int) -> range:
    """The steps that a span touches."""
    first, last = floor((from_s - q.from_s) / step_s + 1e-9), ceil((to_s - q.from_s) / step_s - 1e-9)
    return range(max(first, 0), max(min(last, n), 0))


def flow_l_h(plant: Plant, sea: Sea) -> float:
    """Product of this plant in this sea, by the model of the membrane. Raises `Unaskable`."""
    return _flow_l_h(plant, sea.salinity_g_kg, sea.temperature_c)


@lru_cache(maxsize=256)
def _flow_l_h(plant: Plant, salinity_g_kg: float, temperature_c: float) -> float:
    """Kept, for the hours of a day share a few seas, and one question is looked at in several ways."""
    membrane = Membrane(plant.water_permeability_lmh_bar, plant.salt_permeability_lmh, plant.area_m2)
    try:
        made = project(membrane, salinity_g_kg, temperature_c, plant.pressure_bar, plant.feed_flow_l_h)
    except ValueError as error:
        raise Unaskable([f"no flow can be computed for this sea and plant: {error}"]) from error
    if made.product_flow_l_h < LEAST_FLOW_L_H or any(one.id == "below_osmotic_pressure" for one in made.warnings):
        raise Unaskable(
            [
                f"{plant.pressure_bar:g} bar makes no fresh water of a sea of {salinity_g_kg:g} g/kg at "
                f"{temperature_c:g} °C: raise plant.pressure_bar, or check the permeability"
            ]
        )
    return made.product_flow_l_h
