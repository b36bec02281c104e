"""The days ahead over HTTP: everybody may look and try, and only who may give commands says what is foreseen."""

import pytest

from halocline.plant.settings import PlanSettings
from halocline.report import secrets
from halocline.report.planning.boat import Remembered
from report import over_http
from report.over_http import HEADERS
from report.test_offers_on_every_face import PROSPECT
from report.test_plan_of_this_boat import CONFIGURATION

FORECAST = {"from": "2026-07-01T12:00:00Z", "sun_wh_day": [4000, 3000, 2000]}
HARBOUR = {"why": "harbour", "hours": 6}


@pytest.fixture
def ship(aboard, live_now):
    ship = aboard(plan=PlanSettings(battery_wh=8000.0, sun_wh_day=4000.0))
    ship.context.planner._remember = lambda *_: Remembered(configuration=CONFIGURATION)
    ship.context.feed.live._clock = lambda: 0.0  # a busy machine would find the snapshot too old
    readings = {"tank_fill": {"value": 40.0}, "battery_charge_percent": {"value": 80.0}}
    whole = {
        name: {"raw": 1.0, "unit": "%", "quality": "good", "age_s": 0.1, **said} for name, said in readings.items()
    }
    ship.context.feed.live.update(live_now(prospect=PROSPECT, readings=whole))
    secrets.set_pin(ship.secrets_path, over_http.PIN)
    return ship


def post(ship, path, said):
    return ship.client.post(f"/api/v1/plan/{path}", json=said, headers=HEADERS)


@pytest.mark.parametrize(("path", "said"), [("forbidden", HARBOUR), ("forecast", FORECAST)])
def test_saying_what_is_foreseen_wants_the_pin_and_the_pages_own_header(ship, path, said):
    assert post(ship, path, said).status_code == 401
    ship.sign_in()
    assert ship.client.post(f"/api/v1/plan/{path}", json=said).status_code == 403
    answer = post(ship, path, said)
    assert (answer.status_code, answer.json()["accepted"]) == (200, True)
    assert answer.json()["told"]


def test_a_forbidden_water_stands_in_the_plan_until_it_is_ended(ship):
    ship.sign_in()
    told = post(ship, "forbidden", HARBOUR).json()["told"]
    (standing,) = ship.client.get("/api/v1/plan").json()["ahead"]["forbidden"]
    assert told == [standing["text"]]
    assert post(ship, "forbidden", {**HARBOUR, "hours": 0}).json()["told"] == ["Harbour: runs are planned again."]
    assert ship.client.get("/api/v1/plan").json()["ahead"]["forbidden"] == []


def test_who_is_about_to_start_is_told_of_a_mark_first_and_may_start(ship):
    ship.sign_in()
    before = ship.client.get("/api/v1/offer?litres=5").json()
    post(ship, "forbidden", {**HARBOUR, "place": " Porto Pim "})
    offer = ship.client.get("/api/v1/offer?litres=5").json()
    assert offer["says"][0].startswith("Make no water here: harbour at Porto Pim, marked until ")
    assert offer["says"][1:] == before["says"]
    assert offer["possible"] == before["possible"], "a mark is a person's: it refuses nothing"
    post(ship, "forbidden", {**HARBOUR, "hours": 0})
    assert ship.client.get("/api/v1/offer?litres=5").json()["says"] == before["says"]


def test_a_place_is_a_word_not_a_story(ship):
    ship.sign_in()
    assert post(ship, "forbidden", {**HARBOUR, "place": "x" * 41}).status_code == 422


def test_a_forecast_is_taken_told_with_its_age_and_forgotten(ship):
    ship.sign_in()
    post(ship, "forecast", FORECAST)
    assert "entered on the page, 0 s old" in ship.client.get("/api/v1/plan").json()["ahead"]["forecast"]
    answer = ship.client.request("DELETE", "/api/v1/plan/forecast", headers=HEADERS)
    assert answer.json()["accepted"] is True
    assert ship.client.get("/api/v1/plan").json()["ahead"]["forecast"] is None


@pytest.mark.parametrize(
    ("path", "said", "says"),
    [
        ("forecast", {**FORECAST, "sun_wh_day": [-1]}, "sun_wh_day[0] is -1"),
        ("forecast", {"sun_w": [5]}, "from is missing"),
        ("forbidden", {"why": "fog", "hours": 6}, "why"),
        ("forbidden", {"why": "silt", "hours": -1}, "hours"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(ship, path, said, says):
    ship.sign_in()
    answer = post(ship, path, said)
    assert (answer.status_code, answer.json()["accepted"]) == (422, False)
    assert says in answer.json()["reasons"][0]


def test_a_card_that_takes_nothing_changes_nothing_and_says_so(ship, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    ship.sign_in()
    monkeypatch.setattr("halocline.report.planning.foreseen.replace_whole", full)
    answer = post(ship, "forbidden", HARBOUR)
    assert answer.status_code == 503
    assert answer.json()["reasons"] == ["It could not be kept: No space left on device. Nothing was changed."]


def test_everybody_may_try_what_would_be_and_nothing_of_it_is_kept(ship):
    plan = ship.client.get("/api/v1/plan").json()["ahead"]
    tried = ship.client.get("/api/v1/plan/what-if", params={"more_people": 4, "sun_percent": 50}).json()
    assert tried["against"]
    assert tried["runs"] != plan["runs"]
    assert plan["against"] is None
    assert ship.client.get("/api/v1/plan").json()["ahead"] == plan
    for wrong in ({"more_l": 1e9}, {"engine_h": "soon"}, {"moon": 1}):
        assert ship.client.get("/api/v1/plan/what-if", params=wrong).status_code == 422
