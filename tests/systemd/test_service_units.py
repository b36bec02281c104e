import re
import shlex
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import pytest

from halocline.cli.main import MODULES, build_parser
from halocline.control.alarm_conditions.boat import MISSED_TICKS
from halocline.control.loop import REST_TURN_S
from halocline.plant.settings import HttpSettings
from halocline.plant.thresholds import TICK_S
from halocline.report.server import TURN_EVERY_TICKS

FOLDER = Path(__file__).parents[2] / "systemd"
EXECUTABLE = "/opt/halocline/bin/halocline"
SERVICES = ("control", "report")
SERVERS_TICK_S = 0.1
"""uvicorn's."""

RELAY_FORGIVES_S = 1.0
"""The time-out relay at the plant (hw/electrics.md)."""


def directives(service):
    """Every line of a unit as (key, value), in order."""
    text = (FOLDER / f"halocline-{service}.service").read_text("utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith(("#", "["))]
    return [tuple(line.split("=", 1)) for line in lines]


def values(service, key):
    return [value for name, value in directives(service) if name == key]


def value(service, key):
    (only,) = values(service, key)
    return only


def lines_of(name):
    text = (FOLDER / name).read_text("utf-8")
    return [shlex.split(line) for line in text.splitlines() if line and not line.startswith("#")]


def stop_post():
    """What is run once control has ended: program, folder, pause, and the command that is second best. What comes of
    it skips nothing."""
    (line,) = values("control", "ExecStopPost")
    assert line.startswith("-")
    program, folder, pause_s, *command = shlex.split(line[1:])
    return program, folder, float(pause_s), command


@pytest.fixture
def installed(tmp_path):
    """The units with an executable that exists here."""
    program = tmp_path / "halocline"
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    for service in SERVICES:
        unit = (FOLDER / f"halocline-{service}.service").read_text("utf-8")
        (tmp_path / f"halocline-{service}.service").write_text(unit.replace(EXECUTABLE, str(program)))
    return tmp_path


def analyze(*arguments):
    program = shutil.which("systemd-analyze")
    assert program, "these tests need systemd-analyze: apt-get install systemd"
    return subprocess.run([program, *map(str, arguments)], capture_output=True, text=True, check=False)


@pytest.mark.parametrize("service", SERVICES)
def test_systemd_finds_nothing_wrong_with_the_unit(service, installed):
    found = analyze("verify", "--man=no", installed / f"halocline-{service}.service")
    said = [line for line in (found.stdout + found.stderr).splitlines() if "halocline" in line]
    assert (found.returncode, said) == (0, [])


def test_systemd_would_find_a_misspelt_key(installed):
    path = installed / "halocline-control.service"
    path.write_text(path.read_text().replace("WatchdogSec=", "WatchDogSec="))
    assert re.search(r"Unknown key (name )?'WatchDogSec'", analyze("verify", "--man=no", path).stderr)


@pytest.mark.parametrize(("service", "most"), [("control", 1.0), ("report", 1.5)])
def test_little_is_exposed(service, most, installed):
    found = analyze("security", "--no-pager", "--offline=true", installed / f"halocline-{service}.service")
    score = re.search(r"Overall exposure level for \S+: (\d+\.\d+)", found.stdout)
    assert score, found.stderr
    assert float(score.group(1)) <= most, found.stdout


@pytest.mark.parametrize("service", SERVICES)
def test_the_commands_are_ones_that_the_program_has(service):
    for line in values(service, "ExecStart"):
        program, *arguments = shlex.split(line)
        parsed = build_parser(list(MODULES)).parse_args(arguments)
        assert program == EXECUTABLE
        assert str(parsed.config) == "/etc/halocline/halocline.toml"


def test_control_and_report_meet_at_the_same_socket():
    sockets = {shlex.split(value(service, "ExecStart"))[-1 if service == "report" else -3] for service in SERVICES}
    assert sockets == {"/run/halocline/control.sock"}
    assert shlex.split(value("control", "ExecStart"))[-2:] == ["--group", "halocline"]


@pytest.mark.parametrize("service", SERVICES)
def test_each_keeps_its_own_folder(service):
    arguments = shlex.split(value(service, "ExecStart"))
    data = arguments[arguments.index("--data") + 1]
    assert data == f"/var/lib/{value(service, 'StateDirectory')}"


@pytest.mark.parametrize("service", SERVICES)
def test_each_comes_back_for_ever(service):
    assert value(service, "Restart") == "always"
    assert value(service, "StartLimitIntervalSec") == "0"


def test_control_is_watched_and_ends_quickly_with_its_outputs_safe():
    wanted = {"Type": "notify", "WatchdogSec": "750ms", "WatchdogSignal": "SIGKILL", "RestartSec": "20ms"}
    assert {key: value("control", key) for key in wanted} == wanted
    assert int(value("control", "TimeoutStopSec")) <= 5


def test_a_frozen_control_is_replaced_before_the_promise_is_broken_and_a_slow_tick_is_not():
    """Killed for no silence after which a run would go on, wherever in it the last feed was."""
    watchdog_s = int(value("control", "WatchdogSec").removesuffix("ms")) / 1000.0
    assert watchdog_s - max(TICK_S, REST_TURN_S) >= MISSED_TICKS * TICK_S
    assert watchdog_s <= RELAY_FORGIVES_S


def test_a_page_that_hangs_is_started_anew_and_a_busy_one_is_not():
    fed_every_s = TURN_EVERY_TICKS * SERVERS_TICK_S
    assert 4 * fed_every_s <= int(value("report", "WatchdogSec")) <= 60
    assert value("report", "WatchdogSignal") == "SIGKILL"


def test_what_control_leaves_is_where_the_program_that_makes_safe_looks():
    """In memory, kept over restarts, and with the configuration as second best; no failure of it skips the pause."""
    program, folder, _, command = stop_post()
    assert (program, folder) == (f"{EXECUTABLE}-safe", f"/run/{value('control', 'RuntimeDirectory')}")
    assert command[0] == EXECUTABLE
    assert build_parser(list(MODULES)).parse_args(command[1:]).name == "safe"
    assert value("control", "RuntimeDirectoryPreserve") == "restart"


def test_a_start_that_came_to_no_good_tick_is_tried_again_slowly():
    """Three seconds leave the page the processor; the pause ends before systemd would end it."""
    assert 2.9 <= stop_post()[2] < int(value("control", "TimeoutStopSec"))


def test_control_goes_before_everything_else_and_last_of_all():
    assert (value("control", "CPUSchedulingPolicy"), value("control", "CPUSchedulingPriority")) == ("fifo", "50")
    assert int(value("control", "OOMScoreAdjust")) < 0 < int(value("report", "OOMScoreAdjust"))
    assert value("control", "LimitMEMLOCK") == "infinity"
    assert "MemoryMax" not in dict(directives("control"))
    assert value("report", "MemoryMax") == "300M"


def test_control_has_no_network_and_only_its_own_devices():
    assert value("control", "PrivateNetwork") == "yes"
    assert value("control", "RestrictAddressFamilies") == "AF_UNIX"
    assert value("control", "DevicePolicy") == "closed"
    assert values("control", "DeviceAllow") == ["char-i2c rw", "char-gpiochip rw"]


def test_control_sees_who_its_clients_are_and_may_give_the_socket_to_its_group():
    assert "PrivateUsers" not in dict(directives("control"))
    assert values("control", "SystemCallFilter")[-1] == "@chown"


def test_report_has_no_hardware():
    assert value("report", "PrivateDevices") == "yes"
    assert values("report", "DeviceAllow") == []
    assert value("report", "SupplementaryGroups") == "halocline"


def test_the_users_and_groups_of_the_units_are_made():
    made = {(line[0], line[1]) for line in lines_of("halocline.sysusers") if line[0] in "ug"}
    members = {(line[1], line[2]) for line in lines_of("halocline.sysusers") if line[0] == "m"}
    for service in SERVICES:
        user = value(service, "User")
        assert ("u", user) in made
        for group in value(service, "SupplementaryGroups").split():
            assert ("g", group) in made
            assert (user, group) in members


def test_systemd_can_make_the_users(tmp_path):
    program = shutil.which("systemd-sysusers")
    assert program, "these tests need systemd-sysusers: apt-get install systemd"
    made = subprocess.run(
        [program, f"--root={tmp_path}", "--dry-run", str(FOLDER / "halocline.sysusers")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    assert "halocline-control" in made.stderr


def test_the_folders_are_as_the_units_want_them():
    folders = {line[1]: tuple(line[2:5]) for line in lines_of("halocline.tmpfiles")}
    assert folders["/run/halocline"] == ("0750", "halocline-control", "halocline")
    for service in SERVICES:
        user, group = value(service, "User"), value(service, "Group")
        state = f"/var/lib/{value(service, 'StateDirectory')}"
        assert folders[state] == (value(service, "StateDirectoryMode"), user, group)
    assert value("control", "ReadWritePaths") in folders
    assert folders["/etc/halocline/halocline.toml"] == ("0640", "root", "halocline")


def test_the_page_agrees_with_the_units():
    page = (FOLDER / "README.md").read_text("utf-8")
    watchdog_s = int(re.search(r"RuntimeWatchdogSec=(\d+)", page).group(1))
    assert 10 <= watchdog_s <= 14
    for service in SERVICES:
        assert f"`OOMScoreAdjust={value(service, 'OOMScoreAdjust')}`" in page


def test_the_page_is_announced_under_its_own_port():
    """avahi.service(5): a service group with one web page; %h stands for the computer's name."""
    root = ElementTree.parse(FOLDER / "halocline.avahi-service").getroot()
    (service,) = root.findall("service")
    assert (root.tag, service.findtext("type")) == ("service-group", "_http._tcp")
    assert int(service.findtext("port")) == HttpSettings().port
    assert "%h" in root.findtext("name")
    assert root.find("name").get("replace-wildcards") == "yes"


def test_every_file_of_the_folder_is_named_in_its_list():
    listed = (FOLDER / "README.md").read_text("utf-8")
    assert [path.name for path in FOLDER.iterdir() if path.name != "README.md" and f"`{path.name}" not in listed] == []
