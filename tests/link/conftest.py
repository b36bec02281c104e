import json
import queue
import socket
import threading
from concurrent.futures import Future

import pytest

from halocline.link.ring import Ring
from halocline.link.server import LinkServer

IDENTITY = {"host_boot": "hb", "simulated": True, "mono_s": 10.0, "wall_s": None, "version": "0.1.0"}


class Clock:
    def __init__(self):
        self.now_s = 100.0

    def __call__(self):
        return self.now_s


class Wire:
    """A client made of nothing but a socket, to say right and wrong things byte by byte."""

    def __init__(self, path):
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.socket.settimeout(5)
        self.socket.connect(path)
        self.pending = b""
        self.messages = []

    def say(self, *messages):
        for message in messages:
            self.socket.sendall(json.dumps(message).encode() + b"\n")

    def read(self):
        self.socket.setblocking(False)
        try:
            while data := self.socket.recv(65536):
                *lines, self.pending = (self.pending + data).split(b"\n")
                self.messages += [json.loads(line) for line in lines]
        except BlockingIOError:
            return self.messages
        raise ConnectionResetError("the server has closed this connection")


class Bench:
    """A server driven by hand, one poll at a time."""

    def __init__(self, path):
        self.path = path
        self.clock = Clock()
        self.ring = Ring("b1")
        self.commands = []
        self.server = LinkServer(
            path, self.ring, lambda: IDENTITY, lambda *args: self.commands.append(args), clock=self.clock
        )
        self.wires = []

    def connect(self, *messages):
        wire = Wire(self.path)
        self.wires.append(wire)
        wire.say(*messages)
        self.poll()
        return wire

    def greet(self, start=None, name="test"):
        return self.connect({"hello": 1, "name": name, "from": start})

    def poll(self, times=4):
        for _ in range(times):
            self.server.poll(0.0)

    def close(self):
        for wire in self.wires:
            wire.socket.close()
        self.server.close()


@pytest.fixture
def bench(tmp_path):
    bench = Bench(str(tmp_path / "control.sock"))
    yield bench
    bench.close()


@pytest.fixture(scope="session")
def a_bench():
    """Makes one at a path; for tests that need a fresh one for each example."""
    return Bench


class Served:
    """The same server polled by a thread of its own; every command is accepted unless it is `start`."""

    def __init__(self, path, boot="b1"):
        self.path = path
        self.ring = Ring(boot)
        self.asked = queue.SimpleQueue()
        self.server = LinkServer(path, self.ring, lambda: IDENTITY, self.answer)
        self.ending = threading.Event()
        self.thread = threading.Thread(target=self.run)
        self.thread.start()

    def answer(self, message, peer):
        reasons = [{"id": "laid_up", "values": {}}] if message["command"] == "start" else []
        self.server.answer(peer.token, message["id"], accepted=not reasons, reasons=reasons)

    def run(self):
        while not self.ending.is_set():
            self.server.poll(0.005)
            while not self.asked.empty():
                self.asked.get_nowait()()

    def between_two_polls(self, work):
        """Have it done by the server's thread; what came of it. A lock would seldom come to the test's own thread."""
        done = Future()
        self.asked.put(lambda: done.set_result(work()))
        return done.result(10.0)

    def row(self, **content):
        return self.between_two_polls(lambda: self.ring.append_row(content))

    def now(self, **content):
        self.between_two_polls(lambda: self.server.publish_now(content))

    def stop(self):
        self.ending.set()
        self.thread.join()
        self.server.close()


@pytest.fixture
def serve(tmp_path):
    running = []

    def start(boot="b1"):
        served = Served(str(tmp_path / "control.sock"), boot)
        running.append(served)
        return served

    yield start
    for served in running:
        if not served.ending.is_set():
            served.stop()
