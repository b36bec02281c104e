import base64
import hashlib
import json
import re
import time

import pytest

from halocline.report import live, public
from halocline.report.parts import Part, of_peer
from halocline.report.secrets import set_pin

PIN = "482913"
HEADERS = {"X-Halocline": "1"}


# ---- reading ------------------------------------------------------------------------------------


def test_now_is_open_to_everybody_aboard(ready):
    ship, _ = ready
    response = ship.client.get("/api/v1/now")
    assert response.status_code == 200
    assert response.headers["content-type"] == "application/json"
    assert response.headers["cache-control"] == "no-store"
    assert response.json()["state"] == "standby"


def test_reading_can_be_kept_for_those_with_the_pin(aboard, control):
    control()
    ship = aboard(require_session_to_read=True)
    set_pin(ship.secrets_path, PIN)
    closed = ("/api/v1/now", "/api/v1/stream", "/api/v1/runs", "/api/v1/health", "/api/v1/plan", "/metrics", "/")
    for path in closed:
        assert ship.client.get(path).status_code == 401
    assert ship.client.get("/healthz").status_code == 200
    ship.sign_in()
    assert ship.client.get("/api/v1/now").status_code == 200


def test_runs_alarms_and_history_come_from_the_record(ready, until):
    ship, plant = ready
    wall_s = time.time()
    why = {"id": "target_litres", "values": {"litres": 40.0}}
    ended = {"id": "r7", "why": why, "first_out": None, "started_mono_s": 1.0, "litres": 40.0, "tds_worst_mg_l": 410.0}
    plant.event("run_started", wall_s=wall_s - 60, run={"id": "r7", "why": {"litres": 40}, "target_l": 40.0})
    plant.row(100.0, wall_s - 2, 50.0)
    plant.row(101.0, wall_s - 1, 52.0)
    plant.event("alarm", id="feed_pressure_low", to="unacknowledged", priority="high", values={"pressure_bar": 0.2})
    plant.event("run_ended", wall_s=wall_s, run=ended)
    plant.event("flush_ended", wall_s=wall_s, run="r7", litres=12.0, seconds=90.0, complete=True, measured=True)
    until(lambda: ship.context.feed.recorder.position.seq == 6)
    ship.context.feed.recorder.flush()

    (run,) = ship.client.get("/api/v1/runs").json()["runs"]
    assert (run["run"], run["litres"], run["flush_l"], run["tds_worst_mg_l"]) == ("r7", 40.0, 12.0, 410.0)
    assert run["why"] == "40 L went to the tank, as asked."
    assert run["why_id"] == "target_litres"
    told = ship.client.get("/api/v1/runs/r7").json()
    assert told == {**run, "story": told["story"], "facts": told["facts"]}
    assert told["story"].endswith("Ended: 40 L went to the tank, as asked.")
    assert {"name": "Into the tank", "text": "40 L"} in told["facts"]
    assert ship.client.get("/api/v1/runs/r8").json()["reasons"] == ["There is no run r8 in the record."]

    sheet = ship.client.get("/api/v1/runs/r7?format=html")
    assert sheet.headers["content-type"].startswith("text/html")
    assert sheet.text.startswith("<!doctype html>")
    style = re.search(r"<style>(.*?)</style>", sheet.text, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"style-src 'sha256-{digest}'" in sheet.headers["content-security-policy"]
    assert "default-src 'none'" in sheet.headers["content-security-policy"]
    assert sheet.headers["x-frame-options"] == "DENY"
    assert ship.client.get("/api/v1/runs/r7?format=pdf").status_code == 422

    (step,) = ship.client.get("/api/v1/alarms").json()["journal"]
    assert (step["id"], step["to"]) == ("feed_pressure_low", "unacknowledged")
    assert step["means"].startswith("Pump inlet pressure is 0.2 bar")

    history = ship.client.get("/api/v1/history?channel=vessel_pressure&from=-60&points=1").json()
    assert (history["min"], history["mean"], history["max"]) == ([49.5], [51.0], [52.5])

    health = ship.client.get("/api/v1/health").json()
    assert health["counters"]["product_l"] == 40.0
    assert health["last_flush"]["litres"] == 12.0
    assert health["record"]["state"] == "ok"
    assert health["note"] is None
    assert [figure["name"] for figure in health["membrane"]["figures"]][:2] == ["Product flow", "Salt passage"]
    assert all(figure["now"].startswith("not known yet, ") for figure in health["membrane"]["figures"])
    assert health["membrane"]["answer"]["schema"] == 1
    assert all(not any(figure["band"]["estimate"]) for figure in health["membrane"]["figures"])
    assert ship.client.get("/api/v1/health/finding").json() == {"finding": None}


def test_what_is_sure_of_how_the_plant_ages_is_told_to_those_who_do_not_ask_for_all_of_it(ready, monkeypatch):
    ship, _ = ready
    aside = {"on": "2026-11-03T10:00:00.000Z", "reason": "cleaning in March", "who": "Ana"}
    said = {"finding": {"name": "fouling", "confidence": 0.93, "aside": aside}}
    monkeypatch.setattr(ship.context.latest, "of", lambda _path: said)
    finding = ship.client.get("/api/v1/health/finding").json()["finding"]
    assert finding["text"].startswith("The membrane is fouling")
    assert (finding["name"], finding["confidence"], finding["aside"]) == ("fouling", 0.93, aside)


def test_what_happened_is_told_a_stretch_at_a_time_with_who_ordered_it(ready, until):
    ship, plant = ready
    order = {"command": "flush", "origin": "page", "who": "Ana", "accepted": True, "reasons": [], "arguments": {}}
    plant.event("command", wall_s=1_790_000_000.0, **order)
    plant.event("command", **{**order, "command": "log"})
    for _ in range(3):
        plant.event("state", **{"from": "standby", "to": "flushing", "why": {"id": "flush_accepted", "values": {}}})
    until(lambda: ship.context.feed.recorder.position.seq == 5)
    ship.context.feed.recorder.flush()

    def told(query):
        said = ship.client.get(f"/api/v1/events?{query}").json()
        return [event["seq"] for event in said["events"]], said["older"]

    newest, older = told("limit=2")
    assert newest == [5, 4]
    assert told(f"limit=2&before={older}")[0] == [3], "the accepted log command is told by its own event"
    rest, oldest = told(f"limit=200&before={older}")
    assert (rest, oldest) == ([3, 1], None)
    first = ship.client.get("/api/v1/events").json()["events"][-1]
    assert (first["text"], first["who"], first["origin"]) == ("Flush: accepted.", "Ana", "page")
    assert first["time"] == "2026-09-21T14:13:20.000Z"
    assert told("before=nobody-7") == ([], None)
    for nonsense in ("x", "-", "7", "a-1e3", "a--1", f"a-{'9' * 30}"):
        assert ship.client.get(f"/api/v1/events?before={nonsense}").status_code == 422


@pytest.mark.parametrize(
    ("query", "problem"),
    [
        ("channel=boot", "there is no channel 'boot'"),
        ("channel=vessel_pressure&from=soon", "'soon' is neither seconds nor an ISO 8601 time"),
        ("channel=vessel_pressure&from=nan", "'nan' is neither seconds nor an ISO 8601 time"),
        ("channel=vessel_pressure&from=2026-01-02&to=2026-01-01", "'to' has to be later than 'from'"),
        ("channel=vessel_pressure&points=1000000", "points: Input should be less than or equal to 2000"),
        ("", "channel: Field required"),
    ],
)
def test_a_question_without_sense_gets_a_sentence(ready, query, problem):
    ship, _ = ready
    response = ship.client.get(f"/api/v1/history?{query}")
    assert response.status_code == 422
    assert response.json()["reasons"][0].startswith(problem)


def test_a_record_that_cannot_be_read_leaves_the_live_page_alone(ready):
    ship, _ = ready
    ship.context.feed.recorder.flush()
    ship.context.feed.record_path.rename(ship.context.feed.record_path.with_name("gone"))
    response = ship.client.get("/api/v1/runs")
    assert response.status_code == 503
    assert response.json()["reasons"][0].startswith("The record cannot be read now; the plant and the live page")
    assert ship.client.get("/api/v1/now").status_code == 200


def test_the_page_answers_while_control_is_down(aboard):
    ship = aboard()
    now = ship.client.get("/api/v1/now").json()
    assert now["state"] is None
    assert now["link"] == {"control": "lost", "age_s": None}
    response = ship.client.get("/healthz")
    alive = response.json()
    assert (response.status_code, alive["ok"], alive["control"], alive["record"]) == (200, False, "lost", "ok")
    assert alive["conditions"] == ["control_down"]
    assert alive["parts"]["control"]["state"] == "failing"
    assert "has not been heard yet" in alive["parts"]["control"]["problem"]
    assert alive["parts"]["record"] == {"state": "ok", "problem": None}
    assert ship.client.get("/healthz/control").status_code == 503
    assert ship.client.get("/healthz/record").status_code == 200
    assert "has not been heard yet" in ship.client.get("/").text
    answer = ship.command("stop")
    assert answer.status_code == 503
    assert answer.json()["ids"] == ["link_lost"]
    assert answer.json()["reasons"][0].startswith("The control process cannot be reached, so nothing was done.")


def conditions(ship):
    """What both addresses say; asked again where the world changed between the two questions."""
    for _ in range(5):
        alive = ship.client.get("/healthz").json()["conditions"]
        shown = [one["id"] for one in ship.client.get("/api/v1/now").json()["conditions"]]
        if shown == alive:
            break
    assert shown == alive
    return alive


def test_a_control_that_hangs_one_that_is_gone_and_one_that_is_back_are_three_sights(ready, until, monkeypatch):
    ship, plant = ready
    for module in (live, public):
        monkeypatch.setattr(module, "LOST_AFTER_S", 0.2)
    with plant.lock:
        until(lambda: conditions(ship) == ["control_silent"])
        now = ship.client.get("/api/v1/now").json()
        assert now["sentence"].startswith("The control process is there but has said nothing for")
        assert now["last"]["state"] == "standby"
    plant.stop()
    until(lambda: conditions(ship) == ["control_down"])
    assert "it does not run" in ship.client.get("/api/v1/now").json()["sentence"]


def test_a_record_that_cannot_be_written_is_a_sight_of_its_own_beside_a_living_plant(control, aboard, until, tmp_path):
    (tmp_path / "data" / "record.sqlite3").mkdir(parents=True)
    plant = control()
    ship = aboard()
    until(lambda: ship.context.feed.connected)
    plant.now()
    until(lambda: conditions(ship) == ["record_unavailable"])
    now = ship.client.get("/api/v1/now").json()
    assert (now["link"]["control"], now["state"]) == ("live", "standby")
    (condition,) = now["conditions"]
    assert condition["means"].startswith("Nothing is being recorded: ")
    assert now["problems"] == [f"{condition['means']} {condition['do']}"]
    response = ship.client.get("/healthz")
    assert (response.status_code, response.json()["ok"], response.json()["record"]) == (200, False, "failing")
    assert ship.client.get("/healthz/record").status_code == 503
    assert response.json()["parts"]["control"] == {"state": "ok", "problem": None}
    assert response.json()["parts"]["record"]["problem"]


def test_a_broker_that_is_away_is_told_and_is_no_failing_of_ours(ready):
    ship, _ = ready
    assert ship.client.get("/healthz").json()["parts"]["mqtt"] == {"state": "off", "problem": None}
    assert ship.client.get("/healthz/mqtt").status_code == 200
    ship.context.peers["mqtt"] = lambda: Part("waiting", "The broker is not reached.")
    response = ship.client.get("/healthz")
    assert (response.status_code, response.json()["ok"]) == (200, True)
    assert response.json()["parts"]["mqtt"] == {"state": "waiting", "problem": "The broker is not reached."}
    assert ship.client.get("/healthz/mqtt").status_code == 503
    assert ship.client.get("/healthz/weather").status_code == 422


def test_a_part_that_has_broken_down_is_a_failing_of_ours(ready):
    ship, _ = ready
    ship.context.peers["mqtt"] = lambda: of_peer(False, True, None)
    response = ship.client.get("/healthz")
    assert (response.json()["ok"], response.json()["parts"]["mqtt"]["state"]) == (False, "failing")
    assert ship.client.get("/healthz/mqtt").status_code == 503
    assert "start report anew" in response.json()["parts"]["mqtt"]["problem"]


def test_who_may_not_read_learns_which_part_fails_and_no_word_of_why(aboard):
    ship = aboard(require_session_to_read=True)
    assert ship.client.get("/healthz").json()["parts"]["control"] == {"state": "failing", "problem": None}
    assert ship.client.get("/healthz/control").json() == {"state": "failing", "problem": None}


# ---- commands -----------------------------------------------------------------------------------


def test_stop_and_silence_need_no_pin(ready):
    ship, plant = ready
    for command in ("stop", "silence"):
        answer = ship.command(command)
        assert answer.status_code == 200
        assert answer.json() == {"accepted": True, "reasons": [], "ids": []}
    assert [(m["command"], m["origin"], m["who"]) for m in plant.commands] == [
        ("stop", "page", "192.168.1.20"),
        ("silence", "page", "192.168.1.20"),
    ]


def test_a_command_with_a_session_is_signed_with_its_name(ready):
    ship, plant = ready
    assert ship.command("start", litres=40).status_code == 401
    assert ship.sign_in().status_code == 200
    assert ship.command("start", litres=40, confirmed=["seacocks_open"]).json()["accepted"] is True
    sent = {key: value for key, value in plant.commands[0].items() if key != "id"}
    assert sent == {
        "command": "start",
        "litres": 40,
        "confirmed": ["seacocks_open"],
        "origin": "page",
        "who": "Ana (192.168.1.20)",
    }


def test_a_refusal_of_control_comes_with_every_reason_in_words(ready):
    ship, plant = ready
    plant.answers["start"] = [{"id": "too_many_commands", "values": {}}, {"id": "tank_full", "values": {}}]
    ship.sign_in()
    answer = ship.command("start")
    assert answer.status_code == 200
    assert answer.json()["accepted"] is False
    assert answer.json()["ids"] == ["too_many_commands", "tank_full"]
    assert answer.json()["reasons"][0] == "Too many commands at once. Wait a second and try again."
    assert len(answer.json()["reasons"]) == 2


def test_without_a_pin_set_a_command_is_refused_with_the_remedy(aboard, control):
    control()
    answer = aboard().command("start")
    assert answer.status_code == 403
    assert answer.json() == {
        "accepted": False,
        "reasons": [
            "No PIN is set, so only Stop and Silence work from here. Set one of at least six digits on the boat's "
            "computer: halocline pin"
        ],
        "ids": ["no_pin"],
    }


def test_a_pin_set_while_the_server_runs_is_in_force_at_once(aboard):
    ship = aboard()
    assert ship.sign_in().json()["ids"] == ["no_pin"]
    set_pin(ship.secrets_path, PIN)
    assert ship.sign_in().status_code == 200
    set_pin(ship.secrets_path, "739105")
    assert ship.client.get("/api/v1/session").json()["present"] is False


@pytest.mark.parametrize(
    "command", [{"command": "reset"}, {"command": "recommission"}, {"command": "bench", "output": "buzzer"},
                {"command": "calibrate", "membrane": True, "initials": "AB"}]
)  # fmt: skip
def test_the_gravest_commands_ask_for_the_pin_again(ready, command):
    ship, plant = ready
    ship.sign_in()
    assert ship.command(**command).json()["ids"] == ["pin_again"]
    wrong = ship.command(**command, pin="111111")
    assert (wrong.status_code, wrong.json()["reasons"]) == (403, ["That is not the PIN."])
    assert plant.commands == []
    assert ship.command(**command, pin=PIN).json()["accepted"] is True
    assert "pin" not in plant.commands[0]


def test_a_simulated_boat_lets_its_own_computer_do_everything(aboard, control, until):
    plant = control()
    ship = aboard(simulated=True)
    until(lambda: ship.context.feed.connected)
    own, other = ship.seen_from("127.0.0.1"), ship.seen_from("192.168.1.20")
    body = {"command": "fault", "fault": "prefilter_clogged", "severity": 0.8}
    assert own.post("/api/v1/commands", json=body, headers=HEADERS).json()["accepted"] is True
    assert plant.commands[0]["severity"] == 0.8
    assert own.get("/api/v1/session").json()["needed"] is False
    assert other.post("/api/v1/commands", json=body, headers=HEADERS).json()["ids"] == ["no_pin"]


def test_the_cookie_cannot_be_read_by_scripts_nor_sent_by_other_pages(ready):
    ship, _ = ready
    cookie = ship.sign_in().headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert "Path=/" in cookie


def test_a_closed_session_is_worth_nothing_even_with_its_cookie(ready):
    ship, _ = ready
    ship.sign_in()
    token = ship.client.cookies["halocline_session"]
    assert ship.client.delete("/api/v1/session", headers=HEADERS).status_code == 200
    ship.client.cookies.set("halocline_session", token)
    assert ship.command("start").json()["ids"] == ["no_session"]


def test_guessing_gets_slower_but_stop_never_waits(ready):
    ship, _ = ready
    answers = [ship.sign_in(pin=pin) for pin in ("482910", "482911", "482912", PIN)]
    assert [answer.status_code for answer in answers] == [403, 403, 403, 429]
    assert answers[3].json()["reasons"][0].startswith("Too many wrong PINs. Try again in 1 s.")
    assert answers[3].headers["retry-after"] == "1"
    assert ship.command("stop").status_code == 200


def test_too_many_commands_from_one_address_are_refused_but_not_stop(ready):
    ship, plant = ready
    ship.sign_in()
    statuses = [ship.command("acknowledge").status_code for _ in range(12)]
    assert 429 in statuses
    assert all(ship.command("stop").status_code == 200 for _ in range(12))
    assert sum(message["command"] == "stop" for message in plant.commands) == 12


# ---- what is not let in -------------------------------------------------------------------------


def test_a_command_without_the_header_is_refused(ready):
    ship, plant = ready
    response = ship.client.post("/api/v1/commands", json={"command": "stop"})
    assert response.status_code == 403
    assert response.json()["ids"] == ["no_header"]
    assert plant.commands == []


@pytest.mark.parametrize(
    ("origin", "status"),
    [
        ("http://192.168.1.2:8080", 503),
        ("https://192.168.1.2:8080", 503),
        ("http://192.168.1.2", 403),
        ("http://evil.example", 403),
        ("null", 403),
        ("", 403),
    ],
)
def test_only_the_plants_own_page_may_give_commands(moored, origin, status):
    headers = {**HEADERS, "Origin": origin}
    response = moored().client.post("/api/v1/commands", json={"command": "stop"}, headers=headers)
    assert response.status_code == status
    assert response.json()["ids"] == ["link_lost" if status == 503 else "wrong_origin"]


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("localhost:8080", 200),
        ("127.0.0.1:8080", 200),
        ("[::1]:8080", 200),
        ("10.1.2.3", 200),
        ("cagarra.local", 200),
        ("CAGARRA.local:80", 200),
        ("169.254.7.7", 200),
        ("evil.example", 400),
        ("8.8.8.8", 400),
        ("0.0.0.0:8080", 400),
        ("localhost.evil.example", 400),
        ("localhost:80:80", 400),
        ("", 400),
    ],
)
def test_only_known_names_are_answered(moored, host, status):
    response = moored().client.get("/healthz", headers={"Host": host})
    assert response.status_code == status
    if status == 400:
        assert response.json()["ids"] == ["unknown_host"]


def test_a_configured_name_is_answered(moored):
    ship = moored(names=("boat.example",))
    assert ship.client.get("/healthz", headers={"Host": "Boat.example:8080"}).status_code == 200


async def in_pieces(body):
    yield body[:40_000]
    yield body[40_000:]


def test_a_body_above_64_kb_is_refused_whether_it_says_so_or_not(ready):
    ship, plant = ready
    big = json.dumps({"command": "log", "kind": "note", "note": "x" * 70_000}).encode()
    headers = {**HEADERS, "Content-Type": "application/json"}
    said = ship.client.post("/api/v1/commands", content=big, headers=headers)
    unsaid = ship.client.post("/api/v1/commands", content=in_pieces(big), headers=headers)
    for response in (said, unsaid):
        assert response.status_code == 413
        assert response.json()["reasons"] == ["The request is too large: at most 64 kB."]
    assert plant.commands == []


@pytest.mark.parametrize(
    ("body", "problem"),
    [
        ('{"command":"start","litres":NaN}', "litres: Input should be a finite number"),
        ('{"command":"start","litres":1e999}', "litres: Input should be a finite number"),
        ('{"command":"start","litres":-Infinity}', "litres: Input should be a finite number"),
        ('{"command":"start","litres":"40"}', "litres: Input should be a valid number"),
        ('{"command":"start","litres":-1}', "litres: Input should be greater than 0"),
        ('{"command":"start","until":"tomorrow"}', "until: String should match pattern"),
        ('{"command":"start","liters":40}', "liters: Extra inputs are not permitted"),
        ('{"command":"shelve"}', "alarm: Field required"),
        ('{"command":"lay_up","preservative":"salt"}', "preservative: has to be one of"),
        ('{"command":"explode"}', "the request: "),
        ('{"command":"fault","fault":"bilge_wet","value":NaN}', "value: Input should be a finite number"),
        ('{"command":"fault","fault":"bilge_wet","value":{"deep":1}}', "value: Input should be a valid number"),
        ("[]", "the request: "),
        ("{", "the request: JSON decode error"),
        ("", "the request: Field required"),
    ],
)
def test_nonsense_in_a_command_is_refused_with_its_place(moored, body, problem):
    headers = {**HEADERS, "Content-Type": "application/json"}
    response = moored(simulated=True).client.post("/api/v1/commands", content=body, headers=headers)
    assert response.status_code == 422
    assert response.json()["accepted"] is False
    assert any(problem in reason for reason in response.json()["reasons"])


def test_a_body_nested_without_end_is_refused(ready):
    ship, plant = ready
    headers = {**HEADERS, "Content-Type": "application/json"}
    response = ship.client.post("/api/v1/commands", content="[" * 60_000, headers=headers)
    assert response.status_code in {400, 422}
    assert plant.commands == []


def test_every_answer_carries_the_protecting_headers(moored):
    ship = moored()
    for path in ("/", "/api/v1/now", "/nothing", "/plain.css"):
        headers = ship.client.get(path).headers
        assert "script-src 'self'" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"
    assert ship.client.get("/api/v1/now", headers={"Host": "evil.example"}).headers["x-frame-options"] == "DENY"


def test_there_is_no_documentation_that_loads_from_elsewhere(moored):
    ship = moored()
    for path in ("/docs", "/redoc", "/openapi.json", "/api/v1/nothing"):
        response = ship.client.get(path)
        assert response.status_code == 404
        assert response.json()["reasons"] == ["There is nothing under this address."]


# ---- the built page -----------------------------------------------------------------------------


@pytest.fixture
def built(tmp_path):
    page = tmp_path / "dist"
    (page / "assets").mkdir(parents=True)
    (page / "index.html").write_text("<!doctype html><title>Halocline</title>" + " " * 2000)
    (page / "assets" / "main-abc123.js").write_text("export {};")
    (tmp_path / "secret.txt").write_text("not for you")
    return page


def test_the_built_page_is_served_compressed_and_its_hashed_files_for_ever(moored, built):
    client = moored(page_dir=built).client
    index = client.get("/", headers={"Accept-Encoding": "gzip"})
    assert index.headers["content-encoding"] == "gzip"
    assert index.headers["cache-control"] == "no-cache"
    assert index.text.startswith("<!doctype html>")
    again = client.get("/", headers={"If-None-Match": index.headers["etag"]})
    assert again.status_code == 304
    script = client.get("/assets/main-abc123.js", headers={"Accept-Encoding": "identity"})
    assert "immutable" in script.headers["cache-control"]
    assert script.headers["content-type"].startswith("text/javascript")
    assert script.text == "export {};"


def test_a_file_of_the_page_that_is_missing_is_kept_by_no_browser(moored, built):
    """RFC 9110, 15.5.5: an answer 404 may be kept by a cache unless it is told otherwise."""
    client = moored(page_dir=built).client
    missing = client.get("/assets/Log-abc123.js")
    assert missing.status_code == 404
    assert missing.headers["cache-control"] == "no-store"
    assert "etag" not in missing.headers


@pytest.mark.parametrize(
    "path",
    [
        "/../secret.txt",
        "/assets/../../secret.txt",
        "/%2e%2e/secret.txt",
        "/..%2fsecret.txt",
        "/assets/%2e%2e%2f%2e%2e%2fsecret.txt",
        "/%252e%252e/secret.txt",
        "//etc/passwd",
        "/..%5csecret.txt",
        "/assets/",
        "/assets/..%00/index.html",
    ],
)
def test_no_path_leads_out_of_the_page(moored, built, path):
    response = moored(page_dir=built).client.get(path)
    assert response.status_code == 404
    assert "not for you" not in response.text


# ---- faults of a simulated boat -----------------------------------------------------------------


def test_aboard_there_are_no_faults_to_order(aboard):
    answer = aboard().client.get("/api/v1/faults")
    assert (answer.status_code, answer.json()["ids"]) == (404, ["not_simulated"])
    assert "halocline run --simulated" in answer.json()["reasons"][0]


def test_a_simulated_boat_tells_what_can_be_broken_and_what_is(aboard):
    def faults():
        return {
            "offered": [
                {
                    "fault": "sensor_offset",
                    "kind": "sensor",
                    "target": "channel",
                    "choices": ["feed_pressure"],
                    "arguments": [
                        {
                            "name": "value",
                            "low": -1e6,
                            "high": 1e6,
                            "unit": "",
                            "in_channel_unit": True,
                            "typical": None,
                            "optional": False,
                        }
                    ],
                },
                {"fault": "adc_hang", "kind": "electronics", "target": "address", "choices": [72], "arguments": []},
                {"fault": "bilge_wet", "kind": "plant", "target": None, "choices": [], "arguments": []},
            ],
            "standing": [
                {"fault": "valve_stuck", "target": "flush_valve", "arguments": {"position": "on"}},
                {"fault": "adc_hang", "target": 72, "arguments": {}},
                {"fault": "sensor_offset", "target": "feed_pressure", "arguments": {"value": -0.3}},
            ],
        }

    told = aboard(simulated=True, faults=faults).client.get("/api/v1/faults").json()
    offset, hang, wet = told["offered"]
    assert offset["name"] == "Sensor is off"
    assert offset["choices"] == [{"value": "feed_pressure", "name": "pump inlet pressure", "unit": "bar"}]
    assert offset["arguments"][0]["in_channel_unit"]
    assert hang["choices"] == [{"value": 72, "name": "converter at 0x48", "unit": ""}]
    assert (wet["target"], wet["choices"], wet["arguments"]) == (None, [], [])
    assert [(fault["name"], fault["target_name"]) for fault in told["standing"]] == [
        ("Valve stuck", "flush valve"),
        ("Converter hangs", "converter at 0x48"),
        ("Sensor is off", "pump inlet pressure"),
    ]


def test_a_simulated_boat_that_does_not_answer_is_named(aboard):
    def faults():
        raise ConnectionRefusedError("Connection refused")

    answer = aboard(simulated=True, faults=faults).client.get("/api/v1/faults")
    assert (answer.status_code, answer.json()["ids"]) == (503, ["sea_lost"])


# ---- calibrations -------------------------------------------------------------------------------------


def test_what_a_calibration_came_to_is_told_in_words(ready):
    ship, plant = ready
    ship.sign_in()
    told = {"id": "calibrated", "values": {"channel": "feed_pressure", "before": 0.08, "after": 0.0}}
    plant.told["calibrate"] = [told]
    points = [[None, 0.0]]
    answer = ship.command(command="calibrate", channel="feed_pressure", points=points, initials="MB", pin=PIN).json()
    assert answer["accepted"] is True
    assert answer["told"] == ["Calibrated: pump inlet pressure showed 0.08 bar there and shows 0 bar from now on."]
    assert plant.commands[-1]["points"] == points


@pytest.mark.parametrize("points", [[[]], [[1, 2, 3, 4, 5]], [["a"]], [[1.0]] * 5, "now"])
def test_points_that_are_no_points_never_reach_control(ready, points):
    ship, plant = ready
    ship.sign_in()
    asked = {"command": "calibrate", "channel": "feed_pressure", "points": points, "initials": "MB", "pin": PIN}
    assert ship.command(**asked).status_code == 422
    assert plant.commands == []


def test_the_calibrations_in_force_are_those_control_last_told(aboard, control, until):
    plant = control()
    first = {"channel": "tank_fill", "date": "2026-03-21", "initials": "MB", "before": [48.0], "after": [50.0]}
    plant.identity["calibrations"] = [{**first, "zero": 0.0, "span": 1.04, "pulses_per_l": None}]
    ship = aboard()

    def in_force():
        return {entry["channel"]: entry for entry in ship.client.get("/api/v1/calibrations").json()["calibrations"]}

    until(lambda: set(in_force()) == {"tank_fill"})
    membrane = {"water_permeability_lmh_bar": 1.25, "salt_permeability_lmh": 0.19, "point": [55.0, 24.0, 60.0, 396.0]}
    plant.event("calibration", **{**first, "channel": "membrane", "before": [70.0, 350.0], "who": "ann"}, **membrane)
    until(lambda: set(in_force()) == {"tank_fill", "membrane"})
    assert in_force()["membrane"]["point"] == [55.0, 24.0, 60.0, 396.0]
    plant.event("calibration", channel="tank_fill", configured=True, date="", initials="MB", who="ann")
    until(lambda: set(in_force()) == {"membrane"})
    plant.event("calibration", channel="all", configured=True, date="", initials="MB", who="ann")
    until(lambda: in_force() == {})


# ---- work done by hand ----------------------------------------------------------------------------------


def test_work_by_hand_is_listed_with_what_the_plant_did_since(ready, until):
    ship, plant = ready
    plant.event("log", what="strainer_cleaned", note="weed", who="Ana")
    plant.event("log", what="filter_changed", note="", who=None)
    plant.event("run_ended", run={"id": "r7", "why": None, "first_out": None, "started_mono_s": 1.0, "litres": 40.0})
    plant.event("log", what="note", note="new hose", who="Ana")
    until(lambda: ship.context.feed.recorder.position.seq == 4)
    ship.context.feed.recorder.flush()
    work = ship.client.get("/api/v1/work").json()["work"]
    assert [(one["kind"], one["note"], one["product_l_since"]) for one in work] == [
        ("note", "new hose", 0.0),
        ("filter_changed", "", 40.0),
        ("strainer_cleaned", "weed", 40.0),
    ]
    assert work[2]["who"] == "Ana"
    assert len(ship.client.get("/api/v1/work?limit=1").json()["work"]) == 1
