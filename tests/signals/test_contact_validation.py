"""Normally closed contacts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.plant.sensors import ContactInput
from halocline.signals.contacts import ContactValidator

BUTTON = ContactInput(pin=5)
FLOAT = ContactInput(pin=19, debounce_s=3.0)


def test_an_open_circuit_is_active_and_a_closed_one_is_not() -> None:
    judge = ContactValidator(BUTTON)
    judge.update(0.0, closed=True)
    assert not judge.active(0.0)
    judge.update(0.1, closed=False)
    judge.update(0.2, closed=False)
    assert judge.active(0.2)


def test_a_contact_never_looked_at_is_active() -> None:
    assert ContactValidator(BUTTON).active(0.0)


def test_the_first_look_counts_at_once() -> None:
    judge = ContactValidator(FLOAT)
    judge.update(0.0, closed=True)
    assert not judge.active(0.0)


def test_a_contact_that_cannot_be_read_is_active() -> None:
    judge = ContactValidator(BUTTON)
    judge.update(0.0, closed=None)
    assert judge.active(0.0)
    judge.update(1.0, closed=True)
    judge.update(1.1, closed=True)
    assert not judge.active(1.1)
    judge.update(2.0, closed=None)
    assert judge.active(2.05)


def test_a_contact_nobody_looks_at_any_more_becomes_active() -> None:
    judge = ContactValidator(BUTTON)
    judge.update(0.0, closed=True)
    assert not judge.active(1.9)
    assert judge.active(2.1)


def test_a_bounce_shorter_than_the_debounce_time_is_ignored() -> None:
    judge = ContactValidator(FLOAT)
    judge.update(0.0, closed=True)
    judge.update(1.0, closed=False)
    assert not judge.active(2.9)
    judge.update(3.0, closed=True)
    assert not judge.active(4.5)


def test_going_back_to_rest_is_debounced_too_and_wants_a_fresh_look() -> None:
    judge = ContactValidator(FLOAT)
    judge.update(0.0, closed=False)
    judge.update(1.0, closed=True)
    assert judge.active(3.9)
    assert judge.active(4.1)
    judge.update(4.2, closed=True)
    assert not judge.active(4.2)


@pytest.mark.parametrize("closed", [False, None])
def test_an_active_contact_stays_active_while_it_is_seen_open(closed: bool | None) -> None:
    judge = ContactValidator(BUTTON)
    for tick in range(20):
        judge.update(tick * 0.05, closed)
        assert judge.active(tick * 0.05)


@given(st.lists(st.sampled_from([True, False, None]), min_size=5, max_size=60))
def test_a_contact_is_inactive_only_after_it_was_seen_closed(looks: list[bool | None]) -> None:
    judge = ContactValidator(BUTTON)
    for tick, closed in enumerate(looks):
        judge.update(tick * 0.05, closed)
        if not judge.active(tick * 0.05):
            assert True in looks[max(0, tick - 2) : tick + 1]
