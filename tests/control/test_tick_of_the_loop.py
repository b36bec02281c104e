"""One tick as the loop runs it: outputs written again each time, the heartbeat last, and every error made safe."""

import contextlib
import queue
import threading

import pytest
from hand_driven_plant import FULL, Plant, quick_settings

from halocline.control import loop as loop_module
from halocline.control.core import Core
from halocline.control.exchange import News, World
from halocline.control.inputs import Command
from halocline.control.loop import ControlLoop, Tick
from halocline.control.retained.retained_state import Purge, RetainedState, Trip
from halocline_hw import RealClock

SETTINGS = quick_settings(FULL)


class Clock:
    def __init__(self):
        self.now_s = 100.0

    def now(self):
        return self.now_s


class Board:
    """Remembers every level; fails to write what is in `fails`."""

    def __init__(self):
        self.levels = {}
        self.written = []
        self.fails = {}
        self.closed_contacts = dict.fromkeys(SETTINGS.contacts, True)
        self.closed_contacts["diverter_overboard"] = False
        self.volts = 0.6  # 4 mA: no pressure

    def convert(self, address, mux, gain, rate):
        return self.volts

    def write(self, line, on):
        error = self.fails.get((line, on))
        if error is not None:
            raise error
        self.levels[line] = on
        self.written.append((line, on))

    together = staticmethod(contextlib.nullcontext)

    def read(self, line):
        return self.closed_contacts[line]

    def edges(self, line):
        return 0, 0.0


class Rig:
    def __init__(self, retained=None):
        self.clock, self.board, self.world = Clock(), Board(), World()
        self.core = Core(SETTINGS, retained or RetainedState(), self.clock.now())
        self.tick = Tick(SETTINGS, self.board, self.clock, self.core, self.world)

    def run(self, *commands, missed=0):
        self.clock.now_s += 0.05
        for _ in range(4):
            self.tick.scanner.turn()
        return self.tick.run(commands, missed)

    @property
    def beats(self):
        return [on for line, on in self.board.written if line == "heartbeat"]


@pytest.fixture
def rig():
    return Rig()


@pytest.fixture
def pumping(rig, monkeypatch):
    """A rig whose core has been told to switch both pumps on."""
    rig.run()
    real = rig.core.tick

    def tick(inputs, commands=()):
        outcome = real(inputs, commands)
        outcome.outputs = frozenset({"feed_pump", "high_pressure_pump", "heartbeat"})
        return outcome

    monkeypatch.setattr(rig.core, "tick", tick)
    rig.run()
    assert rig.board.levels["high_pressure_pump"] is True
    return rig


def all_off(rig):
    return not any(rig.board.levels.values())


def test_every_output_is_written_again_in_every_tick_and_the_heartbeat_last(rig):
    rig.run()
    rig.board.written.clear()
    rig.run()
    assert [line for line, _ in rig.board.written][-1] == "heartbeat"
    assert sorted(line for line, _ in rig.board.written) == sorted(SETTINGS.outputs)


def test_what_is_to_be_off_is_written_first(pumping):
    pumping.board.written.clear()
    pumping.run()
    levels = [on for line, on in pumping.board.written if line != "heartbeat"]
    assert levels == sorted(levels)


def test_the_heartbeat_has_an_edge_in_every_good_tick(rig):
    for _ in range(6):
        rig.run()
    assert rig.beats == [True, False] * 3


def test_the_heartbeat_stands_still_after_a_trip(rig):
    rig.run()
    rig.board.closed_contacts["stop_button"] = False
    for _ in range(5):
        rig.run()
    assert rig.core.plant.state == "tripped"
    assert not any(rig.beats[-3:])


WHERE = {
    "the measurement": ("measurement", "inputs"),
    "the core": ("core", "tick"),
    "the snapshot": (None, "now_message"),
}


@pytest.mark.parametrize(
    "error", [ValueError("a bug"), ZeroDivisionError(), KeyError("x"), OSError(5, "I/O"), MemoryError()]
)
@pytest.mark.parametrize("where", WHERE)
def test_an_error_anywhere_switches_everything_off_in_the_same_tick_and_is_latched(pumping, monkeypatch, where, error):
    def stumble(*_args, **_kwargs):
        raise error

    attribute, name = WHERE[where]
    owner = loop_module if attribute is None else getattr(pumping.tick, attribute)
    monkeypatch.setattr(owner, name, stumble)
    pumping.tick._now_due_s = 0.0
    beats = len(pumping.beats)
    news = pumping.run()
    assert all_off(pumping)
    assert pumping.core.plant.state == "tripped"
    assert pumping.core.first_out == "control_failed"
    assert news.retained.trips == (Trip("control_failed"),)
    assert news.events[0]["kind"] == "control_failed"
    assert not any(pumping.beats[beats + 1 :])


def test_an_error_that_comes_again_in_every_tick_is_told_once_and_the_heartbeat_stays_off(rig, monkeypatch):
    rig.run()
    monkeypatch.setattr(rig.core, "tick", lambda *_: 1 / 0)
    news = [rig.run() for _ in range(50)]
    assert sum(event["kind"] == "state" for item in news for event in item.events) == 1
    assert sum(event["kind"] == "alarm" for item in news for event in item.events) == 1
    assert not any(rig.beats[1:])


def test_after_an_error_the_trip_goes_on_file_and_waits_for_a_person(rig, monkeypatch):
    rig.run()
    with monkeypatch.context() as patch:
        patch.setattr(rig.core, "tick", lambda *_: 1 / 0)
        rig.run()
    news = [rig.run() for _ in range(5)]
    assert news[0].retained is not None
    assert rig.core.plant.state == "tripped"
    assert {line for line, on in rig.board.levels.items() if on} <= {"buzzer", "beacon"}
    restarted = Rig(news[0].retained)
    restarted.run()
    assert restarted.core.plant.state == "tripped"
    assert restarted.core.first_out == "control_failed"


def test_an_error_in_a_run_ends_its_account_too():
    plant = Plant().brought_to("producing")
    events = plant.core.fail("control_failed", plant.now_s)
    assert [event["kind"] for event in events] == ["state", "run_ended", "alarm"]
    ended = events[1]["run"]
    assert ended["why"]["id"] == ended["first_out"] == "control_failed"
    assert ended["seconds"] > 20
    plant.read("vessel_pressure", 55.0)
    plant.wait(2.5)
    assert plant.on == set()
    plant.wait(1)
    assert plant.on == {"feed_pump"}


def test_an_error_in_a_laid_up_plant_does_not_wake_it():
    plant = Plant().brought_to("laid_up")
    plant.core.fail("control_failed", plant.now_s)
    plant.tick()
    plant.give("acknowledge")
    plant.give("reset")
    assert plant.state == "laid_up"


@pytest.mark.parametrize("on", [True, False])
@pytest.mark.parametrize("line", sorted(SETTINGS.outputs))
def test_an_output_that_cannot_be_written_trips_with_all_the_others_off(rig, line, on, monkeypatch):
    rig.run()
    real = rig.core.tick

    def tick(inputs, commands=()):
        outcome = real(inputs, commands)
        outcome.outputs = frozenset(SETTINGS.outputs) if on else frozenset({"heartbeat", "feed_pump"} - {line})
        return outcome

    rig.board.fails[(line, on)] = OSError(5, "Input/output error")
    monkeypatch.setattr(rig.core, "tick", tick)
    rig.run()
    if line == "heartbeat":
        rig.run()
    assert rig.core.first_out == "control_failed"
    assert {name for name, level in rig.board.levels.items() if level} <= {line}


def test_release_goes_on_past_an_output_that_refuses_in_any_way(pumping):
    pumping.board.fails[("feed_pump", False)] = RuntimeError("the pin is gone")
    pumping.tick.release()
    assert {name for name, level in pumping.board.levels.items() if level} == {"feed_pump"}


def test_news_carries_a_snapshot_four_times_a_second_and_a_row_each_second(rig):
    news = [rig.run() for _ in range(62)]
    assert sum(item.now is not None for item in news) == pytest.approx(12, abs=2)
    assert sum(item.row is not None for item in news) == 3
    assert {"state", "ch", "d", "out", "run"} == set(next(item.row for item in news if item.row))


def test_a_rehearsal_asks_for_no_snapshots():
    clock, board = Clock(), Board()
    core = Core(SETTINGS, RetainedState(), clock.now())
    tick = Tick(SETTINGS, board, clock, core, World(), live=False)
    for _ in range(30):
        clock.now_s += 0.05
        tick.scanner.turn()
        assert tick.run((), 0).now is None


def test_nothing_new_is_no_news():
    assert News(1.0).empty
    assert not News(1.0, retained=RetainedState(purge=Purge("glycol"))).empty


def test_a_contact_that_cannot_be_read_counts_as_active(rig, monkeypatch):
    def broken(_line):
        raise OSError(5, "I/O")

    rig.run()
    monkeypatch.setattr(rig.board, "read", broken)
    for _ in range(3):
        rig.run()
    assert rig.core.plant.state == "tripped"
    assert rig.core.first_out == "stop_button"


def test_pulses_that_cannot_be_read_are_no_flow_reading(rig, monkeypatch):
    rig.run()

    def broken(_line):
        raise OSError(5, "I/O")

    monkeypatch.setattr(rig.board, "edges", broken)
    for _ in range(10):
        rig.run()
    assert rig.core.last.value("product_flow") is None


def test_the_loop_ends_with_every_output_off_and_feeds_the_watchdog_by_good_ticks_only(monkeypatch):
    clock, board, good = RealClock(), Board(), []
    core = Core(SETTINGS, RetainedState(), clock.now())
    tick = Tick(SETTINGS, board, clock, core, World())
    loop = ControlLoop(tick, clock, lambda: good.append(1))
    thread = threading.Thread(target=loop.run)
    thread.start()
    loop.commands.put(Command("log", {"note": "hello"}, token="1:x"))
    answers = []
    while not answers:
        answers = loop.news.get(timeout=5).answers
    monkeypatch.setattr(core, "tick", lambda *_: 1 / 0)
    while not any(e["kind"] == "control_failed" for e in loop.news.get(timeout=5).events):
        pass
    count = len(good)
    loop.stop()
    thread.join(timeout=5)
    assert not thread.is_alive()
    assert answers == [("1:x", True, [])]
    assert count >= 1
    assert len(good) == count
    assert not any(board.levels.values())


def test_news_that_nobody_takes_never_stops_the_loop(rig):
    loop = ControlLoop(rig.tick, rig.clock, lambda: None)
    loop.news = queue.Queue(2)
    for _ in range(40):
        rig.clock.now_s += 0.05
        rig.tick.scanner.turn()
        loop._once(0)
    assert loop.lost_news > 0
