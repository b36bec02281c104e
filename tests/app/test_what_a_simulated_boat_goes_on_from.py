"""A simulated boat says where it is kept, what it goes on from and how to begin anew."""

import shlex
import subprocess

import pytest

from halocline.app.kept import kept_line
from halocline.app.paths import LATCH_FILE
from halocline.cli import running
from halocline.cli.main import main
from halocline.control.retained.retained_state import Lock, Moment, Purge, RetainedState, Trip, encode


def keep(folder, **state):
    folder.mkdir(exist_ok=True)
    (folder / LATCH_FILE).write_bytes(encode(RetainedState(saved=Moment(1_790_000_000.0, 1.0, "h"), **state)))


def test_a_new_boat_says_where_it_is_kept(tmp_path):
    assert kept_line(tmp_path) == f"A new boat. It is kept in {tmp_path}; the next run goes on from there."


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ({"flush_owed": True}, "a flush is owed"),
        ({"trips": (Trip("stop_button"),)}, "a safety stop stands"),
        ({"laid_up": True, "purge": Purge("preservative")}, "laid up, a purge is owed"),
        ({"lock": Lock("Ana", "filter open")}, "locked"),
        ({"under_way": "producing"}, "cut off in the middle of something"),
        ({"chlorine_suspected": True}, "the flush water may carry chlorine"),
    ],
)
def test_what_is_owed_from_before_is_said_before_anything_starts(tmp_path, state, said):
    keep(tmp_path, **state)
    line = kept_line(tmp_path)
    assert line.startswith(f"This boat goes on from what was kept in {tmp_path} at 2026-09-2")
    assert f": {said}. To begin anew, end it, then type: mv {tmp_path} {tmp_path}.before" in line


def test_what_is_to_be_typed_begins_anew_also_in_a_folder_with_a_space(tmp_path):
    folder = tmp_path / "my boat"
    keep(folder, flush_owed=True)
    command = kept_line(folder).partition("then type: ")[2]
    subprocess.run(shlex.split(command), check=True)
    assert kept_line(folder).startswith("A new boat.")


@pytest.fixture
def greeted(monkeypatch, tmp_path):
    """What `run --simulated` says before it starts anything."""
    begun = []
    monkeypatch.setattr(running, "Supervisor", lambda plan, _say: begun.append(plan) or plan)
    monkeypatch.setattr(running.Plan, "run", lambda _plan: 0, raising=False)

    def start(port):
        monkeypatch.setattr(running, "free_port", lambda _wanted, **_how: port)
        assert main(["run", "--simulated", "--data", str(tmp_path)]) == 0
        return begun[-1].greeting

    return start


def test_it_is_said_at_the_start(greeted, tmp_path):
    assert greeted(8080) == [kept_line(tmp_path)]


def test_another_port_than_usual_is_said(greeted):
    assert greeted(8081)[0] == "Another program has port 8080: the page takes 8081."
