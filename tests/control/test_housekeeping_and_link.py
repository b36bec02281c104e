"""Housekeeping: latch file, link and ring around queues, with a real socket in a temporary folder."""

import queue
import threading
import time
from contextlib import contextmanager
from dataclasses import replace
from datetime import date

import pytest
from hand_driven_plant import Plant

from halocline.control.calibration import calibration_store as calibration_file
from halocline.control.exchange import News, World
from halocline.control.housekeeping import CLOCK_SET_AFTER_S, Housekeeping, Identity, host_boot, new_boot, wall_clock_s
from halocline.control.inputs import Command, Reason
from halocline.control.retained import retained_state as retained_file
from halocline.control.retained.retained_state import Lock, Moment, RetainedState
from halocline.link.client import LinkClient, Position
from halocline.plant.vocabulary import Origin


class Office:
    """Housekeeping, its queues, and a client that talks while housekeeping is polled."""

    def __init__(self, folder, **more):
        self.socket = folder / "link.sock"
        self.latch_path = folder / "state" / "latch"
        self.latch_path.parent.mkdir(exist_ok=True)
        self.world = World()
        self.commands = queue.SimpleQueue()
        self.news = queue.Queue()
        self.housekeeping = Housekeeping(
            Identity("boot1", "host1", True, "0.1.0", 0.0),
            self.socket,
            self.latch_path,
            self.latch_path.with_name("calibrations"),
            self.world,
            self.commands,
            self.news,
            **{"wall_s": lambda: 1.8e9, **more},
        )

    def say(self, news):
        self.news.put(news)
        self.housekeeping.poll()

    @contextmanager
    def client(self, start=None):
        polling = threading.Event()
        thread = threading.Thread(target=self._poll, args=(polling,))
        thread.start()
        try:
            with LinkClient(str(self.socket), "test", start) as client:
                yield client
        finally:
            polling.set()
            thread.join()

    def _poll(self, polling):
        while not polling.is_set():
            self.housekeeping.poll()


@pytest.fixture
def office(tmp_path):
    office = Office(tmp_path)
    yield office
    office.housekeeping.close()


def answering(office, accepted, *reasons):
    """A loop that answers the next command it gets."""

    def answer():
        command = office.commands.get(timeout=5)
        office.news.put(News(1.0, answers=[(command.token, accepted, list(reasons))]))
        office.asked = command

    thread = threading.Thread(target=answer)
    thread.start()
    return thread


def test_a_client_is_told_who_control_is(office):
    with office.client() as client:
        hello = client.hello
    assert (hello["boot"], hello["host_boot"], hello["simulated"]) == ("boot1", "host1", True)
    assert hello["wall_s"] == 1.8e9


def test_a_command_goes_to_the_loop_with_its_origin_and_comes_back_answered(office):
    thread = answering(office, False, Reason("locked", {"name": "ann", "reason": "filter"}))
    with office.client() as client:
        answer = client.command({"command": "start", "origin": "page", "who": "bob", "litres": 5})
    thread.join()
    assert answer["accepted"] is False
    assert answer["reasons"] == [{"id": "locked", "values": {"name": "ann", "reason": "filter"}}]
    asked = office.asked
    assert (asked.name, asked.origin, asked.who, asked.arguments) == ("start", Origin.PAGE, "bob", {"litres": 5})


def test_nobody_over_the_link_can_say_that_something_is_on_file_or_how_late_it_is(office):
    thread = answering(office, True)
    with office.client() as client:
        client.command(
            {"command": "lay_up", "origin": "cli", "who": "", "persisted": True, "until_s": 5, "until": "soon"}
        )
    thread.join()
    assert office.asked.persisted is False
    assert "until_s" not in office.asked.arguments


def test_the_link_cannot_speak_as_the_plant_itself(office):
    with office.client() as client:
        answer = client.command({"command": "reset", "origin": "plant", "who": "bob"})
    assert [reason["id"] for reason in answer["reasons"]] == ["origin_unknown"]
    assert office.commands.empty()


def test_until_is_told_in_seconds_where_the_clock_is_set(tmp_path):
    office = Office(tmp_path, wall_s=lambda: None)
    thread = answering(office, True)
    with office.client() as client:
        client.command({"command": "start", "origin": "cli", "who": "", "until": "18:30"})
    thread.join()
    office.housekeeping.close()
    assert office.asked.arguments == {"until": "18:30", "until_unknown": True}
    assert office.world.clock_set is False


def test_rows_and_events_are_numbered_together_and_told_again_from_where_a_client_was(office):
    office.say(News(1.0, events=[{"kind": "log", "what": "note"}], row={"state": "standby"}))
    office.say(News(2.0, events=[{"kind": "log", "what": "more"}]))
    with office.client(Position("boot1", 1)) as client:
        seen = [client.receive(2.0) for _ in range(2)]
    assert "row" in seen[0]
    assert seen[0]["row"]["seq"] == 2
    assert seen[1]["event"]["what"] == "more"
    assert seen[1]["event"]["wall_s"] == 1.8e9


def test_a_snapshot_goes_to_everyone_with_its_stamps(office):
    with office.client() as client:
        office.news.put(News(5.0, now={"state": "standby"}))
        now = client.now()
    assert (now["state"], now["boot"], now["mono_s"], now["uptime_s"]) == ("standby", "boot1", 5.0, 5.0)


def test_a_line_that_cannot_be_sent_costs_nothing_but_itself(office):
    office.say(News(1.0, events=[{"kind": "log", "note": float("nan")}, {"kind": "log", "what": "after"}]))
    office.say(News(1.0, now={"too long": "x" * 20000}))
    with office.client(Position("boot1", 0)) as client:
        assert client.receive(2.0)["event"]["what"] == "after"


# ---- the latch file -----------------------------------------------------------------------------------


def test_a_changed_latch_is_written(office):
    office.say(News(1.0, retained=RetainedState(flush_owed=True)))
    on_file = retained_file.read(office.latch_path)
    assert on_file == RetainedState(flush_owed=True, saved=on_file.saved)
    assert (on_file.saved.wall_s, on_file.saved.host_boot) == (1.8e9, "host1")
    assert on_file.saved.mono_s == pytest.approx(time.monotonic(), abs=60)


def test_a_command_that_must_survive_comes_back_only_after_it_is_on_file(office):
    on_file = RetainedState(lock=Lock("ann", "filter"))
    command = Command("service_lock", {}, token="1:a", persisted=True)
    office.say(News(1.0, persist=[(command, on_file)]))
    assert retained_file.read(office.latch_path).lock == Lock("ann", "filter")
    assert office.commands.get_nowait() == command


@pytest.mark.parametrize(("before_s", "after_s"), [(1.8e9, 1.8e9 + 86400), (1.8e9, 1.8e9 - 86400), (None, 1.8e9)])
def test_a_clock_that_is_set_is_no_time_that_the_computer_was_away(tmp_path, before_s, after_s):
    wall = [before_s]
    office = Office(tmp_path, wall_s=lambda: wall[0])
    office.say(News(1.0, retained=RetainedState(motor_hot_ago_s=0.0)))
    assert retained_file.read(office.latch_path).saved.wall_s == before_s
    wall[0] = after_s
    office.housekeeping.poll()
    on_file = retained_file.read(office.latch_path)
    office.housekeeping.close()
    assert on_file.saved.wall_s == pytest.approx(after_s, abs=60)
    assert retained_file.off_s(on_file, Moment(after_s + 300.0)) == pytest.approx(300.0, abs=60)


def test_a_clock_that_goes_on_as_clocks_do_has_nothing_written(office):
    office.say(News(1.0, retained=RetainedState(flush_owed=True)))
    office.latch_path.unlink()
    office.housekeeping.poll()
    assert not office.latch_path.exists()


def test_an_older_latch_of_the_same_moment_does_not_undo_it(office):
    on_file = RetainedState(lock=Lock("ann", "filter"))
    command = Command("service_lock", {}, token="1:a", persisted=True)
    office.say(News(1.0, retained=RetainedState(flush_owed=True), persist=[(command, on_file)]))
    assert retained_file.read(office.latch_path).lock == Lock("ann", "filter")


def unwritable(office):
    for path in office.latch_path.parent.iterdir():
        path.unlink()
    office.latch_path.parent.rmdir()


def test_a_card_that_takes_no_writing_refuses_the_command_and_tells_the_loop(office):
    unwritable(office)
    with office.client() as client:
        client.send({"command": "lay_up", "origin": "cli", "who": "", "id": "c1"})
        token = office.commands.get(timeout=5).token
        asked = Command("lay_up", {}, token=token, persisted=True)
        office.news.put(News(1.0, persist=[(asked, RetainedState(laid_up=True))]))
        assert office.commands.get(timeout=5) == replace(asked, unfiled=True)
    assert office.world.latch_writable is False
    plant = Plant()
    plant.extra["latch_writable"] = office.world.latch_writable
    plant.tick()
    assert plant.refused("start") == ["latch_not_writable"]


def test_once_the_card_takes_writing_again_what_waited_is_written(office, monkeypatch):
    unwritable(office)
    office.say(News(1.0, retained=RetainedState(flush_owed=True)))
    assert office.world.latch_writable is False
    office.latch_path.parent.mkdir()
    monkeypatch.setattr("halocline.control.housekeeping.LATCH_RETRY_S", 0.0)
    office.housekeeping._latch_retry_s = 0.0
    office.housekeeping.poll()
    assert office.world.latch_writable is True
    assert retained_file.read(office.latch_path).flush_owed


def test_what_still_waits_is_written_when_control_ends(tmp_path):
    office = Office(tmp_path)
    office.news.put(News(1.0, retained=RetainedState(run_number=3)))
    office.housekeeping.close()
    assert retained_file.read(office.latch_path).run_number == 3
    assert not office.socket.exists()


# ---- faults of a simulated boat ---------------------------------------------------------------------------


def test_a_fault_is_passed_on_and_its_refusal_is_the_answer(tmp_path):
    office = Office(tmp_path, on_simulate=lambda command: "no such fault" if "x" in command.arguments else None)
    answers = []
    office.housekeeping._server.answer = lambda *args, **more: answers.append(more)
    for arguments in ({}, {"x": 1}):
        command = Command("fault", arguments, token="1:a")
        office.say(News(1.0, simulate=[command], answers=[("1:a", True, [])]))
    office.housekeeping.close()
    assert answers[0] == {"accepted": True, "reasons": [], "told": []}
    assert answers[1]["accepted"] is False
    assert answers[1]["reasons"][0]["values"] == {"text": "no such fault"}


def test_a_fault_that_the_boat_refused_is_on_record_as_refused(tmp_path):
    office = Office(tmp_path, on_simulate=lambda command: "no such fault" if "x" in command.arguments else None)
    ordered = [Command("fault", {"x": 1}), Command("fault", {"y": 1}), Command("fault", {"x": 2})]
    said = [{"kind": "command", "command": "fault", "accepted": True, "reasons": []} for _ in ordered]
    refused_by_control = {"kind": "command", "command": "fault", "accepted": False, "reasons": [{"id": "locked"}]}
    started = {"kind": "command", "command": "start", "accepted": True, "reasons": []}
    office.say(News(1.0, events=[said[0], refused_by_control, said[1], started, said[2]], simulate=ordered))
    with office.client(Position("boot1", 0)) as client:
        told = [client.receive(2.0)["event"] for _ in range(5)]
    office.housekeeping.close()
    assert [event["accepted"] for event in told] == [False, False, True, True, False]
    assert [event["reasons"][:1] for event in told][:2] == [
        [{"id": "fault_refused", "values": {"text": "no such fault"}}],
        [{"id": "locked"}],
    ]


def test_an_answer_to_nobody_is_let_go(office):
    office.say(News(1.0, answers=[("", True, []), ("99:z", True, [])]))


def test_who_this_start_is():
    assert new_boot() != new_boot()
    assert isinstance(host_boot(), str)
    assert wall_clock_s() is None or wall_clock_s() > CLOCK_SET_AFTER_S


# ---- calibrations -------------------------------------------------------------------------------------


def calibrating(office, **arguments):
    """A core beside the office that takes what a client gives; the client's answer."""
    plant = Plant()
    plant.tick()
    asked = {"command": "calibrate", "origin": "cli", "who": "ann", "initials": "MB", **arguments}
    with office.client() as client:
        client.send({**asked, "id": "k1"})
        command = office.commands.get(timeout=5)
        outcome = plant.tick(command)
        office.news.put(News(1.0, persist=outcome.persist, answers=outcome.answers))
        if outcome.persist:
            try:
                outcome = plant.tick(office.commands.get(timeout=0.5))
            except queue.Empty:
                return plant, client._wait_for("answer", 5.0)
            office.news.put(News(1.1, events=outcome.events, answers=outcome.answers))
        return plant, client._wait_for("answer", 5.0)


def test_a_calibration_is_on_file_before_it_is_answered_and_the_answer_says_before_and_after(office):
    plant, answer = calibrating(office, channel="feed_pressure", points=[[0.05, 0.0]])
    assert answer["accepted"] is True
    assert answer["reasons"] == []
    (told,) = answer["told"]
    assert told == {"id": "calibrated", "values": {"channel": "feed_pressure", "before": 0.05, "after": 0.0}}
    on_file = calibration_file.read(office.latch_path.with_name("calibrations"))
    assert on_file == plant.core.plant.calibrating.in_force
    assert on_file.channels["feed_pressure"].date == date.fromtimestamp(1.8e9).isoformat()
    with office.client() as client:
        assert [entry["channel"] for entry in client.hello["calibrations"]] == ["feed_pressure"]


def test_a_calibration_that_cannot_be_written_is_refused_and_changes_nothing(office):
    unwritable(office)
    plant, answer = calibrating(office, channel="feed_pressure", points=[[0.05, 0.0]])
    assert answer["accepted"] is False
    assert [reason["id"] for reason in answer["reasons"]] == ["latch_not_writable"]
    assert plant.core.plant.calibrating.in_force.channels == {}
