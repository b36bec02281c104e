import pytest

from halocline.report.mqtt.lanes import PER_SECOND, Lanes, lane_of

STOP = b'{"command":"stop","who":"Ana"}'


@pytest.mark.parametrize(
    ("payload", "lane"),
    [
        (STOP, "stop"),
        (b'{"command":"silence","nonce":"n1"}', "command"),
        (b'{"echo": "ab-1"}', "echo"),
        (b'{"command":"stop","x":', "command"),
        (b'{"who":"stop","command":"silence"}', "command"),
        (b'["stop"]', "command"),
        (b'"stop"' + b"[" * 3000, "command"),
        (STOP + b" " * 5000, "command"),
        (b"", "command"),
    ],
)
def test_each_kind_has_a_lane_of_its_own(payload, lane):
    assert lane_of(payload, "command") == lane
    assert lane_of(payload, "foreign") == "foreign"


@pytest.mark.parametrize("noise", [b"x" * 100, b'{"echo": "no"}', b'"stop"' + b"[" * 3000, b"x" * 16_000])
def test_a_flood_in_another_lane_takes_no_stops_place(noise):
    lanes = Lanes(0.0)
    for message in range(20_000):
        lanes.admit(noise, message / 20_000, "command")
        lanes.admit(noise, message / 20_000, "foreign")
    assert lanes.admit(STOP, 1.0, "command")


def test_a_flood_is_looked_at_no_more_often_than_there_is_time():
    lanes = Lanes(0.0)
    looked_at = sum(lanes.admit(b"x", message / 1000, "command") for message in range(10_000))
    assert looked_at <= 11 * PER_SECOND["command"]
