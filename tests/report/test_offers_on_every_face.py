"""The same offer, figure by figure and word by word, from the API and on the command line."""

import json
import time
from contextlib import nullcontext
from pathlib import Path
from types import SimpleNamespace

import pytest

from halocline.cli import orders
from halocline.cli import plan as command
from halocline.plant.command_definitions import Start
from halocline.plant.offer import Need, prospect_of
from halocline.plant.settings import PlanSettings, UnitSettings
from halocline.report.plan import ahead_of, days_ahead_message, offer_message, plan_message
from halocline.report.planning.boat import Remembered
from halocline.report.planning.foreseen import Outlook
from halocline.report.planning.planner import Planner
from halocline.report.planning.question import Blocked, forecast_of
from halocline.report.planning.what_if import WhatIf
from report.test_plan_of_this_boat import CONFIGURATION

PROSPECT = {
    "flow_l_h": 60.0,
    "usual": True,
    "pressure_bar": 55.0,
    "temperature_c": 24.0,
    "power_w": 1400.0,
    "flush_l": 12.0,
    "flush_s": 360.0,
    "prime_s": 12.0,
    "before_tank_s": 288.0,
    "purge_of": None,
    "rinse_s": 0.0,
    "overboard_s": 0.0,
    "motor_left_s": 3588.0,
    "motor_rest_s": 900.0,
    "run_limit_s": 14400.0,
    "room_l": 130.0,
    "level_known": True,
    "asks_after_s": 3600.0,
    "battery_percent": None,
    "battery_stop_percent": 20.0,
}
"""Invented: a brush motor, and a tank that has room for 130 L."""

GALLERY = Path(__file__).parents[2] / "web" / "scripts" / "fixture-plan.json"
GALLERY_WALL_S = 1_778_760_000.0

RESTING = {"start": [{"id": "motor_needs_rest", "values": {"seconds": 720.0}}]}


@pytest.fixture
def ship(aboard):
    ship = aboard()
    ship.context.feed.live._clock = lambda: 0.0  # a busy machine would find the snapshot too old
    return ship


@pytest.fixture
def told(ship, live_now):
    """The API over a control that says this; and the same snapshot as the command line gets it."""

    def tell(refused=None, **changes):
        now = live_now(prospect={**PROSPECT, **changes}, refused=refused or {})
        ship.context.feed.live.update(now)
        return now

    return tell


def shown(now, monkeypatch, capsys, **given):
    """What `halocline plan --json` prints for that snapshot."""
    client = SimpleNamespace(hello={"simulated": True})
    monkeypatch.setattr(command.line, "connect", lambda _: nullcontext(client))
    monkeypatch.setattr(command.line, "now_of", lambda _: now)
    asked = {"litres": None, "minutes": None, "until": None, **given}
    assert command._plan(SimpleNamespace(config=None, json=True, case=None, data=None, **asked)) == 0
    return json.loads(capsys.readouterr().out)


def without_moments(offers):
    return [{key: value for key, value in each.items() if key != "ends"} for each in offers]


@pytest.mark.parametrize("given", [{}, {"litres": 40.0}, {"litres": 100.0}, {"litres": 500.0}, {"minutes": 20.0}])
@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"motor_left_s": None},
        {"purge_of": "glycol", "overboard_s": 3600.0},
        {"flow_l_h": None},
        {"level_known": False},
    ],
    ids=["motor", "no motor limits", "purge", "flow unknown", "level unknown"],
)
def test_api_and_command_line_show_the_same(ship, told, monkeypatch, capsys, given, changes):
    now = told(**changes)
    printed = shown(now, monkeypatch, capsys, **given)["offers"]
    if given:
        answer = ship.client.get("/api/v1/offer", params=given).json()
        assert without_moments([answer]) == without_moments(printed)
    else:
        answer = ship.client.get("/api/v1/plan").json()
        assert without_moments(answer["offers"]) == without_moments(printed)
        assert all(each["possible"] and not each["reasons"] for each in printed)


def test_until_full_that_one_run_cannot_reach_says_how_far_it_gets_and_what_comes_then(ship, told):
    told()
    full = ship.client.get("/api/v1/offer").json()
    # 3588 s of work, less 288 s before the tank opens, at 60 L/h
    assert full["litres"] == pytest.approx(55.0)
    assert (full["wanted_l"], full["ended_by"], full["rest_s"]) == (130.0, "motor", 900.0)
    assert (
        full["says"][0]
        == "Puts about 55 L of 130 L into the tank. The motor's rated run ends it first; then the motor rests 15 min."
    )


def test_what_would_be_refused_is_not_offered_and_the_reason_says_why(ship, told):
    told(refused=RESTING)
    plan = ship.client.get("/api/v1/plan").json()
    assert plan["offers"] == []
    assert plan["reasons"] == ["The pump motor has to rest for 12 min more. Then start again."]
    assert ship.client.get("/api/v1/offer", params={"litres": 20}).json()["possible"] is False
    told()
    much = ship.client.get("/api/v1/offer", params={"litres": 200}).json()
    assert (much["possible"], much["reasons"]) == (
        False,
        ["200 L do not fit into the tank, at most 130 L. Ask for less."],
    )


def test_a_person_who_is_still_to_come_speaks_against_no_offer(ship, told):
    told(refused={"start": [{"id": "nobody_at_the_plant", "values": {}}]})
    assert len(ship.client.get("/api/v1/plan").json()["offers"]) == 3


def test_a_time_that_has_just_passed_is_not_taken_for_tomorrows(ship, told):
    told()
    passed = time.strftime("%H:%M", time.localtime(time.time() - 120))
    answer = ship.client.get("/api/v1/offer", params={"until": passed}).json()
    assert answer["possible"] is False
    assert "perhaps tomorrow's" in answer["reasons"][0]
    for no_time in ("soon", "2026-02-31T10:00"):
        assert ship.client.get("/api/v1/offer", params={"until": no_time}).status_code == 422


def test_without_control_nothing_is_offered(ship):
    plan = ship.client.get("/api/v1/plan").json()
    ahead = plan.pop("ahead")
    assert plan == {"offers": [], "reasons": [], "rests_on": None, "says": ""}
    assert ahead["runs"] is None
    assert "The control process is not heard." in ahead["missing"]
    assert ship.client.get("/api/v1/offer").status_code == 404


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"purge_of": "glycol", "overboard_s": 1800.0, "rinse_s": 60.0}, "go overboard to wash propylene glycol out"),
        ({"purge_of": "glycol, cleaning", "overboard_s": 900.0}, "to wash propylene glycol and cleaning agent out"),
        ({"flush_s": None}, "No flush follows: the flush water may carry chlorine."),
        ({"battery_percent": 64.0}, "The battery is at 64 %; the run ends if it comes down to 20 %."),
        ({"level_known": False}, "The tank's level is not known"),
        ({"asks_after_s": 600.0}, "After 10 min the run asks whether a person is there"),
        ({"motor_left_s": None, "run_limit_s": 3600.0}, "The longest run allowed, 60 min, ends it first."),
    ],
)
def test_what_comes_with_a_run_is_said_beforehand(changes, says):
    now = {"prospect": {**PROSPECT, **changes}, "refused": {}}
    (*_, full) = plan_message(now, UnitSettings(), 0.0)["offers"]
    assert says in " ".join(full["says"])


@pytest.mark.parametrize("given", [{}, {"litres": 40.0}, {"minutes": 20.0}])
@pytest.mark.parametrize("changes", [{}, {"flow_l_h": None}, {"motor_left_s": None}])
def test_every_offer_names_the_flush_that_follows_on_every_face(ship, told, monkeypatch, capsys, given, changes):
    now = told(**changes)
    says = "Then a flush takes 12 L of fresh water and, foreseen at the least flow for it, about 6 min."
    offers = shown(now, monkeypatch, capsys, **given)["offers"]
    assert offers
    assert all(says in each["says"] for each in offers)
    assert says in ship.client.get("/api/v1/offer", params=given).json()["says"]
    monkeypatch.setattr(orders.line, "now_of", lambda _: now)
    start = Start(litres=given.get("litres"), minutes=given.get("minutes"), until=None)
    assert says in orders._foreseen(None, start, UnitSettings())
    told(flush_s=None)
    assert ship.client.get("/api/v1/offer", params=given).json()["flush_l"] == 0.0


def test_a_run_that_does_not_fill_the_tank_is_not_called_until_full():
    units = UnitSettings()
    for changes, label in (
        ({}, "as much as one run gives: "),
        ({"motor_left_s": None, "run_limit_s": 3600.0}, "as much as one run gives: "),
        ({"motor_left_s": None}, "until full: "),
    ):
        said = plan_message({"prospect": {**PROSPECT, **changes}, "refused": {}}, units, 0.0)
        lines = command.plan_lines(said, units)
        assert [line for line in lines if line.startswith(label)], lines
        assert ("until full" in " ".join(lines)) == (label == "until full: ")


def test_an_older_control_that_says_nothing_of_it_gets_no_offer():
    assert prospect_of({"state": "standby"}) is None
    assert prospect_of({"prospect": {"flow_l_h": 60.0}}) is None


def gallery_days():
    """Two days at anchor of the boat that the other tests of plans use, from its own clock's noon (invented)."""
    readings = {"tank_fill": {"value": 42.0}, "battery_charge_percent": {"value": 71.0}}
    now = {"prospect": {**PROSPECT, "motor_left_s": 10765.0}, "readings": readings}
    planner = Planner(None, PlanSettings(battery_wh=8000.0, sun_wh_day=4500.0, engine_w=900.0))
    planner._remember = lambda *_: Remembered(configuration=CONFIGURATION)
    harbour = Blocked(from_s=GALLERY_WALL_S - 3600, to_s=GALLERY_WALL_S + 2 * 3600, why="harbour")
    forecast = forecast_of({"from": "2026-05-14T12:00:00Z", "sun_wh_day": [4500, 3000, 4500]})
    planner.foreseen = lambda _: Outlook(forecast, "page", GALLERY_WALL_S - 3 * 3600, (harbour,))
    tried = planner.what_if(WhatIf(more_l=40.0), now, UnitSettings(), GALLERY_WALL_S)
    return days_ahead_message(planner, now, UnitSettings(), GALLERY_WALL_S), ahead_of(tried)


def gallery():
    """What the page's gallery is shown: this boat's plan and its full tank, at a moment of their own."""
    now, units = {"prospect": PROSPECT, "refused": {}}, UnitSettings()
    ahead, tried = gallery_days()
    plan = {**plan_message(now, units, GALLERY_WALL_S), "ahead": ahead}
    offer = offer_message(prospect_of(now), Need(), now, units, GALLERY_WALL_S)
    return {"plan": plan, "what_if": tried, "offer": offer}


def test_the_gallery_shows_what_the_program_says():
    assert json.loads(GALLERY.read_text(encoding="utf-8")) == gallery()
