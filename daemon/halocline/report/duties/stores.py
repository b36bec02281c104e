"""Spares and stuff by the record: what is aboard, when it was last used, what the next harbour has to give."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import floor
from typing import Any

from halocline.plant.duties import BY_ID, CLEANING_USES, PARTS, USED_BY, Duty, While
from halocline.report.duties.facts import DAY_S, Entry, Facts
from halocline.report.duties.state import State

COUNTED = "stores_counted"
HORIZON_DAYS = 90.0
"""A shopping list looks so far ahead: a season between harbours that have a dealer (chosen)."""
SURE = 0.8
"""How likely a story of health has to be before something is bought for it; it is told unasked from there on too."""
FOR_A_STORY: Mapping[str, Mapping[str, float]] = {
    "fouling": CLEANING_USES,
    "scaling": CLEANING_USES,
    "membrane_damage": {"membrane": 1},
    "worn_pump": {"pump_seal_kit": 1},
}
FOR_A_LIMIT: Mapping[str, Mapping[str, float]] = {
    "filter_drop": {"coarse_cartridge": 1, "fine_cartridge": 1},
    "salt_passage": {"membrane": 1},
}
"""What is bought when health foresees that a figure comes to its limit within the horizon."""


@dataclass(frozen=True, slots=True)
class Store:
    """One part. `aboard` is None until it was counted, and never below 0; `number` as noted at the last count."""

    part: str
    aboard: float | None
    minimum: float
    number: str
    used: Entry | None


@dataclass(frozen=True, slots=True)
class Wanted:
    """One line of the shopping list: `need` is foreseen within the horizon, `buy` is what to get."""

    store: Store
    need: float
    buy: float


def stores(of: Facts) -> list[Store]:
    """Every part, from the counts and from what was used since; a use that was not in the count leaves none, not less
    than none."""
    kept = {part: Store(part, None, minimum, "", None) for part, minimum in PARTS.items()}
    for one in of.work:
        if one.kind == COUNTED:
            before = kept.get(str(one.details.get("part")))
            aboard = one.number("aboard")
            if before is not None and aboard is not None:
                minimum = one.number("minimum")
                kept[before.part] = Store(
                    before.part,
                    aboard,
                    before.minimum if minimum is None else minimum,
                    one.note or before.number,
                    before.used,
                )
        for part, count in used_by(one).items():
            before = kept[part]
            left = None if before.aboard is None else max(0.0, before.aboard - count)
            kept[part] = Store(part, left, before.minimum, before.number, one)
    return list(kept.values())


def used_by(entry: Entry) -> Mapping[str, float]:
    """What an entry used up."""
    duty = BY_ID.get(str(entry.details.get("duty")))
    return (duty.uses or {}) if duty is not None else USED_BY.get(entry.kind, {})


def shopping(
    of: Facts, states: Sequence[State], kept: Sequence[Store], health: Mapping[str, Any] | None
) -> list[Wanted]:
    """What to get so that what is foreseen can be done and the minimum stays aboard. What was never counted counts as
    none, and is told to be so."""
    need: dict[str, float] = dict.fromkeys(PARTS, 0.0)
    for each in states:
        for part, count in (each.duty.uses or {}).items():
            need[part] += count * times(each, of)
    for part, count in _by_health(of, health).items():
        need[part] = max(need[part], count)
    wanted = [Wanted(one, need[one.part], need[one.part] + one.minimum - (one.aboard or 0.0)) for one in kept]
    return [one for one in wanted if one.buy > 0.0]


def times(of_state: State, of: Facts) -> int:
    """How often a duty comes due within the horizon if the plant is used as it was."""
    if of_state.due is None:
        return 0
    end_s = of.now_s + HORIZON_DAYS * DAY_S
    first_s = max(of_state.due.at_s, of.now_s)
    if first_s > end_s:
        return 0
    every_s = interval_s(of_state.duty, of)
    return 1 if every_s is None else 1 + floor((end_s - first_s) / every_s)


def interval_s(duty: Duty, of: Facts) -> float | None:
    """How long from one time to the next; None where use alone decides and there is none."""
    hours_a_day, litres_a_day = of.rates()
    days = duty.warm_days if duty.warm_days is not None and of.warm else duty.days
    found = [
        *([] if days is None else [days]),
        *([duty.pump_h / hours_a_day] if duty.pump_h is not None and hours_a_day > 0.0 else []),
        *([duty.product_l / litres_a_day] if duty.product_l is not None and litres_a_day > 0.0 else []),
    ]
    if duty.counts is While.USED and hours_a_day <= 0.0:
        return None
    return min(found) * DAY_S if found else None


def _by_health(of: Facts, health: Mapping[str, Any] | None) -> dict[str, float]:
    need: dict[str, float] = {}
    if health is None:
        return need
    for name, parts in FOR_A_LIMIT.items():
        figure = health["quantities"].get(name) or {}
        reached = (figure.get("reached_on") or {}).get("estimate")
        if reached and datetime.fromisoformat(reached).astimezone().timestamp() <= of.now_s + HORIZON_DAYS * DAY_S:
            need |= parts
    for each in health["patterns"]:
        if each["confidence"] >= SURE:
            need |= FOR_A_STORY.get(each["name"], {})
    return need
