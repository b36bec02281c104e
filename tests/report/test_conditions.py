"""What is wrong on the computer's side, told apart."""

import pytest

from halocline.config import Problem
from halocline.plant.settings import UnitSettings
from halocline.report.conditions import LINK_IDS, Hearing, Watch, report_configuration
from halocline.report.public import Frame, snapshot
from halocline.report.watched_file import WatchedFile

PROBLEM = Problem("boat.toml", "limits.vessel_pressure_high_bar", "70", "up to 64", "lower it")
HEARD, NEVER = Hearing(False, 0.1, True), Hearing(True, None, False)
GONE, HANGING = Hearing(True, 9.0, False), Hearing(True, 9.0, True)


def ids(hearing, **sources):
    return [condition.id for condition in Watch(**sources)(hearing)]


def test_all_well_is_silence():
    assert ids(HEARD) == []


def test_a_control_that_does_not_run_and_one_that_hangs_are_told_apart():
    assert ids(GONE) == ids(NEVER) == ["control_down"]
    assert ids(HANGING) == ["control_silent"]


def test_broken_settings_of_control_are_named_key_by_key_with_the_remedy():
    (condition,) = Watch(control_problems=lambda: [PROBLEM])(NEVER)
    assert condition.id == "control_configuration"
    (told,) = condition.message()["problems"]
    assert told == {
        "file": "boat.toml",
        "line": None,
        "key": "limits.vessel_pressure_high_bar",
        "found": "70",
        "allowed": "up to 64",
        "do": "lower it",
    }


def test_a_file_broken_behind_a_running_control_is_another_sight():
    (condition,) = Watch(control_problems=lambda: [PROBLEM])(HEARD)
    assert condition.id == "configuration_next"
    assert "would not start again" in condition.means


def test_a_hanging_control_is_not_put_down_to_a_file_that_was_broken_meanwhile():
    assert ids(HANGING, control_problems=lambda: [PROBLEM]) == ["control_silent"]


def test_what_control_said_when_it_could_not_start_is_passed_on():
    (condition,) = Watch(last_words=lambda: ["no converter answers at 0x48"])(NEVER)
    assert condition.id == "control_cannot_start"
    assert condition.means == "The control process cannot start: no converter answers at 0x48"
    assert ids(HEARD, last_words=lambda: ["of long ago"]) == []


def test_reports_own_broken_settings_stand_beside_whatever_else_is_wrong():
    standing = [report_configuration([PROBLEM])]
    assert ids(HEARD, standing=standing) == ["report_configuration"]
    assert ids(GONE, standing=standing) == ["control_down", "report_configuration"]


@pytest.mark.parametrize("hearing", [GONE, NEVER, HANGING])
@pytest.mark.parametrize("broken", [(), (PROBLEM,)])
def test_while_nothing_is_heard_exactly_one_condition_says_why_and_so_does_the_sentence(hearing, broken, live_now):
    found = Watch(control_problems=lambda: broken)(hearing)
    (why,) = [condition for condition in found if condition.id in LINK_IDS]
    public = snapshot(live_now(), hearing.age_s, Frame("Cagarra", UnitSettings(), conditions=found))
    assert public["sentence"] == f"{why.means} {why.do}"
    assert [condition["id"] for condition in public["conditions"]] == [condition.id for condition in found]
    assert public["problems"] == [str(problem) for problem in broken if why.id == "control_configuration"]


def test_a_file_is_read_again_when_it_has_changed_and_only_then(tmp_path):
    path, looks = tmp_path / "file", []

    def read(place):
        looks.append(place)
        return place.read_text() if place.exists() else None

    watched = WatchedFile(path, read)
    assert [watched(), watched()] == [None, None]
    path.write_text("one")
    assert [watched(), watched()] == ["one", "one"]
    path.write_text("another")
    assert watched() == "another"
    path.unlink()
    assert watched() is None
    assert len(looks) == 4
