"""`halocline plan --from`: the answer to a question in a file, as text and as JSON, with no boat beside it."""

import json

import pytest

from halocline.cli.main import main
from report.plan_by_the_minute import moment, question


@pytest.fixture
def asked(tmp_path, capsys):
    """What the command prints for a question, and its exit status."""

    def ask(message, *arguments):
        case = tmp_path / "case.json"
        case.write_text(message if isinstance(message, str) else json.dumps(message))
        return main(["plan", "--from", str(case), *arguments]), *capsys.readouterr()

    return ask


def test_the_answer_as_json_has_runs_with_their_reasons_and_the_least_of_tank_and_battery(asked):
    status, printed, _ = asked(question(), "--json")
    said = json.loads(printed)
    assert (status, said["schema"], said["feasible"]) == (0, 1, True)
    (run,) = said["runs"]
    assert run["litres_to_tank"] + run["overboard_l"] == pytest.approx(run["flow_l_h"] * run["minutes"] / 60, abs=0.2)
    assert said["totals"]["litres"] == pytest.approx(run["litres_to_tank"] - run["flush_l"], abs=0.1)
    assert said["totals"]["energy_wh"] == run["energy_wh"] == round(1400 * run["minutes"] / 60 + 4)
    assert said["least"]["tank_l"] > said["least_high_use"]["tank_l"] >= 60
    assert said["least"]["battery_percent"] >= said["least_little_sun"]["battery_percent"] >= 25


def test_the_answer_as_text_begins_with_the_next_run_and_why(asked):
    status, printed, _ = asked(question(blocked=[{"from": moment(0), "to": moment(3), "why": "quiet"}], sun=900.0))
    first, *_ = printed.splitlines()
    assert status == 0
    assert first.startswith("Next run Wed 1 Jul 11:00 UTC for 2 h: about 116 L into the tank, 2800 Wh. Then the sun ")
    assert first.endswith("Then the sun carries most of it.")
    assert "Least in the battery" in printed


def test_where_no_plan_keeps_everything_the_limit_and_what_would_help_are_told(asked):
    engine = [{"from": moment(9), "to": moment(9.25), "w": 900}]
    status, printed, _ = asked(question(sun=0.0, engine=engine, **{"battery.capacity_wh": 3000, "tank.now_l": 100}))
    assert status == 0
    (told,) = [line for line in printed.splitlines() if line.startswith("The battery allows")]
    assert "charge" in told
    assert "the engine" in told
    assert "or use" in told


def test_where_nothing_is_needed_that_is_said(asked):
    _, printed, _ = asked(question(**{"tank.now_l": 280, "tank.at_end_l": 60}))
    assert printed.startswith("No run is needed until Thu 2 Jul 06:00 UTC.")


@pytest.mark.parametrize(
    ("message", "problem"),
    [
        ("{", "is no JSON"),
        ("[" * 100_000, "is no JSON"),
        ("[]", "the question is no JSON object"),
        (question(**{"tank.now_l": -5, "tank.full_percent": 400}), "tank.now_l is -5; allowed is 0 to 20000 L"),
    ],
)
def test_an_unusable_question_is_told_in_lines_a_person_can_act_on(asked, message, problem):
    status, printed, errors = asked(message, "--json")
    assert (status, printed) == (2, "")
    assert problem in errors
    assert "Traceback" not in errors


def test_a_question_that_is_not_there_is_said(tmp_path, capsys):
    assert main(["plan", "--from", str(tmp_path / "none.json")]) == 2
    assert "cannot be read: No such file or directory" in capsys.readouterr().err
