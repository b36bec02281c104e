"""Pieces of a capture: nothing is lost beyond the step they are rounded to, and each fits in a line of the link."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.link.captures import STEPS, pieces, samples_of
from halocline.link.messages import encode
from halocline.plant.vocabulary import CHANNELS

NAMES = tuple(CHANNELS)
VALUES = st.tuples(
    *(st.none() | st.floats(channel.least, channel.most, allow_nan=False) for channel in CHANNELS.values())
)


def test_every_unit_of_a_channel_has_a_step():
    assert {channel.unit for channel in CHANNELS.values()} <= set(STEPS)


@given(st.lists(VALUES, min_size=1, max_size=30), st.floats(0.0, 1e8))
def test_what_is_packed_comes_out_again_to_the_step(values, from_s):
    packed = [(from_s + 0.05 * n, row) for n, row in enumerate(values)]
    found = [sample for piece in pieces(NAMES, packed) for sample in samples_of(piece)]
    assert len(found) == len(packed)
    for (at_s, told), (noted_s, noted) in zip(found, packed, strict=True):
        assert at_s == pytest.approx(noted_s, abs=0.0015)
        for channel, value in zip(NAMES, noted, strict=True):
            if value is None:
                assert told[channel] is None
            else:
                assert told[channel] == pytest.approx(value, abs=STEPS[CHANNELS[channel].unit] * 0.501)


def test_even_pure_noise_on_every_channel_goes_into_lines_of_the_link():
    chance = random.Random(7)
    noise = [
        (0.05 * n, tuple(chance.uniform(channel.least, channel.most) for channel in CHANNELS.values()))
        for n in range(300)
    ]
    found = list(pieces(NAMES, noise))
    assert len(found) > 1
    for piece in found:
        encode({"event": {"seq": 2**40, "mono_s": 1e9, "wall_s": 2e9, "kind": "capture", "cause": 2**40, **piece}})
    assert sum(len(samples_of(piece)) for piece in found) == 300


def test_a_number_that_is_none_is_no_value():
    (piece,) = pieces(("feed_pressure",), [(1.0, (float("nan"),)), (1.05, (float("inf"),)), (1.1, (0.5,))])
    assert [values["feed_pressure"] for _, values in samples_of(piece)] == [None, None, 0.5]


@pytest.mark.parametrize(
    "spoiled",
    [{"data": "?"}, {"data": "AAAA"}, {"data": None}, {"steps": {"sea_temperature": 1}}, {"steps": 3}, {"from_s": "x"}],
)
def test_a_spoiled_piece_is_refused(spoiled):
    (piece,) = pieces(("feed_pressure",), [(1.0, (0.5,))])
    with pytest.raises(ValueError, match=r"capture|base64|padding|convert"):
        samples_of({**piece, **spoiled})
