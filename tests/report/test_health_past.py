"""The answers of earlier days: which days, what is drawn of them, and that each is computed once."""

from types import SimpleNamespace

import pytest

from halocline.report.database_open import StoreError
from halocline.report.health import past
from halocline.report.health.past import DAY_S, MOST_DAYS, Past, band, days_of
from halocline.report.health.unasked import PAUSE_S, TURN_S, UnaskedHealth

BEGIN_S = 1_790_000_000.0


@pytest.mark.parametrize("days", [0.0, 0.5, 3.0, 12.0, 13.0, 100.0, 365.0, 4000.0])
def test_a_few_midnights_within_the_record(days):
    found = days_of(BEGIN_S, BEGIN_S + days * DAY_S)
    assert len(found) <= MOST_DAYS
    assert len(found) >= min(int(days) - 1, MOST_DAYS // 2 - 1)
    assert all(BEGIN_S < day_s < BEGIN_S + days * DAY_S and day_s % DAY_S == 0.0 for day_s in found)


def test_as_the_record_grows_the_earlier_days_stay_or_every_other_of_them():
    last = days_of(BEGIN_S, BEGIN_S + DAY_S)
    for days in range(2, 400):
        now = days_of(BEGIN_S, BEGIN_S + days * DAY_S)
        earlier = [day_s for day_s in now if day_s <= max(last, default=0.0)]
        assert set(earlier) <= set(last)
        assert len(earlier) >= len(last) // 2 - 1
        last = now


def test_where_too_little_was_known_the_band_has_a_gap():
    known = {"quantities": {"flow": {"change": {"estimate": -0.1, "i80": [-0.12, -0.08], "i90": [-0.13, -0.07]}}}}
    assert band("flow", [(1.0, {"quantities": {"flow": {}}}), (2.0, known)]) == (
        (1.0, 2.0),
        (None, -0.1),
        (None, -0.12),
        (None, -0.08),
    )


@pytest.fixture
def computed(monkeypatch):
    """The record of forty days, whose answer is the moment that was asked for; and what was asked for."""
    asked = []
    kept = [SimpleNamespace(ended_s=BEGIN_S)]
    monkeypatch.setattr(past, "seen", lambda _, at_s: SimpleNamespace(kept=kept, at_s=at_s or BEGIN_S + 40 * DAY_S))
    monkeypatch.setattr(past, "answer", lambda has: asked.append(has.at_s) or {"at_s": has.at_s})
    return asked


def test_each_day_is_computed_once_the_newest_first(evening, computed):
    earlier = Past()
    while earlier.step(evening):
        assert not earlier.complete
    days = days_of(BEGIN_S, BEGIN_S + 40 * DAY_S)
    assert computed == days[::-1]
    assert earlier.complete
    assert earlier.known() == [(day_s, {"at_s": day_s}) for day_s in days]
    assert not earlier.step(evening)
    assert len(computed) == len(days)


class Answers:
    """Stands in for the newest answer."""

    def __init__(self, *said):
        self._said = list(said)

    def of(self, _path):
        said = self._said.pop(0) if len(self._said) > 1 else self._said[0]
        if isinstance(said, Exception):
            raise said
        return said


def test_listeners_hear_an_answer_once_and_the_past_is_computed_with_pauses(evening, computed):
    one, other = {"n": 1}, {"n": 2}
    heard = []
    unasked = UnaskedHealth(evening, Answers(one, one, other), Past())
    unasked.listeners.append(heard.append)
    waits = [unasked.turn() for _ in range(3)]
    assert heard == [one, other]
    assert set(waits) == {PAUSE_S}
    while unasked.turn() == PAUSE_S:
        pass
    assert unasked.turn() == TURN_S


def test_a_record_that_cannot_be_read_ends_nothing(evening, computed):
    heard = []
    unasked = UnaskedHealth(evening, Answers(StoreError("torn"), {"n": 1}), Past())
    unasked.listeners.append(heard.append)
    assert unasked.turn() == TURN_S
    assert heard == []
    unasked.turn()
    assert heard == [{"n": 1}]
