"""A whole boat whose disk stands still and then is full, in the middle of a run: the plant does not notice, the page
says it, and nothing that can be kept is lost."""

import contextlib
import importlib.util
import os
import resource
import sqlite3
import tempfile
import time
from pathlib import Path

import pytest

from halocline.app.paths import socket_in
from halocline.config import demo_text
from halocline.link.client import LinkClient

pytestmark = [pytest.mark.system, pytest.mark.timeout(240)]

FROZEN_S = 30.0 if os.environ.get("HALOCLINE_SOAK") else 3.0
FULL_S = 2.0


def load(path):
    spec = importlib.util.spec_from_file_location(f"loaded_{path.stem}", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


HERE = Path(__file__).parent
aboard = load(HERE / "conftest.py")
failing_disk = load(HERE.parent / "report" / "failing_disk.py")


class Loop:
    """The boat's whole data folder on a disk of its own."""

    def __init__(self, folder):
        self._disk = failing_disk.LoopDisk(folder)
        self.data = self._disk.folder / "boat"
        self.freeze, self.thaw, self.empty = self._disk.freeze, self._disk.thaw, self._disk.empty
        self.end = self._disk.end

    def fill(self, _boat):
        self._disk.fill()


class Limits:
    """Where nothing may be mounted: a lock on the record, and a limit on what report may write."""

    def __init__(self, folder):
        self.data = folder / "boat"
        self._lock = None
        self._limited = None

    def freeze(self):
        self._lock = sqlite3.connect(self.data / "record.sqlite3", isolation_level=None, timeout=10)
        self._lock.execute("BEGIN IMMEDIATE")

    def thaw(self):
        self._lock.close()

    def fill(self, boat):
        self._limited = boat.pid("report")
        _, hard = resource.prlimit(self._limited, resource.RLIMIT_FSIZE)
        resource.prlimit(self._limited, resource.RLIMIT_FSIZE, (0, hard))

    def empty(self):
        _, hard = resource.prlimit(self._limited, resource.RLIMIT_FSIZE)
        resource.prlimit(self._limited, resource.RLIMIT_FSIZE, (hard, hard))

    def end(self):
        pass


def record_of(boat):
    with contextlib.suppress(OSError):
        return boat.http("GET", "/api/v1/health")[1]["record"]
    return {}


def stays_under_control(boat, seconds):
    """The time-out relay opens one second after the last good tick of control, so a closed relay tells of good
    ticks; the page's snapshots go on."""
    end_s, seen = time.monotonic() + seconds, set()
    while time.monotonic() < end_s:
        assert boat.truth()["relay_closed"]
        seen.add((boat.now() or {}).get("uptime_s"))
        time.sleep(0.2)
    return len(seen) >= seconds


@pytest.fixture(scope="module")
def disk():
    with tempfile.TemporaryDirectory(prefix="boat-", ignore_cleanup_errors=True) as folder:
        made = (Loop if failing_disk.can_mount() else Limits)(Path(folder))
        yield made
        made.end()


@pytest.fixture(scope="module")
def config(tmp_path_factory):
    path = tmp_path_factory.mktemp("config") / "boat.toml"
    path.write_text(demo_text(), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def boat(disk, config):
    """One boat for the module, making water from the first test to the last."""
    started = aboard.Boat(disk.data, "--config", str(config))
    try:
        started.wait_ready()
        assert started.order("start", litres=0.3)["accepted"]
        started.wait_state("pressurising")
        yield started
    finally:
        started.clear_away()


def test_a_disk_that_stands_still_does_not_touch_the_plant_and_loses_nothing(boat, disk):
    disk.freeze()
    try:
        assert stays_under_control(boat, FROZEN_S)
    finally:
        disk.thaw()
    aboard.until(lambda: record_of(boat).get("held") == 0 and record_of(boat)["state"] == "ok", 30)
    assert record_of(boat)["lost"] == 0


def test_a_configuration_edited_while_running_changes_nothing(boat, config):
    edited = demo_text().replace("\n[limits]\n", "\n[limits]\naccept_tds_mg_l = 450\n")
    assert edited != demo_text()
    config.write_text(edited, encoding="utf-8")
    with contextlib.closing(LinkClient(str(socket_in(boat.data_dir, "control")), "test")) as client:
        assert {client.now()["limits"]["accept_tds_mg_l"] for _ in range(8)} == {500.0}
    told = boat.cli("check", "--simulated", "--config", str(config))
    assert "limits.accept_tds_mg_l: runs with 500.0, the file says 450.0" in told.stdout


def test_a_full_disk_does_not_touch_the_plant_is_said_and_is_got_over(boat, disk):
    disk.fill(boat)
    aboard.until(lambda: stays_under_control(boat, 0.5) and record_of(boat).get("state") == "failing", 40)
    assert boat.now()["problems"][0].startswith("Nothing is being recorded: ")
    assert stays_under_control(boat, FULL_S)
    disk.empty()
    aboard.until(lambda: record_of(boat).get("state") == "ok" and record_of(boat)["held"] == 0, 30)
    assert "scan_overrun" not in {alarm["id"] for alarm in boat.now()["alarms"]}


def test_after_all_that_the_record_is_whole_and_names_what_was_in_force(boat, disk):
    boat.order("stop")
    boat.wait(lambda now: now["run"] is None, 60)
    boat.end()
    with contextlib.closing(sqlite3.connect(disk.data / "record.sqlite3")) as connection:

        def ask(query):
            return connection.execute(query).fetchall()

        assert ask("PRAGMA integrity_check") == [("ok",)]
        assert ask("SELECT count(*) FROM holes WHERE reason = 'gone'") == [(0,)]
        ((rows,),), ((events,),) = ask("SELECT sum(rows) FROM samples"), ask("SELECT count(*) FROM events")
        assert ask("SELECT sum(last_seq) FROM boots") == [(rows + events,)]
        assert ask("SELECT json_extract(configuration, '$.limits.accept_tds_mg_l') FROM boots") == [(500.0,)]
        assert ask("SELECT count(*) FROM runs WHERE why IS NOT NULL") == [(1,)]
