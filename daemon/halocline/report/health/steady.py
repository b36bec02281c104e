"""The steady period of a run: ten minutes in which nothing moved, or the reason why there are none.

Flow and salt settle for a while after the pressure is there, and noise of one minute is smaller than what differs
from run to run. So the latest ten steady minutes of a run say as much about the membrane as all of them.
"""

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from statistics import fmean, median
from typing import Any, Literal, NamedTuple

Why = Literal["no_minutes", "too_short", "sensor_missing", "air", "pressure_moved", "not_settled"]

MINUTE_S = 60.0
PERIOD_MINUTES = 10
SETTLE_S = 12 * 60.0
"""No period begins sooner after the pump was switched on: flow and salt still run in."""
PRESSURE_MOVES_BAR = 1.0
TEMPERATURE_MOVES_C = 0.6
FLOW_MOVES = 0.03
SALT_MOVES = 0.10
UNSTEADY_FLOW = 0.03
"""Root mean square of the steps from minute to minute over the flow: more is air in the product or the meter."""
REST_S = 600.0
REST_BELOW_BAR = 10.0
REST_MOVES_BAR = 0.3
"""At rest a drifted sender may show some bar, but always the same; pressure that is left behind falls."""

SENDER_ENDS_PERCENT = 93.0
"""Nearer to full many senders stand still (common practice)."""

NEEDED = ("vessel_pressure", "product_flow", "product_conductivity", "sea_temperature")
ALSO = (
    *("feed_pressure", "filter_inlet_pressure", "brine_pressure", "brine_flow"),
    *("motor_current", "product_pressure", "tank_fill"),
)
CHANNELS = (*NEEDED, *ALSO)

Minute = Mapping[str, float | None]
"""The means of one minute by channel, with `start_s`."""


class Moments(NamedTuple):
    """When the high-pressure pump was on in a run, and when product went to the tank; Unix seconds."""

    pump_on_s: float
    pump_off_s: float
    producing: tuple[tuple[float, float], ...]


class Period(NamedTuple):
    """What is kept of a run for ever. Without `unfit`, the reason why not, it is a steady period with all of `NEEDED`.

    `at_s` is its middle (Unix s), `into_s` the same since the pump was switched on, `pump_s` how long the pump was on
    in the whole run. Pressures as the senders show them; `rest_…` what they showed before the start.
    """

    unfit: str | None
    at_s: float
    into_s: float
    pump_s: float
    vessel_pressure_bar: float | None = None
    product_flow_l_h: float | None = None
    product_conductivity_us_cm: float | None = None
    sea_temperature_c: float | None = None
    feed_pressure_bar: float | None = None
    filter_inlet_pressure_bar: float | None = None
    brine_pressure_bar: float | None = None
    brine_flow_l_h: float | None = None
    motor_current_a: float | None = None
    product_pressure_bar: float | None = None
    rest_vessel_pressure_bar: float | None = None
    rest_brine_pressure_bar: float | None = None
    tank_rise_percent: float | None = None
    metered_l: float | None = None
    sea_salinity_g_kg: float | None = None
    feed_flow_l_h: float | None = None


_UNITS = {"product_flow": "l_h", "brine_flow": "l_h", "product_conductivity": "us_cm", "sea_temperature": "c"}
FIELDS = {
    channel: f"{channel}_{_UNITS.get(channel, 'a' if channel == 'motor_current' else 'bar')}"
    for channel in CHANNELS
    if channel != "tank_fill"
}


def period_of(moments: Moments, minutes: Sequence[Minute], settings: Mapping[str, Any]) -> Period:
    """The steady period of one run. `minutes`: from `REST_S` before it to its end, in order of time."""
    plant = settings.get("plant") or {}
    pump_s = max(moments.pump_off_s - moments.pump_on_s, 0.0)
    base: dict[str, Any] = {
        "pump_s": pump_s,
        "sea_salinity_g_kg": plant.get("sea_salinity_g_kg"),
        "feed_flow_l_h": plant.get("feed_flow_l_h"),
        **_at_rest(minutes, moments.pump_on_s),
    }
    making = [
        minute
        for minute in minutes
        if any(begin <= _start(minute) and _start(minute) + MINUTE_S <= end for begin, end in moments.producing)
    ]
    base.update(_tank(making))
    why, window = _latest_steady(making, moments.pump_on_s)
    middle_s = fmean((_start(window[0]), _start(window[-1]) + MINUTE_S)) if window else moments.pump_off_s
    base.update({field: _mean(window, channel) for channel, field in FIELDS.items()})
    return Period(unfit=why, at_s=middle_s, into_s=max(middle_s - moments.pump_on_s, 0.0), **base)


def _start(minute: Minute) -> float:
    return float(minute["start_s"] or 0.0)


def _values(minutes: Iterable[Minute], channel: str) -> list[float]:
    return [value for minute in minutes if (value := minute.get(channel)) is not None]


def _mean(minutes: Sequence[Minute], channel: str) -> float | None:
    values = _values(minutes, channel)
    return fmean(values) if 2 * len(values) > len(minutes) else None


def _at_rest(minutes: Sequence[Minute], pump_on_s: float) -> dict[str, float | None]:
    resting = [
        minute
        for minute in minutes
        if pump_on_s - REST_S <= _start(minute) <= pump_on_s - 2 * MINUTE_S
        and abs(minute.get("vessel_pressure") or 0.0) < REST_BELOW_BAR
    ]
    found: dict[str, float | None] = {}
    for channel in ("vessel_pressure", "brine_pressure"):
        values = _values(resting, channel)
        still = bool(values) and _span(values) < REST_MOVES_BAR
        found[f"rest_{channel}_bar"] = median(values) if still else None
    return found


def _tank(making: Sequence[Minute]) -> dict[str, float | None]:
    """How far the tank's sender rose while product went there, and what the meter counted in the same time."""
    known = []
    for minute in making:
        fill = minute.get("tank_fill")
        if fill is None or minute.get("product_flow") is None:
            continue
        if fill > SENDER_ENDS_PERCENT:
            break
        known.append(minute)
    if len(known) < PERIOD_MINUTES:
        return {"tank_rise_percent": None, "metered_l": None}
    ends = 3
    first, last = _values(known[:ends], "tank_fill"), _values(known[-ends:], "tank_fill")
    litres = sum(_values(known[1 : 1 - ends], "product_flow")) * MINUTE_S / 3600.0
    return {"tank_rise_percent": fmean(last) - fmean(first), "metered_l": litres}


def _latest_steady(making: Sequence[Minute], pump_on_s: float) -> tuple[Why | None, Sequence[Minute]]:
    """The latest ten minutes that are steady; else what spoils the last ten."""
    if not making:
        return "no_minutes", ()
    settled = [minute for minute in making if _start(minute) >= pump_on_s + SETTLE_S]
    if len(settled) < PERIOD_MINUTES:
        return "too_short", ()
    spoiled: tuple[Why, Sequence[Minute]] | None = None
    for end in range(len(settled), PERIOD_MINUTES - 1, -1):
        window = settled[end - PERIOD_MINUTES : end]
        why = _why_not(window)
        if why is None:
            return None, window
        spoiled = spoiled or (why, window)
    return spoiled or ("too_short", ())


def _why_not(window: Sequence[Minute]) -> Why | None:
    if _start(window[-1]) - _start(window[0]) > (PERIOD_MINUTES - 1) * MINUTE_S + 1.0:
        return "not_settled"
    columns = {channel: _values(window, channel) for channel in NEEDED}
    if any(len(values) < PERIOD_MINUTES for values in columns.values()):
        return "sensor_missing"
    flow = columns["product_flow"]
    steps = [later - sooner for sooner, later in pairwise(flow)]
    if (fmean(step * step for step in steps)) ** 0.5 > UNSTEADY_FLOW * max(fmean(flow), 1.0):
        return "air"
    if _span(columns["vessel_pressure"]) > PRESSURE_MOVES_BAR:
        return "pressure_moved"
    halves = ((flow, FLOW_MOVES), (columns["product_conductivity"], SALT_MOVES))
    if any(_drift(values) > share * abs(fmean(values)) for values, share in halves):
        return "not_settled"
    if _drift(columns["sea_temperature"]) > TEMPERATURE_MOVES_C:
        return "not_settled"
    return None


def _span(values: Sequence[float]) -> float:
    return max(values) - min(values)


def _drift(values: Sequence[float]) -> float:
    """How far the second half stands from the first."""
    half = len(values) // 2
    return abs(fmean(values[half:]) - fmean(values[:half]))
