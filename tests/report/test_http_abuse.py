"""What somebody on the boat's network might try against the page, each as the fault catalogue names it."""

import asyncio
import itertools
import json
import logging
import socket
import threading
import typing

import httpx
import pytest

from halocline.plant.command_definitions import COMMANDS
from halocline.report.http import guards, orders, protocol, sessions
from halocline.report.http.sessions import FREE_TRIES, LONGEST_COMMON_DELAY_S, LONGEST_DELAY_S, Guesses
from halocline.report.secrets import set_pin

PIN = "482913"
HEADERS = {"X-Halocline": "1", "Content-Type": "application/json"}
HEAD = b"POST /api/v1/commands HTTP/1.1\r\nHost: localhost\r\nX-Halocline: 1\r\nContent-Type: application/json\r\n"


@pytest.fixture(scope="module")
def page(one_page):
    """The port of a page on a real socket."""
    return one_page().port


def said_to(port, *parts):
    """Everything the server answers to these bytes, until it closes."""
    with socket.create_connection(("127.0.0.1", port), timeout=5) as raw:
        for part in parts:
            try:
                raw.sendall(part)
            except (BrokenPipeError, ConnectionResetError):
                break
        answer = b""
        try:
            while data := raw.recv(65536):
                answer += data
        except ConnectionResetError:
            return answer
    return answer


# ---- slow and huge requests ----------------------------------------------------------------------------


def test_a_body_that_trickles_is_given_up_at_its_deadline(page, monkeypatch):
    monkeypatch.setattr(guards, "BODY_S", 0.2)
    answer = said_to(page, HEAD, b"Content-Length: 30\r\n\r\n", b'{"command"')
    assert answer.startswith(b"HTTP/1.1 408")
    assert b"did not arrive within" in answer


def test_a_head_that_trickles_is_given_up_at_its_deadline(page, monkeypatch):
    monkeypatch.setattr(protocol, "REQUEST_S", 0.2)
    assert said_to(page, b"GET / HTTP/1.1\r\nHost: loc") == b""


def test_a_hundred_megabytes_are_refused_before_they_are_read(page):
    assert said_to(page, HEAD, b"Content-Length: 100000000\r\n\r\n").startswith(b"HTTP/1.1 413")


def test_a_stream_of_chunks_without_end_is_cut_off_at_the_limit(page):
    chunk = b"4000\r\n" + b"x" * 0x4000 + b"\r\n"
    sent = itertools.chain([HEAD, b"Transfer-Encoding: chunked\r\n\r\n"], itertools.repeat(chunk, 6400))
    assert said_to(page, *sent)[:12] in {b"HTTP/1.1 413", b""}


def test_a_head_without_end_is_refused(page):
    assert said_to(page, b"GET / HTTP/1.1\r\nHost: localhost\r\nX-Big: ", b"x" * 200_000)[:12] in {b"HTTP/1.1 400", b""}


@pytest.mark.parametrize("length", [b"-1", b"+5", b"5, 6", b"5x", b"99999999999999999999", b"0x10", b"\xc2\xb2"])
def test_a_length_that_is_none_is_refused(page, length):
    answer = said_to(page, HEAD, b"Content-Length: " + length + b"\r\n\r\n")
    assert answer[:12] in {b"HTTP/1.1 400", b"HTTP/1.1 413"}


def test_a_request_with_two_lengths_or_a_length_and_chunks_smuggles_nothing(page):
    """RFC 9112 §6.3: such a message is an error, or the length is ignored; never a second request."""
    hidden = b"0\r\n\r\nGET /api/v1/now HTTP/1.1\r\nHost: localhost\r\n\r\n"
    two = said_to(page, HEAD, b"Content-Length: 5\r\nContent-Length: 6\r\n\r\n", hidden)
    both = said_to(page, HEAD, b"Content-Length: 60\r\nTransfer-Encoding: chunked\r\nConnection: close\r\n\r\n", hidden)
    for answer in (two, both):
        assert answer.startswith(b"HTTP/1.1 4")
        assert b"200 OK" not in answer


# ---- what a browser could be made to do ----------------------------------------------------------------


@pytest.mark.parametrize("kind", ["application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "text/plain"])
def test_a_form_of_another_site_gives_no_command(ready, kind):
    """What a browser sends across sites without asking first (Fetch standard, CORS-safelisted requests)."""
    ship, plant = ready
    ship.sign_in()
    headers = {"Content-Type": kind, "Origin": "https://evil.example"}
    answer = ship.client.post("/api/v1/commands", content='{"command":"stop"}', headers=headers)
    assert (answer.status_code, answer.json()["ids"]) == (403, ["no_header"])
    assert plant.commands == []


def test_the_page_grants_no_other_site_the_right_to_send_the_header(ready):
    ship, _ = ready
    headers = {
        "Origin": "https://evil.example",
        "Access-Control-Request-Method": "POST",
        "Access-Control-Request-Headers": "x-halocline",
    }
    answer = ship.client.request("OPTIONS", "/api/v1/commands", headers=headers)
    assert answer.status_code == 405
    assert not [name for name in answer.headers if name.startswith("access-control")]


def test_a_name_that_was_turned_to_the_boats_address_is_refused_for_reading_and_for_commands(ready):
    """DNS rebinding: the browser believes it is still at evil.example, so Origin and Host agree."""
    ship, plant = ready
    headers = {**HEADERS, "Host": "evil.example:8080", "Origin": "http://evil.example:8080"}
    assert ship.client.get("/api/v1/now", headers=headers).json()["ids"] == ["unknown_host"]
    answer = ship.client.post("/api/v1/commands", json={"command": "stop"}, headers=headers)
    assert (answer.status_code, answer.json()["ids"]) == (400, ["unknown_host"])
    assert plant.commands == []


def test_two_host_headers_are_one_too_many(page):
    answer = said_to(page, b"GET / HTTP/1.1\r\nHost: localhost\r\nHost: evil.example\r\n\r\n")
    assert answer.startswith(b"HTTP/1.1 400")


# ---- the way out of the page's folder ------------------------------------------------------------------

UP = (
    "../", "..\\", "%2e%2e/", "%2e%2e%2f", "..%2f", "..%5c", "%2e%2e%5c", ".%2e/", "%2e./", "..%252f",
    "%252e%252e%252f", "..%c0%af", "%c0%ae%c0%ae/", "..%ef%bc%8f", "..;/", "....//", ".././", "..%00/", "..%0d%0a/",
    "%u002e%u002e/",
)  # fmt: skip
"""Twenty ways to write "one folder up", as path-traversal lists have them (common practice)."""


@pytest.mark.parametrize("up", UP)
def test_no_way_to_write_one_folder_up_leads_out_of_the_page(page, up):
    for start in ("/", "/assets/", "/api/v1/runs/"):
        line = f"GET {start}{up * 6}etc/passwd HTTP/1.1\r\n"
        answer = said_to(page, line.encode(), b"Host: localhost\r\nConnection: close\r\n\r\n")
        assert answer[:12] in {b"HTTP/1.1 404", b"HTTP/1.1 400"}
        assert b"root:" not in answer


# ---- numbers that are none, in every field -------------------------------------------------------------


def _leaves(kind):
    """The shapes a field takes, without None and without annotations."""
    arguments = [argument for argument in typing.get_args(kind) if argument is not type(None)]
    return [leaf for argument in arguments for leaf in _leaves(argument)] if arguments else [kind]


def _numbers():
    """Every field of every command that takes a number: the command's model, its name, the field's name."""
    return [
        pytest.param(order, command, name, id=f"{command}.{name}")
        for order in typing.get_args(typing.get_args(orders.AnyOrder)[0])
        for (command,) in [typing.get_args(order.model_fields["command"].annotation)]
        for name, field in order.model_fields.items()
        if {float, int} & set(_leaves(field.annotation))
    ]


NO_NUMBERS = ("NaN", "Infinity", "-Infinity", "1e999", "-1e999", "true", '"5"', "null, null")
OUT_OF_RANGE = ("1e308", "-1", "0")


def test_the_commands_with_numbers_are_all_looked_at():
    found = {case.id for case in _numbers()}
    assert found >= {"start.litres", "start.minutes", "flush.litres", "shelve.minutes", "bench.seconds"}
    assert "calibrate.points" in found


def _from_zero(command, name):
    return any(given.from_zero for given in COMMANDS[command].given if given.name == name)


@pytest.mark.parametrize(("order", "command", "name"), _numbers())
def test_no_number_field_takes_what_is_no_number_or_out_of_range(moored, order, command, name):
    """On a boat that asks for no PIN, so that only the number stands in the way; any finite number may be a point of a
    calibration, and null stands for what is shown now: control judges those."""
    client = moored(simulated=True).seen_from("127.0.0.1")
    needed = {other: "x" for other, field in order.model_fields.items() if field.is_required() and other != "command"}
    passed_on = ("null, null", *OUT_OF_RANGE) if name == "points" else ("0",) if _from_zero(command, name) else ()
    for text in (*NO_NUMBERS, *OUT_OF_RANGE):
        if text in passed_on:
            continue
        value = f"[[{text}, {text}]]" if name == "points" else text
        body = json.dumps({"command": command, **needed})[:-1] + f', "{name}": {value}}}'
        answer = client.post("/api/v1/commands", content=body, headers=HEADERS)
        assert (text, answer.status_code) == (text, 422)


# ---- who may, and who was it ----------------------------------------------------------------------------


def test_two_who_command_at_once_both_get_an_answer_and_each_command_is_signed(ready):
    ship, plant = ready
    ship.sign_in()
    other = ship.seen_from("192.168.1.21")
    asked = [
        ship.client.posting("/api/v1/commands", json={"command": "start"}, headers=HEADERS),
        other.posting("/api/v1/commands", json={"command": "stop"}, headers=HEADERS),
        ship.client.posting("/api/v1/commands", json={"command": "flush"}, headers=HEADERS),
    ]

    async def together():
        return await asyncio.gather(*asked)

    answers = ship.runner.run(together())
    assert [answer.json()["accepted"] for answer in answers] == [True, True, True]
    signed = {message["command"]: message["who"] for message in plant.commands}
    assert signed == {"start": "Ana (192.168.1.20)", "stop": "192.168.1.21", "flush": "Ana (192.168.1.20)"}


def test_a_stolen_cookie_is_worth_nothing_after_the_owner_signs_out_or_changes_the_pin(ready):
    ship, _ = ready
    for end in (
        lambda: ship.client.delete("/api/v1/session", headers=HEADERS),
        lambda: set_pin(ship.secrets_path, "739105"),
    ):
        set_pin(ship.secrets_path, PIN)
        ship.sign_in()
        token = ship.client.cookies["halocline_session"]
        end()
        thief = ship.seen_from("192.168.1.66")
        thief.cookies.set("halocline_session", token)
        answer = thief.post("/api/v1/commands", json={"command": "start"}, headers=HEADERS)
        assert (answer.status_code, answer.json()["ids"]) == (401, ["no_session"])


def test_a_session_is_never_one_that_the_browser_brought(ready):
    """Session fixation: a cookie planted before signing in does not become the session."""
    ship, _ = ready
    ship.client.cookies.set("halocline_session", "planted")
    ship.sign_in()
    planted = ship.seen_from("192.168.1.66")
    planted.cookies.set("halocline_session", "planted")
    assert planted.post("/api/v1/commands", json={"command": "start"}, headers=HEADERS).status_code == 401


def test_the_delay_grows_by_address_and_for_all_together_but_the_owners_phone_goes_first():
    guesses, now_s = Guesses(), 1000.0
    guesses.right("owner", now_s)
    waits = []
    for number in range(200):
        guesses.wrong(f"10.0.0.{number % 40}", now_s)
        waits.append(guesses.wait_s("10.0.0.0", now_s))
    assert waits[0] == 0.0
    assert waits[-1] == 4.0  # five wrong ones from this address
    assert guesses.wait_s("a new phone", now_s) == LONGEST_COMMON_DELAY_S
    assert guesses.wait_s("owner", now_s) == 0.0
    for _ in range(FREE_TRIES + 10):
        guesses.wrong("owner", now_s)
    assert guesses.wait_s("owner", now_s) == LONGEST_DELAY_S


def test_a_stop_is_taken_while_a_crowd_of_guesses_keeps_the_hash_busy(ready, monkeypatch):
    ship, plant = ready
    hashing, stopped = threading.Event(), threading.Event()

    def pin_matches(_pin, _stored):
        hashing.set()
        return not stopped.wait(10.0)

    monkeypatch.setattr(sessions, "pin_matches", pin_matches)
    guessers = [ship.seen_from(f"192.168.1.{number}") for number in range(100, 140)]

    async def together():
        body = {"pin": "111111"}
        guesses = [asyncio.create_task(one.posting("/api/v1/session", json=body, headers=HEADERS)) for one in guessers]
        assert await asyncio.to_thread(hashing.wait, 10.0)
        answer = await ship.client.posting("/api/v1/commands", json={"command": "stop"}, headers=HEADERS)
        waiting = sum(not guess.done() for guess in guesses)
        stopped.set()
        statuses = {(await guess).status_code for guess in guesses}
        return answer.json()["accepted"], waiting, statuses

    assert ship.runner.run(together()) == (True, 40, {403, 429})
    assert [message["command"] for message in plant.commands] == ["stop"]


def test_every_command_is_in_the_audit_log_with_who_and_from_where_also_the_refused(ready, caplog):
    ship, _ = ready
    with caplog.at_level(logging.INFO, "halocline.audit"):
        ship.command("stop")
        ship.command("start")
        ship.sign_in("111111")
        ship.sign_in()
        ship.command("start")
        ship.client.post("/api/v1/commands", json={"command": "stop"})
    assert [record.getMessage() for record in caplog.records] == [
        "stop by 192.168.1.20: accepted",
        "start from 192.168.1.20 refused: no_session",
        "session from 192.168.1.20 refused: pin_wrong",
        "session opened by 'Ana' from 192.168.1.20",
        "start by Ana (192.168.1.20): accepted",
        "POST /api/v1/commands from 192.168.1.20 refused: no_header",
    ]


def test_no_name_writes_a_line_of_its_own_into_the_audit_log(ready, caplog):
    ship, _ = ready
    with caplog.at_level(logging.INFO, "halocline.audit"):
        ship.sign_in(name="Ana\nstop by owner: accepted")
        ship.command("start")
    assert all("\n" not in record.getMessage() for record in caplog.records)


def test_the_client_is_refused_not_the_server_when_the_path_is_no_text(ready):
    ship, _ = ready
    for path in ("/%ff%fe", "/api/v1/runs/%ff", "/\udcff".encode("utf-8", "surrogateescape").decode("latin-1")):
        assert ship.client.get(httpx.URL(path)).status_code == 404
