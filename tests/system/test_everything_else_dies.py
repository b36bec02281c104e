"""A computer too busy to let anybody run, a sea that dies, a supervisor that is killed, a folder that is taken."""

import os
import signal
import time

import pytest

pytestmark = [pytest.mark.system, pytest.mark.timeout(180)]

FROZEN_S = 0.3
BETWEEN_S = 0.15
ORPHANS_S = 8.0


@pytest.fixture(scope="module")
def port_of():
    return lambda boat: int(boat.address.rstrip("/").rpartition(":")[2])


def test_a_computer_that_lets_nobody_run_slows_the_plant_down_and_trips_nothing(ready):
    assert ready.order("start", litres=1)["accepted"]
    ready.wait(lambda now: now["state"] == "pressurising" and now["outputs"]["high_pressure_pump"])
    pids = [ready.pid(name) for name in ("control", "sea")]
    end_s = time.monotonic() + 6.0
    frozen_s = 0.0
    while time.monotonic() < end_s:
        for pid in pids:
            os.kill(pid, signal.SIGSTOP)
        time.sleep(FROZEN_S)
        frozen_s += FROZEN_S
        for pid in pids:
            os.kill(pid, signal.SIGCONT)
        time.sleep(BETWEEN_S)
    assert frozen_s > 2.5
    now = ready.wait(lambda now: True)
    assert (now["state"], now["first_out"], now["alarms"]) == ("pressurising", None, [])


def test_a_dead_sea_stops_control_and_both_come_back_sane(boat):
    if boat.now()["state"] != "pressurising":
        assert boat.wait_ready().order("start", litres=1)["accepted"]
    boat.wait(lambda now: now["state"] == "pressurising" and (now["readings"]["vessel_pressure"]["value"] or 0) > 5)
    before = boat.now()
    boat.kill("sea")
    now = boat.wait(lambda now: now["boot"] != before["boot"], 20.0)
    assert now["state"] in ("tripped", "standby")
    assert now["run"] is None
    assert not any(boat.truth()["pins"][output] for output in ("feed_pump", "high_pressure_pump", "product_to_tank"))
    boat.order("acknowledge")
    now = boat.wait(lambda now: now["state"] == "standby" or "reset" in now["allowed_commands"])
    if now["state"] == "tripped":
        assert boat.cli("reset").returncode == 0
    boat.wait_ready()
    runs = boat.http("GET", "/api/v1/runs")[1]["runs"]
    assert runs[0]["going_on"] is False
    assert runs[0]["why"]


def test_a_killed_supervisor_leaves_nothing_behind_and_its_folder_can_be_used_at_once(ready, a_boat, port_of):
    pids = [ready.pid(name) for name in ("sea", "control", "report")]
    assert all(pids)
    ready.supervisor.kill()
    killed_s = time.monotonic()
    again = a_boat(data_dir=ready.data_dir)
    while any(ready.alive(pid) for pid in pids) and time.monotonic() < killed_s + 10.0:
        time.sleep(0.02)
    assert time.monotonic() - killed_s < ORPHANS_S
    now = again.wait_ready().now()
    assert now["state"] == "standby"
    assert now["alarms"] == []
    took_s, status = again.end(signal.SIGTERM)
    assert (status, took_s < ORPHANS_S) == (0, True)


def test_a_port_that_is_taken_is_passed_over_on_a_simulated_boat(a_boat, port_of):
    first = a_boat()
    first.wait_ready()
    second = a_boat(port=port_of(first))
    second.wait_ready()
    assert port_of(first) < port_of(second) < port_of(first) + 50
    for boat in (first, second):
        assert boat.end()[1] == 0
