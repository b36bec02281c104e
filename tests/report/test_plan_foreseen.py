"""What is foreseen and forbidden: taken from whoever says it, kept through restarts, the newest counts, and what would
be if something were otherwise leaves no trace."""

import json
import os
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.plant.settings import UnitSettings
from halocline.report.planning.boat import Remembered
from halocline.report.planning.foreseen import NAME, Foreseen, marked_texts
from halocline.report.planning.planner import Planner
from halocline.report.planning.question import Forecast, Unaskable, forecast_of, question_of, timely
from halocline.report.planning.question_schema import schema_of
from halocline.report.planning.unasked import UnaskedPlan
from halocline.report.planning.what_if import CHANGES, WhatIf, changed
from report.plan_by_the_minute import question
from report.test_plan_of_this_boat import CONFIGURATION, NOON_S, SETTINGS, now_with

SUNNY = {"from": "2026-07-01T12:00:00Z", "sun_w": [600] * 48}
DULL = {"from": "2026-07-01T12:00:00Z", "sun_wh_day": [500, 500, 500]}
UNITS = UnitSettings()


@pytest.fixture
def foreseen(tmp_path):
    return Foreseen(tmp_path / NAME, tmp_path / "ahead.json")


@pytest.fixture
def planner(tmp_path):
    planner = Planner(tmp_path / "record.sqlite3", replace(SETTINGS, engine_w=900.0), clock=lambda: 0.0)
    planner._remember = lambda *_: Remembered(configuration=CONFIGURATION)
    return planner


def test_a_forecast_is_kept_through_a_restart_with_who_said_it_and_when(foreseen, tmp_path):
    foreseen.accept(DULL, "broker", NOON_S)
    outlook = Foreseen(tmp_path / NAME, None)(NOON_S + 60)
    assert outlook.forecast == forecast_of(DULL)
    assert (outlook.source, outlook.taken_s) == ("broker", NOON_S)


def test_the_newest_forecast_counts_whoever_says_it(foreseen, tmp_path):
    foreseen.accept(DULL, "broker", NOON_S)
    foreseen.accept(SUNNY, "page", NOON_S + 60)
    assert foreseen(NOON_S + 60).source == "page"
    (tmp_path / "ahead.json").write_text(json.dumps(DULL))
    os.utime(tmp_path / "ahead.json", (NOON_S + 120, NOON_S + 120))
    assert foreseen(NOON_S + 120).source == "file"
    foreseen.accept({**SUNNY, "sun_w": [5]}, "broker", NOON_S + 180)
    assert foreseen(NOON_S + 180).source == "broker"


def test_what_a_broker_brings_again_is_no_news_not_even_after_it_was_forgotten(foreseen):
    foreseen.accept(DULL, "broker", NOON_S)
    foreseen.accept(SUNNY, "page", NOON_S + 60)
    foreseen.accept(DULL, "broker", NOON_S + 120)
    assert foreseen(NOON_S + 120).source == "page"
    foreseen.forget(NOON_S + 180)
    foreseen.accept(DULL, "broker", NOON_S + 240)
    assert foreseen(NOON_S + 240).forecast is None
    foreseen.accept({**DULL, "sun_wh_day": [600]}, "broker", NOON_S + 300)
    assert foreseen(NOON_S + 300).source == "broker"


def test_what_a_person_says_again_on_the_page_is_as_new_as_they_say_it(foreseen):
    foreseen.accept(DULL, "page", NOON_S)
    foreseen.forget(NOON_S + 60)
    foreseen.accept(DULL, "page", NOON_S + 120)
    assert foreseen(NOON_S + 120).taken_s == NOON_S + 120


ANY_TIME = st.datetimes(datetime(1, 1, 2), datetime(9999, 12, 30), timezones=st.just(UTC))
NEAR = st.datetimes(datetime(2026, 7, 1), datetime(2026, 9, 1), timezones=st.just(UTC))


@given(ANY_TIME | NEAR, ANY_TIME | NEAR)
def test_an_engine_that_runs_for_years_stands_behind_no_plan(begin, end):
    begin, end = sorted([begin.replace(microsecond=0), end.replace(microsecond=0) + timedelta(seconds=1)])
    engine = {"from": begin.isoformat(), "to": end.isoformat(), "w": 900}
    said = forecast_of({"from": "2026-07-01T12:00:00Z", "engine": [engine]})
    if end.timestamp() <= NOON_S + 31 * 86400:
        assert timely(said, NOON_S) == said
    else:
        with pytest.raises(Unaskable, match="more than 31 days ahead"):
            timely(said, NOON_S)


def test_a_file_of_another_year_is_told_of_and_counts_for_nothing(foreseen, tmp_path):
    foreseen.accept(SUNNY, "page", NOON_S)
    (tmp_path / "ahead.json").write_text(json.dumps({**DULL, "from": "2199-01-01T00:00:00Z"}))
    outlook = foreseen(NOON_S + 60)
    assert outlook.source == "page"
    assert outlook.problems == ("a time is more than 31 days ahead: check its date, and both clocks",)
    with pytest.raises(Unaskable, match="more than 31 days ahead"):
        foreseen.accept({**DULL, "from": "2199-01-01T00:00:00Z"}, "broker", NOON_S + 60)


@pytest.mark.parametrize("message", [{}, [], None, {"from": "soon"}, {**DULL, "sun_w": [1]}])
def test_what_cannot_be_used_is_refused_and_takes_the_place_of_nothing(foreseen, message):
    foreseen.accept(SUNNY, "page", NOON_S)
    with pytest.raises(Unaskable):
        foreseen.accept(message, "page", NOON_S + 60)
    assert foreseen(NOON_S + 60).taken_s == NOON_S


@pytest.mark.parametrize(
    "text", ["{", "[]", '{"forecasts": 3}', '{"forecasts": {"page": {}}, "forbidden": []}', "null"]
)
def test_a_damaged_file_counts_as_none_is_told_and_is_written_anew(tmp_path, text):
    foreseen = Foreseen(tmp_path / NAME, None)
    (tmp_path / NAME).write_text(text)
    assert foreseen(NOON_S).forecast is None
    assert foreseen(NOON_S).problems
    foreseen.forbid("silt", 6, NOON_S)
    assert foreseen(NOON_S).problems == ()
    assert [each.why for each in foreseen(NOON_S).forbidden] == ["silt"]


def test_a_forbidden_water_ends_by_itself_or_at_once_and_stands_once(foreseen, tmp_path):
    foreseen.forbid("harbour", 6, NOON_S)
    assert foreseen.forbid("harbour", 12, NOON_S + 60) == NOON_S + 60 + 12 * 3600
    foreseen.forbid("bloom", 24, NOON_S + 60)
    again = Foreseen(tmp_path / NAME, None)
    assert sorted(each.why for each in again(NOON_S + 3600).forbidden) == ["bloom", "harbour"]
    assert [each.why for each in again(NOON_S + 13 * 3600).forbidden] == ["bloom"]
    again.forbid("bloom", 0, NOON_S + 13 * 3600)
    assert again(NOON_S + 13 * 3600).forbidden == ()


def test_without_a_folder_nothing_is_taken_and_it_says_so():
    with pytest.raises(OSError, match="no folder"):
        Foreseen(None, None).forbid("silt", 6, NOON_S)


def test_the_schema_takes_what_the_program_takes():
    schema = schema_of(Forecast)
    full = {
        **DULL,
        "engine": [{"from": "2026-07-01T17:00:00Z", "to": "2026-07-01T18:00:00Z", "w": 900}],
        "sea": [{"from": "2026-07-02T00:00:00Z", "temperature_c": 18}],
        "blocked": [{"from": "2026-07-01T14:00:00Z", "to": "2026-07-01T16:00:00Z", "why": "harbour"}],
    }
    jsonschema.Draft202012Validator.check_schema(schema)
    for said in (SUNNY, DULL, full):
        jsonschema.validate(said, schema)
        forecast_of(said)
    for wrong in ({}, {**DULL, "sun_w": [-1]}, {**full, "sea": [{"from": "2026-07-02T00:00:00Z"}]}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(wrong, schema)
        with pytest.raises(Unaskable):
            forecast_of(wrong)


def test_the_place_of_a_mark_is_kept_and_said_to_whoever_starts(foreseen, tmp_path):
    foreseen.forbid("oil", 6, NOON_S, "Ponta da Barca")
    again = Foreseen(tmp_path / NAME, None)
    (said,) = marked_texts(again(NOON_S).forbidden)
    assert said.startswith("Make no water here: oil or fuel at Ponta da Barca, marked until ")
    assert marked_texts(again(NOON_S + 7 * 3600).forbidden) == []


def test_marks_of_a_file_from_before_there_were_places_count(tmp_path):
    old = {"forecasts": {}, "forbidden": [{"from_s": NOON_S, "to_s": NOON_S + 60.0, "why": "silt"}]}
    (tmp_path / NAME).write_text(json.dumps(old))
    assert [each.place for each in Foreseen(tmp_path / NAME, None)(NOON_S).forbidden] == [""]


def test_a_forbidden_water_moves_the_plan_at_once_and_is_told(planner):
    before = planner.message(now_with(tank_fill=30.0), UNITS, NOON_S)
    assert before["forbidden"] == []
    planner.foreseen.forbid("silt", 20, NOON_S)
    after = planner.message(now_with(tank_fill=30.0), UNITS, NOON_S + 1)
    assert after["forbidden"][0]["text"].startswith("Silty water: no run is planned until Thu 2 Jul 08:00 UTC")
    assert all(run["start"] >= "2026-07-02T08:00:00Z" for run in after["answer"]["runs"])
    assert "silt" in {each["why"] for each in after["drawn"]["blocked"]}


def test_a_forecast_moves_the_plan_at_once_and_its_age_is_told(planner):
    assert planner.message(now_with(), UNITS, NOON_S)["forecast"] is None
    planner.foreseen.accept(DULL, "page", NOON_S - 7200)
    told = planner.message(now_with(), UNITS, NOON_S)
    assert told["forecast"] == "Forecast: entered on the page, 2 h old; it tells the sun until Sat 4 Jul 00:00 UTC."
    assert max(told["drawn"]["sun_w"]) < 100


def test_what_would_be_otherwise_is_told_against_the_plan_and_leaves_no_trace(planner, tmp_path):
    now = now_with(battery_charge_percent=100.0)
    plan = planner.message(now, UNITS, NOON_S)
    tried = planner.what_if(WhatIf(more_l=30.0), now, UNITS, NOON_S + 5)
    assert tried["answer"]["totals"]["litres"] > plan["answer"]["totals"]["litres"] + 20
    assert tried["against"].startswith("Against the plan: ")
    assert "more" in tried["against"]
    assert planner.message(now, UNITS, NOON_S + 10) is plan
    assert list(tmp_path.iterdir()) == []
    same = planner.what_if(WhatIf(), now, UNITS, NOON_S + 15)
    assert same["against"] == "The same runs as planned."


def test_what_cannot_be_tried_says_why(planner):
    bare = Planner(None, SETTINGS)
    bare._remember = planner._remember
    tried = bare.what_if(WhatIf(engine_h=1.0), now_with(), UNITS, NOON_S)
    assert tried["missing"] == [
        "What the engine charges is not known: enter engine_w in the table [plan] of the configuration."
    ]
    assert tried["answer"] is None
    unheard = Planner(None, SETTINGS).what_if(WhatIf(more_l=5.0), None, UNITS, NOON_S)
    assert "The control process is not heard." in unheard["missing"]


def test_each_change_changes_the_question_and_none_leaves_it():
    asked = question_of(question(engine_w=900.0))
    assert changed(asked, WhatIf()) == asked
    values = {
        "more_l": 20,
        "more_people": 2,
        "sun_percent": 50,
        "engine_h": 1,
        "colder_k": 2,
        "feed_percent": 90,
        "wait_h": 24,
    }
    assert values.keys() == CHANGES.keys() == {each.name for each in fields(WhatIf)}
    others = [changed(asked, WhatIf(**{name: float(value)})) for name, value in values.items()]
    assert len({repr(other) for other in [asked, *others]}) == len(values) + 1


@pytest.mark.parametrize("each", fields(WhatIf), ids=lambda each: each.name)
def test_no_change_within_its_range_makes_a_question_that_cannot_be_true(each):
    asked = question_of(question(engine_w=900.0))
    for end in (each.metadata["low"], each.metadata["high"]):
        changed(asked, WhatIf(**{each.name: float(end)}))


def test_what_the_broker_brought_is_taken_down_and_each_plan_is_told(planner):
    told = []
    plan = UnaskedPlan(planner, now_with, UNITS, wall=lambda: NOON_S)
    plan.listeners.append(told.append)
    plan.bring(json.dumps(SUNNY).encode())
    plan.bring(json.dumps(DULL).encode())
    plan.turn()
    assert planner.foreseen(NOON_S).forecast == forecast_of(DULL)
    assert told[-1]["says"]
    for broken in (b"{", b"\xff", b"[" * 5000, b'{"from": 3}'):
        plan.bring(broken)
        plan.turn()
        assert told[-1]["problems"][0].startswith("The forecast is not used: ")
    plan.bring(json.dumps(SUNNY).encode())
    plan.turn()
    assert told[-1]["problems"] == []
