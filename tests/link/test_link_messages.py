import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.link.messages import (
    MAX_LINE_BYTES,
    Lines,
    LinkError,
    check_command,
    check_hello,
    decode,
    encode,
    encode_now,
)

finite = st.floats(allow_nan=False, allow_infinity=False)
whole = st.integers(min_value=-(2**53), max_value=2**53)
text = st.text(st.characters(codec="utf-8"), max_size=20)
values = st.recursive(
    st.none() | st.booleans() | whole | finite | text,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(text, inner, max_size=4),
    max_leaves=12,
)


@given(st.dictionaries(text, finite | whole | text | st.lists(finite, max_size=5), max_size=8))
def test_what_is_encoded_comes_back_the_same(message):
    line = encode(message)
    assert line.endswith(b"\n")
    assert line.count(b"\n") == 1
    assert decode(line[:-1]) == message


@given(st.binary(max_size=300))
def test_any_bytes_are_either_an_object_or_a_link_error(data):
    try:
        message = decode(data)
    except LinkError:
        return
    assert isinstance(message, dict)


@given(values)
def test_any_json_is_either_an_object_that_can_be_sent_on_or_a_link_error(value):
    try:
        message = decode(json.dumps(value).encode())
    except LinkError:
        return
    assert decode(encode(message)[:-1]) == message


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        (b"[1]", "a line has to be one JSON object"),
        (b'{"a":NaN}', "not JSON: NaN is not a number here"),
        (b'{"a":-Infinity}', "not JSON: -Infinity is not a number here"),
        (b'{"a":1e999}', "a number is out of range"),
        (b'{"a":' + b"9" * 400 + b"}", "a number is out of range"),
        (b'{"a":"\\ud800"}', "a text holds half a character"),
        (b'{"\\udfff":1}', "a text holds half a character"),
        (b'{"a":"\xff"}', "not UTF-8"),
        (b'{"a":[[[[[[[[1]]]]]]]]}', "nested too deeply"),
        (b'{"a":' + b"[" * 8000 + b"}", "nested too deeply"),
    ],
)
def test_bad_lines_are_refused_with_their_reason(line, problem):
    with pytest.raises(LinkError, match=r"^" + problem.replace("(", r"\(")):
        decode(line)


def test_a_line_above_the_limit_is_refused_on_both_ways():
    with pytest.raises(LinkError, match=r"^a line of 9008 bytes is above the limit of 8192$"):
        decode(b'{"a":"' + b"x" * 9000 + b'"}')
    with pytest.raises(LinkError, match=r"^a line of 9009 bytes is above the limit of 8192$"):
        encode({"a": "x" * 9000})


def test_a_number_that_is_not_finite_cannot_be_sent():
    with pytest.raises(LinkError, match=r"^cannot be sent: "):
        encode({"pressure_bar": float("nan")})


@given(st.lists(st.binary(max_size=40).map(lambda line: line.replace(b"\n", b"")), max_size=8), st.data())
def test_lines_come_out_the_same_however_the_stream_is_cut(lines, data):
    stream = b"".join(line + b"\n" for line in lines)
    cutter, seen = Lines(), []
    while stream:
        size = data.draw(st.integers(min_value=1, max_value=len(stream)))
        seen += cutter.feed(stream[:size])
        stream = stream[size:]
    assert seen == lines


def test_a_line_that_never_ends_is_refused_before_it_fills_the_memory():
    cutter = Lines()
    cutter.feed(b"x" * (MAX_LINE_BYTES - 1))
    with pytest.raises(LinkError, match=r"^a line is above the limit of 8192 bytes$"):
        cutter.feed(b"x")


@pytest.mark.parametrize(
    ("hello", "problem"),
    [
        ({"command": "stop"}, "the first line has to be a hello of version 1"),
        ({"hello": True, "name": "a", "from": None}, "the first line has to be a hello of version 1"),
        ({"hello": 2, "name": "a", "from": None}, "the first line has to be a hello of version 1"),
        ({"hello": 1, "name": "", "from": None}, "'name' has to be a text of at most 80 characters"),
        ({"hello": 1, "name": "a", "from": 7}, "'from' has to be null or {boot, seq}"),
        ({"hello": 1, "name": "a", "from": {"boot": 1, "seq": 1}}, "'boot' has to be a text"),
        ({"hello": 1, "name": "a", "from": {"boot": "b", "seq": -1}}, "'from.seq' has to be a whole number"),
        ({"hello": 1, "name": "a", "from": {"boot": "b", "seq": 1.5}}, "'from.seq' has to be a whole number"),
    ],
)
def test_a_wrong_hello_is_refused(hello, problem):
    with pytest.raises(LinkError) as refusal:
        check_hello(hello)
    assert str(refusal.value).startswith(problem)


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"command": 5}, "'command' has to be a text of at most 80 characters"),
        ({"id": ""}, "'id' has to be a text of at most 80 characters"),
        ({"who": "x" * 81}, "'who' has to be a text of at most 80 characters"),
        ({"origin": "internet"}, "'origin' has to be one of cli, mqtt, page, plant"),
        ({"origin": None}, "'origin' has to be one of cli, mqtt, page, plant"),
    ],
)
def test_a_command_without_its_sender_is_refused(change, problem):
    with pytest.raises(LinkError) as refusal:
        check_command({"command": "stop", "id": "c1", "origin": "page", "who": "Ana", **change})
    assert str(refusal.value) == problem


def crowded_now(alarms, reasons):
    return {
        "state": "tripped",
        "alarms": [
            {"id": f"alarm_number_{n}", "state": "latched", "values": {"pressure_bar": n}} for n in range(alarms)
        ],
        "refused": {"start": [{"id": f"reason_{n}", "values": {"limit_bar": 1.0, "n": n}} for n in range(reasons)]},
    }


def test_a_snapshot_that_fits_goes_out_whole():
    now = crowded_now(alarms=5, reasons=5)
    assert decode(encode_now(now)[:-1]) == {"now": now}


def test_a_snapshot_too_long_keeps_state_and_alarms_and_says_it_was_shortened():
    sent = decode(encode_now(crowded_now(alarms=40, reasons=120))[:-1])["now"]
    assert sent["shortened"] is True
    assert sent["state"] == "tripped"
    assert len(sent["alarms"]) == 40
    assert sent["refused"]["start"][119] == {"id": "reason_119", "values": {}}


def test_a_snapshot_far_too_long_still_carries_the_first_alarms():
    sent = decode(encode_now(crowded_now(alarms=400, reasons=400))[:-1])["now"]
    assert sent["refused"] == {}
    assert [alarm["id"] for alarm in sent["alarms"]] == [f"alarm_number_{n}" for n in range(12)]
