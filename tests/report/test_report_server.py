"""The whole process on real sockets: its port, its streams, its end."""

import asyncio
import json
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import textwrap
import threading
import time
from contextlib import closing, suppress
from http.client import HTTPConnection

import pytest

from halocline.config import Problem
from halocline.plant.settings import MqttSettings, ReportSettings
from halocline.report import server
from halocline.report.http import protocol
from halocline.report.http.stream import events
from halocline.report.live import Live
from halocline.report.secrets import set_pin
from halocline.report.server import Report, ReportError, ReportOptions


@pytest.fixture
def serve(link_path, tmp_path, until):
    running = []

    def start(**options):
        ready = []
        defaults = {"settings": ReportSettings(), "port": 0, "simulated": True, "boat": "Cagarra"}
        told = ReportOptions(link_path=link_path, data_dir=tmp_path / "data", **{**defaults, **options})
        report = Report(told, ready.append)
        thread = threading.Thread(target=report.serve)
        thread.start()
        running.append((report, thread))
        until(lambda: ready)
        return report, ready[0]

    yield start
    for report, thread in running:
        report.end()
        thread.join(timeout=10)
        assert not thread.is_alive()


def get(port, path, **headers):
    with closing(HTTPConnection("127.0.0.1", port, timeout=5)) as connection:
        connection.request("GET", path, headers=headers)
        response = connection.getresponse()
        return response.status, json.loads(response.read())


class Stream:
    def __init__(self, port):
        self.socket = socket.create_connection(("127.0.0.1", port), timeout=5)
        self.socket.sendall(b"GET /api/v1/stream HTTP/1.1\r\nHost: localhost\r\n\r\n")
        self.file = self.socket.makefile("rb")

    def snapshot(self):
        for line in self.file:
            if line.startswith(b"data: "):
                return json.loads(line[6:])
        raise EOFError

    def close(self):
        self.file.close()
        self.socket.close()


def test_nobody_says_that_it_still_answers_while_it_hangs(serve, until, monkeypatch):
    """What feeds the watchdog hangs with the page."""
    monkeypatch.setattr(server, "TURN_EVERY_TICKS", 1)
    loops, fed, go_on = [], [], threading.Event()

    def turn():
        fed.append(1)
        loops.append(asyncio.get_running_loop())

    serve(on_turn=turn)
    until(lambda: len(fed) > 2)
    hangs = threading.Event()
    loops[0].call_soon_threadsafe(lambda: (hangs.set(), go_on.wait(30)))
    assert hangs.wait(10)
    before = len(fed)
    time.sleep(0.5)  # five of the server's own ticks
    while_it_hung = len(fed)
    go_on.set()
    assert while_it_hung == before
    until(lambda: len(fed) > before)


def test_the_page_answers_as_soon_as_it_says_so(serve):
    _, where = serve()
    assert where.url == f"http://127.0.0.1:{where.port}/"
    status, now = get(where.port, "/api/v1/now")
    assert status == 200
    assert now["boat"] == "Cagarra"
    assert now["simulated"] is True


def test_a_simulated_boat_makes_up_a_pin_unless_one_is_set(serve, tmp_path):
    _, where = serve()
    assert len(where.one_time_pin) == 8
    set_pin(tmp_path / "data" / "report.secrets.toml", "482913")
    _, where = serve()
    assert where.one_time_pin is None


def test_the_page_is_served_although_its_own_settings_are_broken(serve):
    problem = Problem("halocline.toml", "http.port", "99999", "1 to 65535", "take a port below 65536")
    _, where = serve(settings=[problem], simulated=False)
    _, now = get(where.port, "/api/v1/now")
    assert now["problems"] == [str(problem)]
    (condition,) = [one for one in now["conditions"] if one["id"] == "report_configuration"]
    (told,) = condition["problems"]
    assert (told["key"], told["found"], told["do"]) == ("http.port", "99999", "take a port below 65536")
    assert where.one_time_pin is None


def test_a_broker_that_is_not_there_neither_delays_the_page_nor_the_end(serve):
    settings = ReportSettings(mqtt=MqttSettings(enabled=True, host="127.0.0.1", port=1))
    report, where = serve(settings=settings)
    assert get(where.port, "/healthz")[0] == 200
    assert len(report.feed.listeners) == 1


def options(tmp_path, port, *, simulated):
    return ReportOptions(
        settings=ReportSettings(),
        link_path=str(tmp_path / "none.sock"),
        data_dir=tmp_path,
        boat="Cagarra",
        simulated=simulated,
        port=port,
    )


def test_a_busy_port_is_passed_over_when_simulated_and_explained_otherwise(tmp_path):
    with socket.create_server(("0.0.0.0", 0)) as taken:
        port = taken.getsockname()[1]
        report = Report(options(tmp_path, port, simulated=True), lambda _: None)
        assert port < report.listening.port <= port + 50
        report._doorway.close()
        with pytest.raises(ReportError) as refusal:
            Report(options(tmp_path, port, simulated=False), lambda _: None)
    assert str(refusal.value) == (
        f"The page cannot be served at 0.0.0.0 port {port}: Address already in use. End the program that uses it, "
        "or choose another with --port or in the table [http]."
    )


def test_a_stream_begins_with_what_is_known_and_brings_what_comes(serve, control):
    plant = control()
    _, where = serve()
    stream = Stream(where.port)
    stream.snapshot()
    plant.now(seq=41)
    while stream.snapshot()["seq"] != 41:
        pass
    plant.now(seq=42, state="priming")
    assert stream.snapshot()["state"] == "priming"
    stream.close()


def test_a_stream_brings_at_most_four_snapshots_a_second(serve, control):
    plant = control()
    _, where = serve()
    stream = Stream(where.port)
    stream.snapshot()
    ending = threading.Event()

    def flood():
        while not ending.wait(0.01):
            plant.now()

    flooding = threading.Thread(target=flood)
    flooding.start()
    started_s = time.monotonic()
    for _ in range(6):
        stream.snapshot()
    took_s = time.monotonic() - started_s
    ending.set()
    flooding.join()
    stream.close()
    assert took_s >= 5 * 0.24 * 0.95


def test_streams_of_one_address_are_counted_and_given_back(serve, until):
    _, where = serve()
    streams = [Stream(where.port) for _ in range(12)]
    for stream in streams:
        stream.snapshot()
    status, answer = get(where.port, "/api/v1/stream", Host="localhost")
    assert (status, answer["ids"]) == (503, ["too_many_streams"])
    for stream in streams:
        stream.close()
    again = until(lambda: _try_stream(where.port), 20)
    again.close()


def _try_stream(port):
    stream = Stream(port)
    try:
        stream.snapshot()
    except EOFError:
        stream.close()
        return None
    except json.JSONDecodeError:
        stream.close()
        return None
    return stream


def test_the_end_comes_at_once_with_a_stream_open(serve):
    report, where = serve()
    stream = Stream(where.port)
    stream.snapshot()
    started_s = time.monotonic()
    report.end()
    assert stream.file.read().endswith(b"0\r\n\r\n")
    stream.close()
    assert time.monotonic() - started_s < 3.0


def test_a_stream_says_that_the_link_is_lost_although_nothing_comes(frame, live_now):
    clock = [100.0]
    live = Live(frame, clock=lambda: clock[0])
    live.update(live_now())

    async def follow():
        stream = events(live)
        assert await anext(stream) == b"retry: 1000\n\n"
        first = json.loads((await anext(stream))[6:])
        clock[0] += 30.0
        second = json.loads((await anext(stream))[6:])
        live.end()
        with pytest.raises(StopAsyncIteration):
            await anext(stream)
        return first["link"], second["link"]

    assert asyncio.run(follow()) == ({"control": "live", "age_s": 0.0}, {"control": "lost", "age_s": 30.0})


def test_connections_that_never_ask_anything_are_closed_and_do_not_keep_others_out(serve, monkeypatch):
    monkeypatch.setattr(protocol, "REQUEST_S", 0.3)
    _, where = serve()
    half_open = []
    for number in range(300):
        half_open.append(socket.create_connection(("127.0.0.1", where.port), timeout=5))
        half_open[-1].sendall(b"GET / HTTP/1.1\r\nHost: local" if number % 2 else b"")
    started_s = time.monotonic()
    assert get(where.port, "/healthz")[0] == 200
    assert time.monotonic() - started_s < 1.0
    for connection in half_open:
        with suppress(ConnectionResetError):
            assert connection.recv(100) == b""
        connection.close()


def test_no_raw_path_leads_out_of_the_page(serve):
    _, where = serve()
    for path in (
        "/../../../../etc/passwd",
        "/..%2f..%2f..%2fetc/passwd",
        "/assets/../../../etc/passwd",
        "//etc/passwd",
    ):
        with socket.create_connection(("127.0.0.1", where.port), timeout=5) as raw:
            raw.sendall(f"GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n".encode())
            answer = b"".join(iter(lambda: raw.recv(65536), b""))
        assert answer.startswith(b"HTTP/1.1 404")
        assert b"root:" not in answer


RUN = """
import sys
from pathlib import Path
from halocline.plant.settings import ReportSettings
from halocline.report.server import ReportOptions, run_report
options = ReportOptions(settings=ReportSettings(), link_path=sys.argv[1], data_dir=Path(sys.argv[2]),
                        boat="Cagarra", simulated=True, port=0)
sys.exit(run_report(options, lambda where: print(where.port, flush=True)))
"""


@pytest.mark.system
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_the_process_within_three_seconds_and_nothing_held_is_lost(
    control, link_path, tmp_path, number, until
):
    plant = control()
    data = tmp_path / "data"
    process = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(RUN), link_path, str(data)], stdout=subprocess.PIPE, text=True
    )
    port = int(process.stdout.readline())
    stream = Stream(port)
    for n in range(1, 6):
        plant.row(float(n))
    until(lambda: get(port, "/api/v1/health")[1]["record"]["held"] >= 5)
    started_s = time.monotonic()
    os.kill(process.pid, number)
    assert process.wait(timeout=10) == 0
    assert time.monotonic() - started_s < 3.0
    stream.close()
    process.stdout.close()
    with closing(sqlite3.connect(data / "record.sqlite3")) as record:
        assert record.execute("SELECT count(*) FROM samples").fetchone() == (5,)
