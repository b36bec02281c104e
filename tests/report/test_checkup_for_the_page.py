"""The page's check-up: in a process of its own, now and then, never waited for."""

import json
import sys
import threading

import pytest

from halocline.app import report
from halocline.app.report import run_check
from halocline.report.checkup import FRESH_S, TRIED_AGAIN_S, CheckError, Checkup

SAID = {
    "schema": 1,
    "version": "1",
    "simulated": False,
    "problems": 1,
    "warnings": 0,
    "lines": [
        {
            "id": "bus_missing",
            "state": "problem",
            "about": "I2C bus",
            "found": "None.",
            "do": "Switch it on.",
            "more": [],
        }
    ],
}


class Command:
    """Answers when it is told to."""

    def __init__(self):
        self.asked = 0
        self.answer = json.dumps(SAID)
        self.may_end = threading.Semaphore(0)
        self.now_s = 1000.0

    def __call__(self):
        self.asked += 1
        assert self.may_end.acquire(timeout=10)
        if isinstance(self.answer, Exception):
            raise self.answer
        return self.answer


@pytest.fixture
def command():
    return Command()


@pytest.fixture
def checkup(command):
    return Checkup(command, clock=lambda: command.now_s)


def done(checkup, command, until):
    command.may_end.release()
    return until(lambda: (seen := checkup()) and not seen.looking and seen)


def test_the_first_asking_begins_one_and_waits_for_nothing(checkup, command, until):
    seen = checkup()
    assert (seen.looking, seen.check, seen.age_s) == (True, None, None)
    for _ in range(5):
        checkup()
    seen = done(checkup, command, until)
    assert (command.asked, seen.check, seen.age_s, seen.problem) == (1, SAID, 0.0, None)


def test_it_is_made_anew_when_it_is_old_and_the_old_one_serves_meanwhile(checkup, command, until):
    checkup()
    done(checkup, command, until)
    command.now_s += FRESH_S - 1
    assert not checkup().looking
    command.now_s += 1
    seen = checkup()
    assert (seen.looking, seen.check, seen.age_s) == (True, SAID, FRESH_S)
    done(checkup, command, until)
    assert command.asked == 2


@pytest.mark.parametrize(
    ("trouble", "said"),
    [
        (CheckError("no memory"), "could not be run: no memory"),
        ("not json", "could not be run"),
    ],
)
def test_a_check_that_fails_says_so_keeps_the_last_and_is_tried_again(checkup, command, until, trouble, said):
    checkup()
    done(checkup, command, until)
    command.now_s += FRESH_S
    command.answer = trouble
    checkup()
    seen = done(checkup, command, until)
    assert said in seen.problem
    assert seen.check == SAID
    command.now_s += TRIED_AGAIN_S - 1
    assert not checkup().looking
    command.now_s += 1
    assert checkup().looking
    command.answer = json.dumps(SAID)
    assert done(checkup, command, until).problem is None


@pytest.mark.parametrize("status", [0, 1, 2])
def test_a_check_that_found_something_has_been_done(status):
    assert run_check([sys.executable, "-c", f"print('x'); import sys; sys.exit({status})"]) == "x\n"


@pytest.mark.parametrize(
    ("does", "said"),
    [
        ("import sys; sys.exit(3)", "it ended with 3"),
        ("raise ValueError('spoiled')", "ValueError: spoiled"),
        ("import os; os.kill(os.getpid(), 9)", "it ended with -9"),
    ],
)
def test_a_check_that_breaks_says_how(does, said):
    with pytest.raises(CheckError, match=said):
        run_check([sys.executable, "-c", does])


def test_a_check_that_hangs_is_given_up(monkeypatch):
    monkeypatch.setattr(report, "CHECK_WITHIN_S", 0.2)
    with pytest.raises(CheckError, match="given up after 0 s"):
        run_check([sys.executable, "-c", "import time; time.sleep(60)"])


def test_the_page_is_told_over_http(moored, until):
    ship = moored()
    assert ship.client.get("/api/v1/check").status_code == 404
    ship = moored(checkup=Checkup(lambda: json.dumps(SAID)))
    told = until(lambda: (said := ship.client.get("/api/v1/check").json())["lines"] and said)
    assert (told["problems"], told["looking"], told["problem"]) == (1, False, None)
    assert told["lines"][0]["do"] == "Switch it on."
