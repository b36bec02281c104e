"""What `run` starts, how it starts again what died, and when it gives up."""

import sys
from pathlib import Path

import pytest

from halocline.app import locks, report, supervisor
from halocline.app.locks import AlreadyRuns, only_one, wait_until_free
from halocline.app.os_errors import in_words
from halocline.app.paths import socket_in
from halocline.app.patient_clock import HALT_S
from halocline.app.supervisor import Child, Plan, Supervisor, children_of, free_port
from halocline.control.alarm_conditions.boat import MISSED_TICKS
from halocline.plant.thresholds import TICK_S
from halocline.simulation.coils import HEARTBEAT_S


class Process:
    """A child process that ends when the test says so."""

    pid = 1

    def __init__(self, *_, **__):
        self.status = None
        self.told = []

    def poll(self):
        return self.status

    def terminate(self):
        self.told.append("terminate")

    def wait(self, _timeout=None):
        return self.status

    def kill(self):
        self.told.append("kill")


@pytest.fixture(autouse=True)
def no_real_process(monkeypatch):
    monkeypatch.setattr(supervisor.subprocess, "Popen", Process)


@pytest.fixture
def said():
    return []


def ended(child, status, now_s, said):
    child.process.status = status
    return child.watch(now_s, said.append)


def test_a_simulated_boat_has_three_processes_and_a_real_one_two():
    simulated = Plan(None, Path("/data"), 8080, simulated=True, quick=True)
    assert [(child.name, list(child.arguments)) for child in children_of(simulated)] == [
        ("sea", ["sea", "--data", "/data", "--quick"]),
        ("control", ["control", "--data", "/data", "--simulated", "--quick"]),
        ("report", ["report", "--data", "/data", "--simulated", "--quick", "--port", "8080"]),
    ]
    real = Plan(Path("/etc/mine.toml"), Path("/data"), 80, simulated=False, quick=False)
    assert [(child.name, list(child.arguments)) for child in children_of(real)] == [
        ("control", ["control", "--config", "/etc/mine.toml", "--data", "/data"]),
        ("report", ["report", "--config", "/etc/mine.toml", "--data", "/data", "--port", "80"]),
    ]


def test_what_dies_after_a_calm_life_starts_again_at_once(said):
    child = Child("control", ["control"])
    child.start(0.0)
    assert ended(child, -9, 100.0, said) is True
    assert said == ["control ended (killed by SIGKILL); it starts again in 0.3 s"]
    assert child.watch(100.2, said.append) is False
    assert child.process is None
    child.watch(100.31, said.append)
    assert child.process is not None


def test_what_keeps_dying_starts_ever_more_slowly(said):
    child = Child("report", ["report"])
    now_s = 0.0
    for _ in range(7):
        child.start(now_s)
        ended(child, 1, now_s + 0.1, said)
        now_s = child.restart_s
    waits = [line.rpartition(" in ")[2] for line in said]
    assert waits == ["0.3 s", "0.6 s", "1.2 s", "2.4 s", "4.8 s", "5.0 s", "5.0 s"]
    assert said[0] == "report ended (exit status 1); it starts again in 0.3 s"


def test_only_what_says_again_and_again_that_it_cannot_be_used_is_given_up(said):
    refusing, crashing = Child("control", ["control"]), Child("control", ["control"])
    for _ in range(supervisor.TRIES):
        assert not refusing.hopeless
        for child, status in ((refusing, 2), (crashing, 1)):
            child.start(0.0)
            ended(child, status, 0.5, said)
    assert refusing.hopeless
    assert not crashing.hopeless


def test_a_control_that_cannot_start_ends_the_run_with_status_2(said, tmp_path, monkeypatch):
    monkeypatch.setattr(supervisor, "POLL_S", 0.0)
    monkeypatch.setattr(supervisor, "RESTART_AFTER_S", 0.0)
    monkeypatch.setattr(Process, "poll", lambda self: 2)
    monkeypatch.setattr(supervisor.signal, "signal", lambda *_: None)
    running = Supervisor(Plan(None, tmp_path, 8080, simulated=False, quick=False), said.append)
    assert running.run() == 2
    assert said[-2:] == ["control cannot start, for the reason above; mend it and run again", "stopping …"]


def test_control_goes_with_the_electronics_it_had_claimed(said, tmp_path):
    running = Supervisor(Plan(None, tmp_path, 8080, simulated=True, quick=False), said.append)
    sea, control, page = running._children
    for child in (sea, control, page):
        child.start(0.0)
    sea.process.status = -9
    running._look_after()
    assert control.process.told == ["terminate"]
    assert page.process.told == []


def test_the_second_of_a_kind_is_told_who_has_the_folder(tmp_path):
    with (
        only_one(tmp_path / "control.lock", "control"),
        pytest.raises(AlreadyRuns) as refusal,
        only_one(tmp_path / "control.lock", "control"),
    ):
        raise AssertionError("both were let in")
    assert str(refusal.value) == (
        f"another control already runs on {tmp_path}; stop it first, or choose another folder with --data"
    )
    with only_one(tmp_path / "control.lock", "control"):
        assert (tmp_path / "control.lock").exists()


def test_one_that_is_just_ending_is_waited_for(tmp_path, monkeypatch):
    lock = tmp_path / "sea.lock"
    holding = only_one(lock, "sea")
    holding.__enter__()
    looks = []

    def sleep(seconds):
        looks.append(seconds)
        if len(looks) == 3:
            holding.__exit__(None, None, None)

    monkeypatch.setattr(locks.time, "sleep", sleep)
    wait_until_free(lock, "sea", 60.0)
    assert looks == [locks.LOOK_EVERY_S] * 3
    with only_one(lock, "sea"), pytest.raises(AlreadyRuns, match="another sea already runs"):
        wait_until_free(lock, "sea", -1.0)


def test_a_busy_port_is_passed_over_only_when_it_may_be(monkeypatch):
    with supervisor.socket.socket() as taken:
        taken.bind(("0.0.0.0", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert port < free_port(port, search=True) < port + supervisor.PORTS_TRIED
        with pytest.raises(OSError, match=f"port {port} is taken; choose another with --port"):
            free_port(port, search=False)


def test_a_line_tells_what_to_type_in_another_terminal(monkeypatch, tmp_path):
    monkeypatch.setattr(report, "own_command", lambda: "halocline")
    assert report.orders_line(report.state_dir(simulated=True), simulated=True) == (
        "Ctrl-C here ends everything. In another terminal: halocline start (or status, stop, --help)."
    )
    assert "halocline start --data '/a b' (or" in report.orders_line(Path("/a b"), simulated=True)


def test_the_program_is_named_as_it_can_be_called_from_here(monkeypatch, tmp_path):
    program = tmp_path / "bin" / "halocline"
    program.parent.mkdir()
    program.write_text("", encoding="utf-8")
    monkeypatch.setattr(sys, "executable", str(tmp_path / "bin" / "python"))
    monkeypatch.setattr(report.shutil, "which", lambda _name: str(program))
    assert report.own_command() == "halocline"
    monkeypatch.setattr(report.shutil, "which", lambda _name: None)
    assert report.own_command() == str(program)
    monkeypatch.chdir(tmp_path)
    assert report.own_command() == "bin/halocline"


def test_an_operating_system_s_error_in_words():
    assert in_words(OSError("the card is full")) == "the card is full"
    assert in_words(OSError(13, "Permission denied", "/data")) == "/data: Permission denied"
    assert in_words(OSError(5, "ADC 0x48 did not answer")) == "ADC 0x48 did not answer"


def test_a_socket_in_a_deep_folder_gets_a_short_place_of_its_own(tmp_path):
    assert socket_in(Path("/data"), "control") == Path("/data/control.sock")
    deep = tmp_path / ("d" * 80)
    assert len(str(socket_in(deep, "control"))) < 100
    assert socket_in(deep, "control").parent == socket_in(deep, "sea").parent
    assert socket_in(deep, "control") != socket_in(deep / "e", "control")


def test_a_halt_is_called_one_before_the_relay_drops_and_long_after_an_overrun():
    assert MISSED_TICKS * TICK_S < HALT_S < HEARTBEAT_S
