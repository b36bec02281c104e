"""The year's work as JSON values, the same for the command line, the API, the page and the broker."""

from collections.abc import Mapping
from typing import Any

from halocline.plant import words
from halocline.plant.words.duty_texts import DUTY_TEXTS
from halocline.report.duties.facts import DAY_S, Facts
from halocline.report.duties.state import Last, State, states
from halocline.report.duties.stores import HORIZON_DAYS, Store, shopping, stores
from halocline.report.duties.water import water
from halocline.report.public import iso


def duties_answer(of: Facts) -> dict[str, Any]:
    """Every duty of this plant, what is most pressing first, and the water in the tank."""
    said = {"schema": 1, "at": iso(of.now_s), "duties": [_duty(each) for each in states(of)], "water": _water(of)}
    return {**said, "sentence": words.duties_sentence(said)}


def stores_answer(of: Facts, health: Mapping[str, Any] | None) -> dict[str, Any]:
    """What is aboard, and what the next harbour has to give. `health` as `halocline health --json` says, None where the
    record allows no comparison."""
    kept = stores(of)
    wanted = [
        {"part": one.store.part, "need": one.need, "buy": one.buy, **_part(one.store)}
        for one in shopping(of, states(of), kept, health)
    ]
    told = [_store(one, of) for one in kept]
    return {
        "schema": 1,
        "at": iso(of.now_s),
        "horizon_days": HORIZON_DAYS,
        "stores": [{**one, "text": words.store_text(one)} for one in told],
        "shopping": [{**one, "text": words.buy_text(one)} for one in wanted],
    }


def _duty(one: State) -> dict[str, Any]:
    duty, text = one.duty, DUTY_TEXTS[one.duty.id]
    told = {
        "duty": duty.id,
        "name": text.name,
        "state": one.state,
        "because": one.because,
        "due": None if one.due is None else {"at": iso(one.due.at_s), "basis": one.due.basis},
        "share": round(one.share, 3),
        "last": None if one.last is None else _last(one.last),
        "unit": "" if duty.expected is None else duty.expected.unit,
        "wants_reading": duty.expected is not None,
        "kinds": list(duty.kinds),
        "why": text.why,
        "how": text.how,
        "task": duty.task,
        "minutes": duty.minutes,
        "uses": dict(duty.uses or {}),
        "source": duty.source,
    }
    return {**told, "text": words.duty_due_text(told), "last_text": words.duty_last_text(told)}


def _last(last: Last) -> dict[str, Any]:
    return {
        "at": iso(last.at_s),
        "who": last.who,
        "measured": last.measured,
        "expected": last.expected if last.measured is not None else None,
        "passed": last.passed,
        "by_hand": last.entry is not None,
    }


def _water(of: Facts) -> dict[str, Any]:
    found = water(of)
    days = None if found.turned_s is None else round((of.now_s - found.turned_s) / DAY_S, 1)
    told = {
        "days_since_turnover": days,
        "contact_until": iso(found.contact_until_s),
        "flush_blocked_since": iso(found.chlorine_since_s),
        "residual_mg_l": found.residual_mg_l,
        "residual_at": iso(found.residual_s),
        "sea_c": of.sea_c,
        "warm": of.warm,
        "warm_basis": "assumed" if of.sea_c is None else "measured",
    }
    return {**told, "text": words.turnover_text(told), "chlorine_text": words.chlorine_text(told)}


def _part(one: Store) -> dict[str, Any]:
    return {"name": words.part_name(one.part), "minimum": one.minimum, "counted": one.aboard is not None}


def _store(one: Store, of: Facts) -> dict[str, Any]:
    used = one.used
    hours = "high_pressure_pump_s"
    return {
        "part": one.part,
        **_part(one),
        "aboard": one.aboard,
        "number": one.number,
        "fitted": None
        if used is None
        else {
            "at": iso(used.at_s),
            "who": used.who,
            "pump_h_since": round(max(0.0, of.counters.get(hours, 0.0) - used.counters.get(hours, 0.0)) / 3600.0, 1),
        },
    }
