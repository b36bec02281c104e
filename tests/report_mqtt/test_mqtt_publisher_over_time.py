import queue
import tracemalloc
from itertools import pairwise

import pytest

from halocline.link.messages import LinkLostError
from halocline.plant.settings import MqttSettings, UnitSettings
from halocline.report.mqtt.connection import Confirmed, Down, Heard, Up
from halocline.report.mqtt.courier import ORDERS_WAITING, Courier
from halocline.report.mqtt.gate import Order, Sent
from halocline.report.mqtt.publisher import Publisher


class Line:
    """A connection that does what the test says."""

    def __init__(self, account, subscriptions):
        self.account = account
        self.subscriptions = subscriptions
        self.news = queue.SimpleQueue()
        self.overflowed = 0
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

    def abandon(self):
        self.abandoned = True


class Bench:
    """A publisher turned by hand on a clock of the test's own."""

    def __init__(self, **settings):
        self.now_s = 1000.0
        self.lines = []
        self.publisher = Publisher(
            MqttSettings(enabled=True, **settings),
            "Cagarra",
            send_command=lambda message: {"accepted": True, "reasons": []},
            password="salt",
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
    assert bench.line.subscriptions == ("halocline/cagarra/status", "halocline/cagarra/alarm/+")
    other = Bench(accept_commands=True)
    other.turn()
    assert other.line.subscriptions[-1] == "halocline/cagarra/command"


def test_tries_come_ever_later_up_to_two_minutes(bench):
    tries = []
    bench.turn()
    while len(tries) < 12:
        tries.append(bench.now_s)
        before = len(bench.lines)
        bench.line.news.put(Down("no connection"))
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
        bench.line.news.put(Down("gone"))
        before = len(bench.lines)
        bench.turn(2.0, 1.0)
        if bench.now_s > 1000 + 600:
            break
        assert len(bench.lines) - before <= 1
    assert len(bench.lines) < 25


def test_after_a_connection_that_stood_the_first_try_is_soon(bench):
    for _ in range(4):
        bench.turn(20.0)
        bench.line.news.put(Down("no connection"))
        bench.turn()
    bench.turn(20.0)
    bench.let_in()
    bench.turn(30.0)
    bench.line.news.put(Down("gone"))
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
    assert "no longer confirms anything" in bench.publisher.health().problem
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
                bench.line.news.put(Down("no connection"))
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
    assert "halocline/cagarra/# has to be writable for this user" in caplog.text


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


def carried(send, orders):
    """What a courier makes of the orders offered before it starts."""
    answers = queue.SimpleQueue()
    courier = Courier(send, lambda *answer: answers.put(answer), UnitSettings(), spacing_s=0.0)
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
