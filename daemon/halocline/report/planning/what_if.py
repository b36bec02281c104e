"""What would be if something were otherwise: the boat's question with a few figures changed. Nothing of it is kept."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace

from halocline.plant.fields import setting
from halocline.plant.words import NO_ENGINE
from halocline.report.planning.question import Blocked, Engine, Question, Unaskable, consistency


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """What is otherwise; None: as it is."""

    more_l: float | None = setting("litres more in the tank at the end", default=None, low=-2000, high=2000)
    more_people: float | None = setting("people more aboard", default=None, low=-50, high=50)
    sun_percent: float | None = setting("of the sun that is foreseen", default=None, low=0, high=200)
    engine_h: float | None = setting("hours of the engine from now on", default=None, low=0, high=24)
    colder_k: float | None = setting("kelvin that the sea is colder", default=None, low=-20, high=20)
    feed_percent: float | None = setting("of the feed flow that a dirty filter leaves", default=None, low=50, high=100)
    wait_h: float | None = setting("hours from now on without a run", default=None, low=0, high=96)


def _more_l(q: Question, litres: float) -> Question:
    """As far as runs may fill the tank."""
    return replace(q, tank=replace(q.tank, at_end_l=min(max(q.tank.at_end_l + litres, 0.0), q.tank.full_l)))


def _more_people(q: Question, people: float) -> Question:
    return replace(q, use=replace(q.use, people=max(q.use.people + people, 0.0)))


def _sun(q: Question, percent: float) -> Question:
    return replace(q, sun_w=tuple(watts * percent / 100 for watts in q.sun_w))


def _engine(q: Question, hours: float) -> Question:
    if not q.engine_w:
        raise Unaskable([NO_ENGINE])
    added = (Engine(from_s=q.from_s, to_s=q.from_s + hours * 3600, w=q.engine_w),) if hours else ()
    return replace(q, engine=(*q.engine, *added))


def _colder(q: Question, kelvin: float) -> Question:
    return replace(
        q, sea=tuple(replace(s, temperature_c=min(max(s.temperature_c - kelvin, -2.0), 40.0)) for s in q.sea)
    )


def _feed(q: Question, percent: float) -> Question:
    return replace(q, plant=replace(q.plant, feed_flow_l_h=max(q.plant.feed_flow_l_h * percent / 100, 50.0)))


def _wait(q: Question, hours: float) -> Question:
    added = (Blocked(from_s=q.from_s, to_s=q.from_s + hours * 3600, why="waiting"),) if hours else ()
    return replace(q, blocked=(*q.blocked, *added))


CHANGES: Mapping[str, Callable[[Question, float], Question]] = {
    "more_l": _more_l,
    "more_people": _more_people,
    "sun_percent": _sun,
    "engine_h": _engine,
    "colder_k": _colder,
    "feed_percent": _feed,
    "wait_h": _wait,
}


def changed(question: Question, change: WhatIf) -> Question:
    """The question with all that is otherwise. Raises `Unaskable` where that cannot be."""
    for each in fields(WhatIf):
        value = getattr(change, each.name)
        if value is not None:
            question = CHANGES[each.name](question, value)
    problems = consistency(question)
    if problems:
        raise Unaskable(problems)
    return question
