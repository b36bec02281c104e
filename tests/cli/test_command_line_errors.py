"""What cannot be done is said in one clear line a problem, with what to do about it, and never as a traceback."""

import getpass
import os
import re
import socket
from pathlib import Path

import pytest

from halocline.app.locks import only_one
from halocline.cli import check, line
from halocline.cli.main import MODULES
from halocline.control.permissives.people import ALL_QUESTIONS
from halocline.plant import words
from halocline.plant.vocabulary import OUTPUTS, PURGES

COMMANDS = sorted(command for commands in MODULES.values() for command in commands)
PROMISED = {
    *("run", "control", "report", "safe", "status", "check", "rehearse", "projection", "pin"),
    *("start", "stop", "flush", "acknowledge", "reset", "silence", "shelve", "lay-up", "recommission", "bench"),
    *("service-lock", "service-unlock", "log", "fault"),
}
BROKEN = """
config_version = 1
[boat]
name = 7
[limits]
accept_tds_mg_l = 900
reject_tds_mg = 600
"""


@pytest.mark.parametrize("command", ["check", "run", "control", "safe"])
def test_a_pipe_for_a_configuration_is_refused_by_every_reader_at_once(type_in, command, tmp_path):
    pipe = tmp_path / "halocline.toml"
    os.mkfifo(pipe)
    status, out, err = type_in(command, "--config", str(pipe))
    assert status == 2
    line = f"{pipe}: found a pipe; allowed: a configuration file, a regular one; check the path"
    assert [said for said in (*out, *err) if said.endswith(line)]


def test_every_promised_command_exists():
    assert PROMISED - set(COMMANDS) == set()


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_explains_itself(type_in, name):
    status, out, err = type_in(name, "--help")
    assert (status, err) == (0, [])
    assert out[0].startswith(f"usage: halocline {name} ")


@pytest.mark.parametrize("name", COMMANDS)
def test_the_help_of_a_command_says_in_sentences_what_it_does(type_in, name):
    told = " ".join(type_in(name, "--help")[1])
    said = re.split(r"options:|positional arguments:", told)[0].split("]")[-1]
    assert re.search(r"[A-Z][^.]{20,}\.( |$)", said), said


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("start", "--liters", "5"), "halocline start: there is no option --liters; did you mean --litres? See"),
        (("start", "--liters=5"), "halocline start: there is no option --liters; did you mean --litres? See"),
        (("status", "--jsn"), "halocline status: there is no option --jsn; did you mean --json? See"),
        (("flush", "--xyzzy"), "halocline flush: there is no option --xyzzy; see"),
        (("reset", "now"), "halocline reset: nothing takes now; see"),
    ],
)
def test_a_misspelt_option_names_the_nearest(type_in, arguments, said):
    assert type_in(*arguments) == (2, [], [f"{said} halocline {arguments[0]} --help"])


def test_the_help_of_a_start_names_the_questions_and_of_a_trial_the_outputs(type_in):
    start = " ".join(type_in("start", "--help")[1])
    assert "--confirmed " + " ".join(ALL_QUESTIONS) in re.sub(r"\s+", " ", start)
    bench = " ".join(type_in("bench", "--help")[1])
    assert all(output in bench for output in OUTPUTS if output != "heartbeat")


def test_help_and_refusal_of_a_lay_up_name_the_same_preservatives(type_in):
    told = " ".join(type_in("lay-up", "--help")[1])
    refused = words.reason({"id": "preservative_unknown", "values": {}})
    for preservative in PURGES:
        assert preservative in told
        assert preservative in refused


def test_help_lists_every_command(type_in):
    status, out, err = type_in("--help")
    assert (status, err) == (0, [])
    words = {line.split()[0] for line in out if line.strip()}
    assert set(COMMANDS) - words == set()


def test_without_a_command_the_list_is_shown(type_in):
    status, out, err = type_in()
    assert (status, out) == (2, [])
    assert err[0] == "usage: halocline [-h] [--version] COMMAND ..."


def test_a_misspelt_command_names_the_nearest(type_in):
    assert type_in("strat") == (
        2,
        [],
        ["halocline: there is no command 'strat'; did you mean start? See halocline --help"],
    )
    assert type_in("xyzzy") == (2, [], ["halocline: there is no command 'xyzzy'; see halocline --help"])


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("start", "--litres", "many"), "halocline start: argument --litres: 'many' is no number"),
        (("start", "--litres", "nan"), "halocline start: argument --litres: 'nan' is no number"),
        (("start", "--minutes", "inf"), "halocline start: argument --minutes: 'inf' is no number"),
        (("flush", "--litres"), "halocline flush: argument --litres: expected one argument"),
        (("shelve",), "halocline shelve: the following arguments are required: alarm"),
        (("service-lock", "Anna"), "halocline service-lock: the following arguments are required: reason"),
        (("rehearse",), "halocline rehearse: the following arguments are required: scenario"),
        (("run", "--port", "0"), "halocline run: argument --port: 0 is no port; ports go from 1 to 65535"),
        (("run", "--port", "web"), "halocline run: argument --port: web is no port; ports go from 1 to 65535"),
    ],
)
def test_wrong_arguments_are_refused_in_one_line(type_in, arguments, said):
    status, out, err = type_in(*arguments)
    assert (status, out) == (2, [])
    assert err == [f"{said}; see halocline {arguments[0]} --help"]


@pytest.mark.parametrize("command", ["status", "start", "flush", "reset", "silence", "acknowledge"])
def test_without_a_running_control_one_line_says_where_was_looked_and_what_to_do(type_in, folder, command):
    assert type_in(command, "--data", folder) == (
        1,
        [],
        [
            f"halocline {command}: no control answers; looked at {folder}/control.sock. "
            "Start it (a simulated boat: halocline run --simulated; aboard: sudo systemctl start halocline-control), "
            "or name its folder with --data"
        ],
    )


def test_a_stop_that_reaches_nobody_says_first_where_the_real_stop_is(type_in, folder):
    status, _, err = type_in("stop", "--data", folder)
    assert status == 1
    assert err[0] == (
        "halocline stop: nothing was stopped from here. If the plant runs, press the stop button beside it or switch "
        "its breaker off"
    )
    assert "no control answers" in err[1]


def test_a_socket_that_nobody_listens_at_is_no_control(type_in, control, folder):
    control.end()
    with socket.socket(socket.AF_UNIX) as left_behind:
        left_behind.bind(str(folder / "control.sock"))
    status, _, err = type_in("flush", "--data", folder)
    assert status == 1
    assert err == [
        f"halocline flush: no control answers (nobody holds the socket at {folder}/control.sock: control has ended); "
        f"looked at {folder}/control.sock. {line.START_IT}, or name its folder with --data"
    ]


def test_a_control_that_says_nothing_is_not_taken_for_a_stop(type_in, control, monkeypatch):
    control.silent = True
    answer = line.LinkClient.answer
    monkeypatch.setattr(line.LinkClient, "answer", lambda self: answer(self, timeout_s=0.05))
    status, out, err = type_in("stop", "--data", control.folder)
    assert (status, out) == (1, [])
    assert err == [
        "halocline stop: whether the plant stops is not known. Look at it: if it runs on, press the stop button beside "
        "it or switch its breaker off",
        "halocline stop: no answer to stop: control gave no answer within 0 s",
    ]


def test_quick_is_for_a_simulated_boat(type_in):
    assert type_in("run", "--quick") == (2, [], ["halocline run: --quick is for a simulated boat: add --simulated"])


@pytest.mark.parametrize("command", [("run",), ("control",), ("safe",), ("run", "--simulated")])
def test_a_configuration_that_is_not_there_is_named(type_in, folder, command):
    missing = folder / "halocline.toml"
    assert type_in(*command, "--config", missing, "--data", folder) == (
        2,
        [],
        [
            f"halocline {command[0]}: {missing}: found no such file; "
            "allowed: a configuration file; check the path, and that this user may read it"
        ],
    )


def test_a_broken_configuration_is_refused_with_a_line_for_each_problem(type_in, folder):
    config = folder / "halocline.toml"
    config.write_text(BROKEN, encoding="utf-8")
    status, out, err = type_in("run", "--config", config, "--data", folder)
    assert (status, out) == (2, [])
    assert len(err) >= 3
    assert all(line.startswith(f"halocline run: {config}") for line in err)
    assert any("boat.name" in line for line in err)
    assert any("reject_tds_mg" in line and "reject_tds_mg_l" in line for line in err)
    checked, told, nothing = type_in("check", "--config", config)
    assert (checked, nothing) == (2, [])
    problems = [line.removeprefix("halocline run: ") for line in err]
    assert [said for said in told if said.startswith("problem")] == [f"problem   Configuration: {p}" for p in problems]
    assert told[-1] == f"{len(err)} problems."


def test_check_counts_a_single_problem_as_one(type_in, folder):
    _, told, _ = type_in("check", "--config", folder / "nowhere.toml")
    assert told[-1] == "1 problem."


def test_check_without_any_configuration_says_where_one_comes_from(type_in, folder, monkeypatch):
    monkeypatch.setattr(check, "SYSTEM_CONFIG", folder / "halocline.toml")
    status, told, _ = type_in("check")
    assert status == 2
    assert told[0].startswith(f"problem   Configuration: There is no configuration at {folder / 'halocline.toml'} yet.")
    assert "--config" in told[0]
    assert "--simulated" in told[0]


def test_safe_needs_a_simulated_boat_to_be_simulated(type_in, folder):
    assert type_in("safe", "--simulated", "--data", folder) == (
        2,
        [],
        [
            f"halocline safe: no simulated boat runs at {folder}; "
            "start one with halocline run --simulated, or name its folder with --data"
        ],
    )


def test_a_second_run_in_the_same_folder_is_refused(type_in, folder):
    with only_one(folder / "run.lock", "boat"):
        status, out, err = type_in("run", "--simulated", "--data", folder, "--port", "1")
    assert (status, out) == (2, [])
    assert err == [
        f"halocline run: another boat already runs on {folder}; stop it first, or choose another folder with --data"
    ]


def test_a_data_folder_that_cannot_be_made_is_named(type_in, folder):
    (folder / "file").write_text("", encoding="utf-8")
    status, out, err = type_in("run", "--simulated", "--data", folder / "file" / "data")
    assert (status, out) == (2, [])
    assert err == [f"halocline run: {folder}/file/data: Not a directory"]


def test_a_user_without_a_name_may_still_stop_the_plant(type_in, control, monkeypatch):
    def nameless():
        raise KeyError("getpwuid(): uid not found: 12345")

    monkeypatch.setattr(getpass, "getuser", nameless)
    status, _, _ = type_in("stop", "--data", control.folder)
    assert status == 0
    assert control.heard.get(timeout=1.0)["who"].startswith("user ")


def test_no_command_of_the_sources_is_forgotten_in_the_table():
    folder = Path(line.__file__).parent
    adding = {path.stem for path in folder.glob("*.py") if "\ndef add_parser(" in path.read_text(encoding="utf-8")}
    assert adding == set(MODULES)
