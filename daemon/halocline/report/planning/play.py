"""What a plan comes to when it is carried out: in short steps, as foreseen, with high use and with little sun."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from halocline.report.planning.course import Course
from halocline.report.planning.question import Question

STEP_MIN = 5.0
"""Starts and lengths of a plan are multiples of it: what a person can keep to."""

LOOKED_AT_MIN = 15.0
"""The reserve is looked at so often, as the search does: a glass of water less for some minutes is no news."""


class Run(NamedTuple):
    """A run in minutes from the begin; the pump is on for `minutes`, the wait overboard counted."""

    start_min: float
    minutes: float

    @property
    def end_min(self) -> float:
        """When the pump stops."""
        return self.start_min + self.minutes


@dataclass(slots=True)
class Played:
    """Bands are one value for the end of each step. Litres short are worst cases; `under_wh` and `over_l` are how far
    the battery's minimum with little sun, and the full tank, were broken while the pump was on."""

    tank_l: list[float] = field(default_factory=list)
    tank_high_l: list[float] = field(default_factory=list)
    charge_wh: list[float] = field(default_factory=list)
    charge_low_wh: list[float] = field(default_factory=list)
    litres: list[float] = field(default_factory=list)
    overboard_l: list[float] = field(default_factory=list)
    spilled_wh: float = 0.0
    under_wh: float = 0.0
    over_l: float = 0.0
    short_reserve_l: float = 0.0
    short_end_l: float = 0.0
    price: float = 0.0

    @property
    def keeps(self) -> bool:
        """Whether every rule is kept."""
        return not (self.under_wh or self.over_l or self.short_reserve_l or self.short_end_l)


def play(
    question: Question, course: Course, runs: Sequence[Run], *, margin: float = 0.0, people: float = 0.0
) -> Played:
    """Carry the runs out. `margin`: part of the water made that is not counted on; `people`: so many more aboard."""
    q, c, plant, battery = question, course, question.plant, question.battery
    step, steps = c.step_min, c.steps
    played = Played()
    made_l, on_min, starts, flushes = [0.0] * steps, [0.0] * steps, 0, [0] * steps
    for run in runs:
        opens = run.start_min + plant.start_up_minutes
        litres = overboard = 0.0
        for i in range(int(run.start_min / step), min(steps, -int(-run.end_min // step))):
            begin, end = i * step, (i + 1) * step
            on = min(end, run.end_min) - max(begin, run.start_min)
            tank = min(max(min(end, run.end_min) - max(begin, opens), 0.0), on)
            on_min[i] += on
            made_l[i] += c.flow_l_h[i] * tank / 60
            litres, overboard = litres + c.flow_l_h[i] * tank / 60, overboard + c.flow_l_h[i] * (on - tank) / 60
        played.litres.append(litres)
        played.overboard_l.append(overboard)
        flushes[min(int(run.end_min / step + 1e-9), steps - 1)] += 1
        starts += 1
    more = 1.0 + (people / q.use.people if q.use.people else 0.0)
    top, floor = (battery.capacity_wh * percent / 100 for percent in (battery.max_percent, battery.min_percent))
    full, reserve, factor = q.tank.full_l, q.tank.reserve_l, q.use.high_factor
    tank = high = q.tank.now_l
    charge = low = battery.capacity_wh * battery.now_percent / 100
    pump, flush = plant.pump_power_w / 60, plant.flush_power_w * plant.flush_minutes / 60
    for i in range(steps):
        used = (c.used_l[i + 1] - c.used_l[i]) * more
        added = made_l[i] * (1.0 - margin)
        tank, high = tank + added - used, high + added - used * factor
        drawn = on_min[i] * pump
        if flushes[i]:
            tank, high, drawn = tank - plant.flush_l, high - plant.flush_l, drawn + flush
        charge, low = charge + c.net_wh[i] - drawn, low + c.net_low_wh[i] - drawn
        if charge > top:
            played.spilled_wh += charge - top
            charge = top
        low = min(low, top)
        if on_min[i]:
            played.under_wh = max(played.under_wh, floor - low if low < floor - 1e-6 else 0.0)
            played.over_l = max(played.over_l, tank - full if tank > full + 1e-6 else 0.0)
        played.tank_l.append(tank)
        played.tank_high_l.append(high)
        played.charge_wh.append(charge)
        played.charge_low_wh.append(low)
    quarter = max(1, round(LOOKED_AT_MIN / step))
    played.short_reserve_l = _short(reserve - min(played.tank_high_l[quarter - 1 :: quarter], default=high))
    played.short_end_l = _short(q.tank.at_end_l - tank)
    played.price = (
        starts * q.cost.start_wh
        - q.cost.wh * charge
        + q.cost.litre_below_reserve_wh * (played.short_end_l + played.short_reserve_l)
    )
    return played


def _short(litres: float) -> float:
    return litres if litres > 1e-6 else 0.0
