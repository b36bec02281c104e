"""`status` says online only while a stop that is published would arrive, whatever a peer or the broker does."""

import time
from itertools import count

import pytest

from halocline.report.mqtt.echo import DEAF_AFTER_S, HEARD_WITHIN_S

pytestmark = pytest.mark.system

NOTICED_S = HEARD_WITHIN_S + 2.0
"""The promise, and two turns of a busy computer."""
HEALED_S = DEAF_AFTER_S + 10.0
"""Given up, one second until the next try, let in."""

REPEATED_S = 2.0
"""How long a hand waits for the answer before it publishes its stop again."""
ANSWERED_S = 20.0
RENEWED_S = 15.0 + HEALED_S
"""After `keepalive_s`, if the broker has dropped confirmations too."""

numbers = count()


def online(payload):
    return payload["status"] == "online"


def offline(payload):
    return payload["status"] == "offline"


def stop_arrives(control, listener, until, timeout_s=5.0):
    """A stop is published; whether control got it."""
    name = f"hand {next(numbers)}"
    listener.say({"command": "stop", "who": name})
    until(lambda: any(command["who"] == name for command in list(control.commands)), timeout_s)
    return True


@pytest.mark.parametrize("qos", [0, 1, 2])
@pytest.mark.parametrize("topic", ["command", "status", "alarm/mine"])
def test_messages_that_are_too_large_cost_nothing(publish, listen, control, until, topic, qos):
    publisher = publish(accept_commands=True)
    listener = listen()
    listener.wait_for("status", online)
    for _ in range(60):
        listener.send(b"x" * 17_000, topic=topic, qos=qos)
    assert stop_arrives(control, listener, until)
    assert publisher.health().connections == 1
    assert publisher.health().hearing


def test_a_broker_that_delivers_nothing_is_noticed_and_left(publish, listen, control, until, wire):
    publisher = publish(accept_commands=True, port=wire.port)
    listener = listen()
    listener.wait_for("status", online)
    listener.forget()
    wire.deaf = True
    began_s = time.monotonic()
    listener.wait_for("status", offline, NOTICED_S + 5.0)
    assert not publisher.health().hearing
    assert "do not come back" in publisher.health().problem
    until(lambda: publisher.health().connections == 2, HEALED_S)
    assert time.monotonic() - began_s >= HEARD_WITHIN_S - 2.5
    wire.deaf = False
    listener.forget()
    listener.wait_for("status", online, HEALED_S + DEAF_AFTER_S)
    assert stop_arrives(control, listener, until)


RULES = {
    "what is published under command": ["topic readwrite halocline/#", "topic deny halocline/cagarra/command"],
    "everything": ["topic write halocline/#"],
}


@pytest.mark.parametrize("kept", RULES)
def test_access_rules_that_keep_commands_back(publish, broker, listen, control, until, tmp_path, kept):
    rules = tmp_path / "rules"
    cockpit = ["user cockpit", "topic readwrite halocline/#"]
    rules.write_text("\n".join([*cockpit, "user plant", *RULES[kept], ""]))
    broker.start_anew("user root", f"acl_file {rules}")  # else it gives up the right to read a test's folder
    publisher = publish(accept_commands=True, username="plant")
    listener = listen(user="cockpit")
    listener.wait_for("now")
    why = "halocline/cagarra/command has to be readable and writable"
    until(lambda: why in (publisher.health().problem or ""), NOTICED_S + 5.0)
    assert not any(online(status) for status in listener.payloads("status"))
    listener.forget()
    listener.wait_for("now")
    rules.write_text("\n".join([*cockpit, "user plant", "topic readwrite halocline/#", ""]))
    broker.read_rules_again()
    listener.wait_for("status", online, HEALED_S)
    assert stop_arrives(control, listener, until)


def test_a_stalled_broker_has_nobody_online(publish, broker, listen, control, until):
    publisher = publish(accept_commands=True)
    listener = listen()
    listener.wait_for("status", online)
    broker.stall()
    until(lambda: not publisher.health().hearing, NOTICED_S + 5.0)
    broker.go_on()
    listener.forget()
    until(lambda: publisher.health().hearing, HEALED_S + 10.0)
    listener.wait_for("status", online)
    assert stop_arrives(control, listener, until)


@pytest.mark.parametrize(
    "limit",
    [
        "max_inflight_messages 1",
        "max_queued_messages 1",
        "max_packet_size 700",
        "max_inflight_bytes 1000",
        "max_queued_bytes 1000",
    ],
)
def test_a_broker_with_narrow_limits_is_lived_with(publish, broker, listen, control, until, aboard, limit):
    broker.start_anew(limit)
    publisher = publish(aboard.public(alarms=[aboard.low_feed()]), accept_commands=True)
    listener = listen()
    listener.wait_for("status", online)
    for number in range(30):
        publisher.take_event("b1", aboard.event(number))
    for _ in range(30):
        listener.say(b"x" * 390)
    assert stop_arrives(control, listener, until)
    until(lambda: publisher.health().events_waiting == 0, 30.0)
    assert publisher.health().connections == 1
    assert publisher.health().hearing


def test_a_broker_that_ends_the_connection_over_a_message_is_never_online_and_the_log_says_why(
    publish, broker, listen, until
):
    broker.start_anew("message_size_limit 400")
    publisher = publish(accept_commands=True)
    listener = listen()
    until(lambda: "does the broker limit the size of a message?" in (publisher.health().problem or ""))
    assert "halocline/cagarra/now was on its way" in publisher.health().problem
    listener.wait_for("status", offline)
    assert not any(online(status) for status in listener.payloads("status"))


@pytest.mark.parametrize("where", ["snapshots", "gate", "callback"])
def test_an_error_of_our_own_ends_with_offline(publish, listen, control, until, monkeypatch, where):
    publisher = publish(accept_commands=True)
    listener = listen()
    listener.wait_for("status", online)

    def fail(*_arguments, **_more):
        raise RuntimeError("not foreseen")

    broken = {
        "snapshots": (publisher, "_snapshots"),
        "gate": (publisher, "_take"),
        "callback": (publisher._connection, "_on_message"),
    }
    owner, name = broken[where]
    if where == "callback":
        monkeypatch.setattr(owner._client, "on_message", fail)
    else:
        monkeypatch.setattr(owner, name, fail)
    listener.forget()
    listener.wait_for("status", offline, NOTICED_S + 5.0)
    monkeypatch.undo()
    listener.forget()
    listener.wait_for("status", online, HEALED_S + 5.0)
    assert stop_arrives(control, listener, until)


FLOODS = [
    (topic, size, qos, retain)
    for topic in ("command", "status", "alarm/mine")
    for size in (0, 100, 4_000, 17_000)
    for qos, retain in ((0, False), (1, False), (2, True))
]


def test_a_stop_is_heard_through_any_flood(publish, listen, control, until):
    """One flood after the other, a stop in the midst of each; none costs the connection."""
    publisher = publish(accept_commands=True)
    listener = listen()
    listener.wait_for("status", online)
    for number, (topic, size, qos, retain) in enumerate(FLOODS):
        hostile = listen()
        where = f"alarm/mine{number}" if topic.startswith("alarm") else topic
        for _ in range(400):
            hostile.send(b"x" * size, topic=where, qos=qos, retain=retain)
        assert stop_arrives(control, listener, until, 20.0), (topic, size, qos, retain)
        if retain:
            hostile.say(b"", topic=where, retain=True)
        hostile.close()
    assert publisher.health().connections == 1
    until(lambda: publisher.health().hearing)


@pytest.mark.parametrize("limit", ["max_queued_messages 100", "max_queued_messages 1000"])  # mosquitto 1 and 2
def test_a_stop_that_the_broker_drops_in_a_flood_is_never_lost_under_online(publish, broker, listen, until, limit):
    """A broker confirms a stop to who publishes it and then drops it, for its queue for the plant is full. While that
    happens it says offline, and a hand that repeats its stop until it is answered gets its answer."""
    broker.start_anew(limit)
    publisher = publish(accept_commands=True)
    hand, hostile = listen(topics=("status", "answer")), listen(topics=("answer",))
    for _ in range(2):
        until(lambda: publisher.health().hearing and publisher.health().problem is None, RENEWED_S)
        hand.wait_for("status", online, RENEWED_S)
        hand.forget()
        for _ in range(3000):
            hostile.send(b"x" * 4_000, qos=0)
        hostile.say(b"x")
        began_s, answered = time.monotonic(), False
        while not answered:
            nonce = f"again-{next(numbers)}"
            hand.say({"command": "stop", "nonce": nonce})
            repeat_s = time.monotonic() + REPEATED_S
            while not answered and time.monotonic() < repeat_s:
                time.sleep(0.02)
                answered = any(answer["nonce"] == nonce for answer in hand.payloads("answer"))
            assert time.monotonic() - began_s < ANSWERED_S
            if not answered:
                hand.wait_for("status", offline, NOTICED_S - REPEATED_S)
                assert offline(hand.payloads("status")[-1])
        hand.forget()


def test_a_confirmation_that_the_broker_drops_is_made_good(publish, listen, until, wire):
    publisher = publish(port=wire.port, keepalive_s=10.0)
    listener = listen()
    listener.wait_for("status", online)
    listener.forget()
    wire.loses = 1
    listener.wait_for("status", offline, NOTICED_S + 5.0)
    assert publisher.health().connections == 1
    listener.forget()
    listener.wait_for("status", online, HEALED_S)
    assert publisher.health().connections == 2
    listener.wait_for("now")
