"""The command line tells times as the boat's clock on the wall does, with the zone beside them."""

import time

import pytest

from halocline.cli.moments import local_minute

SEPTEMBER_S = 1_789_996_500.0  # 2026-09-21 13:15 UTC
JANUARY_S = 1_768_396_500.0  # 2026-01-14 13:15 UTC


@pytest.fixture
def zone(monkeypatch):
    """Sets the computer's zone, and back."""

    def put(name):
        monkeypatch.setenv("TZ", name)
        time.tzset()

    yield put
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("name", "september", "january"),
    [
        ("UTC", "2026-09-21 13:15 UTC", "2026-01-14 13:15 UTC"),
        ("CET-1CEST,M3.5.0,M10.5.0", "2026-09-21 15:15 CEST", "2026-01-14 14:15 CET"),
        ("<-03>3", "2026-09-21 10:15 UTC-03", "2026-01-14 10:15 UTC-03"),
    ],
)
def test_a_moment_is_local_and_names_its_zone(zone, name, september, january):
    zone(name)
    assert local_minute(SEPTEMBER_S) == september
    assert local_minute(JANUARY_S) == january


@pytest.mark.parametrize("wall_s", [None, float("inf"), 1e18])
def test_a_moment_nobody_knows_is_told_as_such(wall_s):
    assert local_minute(wall_s) == "unknown time"
