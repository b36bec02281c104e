"""Durations as people write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.config import parse_duration, show_duration


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("500ms", 0.5), ("30s", 30.0), ("10min", 600.0), ("1.5 h", 5400.0), ("2d", 172800.0), (" 0s ", 0.0)],
)
def test_a_number_and_a_unit_are_a_duration(text: str, seconds: float) -> None:
    assert parse_duration(text) == seconds


@pytest.mark.parametrize("text", ["", "10", "10 m", "-5s", "1e3s", "infs", "nan s", "1,5h", "10MIN", "٣s", "5s5s"])
def test_anything_else_is_none(text: str) -> None:
    with pytest.raises(ValueError, match="write a number and ms, s, min, h or d") as caught:
        parse_duration(text)
    assert str(caught.value).startswith(f"{text!r} is no duration")


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0.0, "0s"), (0.05, "50ms"), (1.0, "1s"), (90.0, "90s"), (600.0, "10min"), (14400.0, "4h"), (172800.0, "2d")],
)
def test_a_duration_is_shown_in_its_largest_whole_unit(seconds: float, text: str) -> None:
    assert show_duration(seconds) == text


@given(st.integers(min_value=1, max_value=10_000_000))
def test_what_is_shown_reads_back(milliseconds: int) -> None:
    seconds = milliseconds / 1000.0
    assert parse_duration(show_duration(seconds)) == pytest.approx(seconds, rel=1e-5)
