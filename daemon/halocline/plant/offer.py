"""The offer of a run: what it would give, how long it takes and what ends it. One function for every face.

Control says what it rests on (`control/hmi/prospect.py`); report and the command line ask here. All of it is foreseen:
the flow by the membrane's model, the times by the settings, the power by the configuration.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from typing import Any

from halocline.plant.until import seconds_until

LEAST_LITRES, LEAST_OTHERWISE = 0.05, 0.001
USUAL_LITRES = (20.0, 40.0, 60.0, 100.0)
DROPPED = frozenset({"nobody_at_the_plant", "questions_open"})
"""What a person answers on the way to a start does not speak against offering it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prospect:
    """What an offer rests on, None where it is not known.

    flow_l_h: foreseen at pressure_bar and temperature_c; usual: by what this membrane usually gives, not its model
    alone. flush_s: how long the flush that follows takes at the least flow for it; None where none follows, for its
    water may carry chlorine. prime_s: from the start until the pump turns; before_tank_s: from there until the tank
    opens, a purge of `purge_of` (rinse_s and overboard_s, then a person confirms) not counted. motor_left_s: work until
    the motor has to rest for motor_rest_s. room_l: the most that a run may put into the tank. asks_after_s: when a run
    asks whether a person is there. battery_percent is measured, battery_stop_percent ends a run.
    """

    flow_l_h: float | None
    usual: bool
    pressure_bar: float | None
    temperature_c: float | None
    power_w: float
    flush_l: float
    flush_s: float | None
    prime_s: float
    before_tank_s: float
    purge_of: str | None
    rinse_s: float
    overboard_s: float
    motor_left_s: float | None
    motor_rest_s: float
    run_limit_s: float
    room_l: float
    level_known: bool
    asks_after_s: float | None
    battery_percent: float | None
    battery_stop_percent: float

    @classmethod
    def from_message(cls, message: Mapping[str, Any]) -> "Prospect":
        """From the link. Raises KeyError where control does not say all of it."""
        return cls(**{each.name: message[each.name] for each in fields(cls)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What is asked for; nothing: until the tank is full."""

    litres: float | None = None
    minutes: float | None = None
    until_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """What a run for a need comes to.

    wanted_l: what was asked for, or what the tank has room for; litres of it get into the tank in this one run, which
    lasts `seconds` from the start to the end of making water. ended_by: need, tank, motor, run_limit or purge. rest_s:
    the motor's rest after it, if it has to. reasons: why it would be refused, as ids with values.
    """

    need: Need
    wanted_l: float | None
    litres: float | None
    seconds: float | None
    before_s: float
    energy_wh: float | None
    flush_l: float
    ended_by: str
    rest_s: float | None
    reasons: tuple[tuple[str, Mapping[str, Any]], ...]

    @property
    def falls_short(self) -> bool:
        """Whether something ends the run before the need is met."""
        return self.ended_by in ("motor", "run_limit", "purge") or (self.ended_by == "tank" and self.need != Need())


def offer(on: Prospect, need: Need) -> Offer:
    """What a run for this need comes to."""
    before_s = on.prime_s + on.before_tank_s + (0.0 if on.purge_of is None else on.rinse_s + on.overboard_s)
    ended_by, seconds = min(_ends(on, need, before_s), key=lambda end: end[1])
    known = math.isfinite(seconds)
    litres = _litres(on, need, ended_by, max(0.0, seconds - before_s)) if known else None
    if known and seconds <= before_s and on.purge_of is not None and ended_by in ("motor", "run_limit"):
        ended_by = "purge"
    rests = on.motor_left_s is not None and known and seconds - on.prime_s >= on.motor_left_s - on.before_tank_s
    return Offer(
        need=need,
        wanted_l=on.room_l if need == Need() else need.litres,
        litres=litres,
        seconds=seconds if known else None,
        before_s=before_s,
        energy_wh=on.power_w * seconds / 3600 if known else None,
        flush_l=0.0 if on.flush_s is None else on.flush_l,
        ended_by=ended_by,
        rest_s=on.motor_rest_s if rests else None,
        reasons=tuple(_problems(on, need, before_s)),
    )


def _ends(on: Prospect, need: Need, before_s: float) -> Iterator[tuple[str, float]]:
    """All that may end the run, each with its time from the start; the need first."""
    if need.until_s is not None:
        yield "need", need.until_s
    if need.minutes is not None:
        yield "need", before_s + need.minutes * 60
    if need.litres is not None and on.flow_l_h:
        yield "need", before_s + need.litres / on.flow_l_h * 3600
    if on.flow_l_h:
        yield "tank", before_s + on.room_l / on.flow_l_h * 3600
    if on.motor_left_s is not None and (on.flow_l_h or need.until_s is not None or need.minutes is not None):
        yield "motor", on.prime_s + on.motor_left_s
    yield "run_limit", on.run_limit_s if on.flow_l_h or need.until_s or need.minutes else math.inf


def _litres(on: Prospect, need: Need, ended_by: str, tank_s: float) -> float | None:
    if ended_by == "need" and need.litres is not None:
        return need.litres
    if ended_by == "tank":
        return on.room_l
    return None if on.flow_l_h is None else on.flow_l_h * tank_s / 3600


def _problems(on: Prospect, need: Need, before_s: float) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Why a start for this need would be refused, or come to nothing."""
    if need.litres is not None and need.litres < LEAST_LITRES:
        yield "need_too_small", {"key": "litres", "value": need.litres}
    if need.litres is not None and need.litres > on.room_l:
        yield "tank_has_no_room", {"litres": need.litres, "limit_l": on.room_l}
    for key, value in (("minutes", need.minutes), ("until_s", need.until_s)):
        if value is not None and value < LEAST_OTHERWISE:
            yield "need_too_small", {"key": key, "value": value}
    if need.until_s is not None and need.until_s > on.run_limit_s:
        yield "until_too_far", {"seconds": need.until_s, "limit_s": on.run_limit_s}
    if need.until_s is not None and need.until_s <= before_s and on.purge_of is None:
        yield "until_too_soon", {"seconds": before_s}


def usual_needs(on: Prospect) -> list[Need]:
    """What to offer without being asked: usual amounts that one run can give, then as much as it can."""
    amounts = [need for need in map(_amount, USUAL_LITRES) if _is_met(offer(on, need))]
    return [*amounts, Need()] if on.room_l >= LEAST_LITRES else amounts


def _amount(litres: float) -> Need:
    return Need(litres=litres)


def _is_met(offered: Offer) -> bool:
    return not offered.reasons and not offered.falls_short


def against(refused: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """What speaks against any start now, by the snapshot's `refused`."""
    return [reason for reason in refused.get("start") or () if reason["id"] not in DROPPED]


def need_of(litres: float | None, minutes: float | None, until: str | None, wall_s: float) -> Need:
    """The need that is asked for. Raises ValueError for a text that is no time."""
    if until is None:
        return Need(litres=litres, minutes=minutes)
    seconds = seconds_until(until, datetime.fromtimestamp(wall_s, UTC).astimezone())
    if seconds is None:
        raise ValueError(f"{until!r} is no time like 18:30, nor a date and time")
    return Need(litres=litres, minutes=minutes, until_s=seconds)


def prospect_of(now: Mapping[str, Any] | None) -> Prospect | None:
    """What offers rest on; None where control does not say it."""
    message = None if now is None else now.get("prospect")
    if not isinstance(message, Mapping) or any(each.name not in message for each in fields(Prospect)):
        return None
    return Prospect.from_message(message)
