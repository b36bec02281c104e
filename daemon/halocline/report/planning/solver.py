"""The cheapest runs, by dynamic programming over quarters of an hour.

A label is one way to have come to a moment with the pump off: its price so far, the charge as foreseen and with little
sun, the litres made (less flushes). Labels with nearly the same litres are rivals; one that is nowhere better than
another is dropped, and so is one that cannot, by the least that the rest of the time must cost, end cheaper than the
cheapest plan known. A coarse pass over whole hours finds a good plan first, so that the fine pass can drop nearly all.
"""

from dataclasses import dataclass
from heapq import nsmallest
from math import ceil, floor, inf
from operator import itemgetter
from typing import NamedTuple

from halocline.report.planning.course import Course
from halocline.report.planning.question import Question

STEP_MIN = 15.0
"""Long enough for a plan of three days in a tenth of a second on a laptop; ends of runs are mended to minutes later."""
SAME_L = 0.5
"""Litres that make no difference between two ways."""
STRIDES = {True: (4, 1), False: (1,)}
"""Steps between the starts, and the lengths, that are tried, pass after pass: a coarse plan first, where everything is
kept, for its price spares most of the fine pass."""
SEARCHED = 60
"""As `WIDTH`, where only is asked what a rule is in the way of: a reason that is missed costs nothing but its words."""
WIDTH = {True: 1000, False: 24}
"""Ways that are followed at once, the least promising dropped: a bound of time. With everything kept there were never
more than a hundred in cases like those of the tests; without a plan that keeps everything, how little it falls short
is not told to the litre."""
EPSILON = 1e-6


class Span(NamedTuple):
    """A run in steps: the pump is on from `start` for `length`."""

    start: int
    length: int


Trail = tuple[Span, "Trail | None"]
"""Runs, the last first, each with those before it: ways that part share what they have in common."""


class Label(NamedTuple):
    """One way, with its runs."""

    price: float
    charge_wh: float
    low_wh: float
    made_l: float
    trail: Trail | None


@dataclass(frozen=True, slots=True)
class Found:
    """The cheapest runs, and what they cost: Wh missing at the end, starts, litres short."""

    spans: list[Span]
    price: float


class Bounds:
    """What the rules come to in steps, Wh and litres. `relaxed` names rules that are not asked for; `room_l` may be put
    into the tank beyond its full level."""

    def __init__(
        self, question: Question, course: Course, relaxed: frozenset[str] = frozenset(), *, room_l: float = 0.0
    ) -> None:
        q, plant, battery, step_h = question, question.plant, question.battery, course.step_min / 60
        n = course.steps
        self.course = course
        self.top_wh = battery.capacity_wh * battery.max_percent / 100
        self.charge_wh = battery.capacity_wh * battery.now_percent / 100
        free = "battery" in relaxed
        self.floor_wh = -inf if free else battery.capacity_wh * battery.min_percent / 100
        self.start_wh = -inf if free else battery.capacity_wh * battery.start_percent / 100
        self.pump_wh = plant.pump_power_w * step_h
        self.flush_wh = plant.flush_power_w * plant.flush_minutes / 60
        self.lost_h = plant.start_up_minutes / 60
        self.flush_l = plant.flush_l
        self.least = max(1, ceil((plant.start_up_minutes + plant.min_run_minutes) / course.step_min - EPSILON))
        most = n if "motor" in relaxed else floor(plant.motor_run_minutes / course.step_min + EPSILON)
        self.most = max(most, self.least)
        self.rest = 1 if "motor" in relaxed else max(1, ceil(plant.motor_rest_minutes / course.step_min - EPSILON))
        self.cycle = ceil(60 / plant.starts_per_hour / course.step_min - EPSILON)
        self.blocked = [False] * n if "blocked" in relaxed else course.blocked
        extra = q.use.high_factor - 1
        self.need_l = [q.tank.reserve_l - q.tank.now_l + used * (1 + extra) for used in course.used_l]
        """Litres that have to be made by the begin of each step for the reserve to hold at high use."""
        self.end_l = q.tank.at_end_l - q.tank.now_l + course.used_l[n]
        full = inf if "tank" in relaxed else q.tank.full_l + room_l
        self.room_l = [full - q.tank.now_l + used for used in course.used_l]
        self.price_start, self.price_l, self.price_wh = q.cost.start_wh, q.cost.litre_below_reserve_wh, q.cost.wh
        self.step_day = step_h / 24


class Ahead:
    """What stands ahead of each step: idle charge as min(charge + gain, cap), the need, and what can still be made."""

    def __init__(self, b: Bounds) -> None:
        c, n = b.course, b.course.steps
        self.gain, self.cap, self.need = [0.0] * (n + 1), [inf] * (n + 1), [b.end_l] * (n + 1)
        self.most_l, self.low_gain = [0.0] * (n + 1), [0.0] * (n + 1)
        best = max(c.flow_l_h, default=0.0) * c.step_min / 60
        self.wh_l = b.pump_wh / best if best else inf
        self.extra_l = best * 60 / c.step_min * b.lost_h + b.flush_l
        self.run_l = max(best * b.most - self.extra_l, EPSILON)
        self.most_l_wh = self.run_l / (b.most * b.pump_wh + b.flush_wh)
        self.end_l = b.end_l
        open_for = 0
        for k in range(n - 1, -1, -1):
            self.gain[k] = c.net_wh[k] + self.gain[k + 1]
            self.cap[k] = min(b.top_wh + self.gain[k + 1], self.cap[k + 1])
            self.need[k] = max(self.need[k + 1], b.need_l[k + 1])
            self.low_gain[k] = c.net_low_wh[k] + max(self.low_gain[k + 1], 0.0)
            if b.blocked[k] or k == n - 1:
                open_for, self.most_l[k] = 0, self.most_l[k + 1]
                continue
            open_for += 1
            turns, rest = divmod(open_for, b.most + b.rest)
            partly = max(best * min(rest, b.most) - self.extra_l, 0.0)
            self.most_l[k] = self.most_l[k + open_for] + turns * self.run_l + partly

    def least(self, b: Bounds, label: Label, k: int) -> tuple[float, float]:
        """The least price at the end from here, and the least litres short of the end, whatever is done: as if every
        run had the best sea and its full length, and the battery never were full before it."""
        missing = b.end_l - label.made_l
        if missing <= 0.0:
            return label.price - b.price_wh * min(label.charge_wh + self.gain[k], self.cap[k]), 0.0
        spare = label.low_wh - b.floor_wh + self.low_gain[k]
        possible = min(self.most_l[k], spare * self.most_l_wh) if spare > 0.0 else 0.0
        short = 0.0
        if missing > possible:
            short, missing = missing - possible, possible
        starts = ceil(missing / self.run_l - EPSILON)
        pumped = (missing + starts * self.extra_l) * self.wh_l + starts * b.flush_wh
        charge = min(label.charge_wh + self.gain[k] - pumped, self.cap[k])
        return label.price + starts * b.price_start - b.price_wh * charge + b.price_l * short, short


class _Search:
    """One pass. `stride`: starts and lengths that are tried, in steps."""

    def __init__(self, b: Bounds, stride: int, best: float, *, hard: bool, any_will_do: bool = False) -> None:
        self.b, self.ahead, self.stride, self.hard = b, Ahead(b), stride, hard
        self.any_will_do = any_will_do
        self.price_start = 0.0 if any_will_do else b.price_start
        self.best = best
        self.winner: Label | None = None
        self.width = SEARCHED if any_will_do else WIDTH[hard]
        self.waiting: dict[int, list[Label]] = {}
        self.arriving: list[list[Label]] = [[] for _ in range(b.course.steps + 1)]

    def run(self) -> None:
        b, n = self.b, self.b.course.steps
        self.arriving[0].append(Label(0.0, b.charge_wh, b.charge_wh, 0.0, None))
        for label in self.arriving[0]:
            self._complete(label, 0)
        for k in range(n):
            if self.any_will_do and self.winner is not None:
                return
            for label in self.arriving[k]:
                self._settle(label)
            self.arriving[k] = []
            if not b.blocked[k] and k % self.stride == 0:
                for rivals in list(self.waiting.values()):
                    for label in rivals:
                        if label.charge_wh >= b.start_wh - EPSILON:
                            self._extend(label, k)
            self._idle(k)
        for label in [*self.arriving[n], *(one for rivals in self.waiting.values() for one in rivals)]:
            self._finish(label)

    def _settle(self, label: Label) -> None:
        """Put a label among its rivals, unless one of them is nowhere worse."""
        key = round(label.made_l / SAME_L)
        rivals = self.waiting.get(key)
        if rivals is None:
            self.waiting[key] = [label]
            return
        price, charge, low = label.price + EPSILON, label.charge_wh - EPSILON, label.low_wh - EPSILON
        for one in rivals:
            if one.price <= price and one.charge_wh >= charge and one.low_wh >= low:
                return
        price, charge, low = label.price, label.charge_wh, label.low_wh
        rivals[:] = [r for r in rivals if not (price <= r.price and charge >= r.charge_wh and low >= r.low_wh)]
        rivals.append(label)

    def _idle(self, k: int) -> None:
        b, c = self.b, self.b.course
        net, low_net, top, need = c.net_wh[k], c.net_low_wh[k], b.top_wh, b.need_l[k + 1]
        kept: list[tuple[float, int, Label]] = []
        for key, rivals in self.waiting.items():
            for label in rivals:
                price, made = label.price, label.made_l
                if self.hard:
                    if made < need - EPSILON:
                        continue
                elif made < need:
                    price += b.price_l * b.step_day * (need - made)
                charge, low = label.charge_wh + net, label.low_wh + low_net
                at = Label(price, charge if charge < top else top, low if low < top else top, made, label.trail)
                least, short = self.ahead.least(b, at, k + 1)
                if least < self.best - EPSILON and not (self.hard and short > EPSILON):
                    kept.append((least, key, at))
        if len(kept) > self.width:
            kept = nsmallest(self.width, kept, key=itemgetter(0))
        self.waiting = {}
        for _, key, at in kept:
            self.waiting.setdefault(key, []).append(at)

    def _extend(self, label: Label, k: int) -> None:
        """All runs of this way that start at step k."""
        b, c, n = self.b, self.b.course, self.b.course.steps
        top, room, need, pump = b.top_wh, b.room_l, b.need_l, b.pump_wh
        begin = label.made_l - c.made_l[k] - c.flow_l_h[k] * b.lost_h
        net, net_low, floor_wh = c.net_wh, c.net_low_wh, b.floor_wh - EPSILON
        price, charge, low = label.price + self.price_start, label.charge_wh, label.low_wh
        for j in range(k, min(k + b.most, n - 1)):
            if b.blocked[j]:
                return
            made = begin + c.made_l[j + 1]
            low += net_low[j] - pump
            low = min(low, top)
            if low < floor_wh or made > room[j + 1] + EPSILON:
                return
            charge += net[j] - pump
            charge = min(charge, top)
            length = j + 1 - k
            if made < need[j + 1] - EPSILON:
                if self.hard:
                    return
                price += b.price_l * b.step_day * (need[j + 1] - made)
            if length >= b.least and (length == b.most or length % self.stride == 0 or length == b.least):
                self._end(Label(price, charge, low, made - b.flush_l, (Span(k, length), label.trail)), length, j + 1)

    def _end(self, label: Label, length: int, at: int) -> None:
        """The flush and the rest after a run of this length that ends at step `at`."""
        b, c, n, top = self.b, self.b.course, self.b.course.steps, self.b.top_wh
        price, charge, low = label.price, label.charge_wh - b.flush_wh, label.low_wh - b.flush_wh
        until = min(n, at + max(b.rest, b.cycle - length))
        for j in range(at, until):
            if label.made_l < b.need_l[j + 1] - EPSILON:
                if self.hard:
                    return
                price += b.price_l * b.step_day * (b.need_l[j + 1] - label.made_l)
            charge, low = charge + c.net_wh[j], low + c.net_low_wh[j]
            charge = min(charge, top)
            low = min(low, top)
        rested = Label(price, charge, low, label.made_l, label.trail)
        if self._hopeful(rested, until):
            self._complete(rested, until)
            self.arriving[until].append(rested)

    def _hopeful(self, label: Label, k: int) -> bool:
        price, short = self.ahead.least(self.b, label, k)
        return price < self.best - EPSILON and not (self.hard and short > EPSILON)

    def _complete(self, label: Label, k: int) -> None:
        """Whether doing nothing more from here is a plan that keeps everything, and the best known."""
        if label.made_l >= self.ahead.need[k] - EPSILON:
            charge = min(label.charge_wh + self.ahead.gain[k], self.ahead.cap[k])
            self._take(label.price - self.b.price_wh * charge, label)

    def _finish(self, label: Label) -> None:
        missing = max(self.b.end_l - label.made_l, 0.0)
        if not (self.hard and missing > EPSILON):
            self._take(label.price - self.b.price_wh * label.charge_wh + self.b.price_l * missing, label)

    def _take(self, price: float, label: Label) -> None:
        if price < self.best - EPSILON:
            self.best, self.winner = price, label


def cheapest(bounds: Bounds, *, hard: bool) -> Found | None:
    """The cheapest runs that keep everything (`hard`), None where there are none; else the least short of it."""
    best = inf
    winner: Label | None = None
    for stride in STRIDES[hard]:
        search = _Search(bounds, stride, best, hard=hard)
        search.run()
        if search.winner is not None:
            best, winner = search.best, search.winner
    if winner is None:
        return None
    spans, trail = [], winner.trail
    while trail is not None:
        span, trail = trail
        spans.append(span)
    return Found(spans[::-1], best)


def possible(bounds: Bounds) -> bool:
    """Whether runs of half-hours that keep everything were found."""
    search = _Search(bounds, 2, inf, hard=True, any_will_do=True)
    search.run()
    return search.winner is not None
