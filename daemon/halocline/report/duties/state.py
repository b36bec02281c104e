"""When each duty is due again: a pure function of the table's row and of what the record held."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from halocline.plant.duties import DUTIES, OVERDUE_SHARE, SOON_SHARE, TURNOVER, Duty, While
from halocline.report.duties.facts import DAY_S, Entry, Facts
from halocline.report.duties.water import turnover_s

ORDER = ("overdue", "due", "soon", "done", "resting")
"""The states, what is most pressing first."""
READ_AS: Mapping[str, str] = {"chlorine_read": "mg_l"}
"""Kind of entry → its reading that the duty is judged by; `duty_done` has its own, `measured`."""


@dataclass(frozen=True, slots=True)
class Last:
    """When it was last done, by whom, with what reading, and whether that was as it has to be; `entry` is None where
    the plant's own water has done it."""

    at_s: float
    who: str | None = None
    measured: float | None = None
    expected: float | None = None
    passed: bool = True
    entry: Entry | None = None


@dataclass(frozen=True, slots=True)
class Due:
    """`at_s` in Unix seconds; foreseen, where it rests on the use so far, else computed."""

    at_s: float
    basis: Literal["computed", "foreseen"]


@dataclass(frozen=True, slots=True)
class State:
    """How one duty stands; `share` of its interval that is gone."""

    duty: Duty
    state: str
    because: str
    last: Last | None
    due: Due | None
    share: float = 0.0


def states(of: Facts) -> list[State]:
    """All that concern this plant, what is most pressing first."""
    found = [state(duty, of) for duty in DUTIES if fits(duty, of)]
    never = float("inf")
    return sorted(found, key=lambda one: (ORDER.index(one.state), one.due.at_s if one.due else never))


def fits(duty: Duty, of: Facts) -> bool:
    """Whether this plant has what the duty is about; where its settings are not known it counts as fitted."""
    motor = (of.settings.get("drive") or {}).get("motor")
    return duty.motor is None or motor in (None, duty.motor)


def state(duty: Duty, of: Facts) -> State:
    """How it stands now."""
    last = last_done(duty, of)
    if duty.begins and last is None:
        return State(duty, "resting", "not_begun", None, None)
    if duty.counts is While.LAID_UP and not of.laid_up:
        return State(duty, "resting", "not_laid_up", last, None)
    if last is not None and not last.passed:
        return State(duty, "overdue", "test_failed", last, Due(last.at_s, "computed"), 1.0)
    called = _called_for(duty, of, last)
    if called is not None:
        return State(duty, "due", "after_entry", last, Due(called, "computed"), 1.0)
    from_s = last.at_s if last is not None else of.began_s
    if from_s is None or (duty.counts is While.USED and not of.used_since(from_s)):
        return State(duty, "resting", "not_used", last, None)
    share, because, due = max(_criteria(duty, of, last, from_s), key=lambda one: one[0])
    return State(duty, _named(share), because, last, due, share)


def last_done(duty: Duty, of: Facts) -> Last | None:
    """The newest entry that says so; of the tank's turnover also what was made since. What is dated into the future was
    dated by a clock that was wrong: nobody knows when it was done, and it is done once more."""
    dated = [one for one in of.work if one.at_s <= of.now_s]
    done = [one for one in dated if one.kind in duty.kinds or one.details.get("duty") == duty.id]
    last = _judged(duty, of, done[-1]) if done else None
    turned_s = turnover_s(of) if duty.id == TURNOVER else None
    if turned_s is not None and (last is None or turned_s > last.at_s):
        return Last(turned_s)
    return last


def _judged(duty: Duty, of: Facts, entry: Entry) -> Last:
    measured = entry.number(READ_AS.get(entry.kind, "measured"))
    told, rule = entry.number("expected"), duty.expected
    if measured is None:
        return Last(entry.at_s, entry.who, entry=entry)
    if rule is None:
        return Last(entry.at_s, entry.who, measured, told, entry=entry)
    expected = rule.bound(told, of.setting(*rule.setting) if rule.setting else None)
    return Last(entry.at_s, entry.who, measured, expected, rule.holds(measured, expected), entry)


def _called_for(duty: Duty, of: Facts, last: Last | None) -> float | None:
    """When something happened that asks for it anew."""
    since_s = float("-inf") if last is None else last.at_s
    return next((one.at_s for one in of.work if one.kind in duty.after and one.at_s > since_s), None)


def _criteria(duty: Duty, of: Facts, last: Last | None, from_s: float) -> Iterable[tuple[float, str, Due]]:
    """By each of calendar, hours and litres: the share that is gone, and when it is due."""
    hours_a_day, litres_a_day = of.rates()
    days = duty.warm_days if duty.warm_days is not None and of.warm else duty.days
    if days is not None:
        yield (of.now_s - from_s) / (days * DAY_S), "calendar", Due(from_s + days * DAY_S, "computed")
    pump_h = duty.first_pump_h if last is None and duty.first_pump_h is not None else duty.pump_h
    if pump_h is not None:
        gone_h = _since(of, last, "high_pressure_pump_s") / 3600.0
        yield gone_h / pump_h, "pump_hours", _foreseen(of, pump_h - gone_h, hours_a_day)
    if duty.product_l is not None:
        gone_l = _since(of, last, "product_l")
        yield gone_l / duty.product_l, "litres", _foreseen(of, duty.product_l - gone_l, litres_a_day)


def _since(of: Facts, last: Last | None, counter: str) -> float:
    before = last.entry.counters.get(counter, 0.0) if last is not None and last.entry is not None else 0.0
    return max(0.0, of.counters.get(counter, 0.0) - before)


def _foreseen(of: Facts, left: float, a_day: float) -> Due:
    """When what is left will be gone. A plant that is not used never gets there: a hundred years stand for that."""
    if left <= 0.0:
        return Due(of.now_s, "computed")
    return Due(of.now_s + min(left / a_day if a_day > 0.0 else 36500.0, 36500.0) * DAY_S, "foreseen")


def _named(share: float) -> str:
    if share >= OVERDUE_SHARE:
        return "overdue"
    if share >= 1.0:
        return "due"
    return "soon" if share >= SOON_SHARE else "done"
