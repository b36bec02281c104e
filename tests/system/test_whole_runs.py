"""A person takes the simulated boat through whole runs, by command line and by HTTP, and ends it with Ctrl-C."""

import http.client
import itertools
import json
import signal
import sqlite3
import time

import pytest

pytestmark = [pytest.mark.system, pytest.mark.timeout(240)]

HOLD_S = 6.0  # quality_hold_s of the demonstration boat, quick
LEAVING_S = 8.0  # Ctrl-C takes 0.7 s on a quiet computer, ten times as long on a busy one (measured)


@pytest.fixture(scope="module")
def by_command_line(boat, watch):
    """one run of 0.2 L ordered at the command line, looked at all the way; report is killed while water is made."""
    with watch(boat) as seen:
        ordered = boat.cli("start", "--litres", "0.2")
        boat.wait_state("producing")
        killed_at = boat.now()
        boat.kill("report")
        boat.wait(lambda now: now["state"] == "standby" and not now["owed"]["flush"] and now["boot"])
    return ordered, killed_at, seen


def run_of(boat, place=0):
    status, answer = boat.http("GET", "/api/v1/runs")
    assert status == 200
    return answer["runs"][place]


def test_the_address_stands_on_a_line_of_its_own_and_answers(boat):
    assert boat.address in boat.lines
    assert boat.http("GET", "/healthz")[0] == 200
    assert boat.http("GET", "/api/v1/now")[1]["state"] == "standby"
    assert "SIMULATED: no plant is connected; nothing here moves real water." in boat.lines
    assert boat.lines[-1].startswith("Ctrl-C here ends everything. In another terminal: ")


def test_a_run_ordered_at_the_command_line_is_answered_with_what_happens_now(by_command_line):
    ordered = by_command_line[0]
    assert (ordered.returncode, ordered.stderr) == (0, "")
    accepted, offered, flush, sentence = ordered.stdout.splitlines()
    assert accepted == "start: accepted"
    assert offered == "Puts about 0.2 L into the tank."
    assert flush.startswith("Then a flush takes ")
    assert sentence


def test_a_run_is_recorded_with_litres_time_salt_energy_and_why_it_ended(boat, by_command_line):
    run = run_of(boat)
    truth = boat.truth()
    assert run["why"] == "0.2 L went to the tank, as asked."
    assert (run["why_id"], run["first_out"], run["going_on"]) == ("target_litres", None, False)
    assert run["litres"] == pytest.approx(truth["tank_added_l"], rel=0.05)
    assert run["seconds"] == pytest.approx(45.0, abs=30.0)
    assert 5.0 < run["producing_s"] < run["seconds"]
    assert run["tds_mean_mg_l"] <= run["tds_worst_mg_l"] <= 500.0
    assert run["tds_worst_mg_l"] == pytest.approx(truth["tank_worst_tds_mg_l"], rel=0.05)
    assert run["energy_wh"] == pytest.approx(truth["energy_wh"], rel=0.2)
    assert run["peak_pressure_bar"] == pytest.approx(truth["peak_vessel_pressure_bar"], abs=1.0)
    assert run["flush_l"] == pytest.approx(truth["flush_l"], rel=0.05)


def test_product_goes_overboard_until_its_quality_has_held(by_command_line):
    seen = by_command_line[2]
    opened_s = seen.times("product_to_tank")[0]
    before = [truth for truth in seen.seen if truth["time_s"] < opened_s]
    flowing_s = [truth["time_s"] for truth in before if truth["product_flow_l_h"] > 10.0]
    bad_s = [truth["time_s"] for truth in before if truth["product_tds_mg_l"] > 500.0]
    last_doubt_s = max([flowing_s[0], *bad_s])
    assert all(not truth["effective_outputs"]["product_to_tank"] for truth in before)
    assert all(truth["tank_added_l"] == 0.0 for truth in before)
    assert opened_s - last_doubt_s > HOLD_S
    after = [truth for truth in seen.seen if truth["time_s"] >= opened_s]
    assert all(truth["product_tds_mg_l"] < 500.0 for truth in after if truth["effective_outputs"]["product_to_tank"])


def test_a_killed_report_is_nothing_to_the_plant(by_command_line):
    _, killed_at, seen = by_command_line
    opened = seen.times("product_to_tank")
    assert killed_at["state"] == "producing"
    assert max(later - earlier for earlier, later in itertools.pairwise(opened)) < 2.0
    assert max(truth["tank_added_l"] for truth in seen.seen) > 0.19


def test_nothing_of_the_time_without_report_is_missing_from_the_record(boat, by_command_line):
    killed_at = by_command_line[1]
    boat.wait(lambda now: now["seq"] > killed_at["seq"] + 10)
    stands_at = boat.now()["seq"] - 5

    def recorded():
        record = sqlite3.connect(f"file:{boat.data_dir / 'record.sqlite3'}?mode=ro", uri=True)
        try:
            (boot,) = record.execute("SELECT id FROM boots WHERE boot = ?", (killed_at["boot"],)).fetchone()
            newest, count = record.execute(
                "SELECT max(seq), sum(rows) FROM (SELECT seq, rows FROM samples WHERE boot = :boot"
                " UNION ALL SELECT seq, 1 FROM events WHERE boot = :boot)",
                {"boot": boot},
            ).fetchone()
            return newest, count, record.execute("SELECT * FROM holes").fetchall()
        finally:
            record.close()

    end_s = time.monotonic() + 20.0
    while (found := recorded())[0] < stands_at and time.monotonic() < end_s:
        time.sleep(0.5)
    newest, count, holes = found
    assert newest >= stands_at
    assert count == newest, "rows at rest may be folded into one, but each is counted"
    assert holes == []


def test_a_run_ordered_over_http_needs_no_pin_on_this_computer_and_is_recorded(boat, by_command_line):
    boat.wait_ready()
    status, refused = boat.http("POST", "/api/v1/commands", {"command": "start", "litres": 0.1})
    assert status == 403
    assert "X-Halocline" in json.dumps(refused)
    assert boat.order("start", litres=0.05) == {"accepted": True, "reasons": [], "ids": []}
    again = boat.cli("start", "--litres", "1")
    assert (again.returncode, again.stdout.splitlines()[0]) == (1, "start: refused")
    boat.wait_state("producing")
    assert run_of(boat)["going_on"] is True
    boat.wait(lambda now: now["state"] == "flushing" and now["run"] is None)
    first, second = run_of(boat, 1), run_of(boat, 0)
    assert second["litres"] == pytest.approx(0.05, abs=0.02)
    assert second["why"] == "0.05 L went to the tank, as asked."
    assert first["litres"] == pytest.approx(0.2, abs=0.02)
    assert second["seconds"] > 0
    assert second["energy_wh"] > 0


def test_ctrl_c_ends_everything_with_a_stream_open(boat, by_command_line):
    host, _, port = boat.address.removeprefix("http://").rstrip("/").partition(":")
    stream = http.client.HTTPConnection(host, int(port), timeout=10)
    stream.request("GET", "/api/v1/stream")
    answer = stream.getresponse()
    assert answer.status == 200
    assert answer.readline()
    pids = [boat.pid(name) for name in ("sea", "control", "report")]
    took_s, status = boat.end(signal.SIGINT)
    stream.close()
    assert status == 0
    assert took_s < LEAVING_S
    assert boat.lines[-1] == "stopping …"
    assert all(pid and not boat.alive(pid) for pid in pids)
    assert [path.name for path in boat.data_dir.iterdir() if path.is_socket()] == []
