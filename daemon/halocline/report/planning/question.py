"""The question: tank, use, battery, sun, engine, sea, plant and forbidden times, as values that have been looked at.

Every figure has its unit in its name. Moments are seconds since 1970; hours of the clock are those of the offset that
`from` was written with. A question that cannot be answered is refused with every problem at once.
"""

import difflib
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, Field, dataclass, field, fields, is_dataclass
from datetime import datetime
from itertools import pairwise
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

from halocline.plant.fields import setting
from halocline.plant.thresholds import DAY_S

SCHEMA = 1
LONGEST_DAYS = 14
LONGEST_H = LONGEST_DAYS * 24.0
"""Sun and sea are not foreseen further, and a plan has to be found while a person waits (chosen)."""
FORESEEN_DAYS = 31
"""Nobody foresees engine and passage further, and a forecast may come some weeks before it is wanted (chosen)."""
LONGEST_TEXT = 80
"""Of a word in a question: it comes from anywhere, and is shown."""

T = TypeVar("T")
Problems = list[str]


class Unaskable(ValueError):
    """A question that cannot be answered; one line for each problem."""

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines = tuple(lines)
        super().__init__("; ".join(lines))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """The drinking water."""

    capacity_l: float = setting("what the tank holds", unit="L", low=5, high=20000)
    now_l: float = setting("what is in it now", unit="L", low=0, high=20000)
    reserve_l: float = setting("what has to stay in it even with high use", unit="L", low=0, high=20000)
    full_percent: float = setting("no run fills it further", unit="%", low=10, high=100)
    at_end_l: float = setting("what has to be in it at the end", unit="L", low=0, high=20000)

    @property
    def full_l(self) -> float:
        """Litres to which a run may fill it."""
        return self.capacity_l * self.full_percent / 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What the crew takes from the tank."""

    people: float = setting("people aboard", low=0, high=200)
    l_per_person_day: float = setting("litres each uses a day", unit="L", low=0, high=1000)
    by_hour: tuple[float, ...] = setting("share of a day's use in each hour of the clock, 24 of them", low=0, high=1)
    high_factor: float = setting("a day of high use over a usual one", low=1, high=5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """The battery that feeds the pump."""

    capacity_wh: float = setting("what it holds", unit="Wh", low=50, high=1_000_000)
    now_percent: float = setting("its charge now", unit="%", low=0, high=100)
    min_percent: float = setting("the pump never takes it below", unit="%", low=0, high=99)
    max_percent: float = setting("charging ends at", unit="%", low=10, high=100)
    start_percent: float = setting("no start below", unit="%", low=0, high=100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """Charge while an engine runs."""

    from_s: float = setting("begin")
    to_s: float = setting("end")
    w: float = setting("what it charges", unit="W", low=0, high=100_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sea:
    """The water outside from a moment on."""

    from_s: float = setting("begin")
    temperature_c: float = setting("its temperature", unit="°C", low=-2, high=40)
    salinity_g_kg: float = setting("its salinity", unit="g/kg", low=0.5, high=50)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """The plant and its motor."""

    feed_flow_l_h: float = setting("flow of the high-pressure pump", unit="L/h", low=50, high=5000)
    pressure_bar: float = setting("pressure at the membrane", unit="bar", low=5, high=100)
    area_m2: float = setting("active area of the membrane", unit="m²", low=0.1, high=50)
    water_permeability_lmh_bar: float = setting("A at 25 °C", unit="LMH/bar", low=0.05, high=20)
    salt_permeability_lmh: float = setting("B at 25 °C", unit="LMH", low=0, high=10)
    pump_power_w: float = setting("power of the pumps", unit="W", low=10, high=20_000)
    start_up_minutes: float = setting("product overboard at the start of a run", unit="min", low=0, high=240)
    flush_l: float = setting("fresh water for the flush after a run", unit="L", low=0, high=500)
    flush_minutes: float = setting("how long a flush takes", unit="min", low=0, high=60)
    flush_power_w: float = setting("power during a flush", unit="W", low=0, high=20_000)
    min_run_minutes: float = setting("shortest time into the tank", unit="min", low=0, high=600)
    motor_run_minutes: float = setting("longest work of the motor at a stretch", unit="min", low=5, high=1440)
    motor_rest_minutes: float = setting("its rest after a run", unit="min", low=0, high=240)
    starts_per_hour: float = setting("starts the motor stands in an hour", low=1, high=60)


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocked:
    """A time in which no run may be."""

    from_s: float = setting("begin")
    to_s: float = setting("end")
    why: str = setting("why, as an id")
    place: str = setting("where, in words", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What is weighed against what, in Wh of the battery."""

    wh: float = setting("one Wh missing in the battery at the end", default=1.0, low=0, high=1000)
    start_wh: float = setting("one start", default=150.0, unit="Wh", low=0, high=100_000)
    litre_below_reserve_wh: float = setting("one litre short", default=500.0, unit="Wh", low=0, high=100_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """When to make water between two moments."""

    from_s: float = setting("begin")
    to_s: float = setting("end")
    clock_offset_s: float = setting("what the boat's clock is ahead of UTC", default=0.0)
    tank: Tank = setting("the tank")
    use: Use = setting("the use")
    battery: Battery = setting("the battery")
    loads_w: float = setting("all other loads, on average", unit="W", low=0, high=100_000)
    sun_w: tuple[float, ...] = setting("charge by the sun in each hour from the begin", unit="W", low=0, high=100_000)
    sun_low_factor: float = setting("what of the sun comes at the least", low=0, high=1)
    engine: tuple[Engine, ...] = setting("times with the engine", default=())
    engine_w: float = setting("what an engine charges that may be run", default=0.0, unit="W", low=0, high=100_000)
    sea: tuple[Sea, ...] = setting("the sea, in the order of time")
    plant: Plant = setting("the plant")
    blocked: tuple[Blocked, ...] = setting("forbidden times", default=())
    cost: Cost = field(default_factory=Cost, metadata={"doc": "the prices"})

    @property
    def hours(self) -> float:
        """Length of the time that is planned."""
        return (self.to_s - self.from_s) / 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class SeaAhead:
    """The water outside from a moment on, as far as it is foreseen."""

    from_s: float = setting("begin")
    temperature_c: float = setting("its temperature", unit="°C", low=-2, high=40)
    salinity_g_kg: float | None = setting(
        "its salinity; that of the configuration where it is left out", default=None, unit="g/kg", low=0.5, high=50
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """What is foreseen of the hours ahead."""

    from_s: float = setting("begin of the first hour of sun_w, on the first day of sun_wh_day")
    sun_w: tuple[float, ...] = setting("charge by the sun in each hour", unit="W", default=(), low=0, high=100_000)
    sun_wh_day: tuple[float, ...] = setting(
        "charge by the sun on each day of the boat's clock, where the hours are not known",
        unit="Wh",
        default=(),
        low=0,
        high=200_000,
    )
    engine: tuple[Engine, ...] = setting("times with the engine", default=())
    sea: tuple[SeaAhead, ...] = setting("the sea of the passage, in the order of time", default=())
    blocked: tuple[Blocked, ...] = setting("forbidden times", default=())


def forecast_of(message: object) -> Forecast:
    """The forecast from its JSON. Raises `Unaskable` with every problem."""
    problems: Problems = []
    forecast = _table(Forecast, message, "", problems)
    if forecast is not None and not problems:
        problems += [text for holds, text in _rules_of_forecast(forecast) if not holds]
    if forecast is None or problems:
        raise Unaskable(problems)
    return forecast


def timely(forecast: Forecast, now_s: float) -> Forecast:
    """The same, where it tells of the weeks around `now_s`. Raises `Unaskable` for one that reaches beyond: a date or
    clock was wrong, and an engine that runs for years would stand behind every plan."""
    ends_s = (forecast.from_s, *(each.to_s for each in forecast.engine), *(each.from_s for each in forecast.sea))
    if max(ends_s) > now_s + FORESEEN_DAYS * DAY_S:
        raise Unaskable([f"a time is more than {FORESEEN_DAYS} days ahead: check its date, and both clocks"])
    return forecast


def _rules_of_forecast(f: Forecast) -> list[tuple[bool, str]]:
    return [
        (not (f.sun_w and f.sun_wh_day), "sun_w and sun_wh_day both tell the sun: give the hours or the days"),
        (len(f.sun_w) <= LONGEST_H, f"sun_w has {len(f.sun_w)} hours; at most {LONGEST_H:.0f} are taken"),
        (
            len(f.sun_wh_day) <= LONGEST_DAYS,
            f"sun_wh_day has {len(f.sun_wh_day)} days; at most {LONGEST_DAYS} are taken",
        ),
        *_rules_of_spans(f.engine, f.sea, f.blocked),
    ]


def _rules_of_spans(
    engine: Sequence[Engine], sea: Sequence[Sea | SeaAhead], blocked: Sequence[Blocked]
) -> list[tuple[bool, str]]:
    ordered = all(a.from_s < b.from_s for a, b in pairwise(sea))
    return [
        (ordered, "sea is not in the order of time: sort it by its from"),
        (all(e.to_s > e.from_s for e in engine), "engine has a time that ends before it begins"),
        (all(b.to_s > b.from_s for b in blocked), "blocked has a time that ends before it begins"),
    ]


def question_of(message: object) -> Question:
    """The question from its JSON. Raises `Unaskable` with every problem."""
    problems: Problems = []
    if not isinstance(message, Mapping):
        raise Unaskable(["the question is no JSON object: see cases of `halocline plan` in PLANNING.md"])
    if message.get("schema", SCHEMA) != SCHEMA:
        problems.append(f"schema is {message['schema']!r}; this program knows {SCHEMA}")
    given = {**message, "clock_offset_s": _offset_s(message.get("from"))}
    question = _table(Question, given, "", problems)
    if question is not None and not problems:
        problems += consistency(question)
    if question is None or problems:
        raise Unaskable(problems)
    return question


def consistency(question: Question) -> Problems:
    """What cannot be true together, in a question whose figures are each in range."""
    return [text for holds, text in _rules(question) if not holds]


def _rules(q: Question) -> list[tuple[bool, str]]:
    tank, battery, plant = q.tank, q.battery, q.plant
    least = plant.start_up_minutes + plant.min_run_minutes
    day = sum(q.use.by_hour)
    return [
        (q.to_s > q.from_s, "to is not after from: give the moment at which the plan shall end"),
        (q.hours <= LONGEST_H, f"from and to are {q.hours:.0f} h apart; at most {LONGEST_H:.0f} h are planned"),
        (tank.now_l <= tank.capacity_l, f"tank.now_l is {tank.now_l:g}; the tank holds {tank.capacity_l:g} L"),
        (tank.reserve_l < tank.full_l, f"tank.reserve_l is {tank.reserve_l:g}; runs fill to {tank.full_l:g} L only"),
        (tank.at_end_l <= tank.full_l, f"tank.at_end_l is {tank.at_end_l:g}; runs fill to {tank.full_l:g} L only"),
        (len(q.use.by_hour) == 24, f"use.by_hour has {len(q.use.by_hour)} shares; a day has 24 hours"),
        (abs(day - 1) < 0.02, f"use.by_hour adds up to {day:.3f}; the shares of a day add up to 1"),
        (battery.min_percent < battery.max_percent, "battery.min_percent is not below battery.max_percent"),
        (battery.start_percent <= battery.max_percent, "battery.start_percent is above battery.max_percent"),
        (
            least <= plant.motor_run_minutes,
            f"a run takes {least:g} min at least (plant.start_up_minutes and plant.min_run_minutes), and the motor "
            f"stands {plant.motor_run_minutes:g} min (plant.motor_run_minutes): no run is possible",
        ),
        (bool(q.sea), "sea is empty: give its temperature and salinity from the begin on"),
        (not q.sea or q.sea[0].from_s <= q.from_s, "sea begins after from: give the sea of the begin too"),
        *_rules_of_spans(q.engine, q.sea, q.blocked),
    ]


def _offset_s(text: object) -> float:
    try:
        offset = datetime.fromisoformat(str(text)).utcoffset()
    except ValueError:
        return 0.0
    return offset.total_seconds() if offset is not None else 0.0


def _table(cls: type[T], given: object, where: str, problems: Problems) -> T | None:
    """The dataclass under `where`, or None after saying why not. Keys that no table of the question has are left out:
    a later program may say more."""
    if not isinstance(given, Mapping):
        problems.append(
            f"{where.rstrip('.')} is {_shown(given)}; it is an object with the keys {', '.join(_keys(cls))}"
        )
        return None
    known = _keys(cls)
    for key in given:
        near = difflib.get_close_matches(str(key), [k for k in known if k not in given], n=1, cutoff=0.8)
        if key not in known and near:
            problems.append(f"{where}{key} is no key of the question: did you mean {where}{near[0]}?")
    before = len(problems)
    values = {}
    for name, hint in get_type_hints(cls).items():
        described = field_of(cls, name)
        key = key_of(name)
        if key in given:
            values[name] = _value(described.metadata, hint, given[key], f"{where}{key}", problems)
        elif described.default is MISSING and described.default_factory is MISSING:
            problems.append(f"{where}{key} is missing: {described.metadata['doc']}")
    return cls(**values) if len(problems) == before else None


def key_of(name: str) -> str:
    """A field's key in JSON."""
    return {"from_s": "from", "to_s": "to"}.get(name, name)


def field_of(cls: type, name: str) -> Field[Any]:
    """The field of this name."""
    return next(each for each in fields(cls) if each.name == name)


def _keys(cls: type) -> list[str]:
    return [key_of(each.name) for each in fields(cls)]


def _value(metadata: Mapping[str, Any], hint: Any, given: object, where: str, problems: Problems) -> Any:
    if get_origin(hint) is tuple:
        return _list(metadata, get_args(hint)[0], given, where, problems)
    if isinstance(hint, type) and is_dataclass(hint):
        return _table(hint, given, f"{where}.", problems)
    read: Callable[[Mapping[str, Any], object, str, Problems], Any] = {str: _text}.get(hint, _number)
    if where.rpartition(".")[2] in ("from", "to"):
        read = _moment
    return read(metadata, given, where, problems)


def _list(metadata: Mapping[str, Any], of: Any, given: object, where: str, problems: Problems) -> Any:
    if not isinstance(given, list):
        problems.append(f"{where} is {_shown(given)}; it is a list: {metadata['doc']}")
        return ()
    return tuple(_value(metadata, of, each, f"{where}[{place}]", problems) for place, each in enumerate(given))


def _number(metadata: Mapping[str, Any], given: object, where: str, problems: Problems) -> float:
    low, high, unit = metadata["low"], metadata["high"], metadata["unit"]
    number = given if isinstance(given, int | float) and not isinstance(given, bool) else math.nan
    if math.isfinite(number) and (low is None or low <= number <= high):
        return float(number)
    allowed = "a number" if low is None else f"{low:g} to {high:g}{f' {unit}' if unit else ''}"
    problems.append(f"{where} is {_shown(given)}; allowed is {allowed}: {metadata['doc']}")
    return 0.0


def _text(metadata: Mapping[str, Any], given: object, where: str, problems: Problems) -> str:
    if not isinstance(given, str) or len(given) > LONGEST_TEXT:
        problems.append(
            f"{where} is {_shown(given)}; it is a text of at most {LONGEST_TEXT} characters: {metadata['doc']}"
        )
    return str(given)


def _moment(_: Mapping[str, Any], given: object, where: str, problems: Problems) -> float:
    try:
        moment = datetime.fromisoformat(given if isinstance(given, str) else "")
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        problems.append(f"{where} is {_shown(given)}; it is a moment with its offset, such as 2026-07-01T06:00:00Z")
        return 0.0
    return moment.timestamp()


def _shown(given: object) -> str:
    text = repr(given)
    return text if len(text) <= 40 else f"{text[:37]}..."
