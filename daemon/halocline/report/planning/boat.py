"""The question from the boat itself: settings, what control says now, what the record has learned, a forecast.

Each figure has where it comes from: measured, learned, foreseen, entered or assumed.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from typing import Any

from halocline.physics.membrane import Membrane, project
from halocline.plant.motor import RATED_RUN_S
from halocline.plant.offer import Prospect, prospect_of
from halocline.plant.settings import PlanSettings
from halocline.report.health.day import membrane_of
from halocline.report.planning.foreseen import Outlook
from halocline.report.planning.learning import LearnedUse, usual_shares
from halocline.report.planning.question import Blocked, Engine, Forecast
from halocline.report.planning.sun import by_day_w, foreseen_w, usual_day_w

STEP_S = 900.0
LEAD_PERCENT = ((11.6, 0.0), (11.9, 20.0), (12.1, 40.0), (12.3, 60.0), (12.5, 80.0), (12.7, 100.0))
"""Charge of a 12 V lead battery by its voltage at rest (common practice)."""
CHARGING_V = 12.9
"""More than a full battery shows at rest (common practice): it is being charged, and its voltage tells the charger."""
IN_SERIES, HIGHEST_V = (1, 2, 4), 16.0
"""Batteries of 12 V in series in a bank of 12, 24 or 48 V (common practice), and more than a charger gives to one."""
ASSUMED_PERCENT = 60.0
"""A battery that nothing measures is taken for neither full nor empty, and is said to be assumed (chosen)."""
COOL_C = 20.0
"""A temperate sea, where its temperature is not measured; said to be assumed (chosen)."""


class NotPlannable(ValueError):
    """The days ahead cannot be planned; `ids` say what is missing."""

    def __init__(self, ids: Sequence[str]) -> None:
        self.ids = tuple(ids)
        super().__init__(", ".join(ids))


@dataclass(frozen=True, slots=True)
class Remembered:
    """What the record tells: use, and the medians of this boat's last runs; None where it does not."""

    use: LearnedUse | None = None
    start_up_minutes: float | None = None
    flush_l: float | None = None
    power_w: float | None = None
    configuration: Mapping[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """The question as its JSON, and where its figures come from."""

    message: dict[str, Any]
    rests_on: dict[str, str]


def boat_question(
    now: Mapping[str, Any] | None,
    remembered: Remembered,
    settings: PlanSettings,
    outlook: Outlook,
    now_s: float,
    offset_s: float,
) -> Asked:
    """The question of this moment. `offset_s`: what the boat's clock is ahead of UTC. Raises `NotPlannable`."""
    forecast = outlook.forecast
    on, configuration = prospect_of(now), remembered.configuration or {}
    readings = {} if now is None else now.get("readings") or {}
    level = _value(readings, "tank_fill")
    missing = [
        *([] if on is not None else ["control"]),
        *([] if settings.battery_wh is not None else ["battery_wh"]),
        *([] if level is not None else ["tank_fill"]),
        *([] if configuration.get("plant") and configuration.get("membrane") else ["configuration"]),
    ]
    if missing or on is None or settings.battery_wh is None or level is None:
        raise NotPlannable(missing)
    rests_on: dict[str, str] = {"tank": "measured"}
    begin_s = now_s // STEP_S * STEP_S
    capacity = float(configuration["plant"]["tank_capacity_l"])
    percent, rests_on["battery"] = _charge(readings, settings)
    sun, rests_on["sun"] = _sun(settings, forecast, begin_s, offset_s)
    sea, rests_on["sea"] = _sea(on, forecast, configuration, begin_s, offset_s)
    use, rests_on["use"] = _use(remembered.use, settings)
    plant, rests_on["plant"] = _plant(on, remembered, configuration, settings, sea[0])
    limits = configuration.get("limits") or {}
    end_s = begin_s + settings.hours * 3600
    message = {
        "schema": 1,
        "from": _moment(begin_s, offset_s),
        "to": _moment(end_s, offset_s),
        "tank": {
            "capacity_l": capacity,
            "now_l": level / 100 * capacity,
            "reserve_l": settings.reserve_percent / 100 * capacity,
            "full_percent": float(limits.get("tank_full_percent") or 95.0),
            "at_end_l": min(settings.end_percent, float(limits.get("tank_full_percent") or 95.0)) / 100 * capacity,
        },
        "use": use,
        "battery": {
            "capacity_wh": settings.battery_wh,
            "now_percent": percent,
            "min_percent": max(settings.battery_min_percent, on.battery_stop_percent),
            "max_percent": 100.0,
            "start_percent": max(float(limits.get("battery_start_percent") or 30.0), on.battery_stop_percent),
        },
        "loads_w": settings.loads_w,
        "sun_w": sun,
        "sun_low_factor": settings.sun_low_factor,
        "engine_w": settings.engine_w,
        "engine": [] if forecast is None else [_span(each, offset_s, w=each.w) for each in forecast.engine],
        "sea": sea,
        "plant": plant,
        "blocked": [
            *_quiet(settings, begin_s, end_s, offset_s),
            *([] if forecast is None else [_span(each, offset_s, why=each.why) for each in forecast.blocked]),
            *(_span(each, offset_s, why=each.why) for each in outlook.forbidden if each.to_s > begin_s),
        ],
    }
    return Asked(message, rests_on)


def _value(readings: Mapping[str, Any], channel: str) -> float | None:
    reading = readings.get(channel)
    value = reading.get("value") if isinstance(reading, Mapping) else None
    return float(value) if isinstance(value, int | float) else None


def _charge(readings: Mapping[str, Any], settings: PlanSettings) -> tuple[float, str]:
    percent = _value(readings, "battery_charge_percent")
    if percent is not None:
        return min(max(percent, 0.0), 100.0), "measured"
    volts = _value(readings, "battery_voltage")
    told = lead_percent(volts) if volts is not None and settings.battery_kind == "lead" else None
    return (ASSUMED_PERCENT, "assumed") if told is None else (told, "computed")


def lead_percent(volts: float) -> float | None:
    """Charge of a lead battery of 12, 24 or 48 V by its voltage; None while it is charged, or where there is none."""
    one = next((volts / many for many in IN_SERIES if volts / many <= HIGHEST_V), None)
    if one is None or one <= 0 or one > CHARGING_V:
        return None
    for (low_v, low), (high_v, high) in pairwise(LEAD_PERCENT):
        if one <= high_v:
            return max(low + (high - low) * (one - low_v) / (high_v - low_v), 0.0)
    return 100.0


def _sun(settings: PlanSettings, forecast: Forecast | None, begin_s: float, offset_s: float) -> tuple[list[float], str]:
    if forecast is not None and forecast.sun_w:
        return foreseen_w(forecast.from_s, forecast.sun_w, begin_s, settings.hours), "foreseen"
    if forecast is not None and forecast.sun_wh_day:
        return by_day_w(forecast.from_s, forecast.sun_wh_day, begin_s, settings.hours, offset_s), "foreseen"
    return usual_day_w(settings.sun_wh_day, begin_s, settings.hours, offset_s), "entered"


def _sea(
    on: Prospect, forecast: Forecast | None, configuration: Mapping[str, Any], begin_s: float, offset_s: float
) -> tuple[list[dict[str, Any]], str]:
    salinity = float(configuration["plant"]["sea_salinity_g_kg"])
    foreseen = () if forecast is None else forecast.sea

    def told(from_s: float, temperature_c: float, salinity_g_kg: float | None) -> dict[str, Any]:
        here = salinity if salinity_g_kg is None else salinity_g_kg
        return {"from": _moment(from_s, offset_s), "temperature_c": temperature_c, "salinity_g_kg": here}

    ahead = [told(each.from_s, each.temperature_c, each.salinity_g_kg) for each in foreseen if each.from_s > begin_s]
    if on.temperature_c is not None:
        return [told(begin_s, on.temperature_c, None), *ahead], "measured"
    reached = [each for each in foreseen if each.from_s <= begin_s]
    if reached:
        return [told(begin_s, reached[-1].temperature_c, reached[-1].salinity_g_kg), *ahead], "foreseen"
    return [told(begin_s, COOL_C, None), *ahead], "assumed"


def _use(use: LearnedUse | None, settings: PlanSettings) -> tuple[dict[str, Any], str]:
    if use is None or settings.people <= 0:
        return {
            "people": settings.people,
            "l_per_person_day": settings.l_per_person_day,
            "by_hour": list(usual_shares()),
            "high_factor": settings.high_use_factor,
        }, "entered"
    return {
        "people": settings.people,
        "l_per_person_day": use.l_day / settings.people,
        "by_hour": list(use.by_hour),
        "high_factor": min(max(use.high_factor, 1.0), 5.0),
    }, "learned"


def _plant(
    on: Prospect,
    remembered: Remembered,
    configuration: Mapping[str, Any],
    settings: PlanSettings,
    sea: Mapping[str, Any],
) -> tuple[dict[str, Any], str]:
    plant, drive = configuration["plant"], configuration.get("drive") or {}
    sequence = configuration.get("sequence") or {}
    pressure = on.pressure_bar or float(drive.get("working_pressure_bar") or 55.0)
    membrane = _as_usual(membrane_of(configuration), on, pressure, float(plant["feed_flow_l_h"]), sea)
    limited = on.motor_left_s is not None
    kind_s = RATED_RUN_S.get(str(drive.get("motor")), min(RATED_RUN_S.values()))
    longest_s = min(float(drive.get("motor_run_s") or kind_s) if limited else on.run_limit_s, on.run_limit_s)
    told = remembered.start_up_minutes
    start_up = (on.prime_s + on.before_tank_s) / 60 if told is None else told
    return {
        "feed_flow_l_h": float(plant["feed_flow_l_h"]),
        "pressure_bar": pressure,
        "area_m2": membrane.area_m2,
        "water_permeability_lmh_bar": membrane.water_permeability_lmh_bar,
        "salt_permeability_lmh": membrane.salt_permeability_lmh,
        "pump_power_w": remembered.power_w or on.power_w,
        "start_up_minutes": min(start_up, longest_s / 120),
        "flush_l": (remembered.flush_l or on.flush_l) if on.flush_s is not None else 0.0,
        "flush_minutes": min((on.flush_s or 0.0) / 60, 60.0),
        "flush_power_w": 60.0,
        "min_run_minutes": min(settings.min_run_minutes, longest_s / 120),
        "motor_run_minutes": longest_s / 60,
        "motor_rest_minutes": on.motor_rest_s / 60 if limited else 0.0,
        "starts_per_hour": float(sequence.get("motor_starts") or 4),
    }, "learned" if on.usual else "computed"


def _as_usual(membrane: Membrane, on: Prospect, pressure: float, feed: float, sea: Mapping[str, Any]) -> Membrane:
    """The membrane with the permeability that gives the flow which is usual for it now."""
    if on.flow_l_h is None:
        return membrane
    for _ in range(4):
        flow = project(membrane, sea["salinity_g_kg"], sea["temperature_c"], pressure, feed).product_flow_l_h
        if flow <= 0:
            return membrane
        a = membrane.water_permeability_lmh_bar * min(max(on.flow_l_h / flow, 0.5), 2.0)
        membrane = Membrane(a, membrane.salt_permeability_lmh, membrane.area_m2)
    return membrane


def _quiet(settings: PlanSettings, begin_s: float, end_s: float, offset_s: float) -> Iterator[dict[str, str]]:
    first, last = settings.quiet_from_h, settings.quiet_to_h
    if first == last:
        return
    hours = (last - first) % 24
    day = (begin_s + offset_s) // 86400 - 1
    while day * 86400 - offset_s < end_s:
        from_s = day * 86400 + first * 3600 - offset_s
        to_s = from_s + hours * 3600
        if to_s > begin_s and from_s < end_s:
            span = (_moment(max(from_s, begin_s), offset_s), _moment(min(to_s, end_s), offset_s))
            yield {"from": span[0], "to": span[1], "why": "quiet"}
        day += 1


def _span(of: Engine | Blocked, offset_s: float, **more: float | str) -> dict[str, Any]:
    return {"from": _moment(of.from_s, offset_s), "to": _moment(of.to_s, offset_s), **more}


def _moment(wall_s: float, offset_s: float) -> str:
    there = UTC if not offset_s else timezone(timedelta(seconds=offset_s))
    return datetime.fromtimestamp(wall_s, there).isoformat()
