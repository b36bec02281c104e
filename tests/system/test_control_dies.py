"""Control killed or halted at any moment of a run: the pins are safe within a second, and it comes back at rest.

A dry, dead or unplugged conductivity cell is tried on the way: it never opens the diverter.
"""

import json
import os
import signal
import sqlite3
import subprocess
import time

import pytest

from halocline.app.paths import LATCH_FILE

pytestmark = [pytest.mark.system, pytest.mark.timeout(240)]

RELAY_S = 1.0
LOOK_S = 0.3  # a step of the plant, and a look of ours on a busy computer
BACK_WITHIN_S = 20.0
CELL_FAULT_S = 8.0  # the quality has to hold for 6 s before the diverter opens
STATUS_FIELDS = {
    *("schema", "boat", "simulated", "link", "boot", "seq", "time", "uptime_s", "state", "since_s", "sentence"),
    *("first_out", "readings", "derived", "outputs", "run", "alarms", "owed", "locked", "allowed_commands", "refused"),
}


def kill_and_look(boat):
    """Kill control; how long coils stayed energised, and the snapshot of the one that came back."""
    before = boat.now()
    boat.kill("control")
    safe_s = boat.safe_after()
    back = boat.wait(lambda now: now["boot"] != before["boot"], BACK_WITHIN_S)
    return safe_s, back


def bar(now):
    return now["readings"]["vessel_pressure"]["value"]


def back_at_rest(boat):
    """It came back by itself, runs nothing, says that it restarted, and owes the flush."""
    now = boat.wait(lambda now: "restarted_unexpectedly" in [alarm["id"] for alarm in now["alarms"]], BACK_WITHIN_S)
    assert now["state"] == "standby"
    assert now["run"] is None
    assert now["owed"]["flush"] is True
    assert not any(boat.truth()["pins"][output] for output in ("feed_pump", "high_pressure_pump", "product_to_tank"))
    boat.order("acknowledge")
    boat.wait_ready()


def let_the_regulator_be_opened(boat):
    """Nobody asked for it when the run broke off; a flush asks, and so a hand opens it."""
    boat.wait_ready()
    assert boat.order("flush")["accepted"]
    until_open_s = time.monotonic() + 20.0
    while boat.truth()["regulator_open"] < 0.99:
        assert time.monotonic() < until_open_s
        time.sleep(0.1)
    boat.order("stop")
    boat.wait_ready()


def test_killed_while_priming(ready):
    assert ready.order("start", litres=1)["accepted"]
    ready.wait(lambda now: now["state"] == "priming" and now["outputs"]["feed_pump"])
    safe_s, back = kill_and_look(ready)
    assert safe_s <= RELAY_S + LOOK_S
    assert back["state"] == "standby"
    back_at_rest(ready)  # what nobody saw after the last write counts as the worst


def test_killed_while_pressure_is_raised(ready):
    assert ready.order("start", litres=1)["accepted"]
    ready.wait(lambda now: (bar(now) or 0) > 20)
    assert ready.truth()["effective_outputs"]["high_pressure_pump"]
    safe_s, back = kill_and_look(ready)
    assert safe_s <= RELAY_S + LOOK_S
    assert back["state"] in ("standby", "hand_run")  # pressure that has not gone yet is nobody's command
    ready.wait_state("standby")
    back_at_rest(ready)


def test_killed_while_flushing_after_a_run_it_owes_the_flush_still(ready):
    assert ready.now()["owed"]["flush"] is True
    assert ready.order("flush", litres=1.2)["accepted"]
    flushing = ready.wait(lambda now: now["outputs"]["flush_valve"] and ready.truth()["regulator_open"] > 0.99)
    assert flushing["state"] == "flushing"
    # What is killed before the card has taken it cannot be known afterwards.
    ready.wait(lambda _now: b'"flushing"' in (ready.data_dir / LATCH_FILE).read_bytes())
    safe_s, back = kill_and_look(ready)
    assert safe_s <= RELAY_S + LOOK_S
    assert back["state"] == "standby"
    back_at_rest(ready)


def test_halted_for_three_seconds_it_trips_rather_than_going_on(ready):
    assert ready.order("start", litres=1)["accepted"]
    ready.wait(lambda now: (bar(now) or 0) > 15)
    before = ready.now()
    pid = ready.kill("control", signal.SIGSTOP)
    try:
        assert ready.safe_after() <= RELAY_S + LOOK_S
        truth = ready.truth()
        assert not truth["relay_closed"]
        assert truth["pins"]["high_pressure_pump"]  # the pin stands where control left it
        time.sleep(2.0)
    finally:
        os.kill(pid, signal.SIGCONT)
    now = ready.wait_state("tripped")
    assert now["boot"] == before["boot"]
    assert now["first_out"] == "scan_overrun"
    assert not any(ready.truth()["pins"][output] for output in ("high_pressure_pump", "product_to_tank"))
    ready.wait(lambda now: bar(now) is not None and bar(now) < 2)
    ready.order("acknowledge")
    ready.wait(lambda now: "reset" in now["allowed_commands"])
    assert ready.cli("reset").returncode == 0
    let_the_regulator_be_opened(ready)


def test_a_second_control_is_refused_before_it_touches_a_pin(ready, command, watch):
    with watch(ready, 0.02) as seen:
        second = command("control", "--simulated", "--quick", "--data", str(ready.data_dir))
    assert second.returncode == 2
    assert second.stdout == ""
    assert second.stderr == (
        f"halocline control: another control already runs on {ready.data_dir}; stop it first, "
        "or choose another folder with --data\n"
    )
    beats = [truth["pins"]["heartbeat"] for truth in seen.seen]
    assert all(truth["relay_closed"] for truth in seen.seen)
    assert any(beats)
    assert not all(beats)


def test_a_second_boat_in_the_same_folder_is_refused(ready, command):
    second = command("run", "--simulated", "--quick", "--data", str(ready.data_dir))
    assert second.returncode == 2
    assert second.stderr == (
        f"halocline run: another boat already runs on {ready.data_dir}; stop it first, "
        "or choose another folder with --data\n"
    )
    assert ready.now()["state"] == "standby"


def test_status_as_json_has_every_public_field(ready):
    status = ready.cli("status", "--json")
    assert (status.returncode, status.stderr) == (0, "")
    public = json.loads(status.stdout)
    assert STATUS_FIELDS - set(public) == set()
    assert public["boat"] == "Cagarra"
    assert public["simulated"] is True
    assert public["link"] == {"control": "live", "age_s": 0.0}
    assert public["state"] == "standby"
    assert "start" in public["allowed_commands"]


def test_status_in_words(ready):
    status = ready.cli("status")
    lines = status.stdout.splitlines()
    assert status.returncode == 0
    assert lines[0] == "Cagarra, SIMULATED"
    assert lines[1].startswith("At rest")
    assert any(line.startswith("  membrane pressure ") and line.endswith(" bar") for line in lines)


def test_check_looks_at_configuration_and_wiring(ready):
    checked = ready.cli("check", "--simulated")
    assert checked.returncode == 0
    assert checked.stdout.startswith("SIMULATED: ")
    assert "OK        Sensors: Every sensor answers.\n" in checked.stdout
    assert checked.stdout.endswith("Nothing to put right.\n")


def test_no_part_of_control_has_the_network_or_the_database_in_it(boat):
    maps = subprocess.run(
        ["cat", f"/proc/{boat.pid('control')}/maps"], capture_output=True, text=True, check=True
    ).stdout
    assert "libpython" in maps or "python3" in maps
    assert "sqlite3" not in maps
    assert "_ssl" not in maps


def test_a_cell_that_is_dead_unplugged_or_dry_never_opens_the_diverter(ready):
    assert ready.order("start", litres=1)["accepted"]
    ready.wait_state("diverting")
    ready.wait(lambda now: now["derived"]["product_tds_mg_l"] < 450)
    for fault in ({"name": "sensor_open"}, {"name": "sensor_short"}, {"name": "sensor_offset", "value": -5000.0}):
        name = fault.pop("name")
        ready.fault(name, channel="product_conductivity", **fault)
        end_s = time.monotonic() + CELL_FAULT_S
        while time.monotonic() < end_s:
            truth = ready.truth()
            assert not truth["pins"]["product_to_tank"], name
            assert not truth["effective_outputs"]["product_to_tank"], name
            time.sleep(0.1)
        assert ready.now()["state"] == "diverting"
        ready.fault(name, channel="product_conductivity", clear=True)
    ready.wait_state("producing")
    assert ready.truth()["pins"]["product_to_tank"]


def test_killed_while_water_is_made(boat):
    assert boat.now()["state"] == "producing"
    assert boat.truth()["effective_outputs"]["product_to_tank"]
    safe_s, back = kill_and_look(boat)
    assert safe_s <= RELAY_S + LOOK_S
    assert back["state"] in ("standby", "hand_run")
    boat.wait_state("standby")
    back_at_rest(boat)


def test_the_record_names_every_start_of_control(boat):
    boots_now = boat.now()["boot"]

    def boots():
        record = sqlite3.connect(f"file:{boat.data_dir / 'record.sqlite3'}?mode=ro", uri=True)
        try:
            return [boot for (boot,) in record.execute("SELECT boot FROM boots ORDER BY id")]
        finally:
            record.close()

    end_s = time.monotonic() + 10.0
    while boots()[-1] != boots_now and time.monotonic() < end_s:
        time.sleep(0.2)
    assert len(boots()) == 5
    assert boots()[-1] == boots_now
    runs = boat.http("GET", "/api/v1/runs")[1]["runs"]
    assert [run["going_on"] for run in runs] == [False] * 4
    assert all(run["why"] for run in runs)


def test_safe_drives_every_pin_off_whatever_control_does(ready, watch):
    assert ready.order("start", litres=1)["accepted"]
    ready.wait(lambda now: now["outputs"]["feed_pump"])
    pid = ready.kill("control", signal.SIGSTOP)
    try:
        safe = ready.cli("safe", "--simulated")
        assert (safe.returncode, safe.stdout) == (0, "every output is on its safe side\n")
        assert not any(ready.truth()["pins"].values())
    finally:
        os.kill(pid, signal.SIGCONT)
