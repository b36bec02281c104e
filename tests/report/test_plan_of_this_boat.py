"""The plan of the boat itself: use learned from its tank, its question with where each figure comes from, and a plan
that stays shown until there is a reason to change it."""

import json
import random
from dataclasses import replace
from pathlib import Path
from statistics import fmean

import pytest

from halocline.config import load_report
from halocline.plant.settings import PlanSettings, UnitSettings
from halocline.report.planning.boat import NotPlannable, Remembered, boat_question, lead_percent
from halocline.report.planning.choosing import choose
from halocline.report.planning.course import course_of
from halocline.report.planning.foreseen import Outlook, read_forecast
from halocline.report.planning.keeping import kept
from halocline.report.planning.learning import LearnedUse, hours_of_use, learned, usual_shares
from halocline.report.planning.planner import Planner
from halocline.report.planning.question import Unaskable, forecast_of, question_of
from halocline.report.planning.sun import by_day_w, foreseen_w, usual_day_w
from report.plan_by_the_minute import moment, question

NOON_S = 1_782_907_200.0
"""2026-07-01 12:00 UTC."""
PROSPECT = {
    "flow_l_h": 58.0, "usual": True, "pressure_bar": 55.0, "temperature_c": 22.0, "power_w": 1400.0, "flush_l": 12.0,
    "flush_s": 360.0, "prime_s": 12.0, "before_tank_s": 288.0, "purge_of": None, "rinse_s": 0.0, "overboard_s": 0.0,
    "motor_left_s": 3588.0, "motor_rest_s": 900.0, "run_limit_s": 14400.0, "room_l": 130.0, "level_known": True,
    "asks_after_s": 3600.0, "battery_percent": None, "battery_stop_percent": 20.0,
}  # fmt: skip
CONFIGURATION = {
    "plant": {"feed_flow_l_h": 340.0, "sea_salinity_g_kg": 36.0, "tank_capacity_l": 300.0},
    "membrane": {"area_m2": 2.6, "nameplate_flow_m3_d": 2.4, "nameplate_rejection": 0.994},
    "drive": {"motor": "induction", "working_pressure_bar": 55.0},
    "limits": {"tank_full_percent": 95.0, "battery_start_percent": 30.0},
    "sequence": {"motor_starts": 4},
}
SETTINGS = PlanSettings(battery_wh=8000.0, sun_wh_day=4000.0)


def now_with(**readings):
    values = {"tank_fill": 50.0, "battery_charge_percent": 80.0, **readings}
    return {"prospect": PROSPECT, "readings": {channel: {"value": value} for channel, value in values.items()}}


def asked(settings=SETTINGS, forecast=None, now=None, now_s=NOON_S, offset_s=0.0, **remembered):
    memory = Remembered(**{"configuration": CONFIGURATION, **remembered})
    return boat_question(now or now_with(), memory, settings, Outlook(forecast), now_s, offset_s)


def a_month(rng, l_day=60.0, spread=0.2, noise_l=0.6, days=31):
    """Levels of a tank at each hour, with runs that fill it, and the days' true use (invented)."""
    level, levels, runs, true = 200.0, {}, [], []
    shape = usual_shares()
    for day in range(days):
        today = max(rng.gauss(l_day, spread * l_day), 0.0)
        true.append(today)
        for hour in range(24):
            begin_s = NOON_S - NOON_S % 86400 + day * 86400 + hour * 3600
            levels[begin_s] = level + rng.gauss(0.0, noise_l)
            level -= today * shape[hour]
            if hour == 14 and level < 150:
                runs.append((begin_s, begin_s + 3000))
                level += 80
    return levels, runs, true


def test_the_hours_of_use_are_learned_and_runs_and_hoses_are_no_use():
    levels, runs, true = a_month(random.Random(3), noise_l=0.0, days=20)
    filled = min(levels) + 5 * 86400 + 10 * 3600
    levels = {at: level + (60.0 if at > filled else 0.0) for at, level in levels.items()}
    found = learned(hours_of_use(levels, runs, 300.0, 0.0))
    assert found.l_day == pytest.approx(fmean(true), rel=0.03)
    assert found.by_hour == pytest.approx(usual_shares(), abs=0.02)


def test_the_clock_of_the_boat_tells_the_hour_of_use():
    levels = {NOON_S: 100.0, NOON_S + 3600: 97.0}
    (hour,) = hours_of_use(levels, [], 300.0, -2 * 3600.0)
    assert (hour.hour, hour.litres) == (10, pytest.approx(3.0))


@pytest.mark.parametrize("days", [0, 1, 3])
def test_a_few_days_teach_nothing_yet(days):
    levels, runs, _ = a_month(random.Random(1), days=days)
    assert learned(hours_of_use(levels, runs, 300.0, 0.0)) is None


def test_the_boats_question_is_one_that_can_be_answered_and_says_where_its_figures_come_from():
    found = asked()
    chosen = choose(question_of(found.message))
    assert chosen.feasible
    assert found.rests_on == {
        "tank": "measured", "battery": "measured", "sun": "entered", "sea": "measured", "use": "entered",
        "plant": "learned",
    }  # fmt: skip
    assert found.message["tank"]["now_l"] == pytest.approx(150.0)
    # the flow that is usual for this membrane now, not its nameplate's
    assert max(course_of(question_of(found.message), 15.0).flow_l_h) == pytest.approx(58.0, rel=0.01)


def test_what_the_record_tells_takes_the_place_of_what_was_entered():
    use = LearnedUse(20, 70.0, 65.0, 75.0, usual_shares(), 1.4)
    found = asked(use=use, start_up_minutes=9.0, flush_l=10.5)
    assert found.rests_on["use"] == "learned"
    assert found.message["use"]["people"] * found.message["use"]["l_per_person_day"] == pytest.approx(70.0)
    assert found.message["use"]["high_factor"] == 1.4
    assert (found.message["plant"]["start_up_minutes"], found.message["plant"]["flush_l"]) == (9.0, 10.5)


@pytest.mark.parametrize(
    ("missing", "arguments"),
    [
        ("control", {"now": {"readings": {"tank_fill": {"value": 50.0}}}}),
        ("battery_wh", {"settings": PlanSettings()}),
        ("tank_fill", {"now": now_with(tank_fill=None)}),
        ("configuration", {"configuration": None}),
    ],
)
def test_without_what_it_needs_no_days_are_planned_and_it_says_what(missing, arguments):
    with pytest.raises(NotPlannable) as refused:
        asked(**arguments)
    assert refused.value.ids == (missing,)


@pytest.mark.parametrize(
    ("readings", "kind", "percent", "source"),
    [
        ({"battery_charge_percent": 71.0}, "lithium", 71.0, "measured"),
        ({"battery_charge_percent": None, "battery_voltage": 12.3}, "lead", 60.0, "computed"),
        ({"battery_charge_percent": None, "battery_voltage": 24.6}, "lead", 60.0, "computed"),
        ({"battery_charge_percent": None, "battery_voltage": 13.2}, "lithium", 60.0, "assumed"),
        ({"battery_charge_percent": None, "battery_voltage": 14.1}, "lead", 60.0, "assumed"),
        ({"battery_charge_percent": None, "battery_voltage": 0.0}, "lead", 60.0, "assumed"),
        ({"battery_charge_percent": None}, "lead", 60.0, "assumed"),
    ],
)
def test_the_charge_is_measured_or_computed_from_lead_or_said_to_be_assumed(readings, kind, percent, source):
    found = asked(settings=replace(SETTINGS, battery_kind=kind), now=now_with(**readings))
    assert found.message["battery"]["now_percent"] == pytest.approx(percent)
    assert found.rests_on["battery"] == source


def test_lead_is_empty_below_its_table_and_told_by_no_charger():
    assert lead_percent(11.0) == 0.0
    assert lead_percent(12.8) == 100.0
    assert [lead_percent(volts) for volts in (13.0, 14.4, 27.6, 57.0)] == [None] * 4


def test_quiet_hours_are_those_of_the_boats_clock_on_every_day():
    found = asked(settings=replace(SETTINGS, quiet_from_h=22, quiet_to_h=7), offset_s=3600.0)
    assert [(each["from"], each["to"]) for each in found.message["blocked"]] == [
        ("2026-07-01T22:00:00+01:00", "2026-07-02T07:00:00+01:00"),
        ("2026-07-02T22:00:00+01:00", "2026-07-03T07:00:00+01:00"),
    ]
    assert asked(settings=replace(SETTINGS, quiet_from_h=0, quiet_to_h=0)).message["blocked"] == []


def test_a_usual_day_of_sun_gives_its_watt_hours_and_none_at_night():
    day = usual_day_w(4000.0, NOON_S, 24, 0.0)
    assert sum(day) == pytest.approx(4000.0)
    assert day[8:18] == [0.0] * 10
    assert max(day) == max(day[0], day[-1])


def test_a_forecast_is_read_from_its_own_begin_on():
    assert foreseen_w(NOON_S - 7200, [1.0, 2.0, 3.0, 4.0], NOON_S, 5) == [3.0, 4.0]
    assert foreseen_w(NOON_S, [100.0, 200.0], NOON_S + 1800, 3) == [150.0, 200.0]
    assert foreseen_w(NOON_S + 7200, [5.0], NOON_S, 3) == [0.0, 0.0, 5.0]


def test_days_of_sun_begin_with_the_boats_own_day_and_end_dark():
    # 12:00 UTC is 23:00 of a boat eleven hours ahead: the first day is as good as over
    east = by_day_w(NOON_S, [9000.0, 4000.0], NOON_S, 48, 11 * 3600.0)
    assert len(east) == 25
    assert sum(east) == pytest.approx(4000.0)
    today = by_day_w(NOON_S - 86400, [9000.0, 4000.0], NOON_S, 48, 0.0)
    assert today == usual_day_w(4000.0, NOON_S, 12, 0.0)


def test_a_sea_that_is_not_measured_is_that_of_the_forecast(monkeypatch):
    monkeypatch.setitem(PROSPECT, "temperature_c", None)
    sea = [{"from": "2026-07-01T10:00:00Z", "temperature_c": 17}, {"from": "2026-07-02T10:00:00Z", "temperature_c": 15}]
    found = asked(forecast=forecast_of({"from": "2026-07-01T12:00:00Z", "sea": sea}))
    assert [each["temperature_c"] for each in found.message["sea"]] == [17, 15]
    assert {each["salinity_g_kg"] for each in found.message["sea"]} == {36.0}
    assert found.rests_on["sea"] == "foreseen"
    assert asked().rests_on["sea"] == "assumed"


def test_sun_engine_sea_and_forbidden_water_come_from_a_file(tmp_path):
    path = tmp_path / "ahead.json"
    path.write_text(json.dumps({
        "from": "2026-07-01T12:00:00Z",
        "sun_w": [500] * 48,
        "engine": [{"from": "2026-07-01T17:00:00Z", "to": "2026-07-01T18:00:00Z", "w": 900}],
        "sea": [{"from": "2026-07-02T00:00:00Z", "temperature_c": 18, "salinity_g_kg": 35}],
        "blocked": [{"from": "2026-07-01T14:00:00Z", "to": "2026-07-01T16:00:00Z", "why": "harbour"}],
    }))  # fmt: skip
    forecast, since_s, problems = read_forecast(path)
    assert since_s == path.stat().st_mtime
    found = asked(forecast=forecast)
    assert problems == ()
    assert found.rests_on["sun"] == "foreseen"
    assert found.message["sun_w"] == [500.0] * 48
    assert found.message["sea"][1]["temperature_c"] == 18
    assert [each["why"] for each in found.message["blocked"]] == ["quiet", "quiet", "harbour"]
    assert question_of(found.message).engine[0].w == 900


@pytest.mark.parametrize("text", ["{", "[]", '{"from": "soon"}', '{"from": "2026-07-01T12:00:00Z", "sun_w": [-5]}'])
def test_a_forecast_that_cannot_be_used_is_told_and_left_out(tmp_path, text):
    path = tmp_path / "ahead.json"
    path.write_text(text)
    forecast, _, problems = read_forecast(path)
    assert forecast is None
    assert problems
    told = Planner(None, replace(SETTINGS, forecast=str(path))).message(None, UnitSettings(), NOON_S)
    assert told["problems"][0].startswith("The forecast is not used: ")


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"sun_w": [1.0], "sun_wh_day": [1.0]}, "give the hours or the days"),
        ({"sun_w": [1.0] * 400}, "at most 336 are taken"),
        ({"sun_wh_day": [1.0] * 15}, "at most 14 are taken"),
        (
            {"sea": [{"from": f"2026-07-0{day}T00:00:00Z", "temperature_c": 18} for day in (2, 1)]},
            "sort it by its from",
        ),
        ({"engine": [{"from": "2026-07-02T00:00:00Z", "to": "2026-07-01T00:00:00Z", "w": 9}]}, "ends before it begins"),
        ({"blocked": [{"from": "2026-07-01T00:00:00Z", "to": "2026-07-02T00:00:00Z", "why": "x" * 81}]}, "at most 80"),
    ],
)  # fmt: skip
def test_a_forecast_that_cannot_be_true_is_refused_with_the_remedy(wrong, says):
    with pytest.raises(Unaskable) as refused:
        forecast_of({"from": "2026-07-01T12:00:00Z", **wrong})
    assert says in " ".join(refused.value.lines)


def test_a_forecast_may_hold_the_sun_alone():
    assert forecast_of({"from": "2026-07-01T12:00:00Z", "sun_w": [5]}).engine == ()
    with pytest.raises(Unaskable):
        forecast_of({"sun_w": [5]})


def shown_first(message):
    q = question_of(message)
    return q, *kept(None, q, choose(q))


DAY = question(sun=900.0, **{"tank.now_l": 150})


def test_a_plan_stays_while_the_charge_and_the_level_move_a_little():
    _, first, shown = shown_first(DAY)
    moved = question_of(question(sun=880.0, **{"tank.now_l": 149.5, "battery.now_percent": 79}))
    chosen, still = kept(shown, moved, choose(moved))
    assert chosen.runs == first.runs
    assert still.changed is None


def test_a_plan_changes_when_its_run_is_forbidden_and_says_so():
    _, first, shown = shown_first(DAY)
    begin = first.runs[0].start_min / 60
    closed = {"from": moment(begin), "to": moment(begin + 1), "why": "harbour"}
    shut = question_of({**DAY, "blocked": [closed]})
    chosen, now_shown = kept(shown, shut, choose(shut))
    assert chosen.runs != first.runs
    assert now_shown.changed == "no_longer_allowed"


def test_a_plan_changes_when_it_is_no_longer_enough_and_says_so():
    _, first, shown = shown_first(DAY)
    thirsty = question_of(question(sun=900.0, **{"tank.now_l": 130, "use.people": 4}))
    chosen, now_shown = kept(shown, thirsty, choose(thirsty))
    assert sum(run.minutes for run in chosen.runs) > sum(run.minutes for run in first.runs)
    assert now_shown.changed == "no_longer_enough"


def test_a_plan_changes_for_one_that_is_clearly_cheaper_and_says_so():
    _, _, shown = shown_first(DAY)
    full = question_of(question(sun=900.0, **{"tank.now_l": 150, "tank.at_end_l": 50, "tank.reserve_l": 20}))
    chosen, now_shown = kept(shown, full, choose(full))
    assert chosen.runs == []
    assert now_shown.changed == "cheaper"


def test_the_plan_is_made_anew_after_a_while_and_not_before():
    clock = [0.0]
    planner = Planner(None, SETTINGS, clock=lambda: clock[0])
    planner._remember = lambda *_: Remembered(configuration=CONFIGURATION)
    first = planner.message(now_with(), UnitSettings(), NOON_S)
    assert first["says"].startswith("Next run Wed 1 Jul 12:00 UTC for ")
    assert len(first["drawn"]["tank_l"]) == 96
    clock[0] = 200.0
    assert planner.message(now_with(tank_fill=20.0), UnitSettings(), NOON_S + 200) is first
    clock[0] = 400.0
    assert planner.message(now_with(tank_fill=20.0), UnitSettings(), NOON_S + 400) is not first


def test_the_keys_of_the_table_plan_are_read_from_a_file(tmp_path):
    path = tmp_path / "halocline.toml"
    demo = (Path(__file__).parents[2] / "daemon/halocline/config/demo.toml").read_text()
    path.write_text(demo.replace("battery_wh = 8000", "battery_wh = 4321"))
    assert load_report(path).plan.battery_wh == 4321
