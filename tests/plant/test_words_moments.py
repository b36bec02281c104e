"""People read times as the boat's clock on the wall shows them, with the zone beside them, whoever tells them.

Zones and their changes: the system's tz database, which `TZ` names.
"""

import ast
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.plant import words
from halocline.plant.words import moments
from halocline.plant.words.moments import UNKNOWN_TIME, date_of, minute_of, second_of, time_of_day

SEPTEMBER_S = 1_789_996_507.0  # 2026-09-21 13:15:07 UTC
JANUARY_S = 1_768_396_507.0  # 2026-01-14 13:15:07 UTC

DAEMON = Path(moments.__file__).parents[2]

Put = Callable[[str], None]


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[Put]:
    """Sets the computer's zone, and back."""

    def put(name: str) -> None:
        monkeypatch.setenv("TZ", name)
        time.tzset()

    yield put
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("name", "september", "january"),
    [
        ("UTC", "2026-09-21 13:15 UTC", "2026-01-14 13:15 UTC"),
        ("Atlantic/Azores", "2026-09-21 13:15 UTC+00", "2026-01-14 12:15 UTC-01"),
        ("Europe/Lisbon", "2026-09-21 14:15 WEST", "2026-01-14 13:15 WET"),
        ("Atlantic/Cape_Verde", "2026-09-21 12:15 UTC-01", "2026-01-14 12:15 UTC-01"),
        ("Asia/Kolkata", "2026-09-21 18:45 IST", "2026-01-14 18:45 IST"),
        ("Asia/Kathmandu", "2026-09-21 19:00 UTC+05:45", "2026-01-14 19:00 UTC+05:45"),
        ("America/St_Johns", "2026-09-21 10:45 NDT", "2026-01-14 09:45 NST"),
        ("<-03>3", "2026-09-21 10:15 UTC-03", "2026-01-14 10:15 UTC-03"),
    ],
)
def test_a_moment_is_local_and_names_its_zone(zone: Put, name: str, september: str, january: str) -> None:
    zone(name)
    assert minute_of(SEPTEMBER_S) == september
    assert minute_of(JANUARY_S) == january
    day, clock, place = september.split(" ")
    assert second_of(SEPTEMBER_S) == f"{day} {clock}:07 {place}"
    assert time_of_day(SEPTEMBER_S) == f"{clock} {place}"
    assert date_of(SEPTEMBER_S) == day


@given(
    wall_s=st.integers(0, 4_000_000_000),
    name=st.sampled_from(
        ["Atlantic/Azores", "Atlantic/Canary", "Pacific/Marquesas", "Pacific/Apia", "America/Halifax"]
    ),
)
def test_whoever_knows_the_zone_finds_the_moment_again(wall_s: int, name: str) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TZ", name)
        time.tzset()
        told = second_of(float(wall_s))
    time.tzset()
    there = datetime.fromtimestamp(wall_s, ZoneInfo(name))
    assert told.startswith(f"{there:%Y-%m-%d %H:%M:%S} ")
    place = told.split(" ")[2]
    assert place == there.tzname() or place.removeprefix("UTC").replace(":", "") in f"{there:%z}"


@pytest.mark.parametrize("wall_s", [None, float("inf"), float("nan"), 1e18, -1e18])
def test_a_moment_nobody_knows_is_told_as_such(wall_s: float | None) -> None:
    assert [tell(wall_s) for tell in (minute_of, second_of, time_of_day, date_of)] == [UNKNOWN_TIME] * 4


def test_a_refusal_until_a_moment_names_the_zone_of_the_boat(zone: Put) -> None:
    zone("Atlantic/Azores")
    refused = {"id": "motor_needs_rest", "values": {"seconds": 700.0, "until_wall_s": JANUARY_S}}
    assert "until 12:16 UTC-01" in words.reason(refused)


TELLS = {
    "plant/words/moments.py": "what people read",
    "report/public.py": "ISO 8601 in UTC, for programs",
    "report/backup.py": "names of files, in UTC with its Z, so that they sort",
    "control/calibration/calibration_command.py": "the day on a calibration, as the file of calibrations has it",
    "plant/until.py": "reads the time that a person typed",
    "plant/offer.py": "reads the time that a person typed",
    "report/planning/boat.py": "ISO 8601 with the boat's offset: the hours of a plan are those of its clock",
    "report/planning/planner.py": "how far the boat's clock is from UTC",
    "config/problems.py": "quotes a date out of the configuration file",
}
"""Every module that makes text of a moment, or local time of it, and why."""

MAKERS = frozenset({"strftime", "isoformat", "fromtimestamp", "localtime", "gmtime", "ctime", "asctime", "utcnow"})


def test_no_other_module_tells_times() -> None:
    found = {
        str(path.relative_to(DAEMON))
        for path in DAEMON.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Attribute) and node.attr in MAKERS
    }
    assert found == set(TELLS)
