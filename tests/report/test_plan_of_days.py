"""When to make water: no plan breaks a rule, none is dearer than the exact optimum, and what binds is said."""

import math
from datetime import datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from halocline.physics.membrane import Membrane, project
from halocline.report.planning import solver
from halocline.report.planning.answer import answered
from halocline.report.planning.choosing import choose
from halocline.report.planning.course import course_of
from halocline.report.planning.play import Run, play
from halocline.report.planning.question import Unaskable, question_of
from report.plan_by_the_minute import BEGIN, BY_HOUR, Day, moment, question


def flow_of(asked):
    plant, sea = asked["plant"], asked["sea"][0]
    membrane = Membrane(plant["water_permeability_lmh_bar"], plant["salt_permeability_lmh"], plant["area_m2"])
    inlet = (plant["pressure_bar"], plant["feed_flow_l_h"])
    return project(membrane, sea["salinity_g_kg"], sea["temperature_c"], *inlet).product_flow_l_h


def spans(hours):
    return st.lists(st.tuples(st.integers(0, hours - 3), st.integers(1, 3)), max_size=2)


@st.composite
def questions(draw):
    hours = draw(st.sampled_from([12, 24, 36]))
    asked = question(
        hours=hours,
        sun=draw(st.floats(0, 1200)),
        loads_w=draw(st.floats(0, 200)),
        sun_low_factor=draw(st.floats(0.3, 1)),
        engine=[
            {"from": moment(at), "to": moment(at + long), "w": draw(st.floats(300, 1500))}
            for at, long in draw(spans(hours))
        ],
        blocked=[{"from": moment(at), "to": moment(at + long), "why": "quiet"} for at, long in draw(spans(hours))],
    )
    asked["tank"]["now_l"] = draw(st.floats(50, 280))
    asked["tank"]["at_end_l"] = draw(st.floats(40, 200))
    asked["use"]["people"] = draw(st.integers(0, 6))
    asked["battery"]["capacity_wh"] = draw(st.floats(2000, 12000))
    asked["battery"]["now_percent"] = draw(st.floats(20, 100))
    asked["sea"][0]["temperature_c"] = draw(st.floats(8, 30))
    asked["plant"].update(
        start_up_minutes=draw(st.integers(0, 20)),
        flush_l=draw(st.floats(0, 20)),
        motor_run_minutes=draw(st.sampled_from([60, 180])),
        motor_rest_minutes=draw(st.sampled_from([10, 15, 30])),
        starts_per_hour=draw(st.sampled_from([1, 4])),
    )
    return asked


@settings(max_examples=12, deadline=None)
@given(questions())
def test_no_plan_breaks_a_rule_and_one_that_keeps_everything_does(asked):
    said = answered(question_of(asked))
    flow = flow_of(asked)
    usual = Day(asked, said["runs"], flow)
    high = Day(asked, said["runs"], flow, high=asked["use"]["high_factor"])
    dull = Day(asked, said["runs"], flow, sun=asked["sun_low_factor"])
    assert usual.broken | dull.broken == set()
    assert sum(run["litres_to_tank"] for run in said["runs"]) == pytest.approx(usual.made, rel=0.02, abs=0.2)
    if said["feasible"]:
        assert high.least_level >= asked["tank"]["reserve_l"] - 0.5
        assert usual.level >= asked["tank"]["at_end_l"] - 0.5
        assert said["short"] == {"reserve_l": 0.0, "end_l": 0.0, "from": None}


EXACT = {
    "the sun at noon": question(hours=12, sun=900.0, **{"tank.at_end_l": 170}),
    "two short runs of a brush motor": question(
        hours=6, **{"tank.at_end_l": 190, "plant.motor_run_minutes": 60, "battery.now_percent": 70}
    ),
    "between forbidden hours": question(
        hours=10,
        blocked=[{"from": moment(1), "to": moment(4), "why": "silty_water"}],
        engine=[{"from": moment(5), "to": moment(6.5), "w": 1200}],
        **{"battery.capacity_wh": 3000},
    ),
}


@pytest.mark.parametrize("name", EXACT)
def test_the_quarters_of_an_hour_cost_what_a_solver_of_mixed_integer_programs_finds(name):
    """Against HiGHS, which knows nothing of the search."""
    asked = question_of(EXACT[name])
    course = course_of(asked, solver.STEP_MIN)
    found = solver.cheapest(solver.Bounds(asked, course), hard=True)
    assert found.price == pytest.approx(exact_price(asked, course), abs=1.0)


def exact_price(q, c):
    """The least price by mixed integer programming: every step has on, start, stop, charge, low, spill."""
    n, plant, battery = c.steps, q.plant, q.battery
    b = solver.Bounds(q, c)
    on, start, stop, charge, low, spill, spill_low = (np.arange(n) + k * n for k in range(7))
    rows, lows, highs = [], [], []

    def row(entries, least, most=math.inf):
        line = np.zeros(7 * n)
        for place, value in entries:
            line[place] += value
        rows.append(line)
        lows.append(least)
        highs.append(most)

    top = battery.capacity_wh * battery.max_percent / 100
    lost = plant.start_up_minutes / 60
    for k in range(n):
        before = [(on[k - 1], -1)] if k else []
        row([(on[k], 1), *before, (start[k], -1), (stop[k], 1)], 0, 0)
        for j in range(k, min(k + b.least, n)):
            row([(on[j], 1), (start[k], -1)], 0)
        row([(on[j], 1) for j in range(k, min(k + b.most + 1, n))], 0, b.most)
        row([(stop[k], 1), (on[k], 1)], 0, 1)
        for energy, net, lost_to in ((charge, c.net_wh, spill), (low, c.net_low_wh, spill_low)):
            held = [(energy[k - 1], -1)] if k else []
            at = 0.0 if k else battery.capacity_wh * battery.now_percent / 100
            drawn = [(on[k], b.pump_wh), (stop[k], b.flush_wh)]
            row([(energy[k], 1), *held, *drawn, (lost_to[k], 1)], at + net[k], at + net[k])
        row([(low[k], 1), (on[k], -20000)], battery.capacity_wh * battery.min_percent / 100 - 20000)
        if k:
            row([(charge[k - 1], 1), (start[k], -20000)], b.start_wh - 20000)
        made = [(on[j], c.flow_l_h[j] / 4) for j in range(k + 1)]
        made += [(start[j], -c.flow_l_h[j] * lost) for j in range(k + 1)]
        made += [(stop[j], -plant.flush_l) for j in range(k + 1)]
        row(made, b.need_l[k + 1], b.room_l[k + 1])
        if k == n - 1:
            row(made, b.end_l)
    low_bound, high_bound = np.full(7 * n, -20000.0), np.full(7 * n, 20000.0)
    high_bound[charge[0] : low[-1] + 1] = top
    low_bound[: 3 * n], high_bound[: 3 * n] = 0, 1
    low_bound[spill[0] :] = 0
    high_bound[on[n - 1]] = 0
    high_bound[on[c.blocked]] = 0
    costs = np.zeros(7 * n)
    costs[charge[n - 1]], costs[start] = -q.cost.wh, q.cost.start_wh
    integrality = np.zeros(7 * n)
    integrality[: 3 * n] = 1
    solved = milp(
        costs,
        constraints=LinearConstraint(np.array(rows), lows, highs),
        bounds=Bounds(low_bound, high_bound),
        integrality=integrality,
        options={"mip_rel_gap": 1e-6},
    )
    assert solved.success
    return solved.fun


def test_minutes_are_taken_off_where_a_quarter_of_an_hour_is_more_than_is_needed():
    asked = question_of(question(**{"tank.at_end_l": 151}))
    course = course_of(asked, solver.STEP_MIN)
    by_quarters = solver.cheapest(solver.Bounds(asked, course), hard=True)
    chosen = choose(asked)
    assert chosen.feasible
    assert chosen.played.price <= by_quarters.price


def test_a_run_is_moved_to_where_little_sun_leaves_the_battery_fullest():
    said = answered(question_of(question(**{"battery.capacity_wh": 20000, "battery.now_percent": 60})))
    (run,) = said["runs"]
    assert BEGIN.replace(hour=8) <= datetime.fromisoformat(run["start"]) < BEGIN.replace(hour=18)
    assert run["why"] == "reserve"


WEAK = question(sun=0.0, **{"battery.capacity_wh": 3000, "battery.now_percent": 60, "tank.now_l": 100})


def test_a_weak_battery_is_named_with_what_it_allows_and_what_would_help():
    said = answered(question_of(WEAK))
    assert said["feasible"] is False
    (reason,) = said["reasons"]
    assert reason["id"] == "battery_too_weak"
    short = max(said["short"]["reserve_l"], said["short"]["end_l"])
    assert reason["values"]["short_l"] == reason["values"]["use_less_l"] == pytest.approx(short)
    helped = {**WEAK, "tank": {**WEAK["tank"], "now_l": 100 + short}}
    assert answered(question_of(helped))["feasible"] is True


@pytest.mark.parametrize("percent", [26, 36, 45, 50])
@pytest.mark.parametrize("litres", [100, 140])
def test_the_charge_that_is_said_to_help_is_enough(percent, litres):
    """Where no run is possible yet, the one that would help has its own wait overboard and its own flush."""
    battery = {"battery.capacity_wh": 8000, "tank.now_l": litres, "loads_w": 0, "sun": 0.0}
    (reason,) = answered(question_of(question(**battery, **{"battery.now_percent": percent})))["reasons"]
    assert reason["id"] == "battery_too_weak"
    more = percent + 100 * reason["values"]["extra_wh"] / 8000
    assert answered(question_of(question(**battery, **{"battery.now_percent": more})))["feasible"]


@pytest.mark.parametrize(
    ("reason", "asked"),
    [
        ("blocked", question(blocked=[{"from": moment(0), "to": moment(24), "why": "harbour"}])),
        ("tank_full", question(**{"tank.capacity_l": 100, "tank.now_l": 80, "tank.at_end_l": 90, "tank.reserve_l": 30,
                                  "use.people": 1, "plant.min_run_minutes": 170, "plant.motor_run_minutes": 180})),
        ("motor_rest", question(hours=4, **{"tank.at_end_l": 230, "tank.now_l": 140, "plant.motor_run_minutes": 60,
                                            "plant.motor_rest_minutes": 60, "battery.capacity_wh": 20000,
                                            "use.people": 1})),
        ("too_late", question(**{"tank.now_l": 40})),
    ],
)  # fmt: skip
def test_the_rule_that_stands_in_the_way_is_named(reason, asked):
    said = answered(question_of(asked))
    assert [each["id"] for each in said["reasons"]] == [reason]


def test_hours_without_a_forecast_of_the_sun_are_said_and_counted_dark():
    asked = question(hours=36)
    short = {**asked, "sun_w": asked["sun_w"][:20]}
    said = answered(question_of(short))
    assert said["reasons"][0] == {"id": "no_forecast", "values": {"from": "2026-07-02T02:00:00Z", "hours": 16}}
    dark = {**asked, "sun_w": asked["sun_w"][:20] + [0.0] * 16}
    assert answered(question_of(dark))["runs"] == said["runs"]


def test_a_dirty_filter_a_colder_sea_guests_and_a_day_of_waiting_are_told():
    compared = answered(question_of(question(hours=48, **{"tank.now_l": 90})))["compared"]
    assert compared["if_2_k_colder_l"] < compared["if_dirtier_filter_l"] < 0
    assert compared["if_two_more_people_short_l"] > 20
    assert compared["if_waiting_a_day_short_l"] > 20


def test_the_clock_of_use_is_that_of_the_begin():
    """At six in the east the crew wakes while it is four in Greenwich."""
    east = {**question(), "from": "2026-07-01T06:00:00+02:00", "to": "2026-07-02T06:00:00+02:00"}
    east["sea"] = [{**east["sea"][0], "from": east["from"]}]
    used = course_of(question_of(east), 60.0).used_l
    assert used[1] == pytest.approx(75 * BY_HOUR[6])


def test_a_run_across_its_wait_overboard_is_played_to_the_minute():
    asked = question_of(question(**{"plant.start_up_minutes": 7}))
    course = course_of(asked, 5.0)
    played = play(asked, course, [Run(60.0, 67.0)])
    assert played.litres == [pytest.approx(course.flow_l_h[0])]
    assert played.overboard_l == [pytest.approx(course.flow_l_h[0] * 7 / 60)]


@pytest.mark.parametrize(
    ("changes", "problem"),
    [
        ({"tank.now_l": 400}, "tank.now_l is 400; the tank holds 300 L"),
        ({"tank.now_l": "much"}, "tank.now_l is 'much'; allowed is 0 to 20000 L: what is in it now"),
        ({"tank.now_l": math.nan}, "tank.now_l is nan; allowed is 0 to 20000 L: what is in it now"),
        ({"tank.now_l": True}, "tank.now_l is True; allowed is 0 to 20000 L: what is in it now"),
        ({"use.by_hour": [0.1] * 10}, "use.by_hour has 10 shares; a day has 24 hours"),
        ({"use.by_hour": [0.1] * 24}, "use.by_hour adds up to 2.400; the shares of a day add up to 1"),
        ({"battery": 6000}, "battery is 6000; it is an object with the keys"),
        ({"sun_w": 500}, "sun_w is 500; it is a list: charge by the sun in each hour from the begin"),
        ({"sea": []}, "sea is empty: give its temperature and salinity from the begin on"),
        ({"to": "2026-07-01T05:00:00Z"}, "to is not after from"),
        ({"to": "tomorrow"}, "to is 'tomorrow'; it is a moment with its offset, such as 2026-07-01T06:00:00Z"),
        ({"to": "2026-08-01T06:00:00Z"}, "from and to are 744 h apart; at most 336 h are planned"),
        ({"schema": 2}, "schema is 2; this program knows 1"),
        ({"bloked": []}, "bloked is no key of the question: did you mean blocked?"),
        ({"plant.min_run_minutes": 200}, "a run takes 207 min at least"),
        ({"plant.pressure_bar": 20}, "20 bar makes"),
    ],
)
def test_a_question_that_cannot_be_answered_is_refused_with_the_figure_and_what_is_allowed(changes, problem):
    asked = question(**changes)
    if "bloked" in changes:
        del asked["blocked"]
    with pytest.raises(Unaskable) as refused:
        answered(question_of(asked))
    assert any(line.startswith(problem) for line in refused.value.lines), refused.value.lines


def test_every_problem_of_a_question_is_told_at_once():
    asked = question(**{"tank.now_l": -1, "use.people": "two"})
    del asked["battery"]["capacity_wh"]
    with pytest.raises(Unaskable) as refused:
        question_of(asked)
    assert [line.split()[0] for line in refused.value.lines] == ["tank.now_l", "use.people", "battery.capacity_wh"]


@pytest.mark.parametrize("message", [None, [], "case", 3])
def test_what_is_no_question_at_all_is_refused_in_words(message):
    with pytest.raises(Unaskable, match="no JSON object"):
        question_of(message)
