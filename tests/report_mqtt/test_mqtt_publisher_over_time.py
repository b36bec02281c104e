import json
import queue
import tracemalloc
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.link.messages import LinkLostError
from halocline.plant.settings import MqttSettings, UnitSettings
from halocline.report.mqtt.command_filter import Order, Sent
from halocline.report.mqtt.command_queue import ORDERS_WAITING, CommandQueue
from halocline.report.mqtt.connection import Confirmed, Down, Heard, Up
from halocline.report.mqtt.echo import DEAF_AFTER_S, EVERY_S, HEARD_WITHIN_S
from halocline.report.mqtt.failures import NO_REPLY, Failure
from halocline.report.mqtt.outbox import OLD_AFTER_S
from halocline.report.mqtt.publisher import Publisher


class Line:
    """A connection that does what the test says."""

    def __init__(self, account, subscriptions):
        self.account = account
        self.subscriptions = subscriptions
        self.news = queue.SimpleQueue()
        self.overflowed = 0
        self.crowded = False
        self.window = 20
        self.hearing = True
        self.ended = False
        self.abandoned = False
        self.published = []
        self.confirming = True

    def start(self):
        pass

    def publish(self, topic, payload, *, retain):
        self.published.append((topic, payload))
        mid = len(self.published)
        if self.confirming:
            self.news.put(Confirmed(mid, None))
        return mid

    def murmur(self, topic, payload, lives_s):
        if self.hearing:
            self.news.put(Heard(topic, Sent(payload)))

    def abandon(self):
        self.abandoned = True


class Bench:
    """A publisher turned by hand on a clock of the test's own."""

    def __init__(self, *, on_forecast=None, **settings):
        self.now_s = 1000.0
        self.lines = []
        self.publisher = Publisher(
            MqttSettings(enabled=True, **settings),
            "Cagarra",
            send_command=lambda message: {"accepted": True, "reasons": []},
            password="salt",
            on_forecast=on_forecast,
            clock=lambda: self.now_s,
            connect=self._connect,
        )

    def _connect(self, account, subscriptions):
        self.lines.append(Line(account, subscriptions))
        return self.lines[-1]

    @property
    def line(self):
        return self.lines[-1]

    def turn(self, seconds=0.0, step_s=0.2):
        """Turns until `seconds` have passed, at least once."""
        end_s = self.now_s + seconds
        while True:
            for _ in range(self.line.news.qsize() + 1 if self.lines else 1):
                self.publisher.turn(0.0)
            if self.now_s >= end_s:
                return
            self.now_s += step_s

    def let_in(self):
        self.turn()
        self.line.news.put(Up())
        self.turn()


@pytest.fixture
def bench():
    return Bench()


def test_the_account_carries_name_password_and_will():
    bench = Bench(username="halocline", host="broker.local", port=1884)
    bench.turn()
    account = bench.line.account
    assert (account.username, account.password, account.where) == ("halocline", "salt", "broker.local:1884")
    assert account.will_topic == "halocline/cagarra/status"
    assert b'"status":"offline"' in account.will


def test_commands_are_listened_to_only_if_the_owner_wants_it(bench):
    bench.turn()
    assert [each.topic for each in bench.line.subscriptions] == [
        "halocline/cagarra/status",
        "halocline/cagarra/alarm/+",
    ]
    other = Bench(accept_commands=True)
    other.turn()
    assert other.line.subscriptions[-1] == ("halocline/cagarra/command", True, "command")


def test_tries_come_ever_later_up_to_two_minutes(bench):
    tries = []
    bench.turn()
    while len(tries) < 12:
        tries.append(bench.now_s)
        before = len(bench.lines)
        bench.line.news.put(Down(NO_REPLY))
        while len(bench.lines) == before:
            bench.turn(0.5, 0.5)
    gaps = [round(later - earlier) for earlier, later in pairwise(tries)]
    assert gaps == [1, 2, 4, 8, 16, 32, 64, 120, 120, 120, 120]
    assert all(line.abandoned for line in bench.lines[:-1])


def test_a_broker_that_comes_and_goes_is_not_hammered(bench):
    bench.turn()
    for _ in range(300):
        bench.let_in()
        bench.turn(1.0)
        bench.line.news.put(Down(Failure("gone")))
        before = len(bench.lines)
        bench.turn(2.0, 1.0)
        if bench.now_s > 1000 + 600:
            break
        assert len(bench.lines) - before <= 1
    assert len(bench.lines) < 25


def test_after_a_connection_that_stood_the_first_try_is_soon(bench):
    for _ in range(4):
        bench.turn(20.0)
        bench.line.news.put(Down(NO_REPLY))
        bench.turn()
    bench.turn(20.0)
    bench.let_in()
    bench.turn(30.0)
    bench.line.news.put(Down(Failure("gone")))
    bench.turn()
    assert "Next try in 1 s." in bench.publisher.health().problem


def test_a_dead_network_thread_is_noticed(bench):
    bench.let_in()
    bench.line.ended = True
    bench.turn()
    assert bench.lines[0].abandoned
    assert "the network thread has ended" in bench.publisher.health().problem
    bench.turn(1.2)
    assert len(bench.lines) == 2


def test_a_broker_that_confirms_nothing_is_given_up_after_one_keepalive(bench):
    bench.let_in()
    bench.line.confirming = False
    bench.turn(5.2)
    assert bench.publisher.health().connected
    bench.turn(15.2)
    assert not bench.publisher.health().connected
    assert "has not confirmed what was published; it has stalled" in bench.publisher.health().problem
    assert len(bench.lines[0].published) < 10


def test_a_broker_that_never_lets_us_in_is_given_up(bench):
    bench.turn(19.0)
    assert not bench.line.abandoned
    bench.turn(1.6)
    assert bench.lines[0].abandoned


def test_a_day_without_a_broker_takes_no_more_memory_than_its_first_hour(bench, aboard):
    shown = aboard.public()

    def hours(count, seq):
        for minute in range(count * 60):
            bench.publisher.take_snapshot(shown)
            for number in range(2):
                bench.publisher.take_event("b1", aboard.event(seq + minute * 2 + number))
            if bench.lines:
                bench.line.news.put(Down(NO_REPLY))
            bench.turn(60.0, 60.0)
            del bench.lines[:-1]

    hours(10, 0)
    tracemalloc.start()
    try:
        hours(24, 2000)
        grown_bytes, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert grown_bytes < 2_000_000
    health = bench.publisher.health()
    assert (health.events_waiting, health.connected) == (1000, False)
    assert health.events_dropped == 34 * 120 - 1000


def test_a_refused_publication_is_counted_and_said(bench, caplog):
    bench.let_in()
    bench.line.confirming = False
    bench.publisher.take_event("b1", {"seq": 1, "kind": "log"})
    bench.turn(1.0)
    bench.line.news.put(Confirmed(len(bench.line.published), "Not authorized"))
    bench.turn()
    assert bench.publisher.health().publications_refused == 1
    assert "under halocline/cagarra/# (Not authorized)" in caplog.text


def test_messages_that_could_not_be_looked_at_are_counted(bench):
    bench.let_in()
    bench.line.overflowed = 7
    bench.turn()
    assert bench.publisher.health().commands_dropped == {"flooded": 7}


def test_a_flood_of_commands_is_refused_beyond_what_may_wait():
    bench = Bench(accept_commands=True)
    bench.let_in()
    for number in range(30):
        payload = f'{{"command":"silence","nonce":"n{number}"}}'.encode()
        bench.line.news.put(Heard("halocline/cagarra/command", Sent(payload, expiry_s=10)))
    bench.turn()
    assert bench.publisher.health().commands_dropped == {"flooded": 30 - ORDERS_WAITING}
    assert any(topic.endswith("/answer") and b"Send it again" in payload for topic, payload in bench.line.published)


def test_a_command_that_comes_again_is_carried_out_once_and_answered_each_time():
    bench = Bench(accept_commands=True)
    bench.let_in()
    again = Heard("halocline/cagarra/command", Sent(b'{"command":"start","nonce":"n1"}', expiry_s=10))
    for _ in range(3):
        bench.line.news.put(again)
        bench.turn(0.2)
    answers = [payload for topic, payload in bench.line.published if topic.endswith("/answer")]
    assert len(answers) == 3
    assert len(set(answers)) == 1
    assert bench.publisher.health().commands_dropped == {"not_allowed": 1, "repeated": 2}


def carried(send, orders):
    """What a courier makes of the orders offered before it starts."""
    answers = queue.SimpleQueue()
    courier = CommandQueue(send, lambda *answer: answers.put(answer), UnitSettings(), spacing_s=0.0)
    taken = [courier.offer(order) for order in orders]
    courier.start()
    got = [answers.get(timeout=5) for _ in range(sum(taken) - max(0, [o.command for o in orders].count("stop") - 1))]
    courier.stop()
    return taken, got


def test_a_stop_overtakes_whatever_waits_and_is_taken_when_nothing_else_is():
    sent = []
    orders = [Order("silence", f"n{number}", "Ana", {}) for number in range(ORDERS_WAITING + 1)]
    taken, _ = carried(
        lambda message: sent.append(message["command"]) or {"accepted": True},
        [*orders, Order("stop", None, "Ana", {}), Order("stop", None, "Rui", {})],
    )
    assert taken == [True] * ORDERS_WAITING + [False, True, True]
    assert sent == ["stop"] + ["silence"] * ORDERS_WAITING


@pytest.mark.parametrize("error", [LinkLostError("no link"), ValueError("odd")])
def test_without_control_the_answer_says_so(error):
    def fail(message):
        raise error

    _, ((_, accepted, reasons),) = carried(fail, [Order("silence", "n1", "Ana", {})])
    assert not accepted
    assert reasons[0]["id"] == "link_lost"
    assert reasons[0]["text"].startswith("The control process cannot be reached")


def test_an_answer_that_is_not_a_clear_yes_is_a_no():
    _, ((_, accepted, _),) = carried(lambda message: {"accepted": "yes"}, [Order("silence", "n1", "Ana", {})])
    assert not accepted


def said(line):
    """The word of each status published over this line."""
    return [json.loads(payload)["status"] for topic, payload in line.published if topic.endswith("/status")]


@pytest.fixture
def listening(aboard):
    """Takes commands, and shows a live plant four times a second."""
    bench = Bench(accept_commands=True)
    bench.publisher._snapshots = aboard.public
    return bench


def test_online_is_said_only_after_an_echo_was_heard(listening):
    listening.turn()
    listening.line.hearing = False
    listening.let_in()
    listening.turn(4.0)
    assert set(said(listening.line)) == {"offline"}
    listening.line.hearing = True
    listening.turn(EVERY_S + HEARD_WITHIN_S)
    assert said(listening.line)[-1] == "online"
    assert listening.publisher.health().problem is None


def test_without_commands_nothing_is_said_to_oneself(aboard):
    bench = Bench()
    bench.publisher._snapshots = aboard.public
    bench.turn()
    bench.line.hearing = False
    bench.let_in()
    bench.turn(60.0)
    assert set(said(bench.line)) == {"online"}
    assert len(bench.lines) == 1


def test_deafness_is_told_within_its_time_and_the_connection_left(listening):
    listening.let_in()
    listening.turn(30.0)
    assert said(listening.line)[-1] == "online"
    line, line.hearing = listening.line, False
    listening.turn(HEARD_WITHIN_S + 0.4)
    assert said(line)[-1] == "offline"
    assert not listening.publisher.health().hearing
    listening.turn(DEAF_AFTER_S - HEARD_WITHIN_S)
    assert line.abandoned
    listening.turn(1.4)
    assert len(listening.lines) == 2


def test_a_deafness_that_no_new_connection_heals_costs_the_telemetry_little(listening):
    listening.turn()
    began_s, away_s = listening.now_s, 0.0
    while listening.now_s < began_s + 3600.0:
        listening.line.hearing = False
        if listening.line.abandoned:
            away_s += 0.2
        elif not listening.publisher.health().connected:
            listening.line.news.put(Up())
        listening.turn(0.2)
    assert away_s < 60.0
    assert 5 < len(listening.lines) < 40
    assert not any("online" in said(line) for line in listening.lines)


def test_a_flood_is_doubt_at_once_and_until_it_is_over(listening):
    listening.let_in()
    listening.turn(10.0)
    for _ in range(4):
        assert said(listening.line)[-1] in {"online", "offline"}
        listening.line.crowded = True
        listening.turn(0.2)
        assert said(listening.line)[-1] == "offline"
        listening.turn(3.0)
        assert said(listening.line)[-1] == "offline"
    assert "Repeat a stop until it is answered" in listening.publisher.health().problem
    listening.turn(HEARD_WITHIN_S)
    assert said(listening.line)[-1] == "online"
    assert listening.publisher.health().problem is None
    assert len(listening.lines) == 1


@pytest.mark.parametrize("accepting", [False, True])
def test_a_confirmation_that_was_dropped_is_noticed_and_the_connection_left(accepting, aboard):
    bench = Bench(accept_commands=accepting)
    bench.publisher._snapshots = aboard.public
    bench.let_in()
    bench.turn(30.0)
    line, line.confirming = bench.line, False
    before = len(line.published)
    while len(line.published) == before:
        bench.turn(0.2)
    line.confirming = True
    assert said(line)[-1] == "online"
    bench.turn(OLD_AFTER_S + 0.4)
    assert said(line)[-1] == "offline"
    assert "more than 5 s ago" in bench.publisher.health().problem
    bench.turn(line.account.keepalive_s - OLD_AFTER_S)
    assert line.abandoned
    bench.turn(1.4)
    assert len(bench.lines) == 2


@given(st.lists(st.tuples(st.booleans(), st.integers(1, 60)), min_size=1, max_size=12))
def test_online_stands_nowhere_longer_than_five_seconds_after_the_last_word_that_came_back(spells):
    """Spells of hearing and of deafness, in fifths of a second: the word at the broker is judged at each."""
    bench = Bench(accept_commands=True)
    shown = {"link": {"control": "live"}, "boot": "b1", "time": None}
    bench.publisher._snapshots = lambda: shown
    bench.let_in()
    heard_s = bench.now_s
    for hears, fifths in spells:
        for _ in range(fifths):
            if bench.line.abandoned:
                bench.turn(1.4)
            if not bench.publisher.health().connected:
                bench.line.news.put(Up())
            bench.line.hearing = hears
            bench.turn(0.2)
            heard_s = bench.now_s if hears else heard_s
            words = said(bench.line)
            if words and words[-1] == "online" and not bench.line.abandoned:
                assert bench.now_s - heard_s <= HEARD_WITHIN_S + 0.4


def test_at_most_so_many_are_on_their_way_as_the_broker_allows(bench, aboard):
    bench.turn()
    bench.line.window = 3
    bench.line.confirming = False
    for seq in range(30):
        bench.publisher.take_event("b1", aboard.event(seq))
    bench.publisher.take_snapshot(aboard.public())
    bench.let_in()
    bench.turn(2.0)
    assert len(bench.line.published) == 3
    assert bench.line.published[0][0].endswith("/status")


def test_an_error_at_every_turn_leaves_the_broker_to_say_offline(listening, monkeypatch):
    monkeypatch.setattr("halocline.report.mqtt.publisher.BACKOFF_FIRST_S", 0.0)
    listening.let_in()

    def fail():
        listening.publisher._ending.set()
        raise RuntimeError("not foreseen")

    listening.publisher._snapshots = fail
    listening.now_s += 1.0
    listening.publisher._run()
    assert listening.line.abandoned


def test_a_forecast_is_listened_to_only_if_the_owner_wants_it_and_handed_on_as_it_came():
    brought = []
    for wanted in (False, True):
        bench = Bench(accept_forecast=wanted, on_forecast=brought.append)
        bench.let_in()
        topic = "halocline/cagarra/forecast"
        assert (topic in [each.topic for each in bench.line.subscriptions]) == wanted
        bench.line.news.put(Heard(topic, Sent(b'{"from": "2026-07-01T12:00:00Z"}', retained=True)))
        bench.line.news.put(Heard(topic, Sent(b"")))
        bench.turn()
    assert brought == [b'{"from": "2026-07-01T12:00:00Z"}']
