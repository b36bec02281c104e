import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.report.mqtt.command_filter import OLDEST_S
from halocline.report.mqtt.echo import DEAF_AFTER_S, EVERY_S, HEARD_WITHIN_S, ON_THEIR_WAY, Echo

STEP_S = 0.2


def listening():
    echo = Echo()
    echo.start_over(0.0)
    return echo


def test_nothing_is_heard_before_the_first_word_has_come_back():
    echo = listening()
    word = echo.due(0.0)
    assert not echo.hears(0.1)
    assert echo.heard(word)
    assert echo.hears(0.1)


def test_a_word_counts_once_and_from_when_it_was_sent():
    echo = listening()
    word = echo.due(0.0)
    assert echo.heard(word)
    assert echo.heard(word), "it is still no command"
    assert not echo.hears(HEARD_WITHIN_S + 0.1)
    late = echo.due(HEARD_WITHIN_S)
    echo.heard(late)
    assert echo.deaf_s(HEARD_WITHIN_S + 3.0) == pytest.approx(3.0)


@pytest.mark.parametrize(
    "payload",
    [b"", b"{}", b'{"echo": "0123456789abcdef-1"}', b'{"command":"stop"}', b'{"echo": "', b"x" * 16000],
)
def test_what_others_say_is_no_echo(payload):
    echo = listening()
    echo.due(0.0)
    assert not echo.heard(payload)
    assert not echo.hears(0.0)


def test_words_of_an_earlier_connection_prove_nothing_about_this_one():
    echo = listening()
    word = echo.due(0.0)
    echo.start_over(1.0)
    assert not echo.heard(word)
    assert not echo.hears(1.0)
    assert echo.deaf_s(3.0) == pytest.approx(2.0)


def test_a_deafness_of_days_takes_no_memory():
    echo = listening()
    for second in range(50_000):
        echo.due(float(second))
    assert len(echo._sent_s) <= ON_THEIR_WAY


def test_a_connection_is_left_when_commands_over_it_would_be_refused_as_too_old():
    assert HEARD_WITHIN_S < DEAF_AFTER_S == OLDEST_S
    assert 2 * EVERY_S < HEARD_WITHIN_S, "two words are on trial"


def test_a_word_lost_between_two_that_came_is_doubt_for_five_seconds():
    echo = listening()
    first, lost, third = (echo.due(number * EVERY_S) for number in range(3))
    assert lost
    echo.heard(first)
    assert echo.hears(4.0)
    echo.heard(third)
    assert not echo.hears(4.1)
    assert echo.hears(EVERY_S + HEARD_WITHIN_S + 0.1)
    assert echo.deaf_s(5.0) == pytest.approx(1.0), "some come through: a new connection would not help"


def test_a_crowd_between_two_words_that_came_is_doubt_for_five_seconds():
    echo = listening()
    echo.heard(echo.due(0.0))
    echo.crowded(1.0)
    assert not echo.hears(1.0)
    echo.heard(echo.due(EVERY_S))
    assert not echo.hears(1.0 + HEARD_WITHIN_S)
    assert echo.hears(1.1 + HEARD_WITHIN_S)


def test_a_word_lost_before_a_crowd_does_not_shorten_the_doubt():
    echo = listening()
    echo.due(0.0)
    word = echo.due(EVERY_S)
    echo.crowded(EVERY_S + 1.0)
    echo.heard(word)
    assert not echo.hears(HEARD_WITHIN_S + 1.0)


@given(st.lists(st.floats(0.0, 20.0) | st.none(), min_size=1, max_size=40))
def test_hearing_means_that_a_word_of_the_last_five_seconds_has_come_back_and_none_was_lost(delays):
    """`delays`: after how long each word comes back at the soonest, in their order; None if it never does."""
    echo, coming, sent, back = listening(), [], [], set()
    arrival_s = 0.0
    for step in range(int(len(delays) * EVERY_S / STEP_S)):
        now_s = step * STEP_S
        word = echo.due(now_s)
        if word is not None:
            delay_s = delays[len(sent)] if len(sent) < len(delays) else None
            if delay_s is not None:
                arrival_s = max(arrival_s, now_s + delay_s)
                coming.append((arrival_s, len(sent), word))
            sent.append(now_s)
        while coming and coming[0][0] <= now_s:
            _, number, came = coming.pop(0)
            echo.heard(came)
            back.add(number)
        fresh = {number for number, sent_s in enumerate(sent) if now_s - sent_s <= HEARD_WITHIN_S}
        lost = {number for number in fresh if number not in back and number < max(back, default=-1)}
        assert echo.hears(now_s) == (bool(fresh & back) and not lost)
