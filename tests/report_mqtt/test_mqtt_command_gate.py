import json
from datetime import UTC, datetime

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.plant.command_definitions import ALWAYS_FROM_MQTT, COMMANDS, NEVER_FROM_MQTT
from halocline.report.mqtt.command_filter import NONCES_KEPT, CommandFilter, Order, Refusal, Sent

NOON_S = 1_790_000_000.0


def at(wall_s):
    return datetime.fromtimestamp(wall_s, UTC).isoformat()


def sent(retained=False, expiry_s=None, **content):
    return Sent(json.dumps(content).encode(), retained, expiry_s)


def silence(sent_s=NOON_S, nonce="n1", **fields):
    return sent(command="silence", nonce=nonce, sent_at=at(sent_s), **fields)


def why(judged):
    assert isinstance(judged, Refusal), judged
    return judged.why


def test_a_fresh_command_passes_with_its_arguments_and_sender():
    gate = CommandFilter()
    order = gate.judge(
        sent(command="acknowledge", alarm="bilge_wet", nonce="n1", sent_at=at(NOON_S), who="Ana"), NOON_S + 3
    )
    assert order == Order("acknowledge", "n1", "Ana", {"alarm": "bilge_wet"})
    assert gate.dropped == {}


@pytest.mark.parametrize("command", COMMANDS)
def test_only_the_harmless_commands_pass_by_themselves(command):
    judged = CommandFilter().judge(sent(command=command, nonce="n1", sent_at=at(NOON_S)), NOON_S)
    assert isinstance(judged, Order) == (command in {"stop", "silence", "acknowledge"})


@pytest.mark.parametrize("command", sorted(NEVER_FROM_MQTT))
def test_some_commands_never_pass_whatever_the_owner_writes(command):
    judged = CommandFilter(COMMANDS).judge(sent(command=command, nonce="n1", sent_at=at(NOON_S)), NOON_S)
    assert why(judged) == "not_allowed"
    assert command not in ALWAYS_FROM_MQTT


def test_the_owner_may_add_a_command():
    flush = sent(command="flush", litres=8, nonce="n1", sent_at=at(NOON_S))
    assert why(CommandFilter().judge(flush, NOON_S)) == "not_allowed"
    assert CommandFilter(["flush"]).judge(flush, NOON_S) == Order("flush", "n1", "mqtt", {"litres": 8})


def test_the_same_nonce_passes_once():
    gate = CommandFilter()
    assert isinstance(gate.judge(silence(), NOON_S), Order)
    assert gate.judge(silence(), NOON_S) == Refusal("repeated", "silence", "n1")
    assert isinstance(gate.judge(silence(nonce="n2"), NOON_S), Order)


def test_a_stop_passes_as_often_as_it_comes():
    gate = CommandFilter()
    again = sent(command="stop", nonce="n1")
    assert all(isinstance(gate.judge(again, NOON_S), Order) for _ in range(3))
    assert not gate.dropped


def test_an_order_that_found_no_place_may_come_again():
    gate = CommandFilter()
    assert gate.flooded(gate.judge(silence(), NOON_S)) == Refusal("flooded", "silence", "n1")
    assert isinstance(gate.judge(silence(), NOON_S), Order)
    assert gate.dropped == {"flooded": 1}


def test_nonces_kept_are_bounded():
    gate = CommandFilter()
    for number in range(NONCES_KEPT + 1):
        gate.judge(silence(nonce=f"n{number}"), NOON_S)
    assert why(gate.judge(silence(nonce="n1"), NOON_S)) == "repeated"
    assert isinstance(gate.judge(silence(nonce="n0"), NOON_S), Order)


@pytest.mark.parametrize(("age_s", "passes"), [(-11, False), (-10, True), (0, True), (10, True), (10.1, False)])
def test_ten_seconds_off_the_clock_is_stale(age_s, passes):
    assert isinstance(CommandFilter().judge(silence(NOON_S - age_s), NOON_S), Order) == passes


def test_a_stop_with_an_old_time_is_stale_too():
    gate = CommandFilter()
    assert why(gate.judge(sent(command="stop", sent_at=at(NOON_S - 60)), NOON_S)) == "stale"
    assert gate.dropped == {"stale": 1}


@pytest.mark.parametrize("wall_s", [None, NOON_S])
def test_a_bare_stop_passes_with_or_without_a_clock(wall_s):
    assert CommandFilter().judge(sent(command="stop"), wall_s) == Order("stop", None, "mqtt", {})


@pytest.mark.parametrize(("expiry_s", "passes"), [(None, False), (10, True), (11, False)])
def test_without_a_clock_the_expiry_of_the_message_decides(expiry_s, passes):
    judged = CommandFilter().judge(sent(expiry_s=expiry_s, command="silence", nonce="n1", sent_at=at(NOON_S)), None)
    assert isinstance(judged, Order) == passes


def test_a_short_expiry_does_not_excuse_an_old_time():
    judged = CommandFilter().judge(sent(expiry_s=5, command="silence", nonce="n1", sent_at=at(NOON_S - 60)), NOON_S)
    assert why(judged) == "stale"


def test_a_retained_message_is_not_even_read():
    assert CommandFilter().judge(sent(retained=True, command="stop"), NOON_S) == Refusal("retained")


def test_more_than_four_kilobytes_are_not_even_read():
    assert why(CommandFilter().judge(Sent(b" " * 4097), NOON_S)) == "oversized"
    assert why(CommandFilter().judge(Sent(b" " * 4096), NOON_S)) == "malformed"


@pytest.mark.parametrize(
    "payload",
    [
        b"",
        b"null",
        b"\xff",
        b"[" * 4096,
        b'["stop"]',
        b'{"command":"explode","nonce":"n1"}',
        b'{"command":null}',
        b'{"command":"silence"}',
        b'{"command":"silence","nonce":""}',
        b'{"command":"silence","nonce":7}',
        b'{"command":"stop","nonce":"a b"}',
        b'{"command":"stop","sent_at":"yesterday"}',
        b'{"command":"stop","sent_at":1790000000}',
        b'{"command":"stop","sent_at":"2026-09-21T12:00:00"}',
        b'{"command":"stop","who":["Ana"]}',
        b'{"command":"stop","who":"\\u0007"}',
        b'{"command":"stop","litres":NaN}',
        b'{"command":"stop","litres":-Infinity}',
        b'{"command":"stop","litres":1e999}',
        b'{"command":"stop","litres":99999999999999999999}',
        b'{"command":"stop","alarm":{"a":1}}',
        b'{"command":"stop","Litres":1}',
        b'{"command":"stop","__class__":1}',
    ],
)
def test_what_is_not_such_json_is_malformed(payload):
    gate = CommandFilter()
    assert why(gate.judge(Sent(payload), NOON_S)) == "malformed"
    assert gate.dropped == {"malformed": 1}


def test_id_and_origin_cannot_be_chosen_by_the_sender():
    order = CommandFilter().judge(sent(command="stop", id="c1", origin="plant"), NOON_S)
    assert order == Order("stop", None, "mqtt", {})


@given(st.binary(max_size=200))
def test_bytes_at_random_raise_nothing(payload):
    assert isinstance(CommandFilter().judge(Sent(payload), NOON_S), Refusal | Order)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


@given(
    st.dictionaries(st.sampled_from(["command", "nonce", "sent_at", "who", "litres", "origin", "x"]), JSON, max_size=7),
    st.sampled_from(list(COMMANDS)),
    st.sampled_from([None, 0.0, NOON_S]),
)
def test_whatever_passes_is_allowed_and_flat(content, command, wall_s):
    judged = CommandFilter(COMMANDS).judge(sent(**{**content, "command": command}), wall_s)
    if isinstance(judged, Order):
        assert judged.command not in NEVER_FROM_MQTT
        assert not {"command", "origin", "id", "who"} & judged.arguments.keys()
        assert all(isinstance(value, str | int | float | bool | None) for value in judged.arguments.values())


def test_what_passes_is_as_the_schema_says_and_the_other_way_round(aboard):
    validator = jsonschema.Draft202012Validator(aboard.schema("command"))
    for content in (
        {"command": "stop"},
        {"command": "silence", "nonce": "n1", "sent_at": at(NOON_S)},
        {"command": "silence"},
        {"command": "start", "nonce": "n1", "sent_at": at(NOON_S)},
        {"command": "acknowledge", "nonce": "n 1", "sent_at": at(NOON_S)},
        {"command": "acknowledge", "nonce": "n1", "alarm": ["bilge_wet"], "sent_at": at(NOON_S)},
    ):
        judged = CommandFilter(COMMANDS).judge(sent(**content), NOON_S)
        assert validator.is_valid(content) == isinstance(judged, Order), content
