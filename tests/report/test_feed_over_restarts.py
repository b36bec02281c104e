"""The link, the picture and the record together, with control's real end of the socket on the other side."""

import socket
import sqlite3
import threading

from halocline.link.client import BEGINNING, LinkFollower
from halocline.link.messages import LinkLostError
from halocline.report import recorder as recorder_module
from halocline.report.journal import Journal


def recorded(feed, table="samples"):
    query = f"SELECT boots.boot, seq FROM {table} JOIN boots ON boots.id = {table}.boot ORDER BY boots.id, seq"
    connection = sqlite3.connect(feed.record_path)
    try:
        return connection.execute(query).fetchall()
    finally:
        connection.close()


def test_what_happened_before_report_came_is_fetched_from_the_ring(control, feed, until):
    plant = control()
    for n in range(1, 101):
        plant.row(float(n))
    one = feed()
    until(lambda: len(recorded(one)) == 100)
    assert Journal(one.record_path).holes() == []


def test_everything_is_recorded_exactly_once_over_restarts_of_report(control, feed, until):
    plant = control()
    for n in range(1, 11):
        plant.row(float(n))
    first = feed()
    until(lambda: len(recorded(first)) == 10)
    first.stop()
    for n in range(11, 21):
        plant.row(float(n))
        plant.event("log", float(n), what="note")
    second = feed()
    until(lambda: len(recorded(second)) == 20 and len(recorded(second, "events")) == 10)
    assert sorted(seq for _, seq in recorded(second) + recorded(second, "events")) == list(range(1, 31))
    assert Journal(second.record_path).holes() == []


def test_a_restart_of_control_is_followed_and_its_hole_admitted(control, feed, until):
    plant = control("b1")
    one = feed()
    plant.row(1.0)
    until(lambda: recorded(one) == [("b1", 1)])
    plant.stop()
    plant = control("b2")
    plant.row(5.0)
    plant.row(6.0)
    until(lambda: len(recorded(one)) == 3)
    assert recorded(one) == [("b1", 1), ("b2", 1), ("b2", 2)]
    assert Journal(one.record_path).holes() == [{"boot": "b1", "from_seq": 2, "to_seq": None, "reason": "restart"}]


def test_what_the_ring_no_longer_has_is_admitted(control, feed, until):
    plant = control()
    for n in range(1, 3611):
        plant.row(float(n))
    one = feed()
    until(lambda: len(recorded(one)) == 3600, 30)
    assert Journal(one.record_path).holes() == [{"boot": "b1", "from_seq": 1, "to_seq": 10, "reason": "gone"}]
    assert one.recorder.status()["lost"] == 10


def test_a_card_that_stalls_longer_than_the_memory_lasts_loses_nothing(control, feed, until, monkeypatch):
    monkeypatch.setattr(recorder_module, "MAX_HELD", 20)
    plant = control()
    one = feed()
    plant.row(0.0)
    until(lambda: len(recorded(one)) == 1)
    with sqlite3.connect(one.record_path, isolation_level=None) as stall:
        stall.execute("BEGIN IMMEDIATE")
        for n in range(1, 101):
            plant.row(float(n))
        plant.now(seq=101)
        until(lambda: one.recorder.status()["state"] == "behind")
        until(lambda: one.live.public()["seq"] == 101)
        stall.execute("ROLLBACK")
    until(lambda: len(recorded(one)) == 101, 20)
    assert Journal(one.record_path).holes() == []
    assert one.recorder.status()["state"] == "ok"


def test_events_are_passed_on_once_even_when_control_repeats_them(control, feed, until):
    plant = control()
    one = feed()
    seen = []
    one.listeners.append(lambda boot, event: 1 / 0)
    one.listeners.append(lambda boot, event: seen.append((boot, event["seq"], event["kind"])))
    plant.event("state", **{"from": "standby", "to": "priming"})
    until(lambda: len(seen) == 1)
    monkey = one.recorder.position
    one._follower._position = lambda: monkey.__class__("", 0)
    one._follower.reconnect()
    plant.event("state", **{"from": "priming", "to": "standby"})
    until(lambda: len(seen) == 2)
    assert seen == [("b1", 1, "state"), ("b1", 2, "state")]


def test_pieces_of_a_capture_are_recorded_and_told_to_nobody(control, feed, until):
    plant = control()
    one = feed()
    seen = []
    one.listeners.append(lambda boot, event: seen.append(event["kind"]))
    plant.event("capture", 1.0, cause=1, from_s=1.0, steps={}, data="")
    plant.event("log", 2.0, what="note")
    until(lambda: len(recorded(one, "events")) == 2 and seen)
    assert seen == ["log"]


def test_a_command_whose_answer_never_comes_is_let_go_at_the_end(control, feed, until):
    plant = control()
    plant.answers["start"] = None
    one = feed()
    until(lambda: one.connected)
    problems = []

    def ask():
        try:
            one.command({"command": "start", "origin": "page", "who": "Ana"}, 60.0)
        except LinkLostError as error:
            problems.append(str(error))

    asking = threading.Thread(target=ask)
    asking.start()
    until(lambda: plant.commands)
    one.let_go()
    asking.join(timeout=2.0)
    assert problems == ["the link to control broke before the answer came; look at the state"]


def test_what_is_in_force_is_recorded_with_the_boot_and_found_with_its_runs(control, feed, until):
    plant = control()
    one = feed()
    plant.event("run_started", run={"id": "r1", "why": {}, "target_l": None})
    until(lambda: one.recorder.flush() and Journal(one.record_path).run("r1"))

    def in_force():
        plant.now(limits={"accept_tds_mg_l": 500.0})
        one.recorder.flush()
        return Journal(one.record_path).run("r1").configuration

    assert until(in_force) == {"limits": {"accept_tds_mg_l": 500.0}}


def test_trouble_with_the_record_stands_in_the_snapshot_that_everybody_gets(control, feed, until, tmp_path):
    (tmp_path / "data").write_text("in the way")
    plant = control()
    one = feed()
    until(lambda: plant.now() or one.live.public()["problems"])
    (problem,) = one.live.public()["problems"]
    assert problem.startswith("Nothing is being recorded: ")
    assert "The plant is not affected." in problem


def test_an_empty_place_is_told_from_a_control_that_says_nothing(link_path, until):
    follower = LinkFollower(link_path, "test", lambda _: None, lambda: BEGINNING)
    follower.start()
    try:
        assert not follower.there
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as hanging:
            hanging.bind(link_path)
            hanging.listen()
            hanging.settimeout(2.0)
            until(lambda: hanging.accept()[0].close() or follower.there)
        until(lambda: not follower.there)
    finally:
        follower.stop()
