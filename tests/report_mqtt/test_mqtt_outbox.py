import json
from dataclasses import replace

import jsonschema
import pytest

from halocline.plant.settings import UnitSettings
from halocline.report.duties.answer import duties_answer
from halocline.report.duties.facts import Entry, Facts, Run
from halocline.report.mqtt.outbox import EVENTS_KEPT, Outbox
from halocline.report.mqtt.topics import Topics, is_alarm_id, slug, topics_of
from halocline.report.public import iso

ALARM = "b/alarm/feed_pressure_low"


@pytest.fixture
def outbox():
    return Outbox(Topics("b"), "Cagarra", UnitSettings())


def sent(outbox, now_s):
    """Everything due, confirmed at once: topic → payload, None for a removal."""
    posts = outbox.due(now_s, 1000)
    for post in posts:
        outbox.confirmed(post)
    return {post.topic: json.loads(post.payload) if post.payload else None for post in posts}


def test_topics_stand_under_the_boat_or_where_the_owner_wants_them():
    assert topics_of("", "São Jorge II").status == "halocline/sao-jorge-ii/status"
    assert topics_of("boat/water", "Cagarra").alarm("bilge_wet") == "boat/water/alarm/bilge_wet"
    assert slug("+/#") == "boat"
    assert not is_alarm_id("a/b")
    assert not Topics("b").is_alarm("b/alarm/+")


def test_before_anything_is_heard_only_offline_is_said(outbox):
    said = sent(outbox, 10.0)
    assert said["b/status"]["status"] == "offline"
    assert said["b/status"]["boot"] is None
    assert list(said) == ["b/status"]


def test_online_lasts_five_seconds_after_the_last_snapshot(outbox, aboard):
    outbox.take_snapshot(aboard.public(), 10.0)
    assert sent(outbox, 10.0)["b/status"]["status"] == "online"
    assert "b/status" not in sent(outbox, 14.9)
    assert sent(outbox, 15.1)["b/status"]["status"] == "offline"
    outbox.take_snapshot(aboard.public(), 15.2)
    assert sent(outbox, 15.2)["b/status"]["status"] == "online"


def test_a_snapshot_that_says_the_link_is_lost_is_offline_at_once(outbox, aboard):
    outbox.take_snapshot(aboard.public(), 10.0)
    sent(outbox, 10.0)
    outbox.take_snapshot(aboard.public(age_s=4.0), 11.0)
    assert sent(outbox, 11.0)["b/status"]["status"] == "offline"


def test_how_the_plant_ages_is_said_once_and_again_when_it_changes(outbox, aboard):
    said = aboard.health_said
    outbox.take_snapshot(aboard.public(), 10.0)
    outbox.take_health(said)
    health = sent(outbox, 10.0)["b/health"]
    aboard.check("halocline/cagarra/health", health)
    assert health["quantities"]["flow"]["change"] == {"estimate": -0.12, "i80": [-0.13, -0.11]}
    assert health["quantities"]["filter_drop"]["why"] == "not measured"
    assert health["story"] == {"name": "fouling", "confidence": 0.93}
    assert health["told"] is True
    outbox.take_health(dict(said))
    assert "b/health" not in sent(outbox, 11.0)
    aside = {"on": "2026-11-04T10:00:00.000Z", "reason": "cleaning in March", "who": "Ana"}
    outbox.take_health({**said, "finding": {**said["finding"], "aside": aside}})
    put = sent(outbox, 12.0)["b/health"]
    aboard.check("halocline/cagarra/health", put)
    assert (put["told"], put["aside"]) == (False, aside)
    outbox.start_over()
    assert sent(outbox, 13.0)["b/health"] == {**put, "time": sent_time(outbox, 13.0)}


def test_what_is_due_by_hand_is_said_once_and_again_when_it_changes(outbox, aboard):
    day = 86400.0
    used = [Run(aboard.noon_s - day, 3600.0, 60.0)]
    of = Facts(aboard.noon_s, aboard.noon_s - 8 * day, [], used, {"high_pressure_pump_s": 80000.0}, {})
    outbox.take_snapshot(aboard.public(), 10.0)
    outbox.take_duties(duties_answer(of))
    due = sent(outbox, 10.0)["b/duties"]
    aboard.check("halocline/cagarra/duties", due)
    told = {each["duty"]: each for each in due["duties"]}
    assert told["seacocks"]["state"] == "overdue"
    assert told["motor_brushes"]["due"]["basis"] == "foreseen"
    assert "laboratory" not in told, "not before it is time to think of it"
    outbox.take_duties(duties_answer(replace(of, now_s=of.now_s + 60.0)))
    assert "b/duties" not in sent(outbox, 11.0), "a minute changes no day"
    done = Entry(of.now_s, "duty_done", who="Ana", details={"duty": "seacocks"})
    outbox.take_duties(duties_answer(replace(of, work=[done])))
    assert "seacocks" not in {each["duty"] for each in sent(outbox, 12.0)["b/duties"]["duties"]}


def sent_time(outbox, now_s):
    return iso(outbox.wall_s(now_s))


def test_where_nothing_is_known_of_its_age_no_story_is_told(outbox, aboard):
    said = aboard.health_said
    unknown = dict.fromkeys(said["quantities"], said["quantities"]["filter_drop"])
    nothing = {"name": "nothing", "confidence": 1.0, "since_h": None, "evidence": []}
    outbox.take_health({**said, "quantities": unknown, "patterns": [nothing], "finding": None})
    health = sent(outbox, 10.0)["b/health"]
    aboard.check("halocline/cagarra/health", health)
    assert (health["story"], health["told"]) == (None, False)


def test_status_is_repeated_every_five_seconds(outbox, aboard):
    told = 0
    for tenth in range(600):
        now_s = 100 + tenth / 10
        outbox.take_snapshot(aboard.public(), now_s)
        told += "b/status" in sent(outbox, now_s)
    assert told == 12


def test_now_is_told_once_a_second_and_only_when_new(outbox, aboard):
    told = 0
    for quarter in range(240):
        outbox.take_snapshot(aboard.public(), quarter / 4)
        told += "b/now" in sent(outbox, quarter / 4)
    assert told == 60
    assert "b/now" in sent(outbox, 60.0)
    assert "b/now" not in sent(outbox, 70.0)


def test_time_is_the_plants_and_null_while_its_clock_is_not_set(outbox, aboard):
    outbox.take_snapshot(aboard.public(), 10.0)
    assert outbox.wall_s(12.5) == aboard.noon_s + 2.5
    assert sent(outbox, 10.0)["b/status"]["time"] == "2026-09-21T14:13:20.000Z"
    outbox.take_snapshot(aboard.public(age_s=4.0), 20.0)
    assert outbox.wall_s(20.0) == aboard.noon_s + 10.0
    outbox.take_snapshot(aboard.public(wall_s=None), 30.0)
    assert sent(outbox, 30.0)["b/status"]["time"] is None


def test_an_alarm_is_told_when_it_changes_and_not_otherwise(outbox, aboard):
    outbox.take_snapshot(aboard.public(alarms=[aboard.low_feed()]), 10.0)
    assert sent(outbox, 10.0)[ALARM]["state"] == "unacknowledged"
    outbox.take_snapshot(aboard.public(wall_s=aboard.noon_s + 5, alarms=[aboard.low_feed(since_s=7.1)]), 15.0)
    assert ALARM not in sent(outbox, 15.0)
    outbox.take_snapshot(aboard.public(alarms=[aboard.low_feed("acknowledged")]), 16.0)
    assert sent(outbox, 16.0)[ALARM]["state"] == "acknowledged"
    outbox.take_snapshot(aboard.public(alarms=[]), 17.0)
    assert sent(outbox, 17.0)[ALARM] is None
    assert ALARM not in sent(outbox, 18.0)


def test_a_lost_link_neither_tells_nor_removes_alarms(outbox, aboard):
    outbox.take_snapshot(aboard.public(alarms=[aboard.low_feed()]), 10.0)
    sent(outbox, 10.0)
    outbox.take_snapshot(aboard.public(age_s=4.0, alarms=[aboard.low_feed()]), 14.0)
    assert ALARM not in sent(outbox, 14.0)


def test_what_somebody_else_wrote_under_an_alarm_is_put_right(outbox, aboard):
    outbox.take_snapshot(aboard.public(alarms=[aboard.low_feed()]), 10.0)
    sent(outbox, 10.0)
    outbox.foreign(ALARM, b"{}")
    outbox.foreign("b/alarm/bilge_wet", b'{"id":"bilge_wet"}')
    outbox.foreign("b/alarm/not/ours", b"x")
    said = sent(outbox, 10.2)
    assert said[ALARM]["state"] == "unacknowledged"
    assert said["b/alarm/bilge_wet"] is None
    assert "b/alarm/not/ours" not in said


def test_what_others_write_is_remembered_within_bounds(outbox, aboard):
    for number in range(5000):
        outbox.foreign(f"b/alarm/made_up_{number}", b"x")
    outbox.take_snapshot(aboard.public(), 10.0)
    assert len(outbox.due(10.0, 1000)) <= 302


def test_an_old_last_will_that_comes_late_is_overwritten_but_not_in_a_race(outbox, aboard):
    outbox.take_snapshot(aboard.public(), 10.0)
    sent(outbox, 10.0)
    outbox.foreign("b/status", b"{}")
    assert "b/status" not in sent(outbox, 10.5)
    assert sent(outbox, 11.0)["b/status"]["status"] == "online"


def test_nothing_is_sent_again_while_it_is_on_its_way(outbox, aboard):
    outbox.take_snapshot(aboard.public(alarms=[aboard.low_feed()]), 10.0)
    outbox.take_event("b1", aboard.event(8))
    first = outbox.due(10.0, 1000)
    assert len(first) == 4
    later = []
    for second in range(11, 300):
        outbox.take_snapshot(aboard.public(), float(second))
        later += [(second, post.mark) for post in outbox.due(float(second), 1000)]
    assert later == [(16, "offline")], "what is not confirmed is not alive"
    assert outbox.unconfirmed_s(300.0) == 290.0


def test_after_a_new_connection_everything_is_told_again(outbox, aboard):
    outbox.take_snapshot(aboard.public(alarms=[aboard.low_feed()]), 10.0)
    outbox.take_event("b1", aboard.event(8))
    outbox.due(10.0, 1000)
    outbox.start_over()
    assert outbox.unconfirmed_s(10.1) == 0.0
    assert set(sent(outbox, 10.1)) == {"b/status", "b/now", ALARM, "b/event"}


def test_events_keep_their_order_and_come_once(outbox, aboard):
    for seq in range(25):
        outbox.take_event("b1", aboard.event(seq))
    told = []
    for now_s in range(4):
        posts = [post for post in outbox.due(float(now_s), 1000) if post.topic == "b/event"]
        told += [json.loads(post.payload)["seq"] for post in posts]
        for post in posts:
            outbox.confirmed(post)
    assert told == list(range(25))
    assert len(outbox.events) == 0


def test_a_day_without_a_broker_keeps_the_newest_thousand_events_and_counts_the_rest(outbox, aboard):
    snapshot = aboard.public()
    for second in range(24 * 3600):
        outbox.take_snapshot(snapshot, float(second))
        if second % 20 == 0:
            outbox.take_event("b1", aboard.event(second))
    assert len(outbox.events) == EVENTS_KEPT
    assert outbox.events.dropped == 24 * 3600 // 20 - EVENTS_KEPT
    posts = outbox.due(24 * 3600.0, 1000)
    assert len(posts) == 12
    status = next(json.loads(post.payload) for post in posts if post.topic == "b/status")
    assert status["events_dropped"] == outbox.events.dropped


def test_numbers_that_are_none_become_null(outbox, aboard):
    outbox.take_event("b1", aboard.event(1, "run_ended", run={"litres": float("nan"), "seconds": float("inf")}))
    assert sent(outbox, 1.0)["b/event"]["run"] == {"litres": None, "seconds": None}


@pytest.mark.parametrize(
    ("fields", "text"),
    [
        (
            {"kind": "alarm", "id": "feed_pressure_low", "to": "unacknowledged", "priority": "high", "values": {}},
            "Pump inlet pressure is ",
        ),
        (
            {"kind": "state", "from": "producing", "to": "stopping", "why": {"id": "target_reached", "values": {}}},
            "Now stopping. The run is done, as asked.",
        ),
        ({"kind": "log", "note": "new filters"}, None),
    ],
)
def test_events_have_words_where_ids_say_little(outbox, aboard, fields, text):
    outbox.take_event("b2", {**aboard.event(9), **fields})
    said = sent(outbox, 1.0)["b/event"]
    aboard.check("halocline/cagarra/event", said)
    assert (said["boot"], said["seq"], said["time"]) == ("b2", 9, "2026-09-21T14:13:29.000Z")
    assert said["text"] is None if text is None else said["text"].startswith(text)


def test_the_farewell_is_offline(outbox, aboard):
    outbox.take_snapshot(aboard.public(), 10.0)
    post = outbox.farewell(10.0)
    assert (post.topic, post.retain) == ("b/status", True)
    assert json.loads(post.payload)["status"] == "offline"


def test_a_word_that_is_not_true_any_more_is_overtaken_though_nothing_is_confirmed(outbox, aboard):
    outbox.take_snapshot(aboard.public(), 10.0)
    (first,) = [post for post in outbox.due(10.0, 1000) if post.topic == "b/status"]
    outbox.heard = False
    (second,) = [post for post in outbox.due(10.2, 1000) if post.topic == "b/status"]
    assert [json.loads(post.payload)["status"] for post in (first, second)] == ["online", "offline"]
    outbox.confirmed(first)
    assert outbox.unconfirmed_s(12.2) == pytest.approx(2.2), "the confirmation of the first is not that of the second"
    outbox.confirmed(second)
    assert [post for post in outbox.due(10.4, 1000) if post.topic == "b/status"] == []


def test_what_has_no_room_is_not_forgotten_and_the_status_keeps_a_place(outbox, aboard):
    outbox.take_snapshot(aboard.public(alarms=[aboard.low_feed()]), 10.0)
    assert [post.topic for post in outbox.due(10.0, 2, spare=2)] == ["b/status"]
    outbox.heard = False
    assert [post.topic for post in outbox.due(10.1, 1, spare=0)] == ["b/status"]
    later = [post.topic for post in outbox.due(10.2, 20, spare=2)]
    assert later == ["b/alarm/feed_pressure_low", "b/now"]


RUN = {"start": "2026-09-22T11:45:00Z", "minutes": 70, "litres_to_tank": 58.2, "energy_wh": 1650, "why": "sun_to_spare"}


def planned(*runs, missing=()):
    """As the planner tells it."""
    more = {"overboard_l": 6.0, "flush_l": 12.0, "flow_l_h": 58.0}
    answer = {"feasible": True, "to": "2026-09-24T12:00:00Z", "runs": [{**run, **more} for run in runs]}
    return {"answer": None if missing else answer, "says": "" if missing else "Next run…", "missing": list(missing)}


def test_the_next_run_is_told_when_it_changes_and_again_after_a_new_connection(outbox, aboard):
    outbox.take_snapshot(aboard.public(), 10.0)
    outbox.take_plan(planned(RUN, {**RUN, "start": "2026-09-23T11:45:00Z"}))
    said = sent(outbox, 10.0)["b/plan"]
    jsonschema.validate(said, aboard.schema("plan"))
    assert (said["run"], said["feasible"], said["boat"]) == (RUN, True, "Cagarra")
    outbox.take_plan(planned(RUN))
    assert "b/plan" not in sent(outbox, 40.0)
    outbox.start_over()
    assert sent(outbox, 41.0)["b/plan"]["run"] == RUN
    outbox.take_plan(planned())
    assert sent(outbox, 70.0)["b/plan"]["run"] is None


def test_a_plan_that_is_gone_is_not_left_standing_at_the_broker(outbox, aboard):
    outbox.take_plan(planned(RUN))
    sent(outbox, 10.0)
    outbox.take_plan(planned(missing=["The control process is not heard."]))
    said = sent(outbox, 40.0)["b/plan"]
    jsonschema.validate(said, aboard.schema("plan"))
    assert (said["run"], said["feasible"]) == (None, None)
    assert said["missing"] == ["The control process is not heard."]
