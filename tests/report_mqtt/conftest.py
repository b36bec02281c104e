"""A real broker on a loopback port, a listener that checks what it hears, and snapshots as report makes them."""

import contextlib
import json
import os
import queue
import shutil
import signal
import socket
import subprocess
import threading
import time
from importlib import resources
from types import SimpleNamespace

import jsonschema
import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

import live_snapshot
from halocline.plant.settings import MqttSettings, UnitSettings
from halocline.report.mqtt.publisher import Publisher
from halocline.report.public import Frame, snapshot
from live_snapshot import reading

PREFIX = "halocline/cagarra"
NOON_S = 1_790_000_000.0


def until(condition, timeout_s=8.0):
    end_s = time.monotonic() + timeout_s
    while not (found := condition()):
        assert time.monotonic() < end_s, "waited in vain"
        time.sleep(0.01)
    return found


def schema(name):
    return json.loads(resources.files("halocline.report.mqtt").joinpath("schemas", f"{name}.json").read_text("utf-8"))


def check(topic, payload):
    """Raises unless the message is as its schema says."""
    kind = topic.removeprefix(f"{PREFIX}/").split("/")[0]
    jsonschema.Draft202012Validator(schema(kind)).validate(payload)


def low_feed(state="unacknowledged", since_s=2.0):
    values = {"pressure_bar": 0.2, "limit_bar": 0.3}
    of = {"id": "feed_pressure_low", "state": state, "priority": "high", "under": None}
    return {**of, "since_s": since_s, "values": values}


def live_now(**changes):
    readings = {"feed_pressure": reading(0.2, raw=0.51)}
    return live_snapshot.live_now(**{"readings": readings, "wall_s": NOON_S, **changes})


def public(age_s=0.1, **changes):
    """The public snapshot as report makes it; `age_s` above 3 is a lost link."""
    return snapshot(live_now(**changes), age_s, Frame("Cagarra", UnitSettings()))


def event(seq, kind="log", **fields):
    return {"seq": seq, "mono_s": 50.0 + seq, "wall_s": NOON_S + seq, "kind": kind, **fields}


HEALTH_SAID = {
    "at": "2026-11-03T10:00:00.000Z",
    "running_hours": 237.8,
    "quantities": {
        name: {
            "measured": True,
            "enough": True,
            "why": None,
            "unit": "1",
            "basis": "as_read",
            "change": {"estimate": -0.12, "i80": [-0.13, -0.11], "i90": [-0.14, -0.10]},
            "rate_per_100h": {"estimate": -0.08, "i80": [-0.09, -0.07], "i90": [-0.1, -0.06]},
            "threshold": -0.15,
            "reached_in_h": {"estimate": 41.0, "i80": [29.0, None], "i90": [25.0, None]},
            "reached_on": {"estimate": "2027-01-19", "i80": ["2027-01-10", None], "i90": ["2027-01-08", None]},
            "narrowed_by": None,
        }
        for name in ("flow", "salt_passage", "pressure_drop")
    }
    | {"filter_drop": {"measured": False, "enough": False, "why": "not measured", "unit": "bar", "basis": "as_read"}},
    "patterns": [{"name": "fouling", "confidence": 0.93, "since_h": 81.0, "evidence": []}],
    "ask": None,
    "finding": {"name": "fouling", "confidence": 0.93, "aside": None},
}
"""What `halocline health --json` says of an invented plant."""


class Broker:
    """mosquitto, to be killed, stalled and started again on the same port."""

    def __init__(self, folder):
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self._config = folder / "mosquitto.conf"
        self._process = None

    def start(self, *lines):
        """With `lines` of configuration besides its own."""
        own = [f"listener {self.port} 127.0.0.1", "allow_anonymous true", "persistence false", "log_dest none"]
        self._config.write_text("\n".join([*own, *lines, ""]))
        program = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
        assert program, "these tests talk to a real broker: apt-get install mosquitto"
        self._process = subprocess.Popen([program, "-c", str(self._config)], stderr=subprocess.DEVNULL)
        until(self._answers)

    def _answers(self):
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), timeout=1):
            return True
        return False

    def kill(self):
        if self._process is not None:
            self._process.send_signal(signal.SIGCONT)
            self._process.kill()
            self._process.wait()
            self._process = None

    def start_anew(self, *lines):
        self.kill()
        self.start(*lines)

    def read_rules_again(self):
        self._process.send_signal(signal.SIGHUP)

    def stall(self):
        self._process.send_signal(signal.SIGSTOP)

    def go_on(self):
        self._process.send_signal(signal.SIGCONT)


class DeafWire:
    """Stands between client and broker; while `deaf`, nothing that is published comes through to the client, and the
    next `loses` confirmations do not."""

    PUBLISH, PUBACK = 3, 4

    def __init__(self, port):
        self.deaf = False
        self.loses = 0
        self._broker = ("127.0.0.1", port)
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self):
        with contextlib.suppress(OSError):
            while True:
                client, _ = self._listener.accept()
                broker = socket.create_connection(self._broker)
                for source, sink, work in ((client, broker, self._pass), (broker, client, self._sift)):
                    threading.Thread(target=self._carry, args=(work, source, sink), daemon=True).start()

    @staticmethod
    def _carry(work, source, sink):
        with contextlib.suppress(OSError), source, sink:
            work(source, sink)
            for end in (source, sink):
                end.shutdown(socket.SHUT_RDWR)

    @staticmethod
    def _pass(source, sink):
        while data := source.recv(65536):
            sink.sendall(data)

    def _sift(self, source, sink):
        with source.makefile("rb") as stream:
            while first := stream.read(1):
                head, length, shift = bytearray(first), 0, 0
                while True:
                    head += (byte := stream.read(1))
                    length |= (byte[0] & 0x7F) << shift
                    shift += 7
                    if not byte[0] & 0x80:
                        break
                body = stream.read(length)
                kind = first[0] >> 4
                if self.loses and kind == self.PUBACK:
                    self.loses -= 1
                elif not (self.deaf and kind == self.PUBLISH):
                    sink.sendall(head + body)

    def close(self):
        self._listener.close()


class Listener:
    """Another client on the boat's network: hears what is below the prefix, checks each against its schema."""

    def __init__(self, port, user=None, topics=("#",), ca=None):
        self._heard = queue.SimpleQueue()
        self._ready = queue.SimpleQueue()
        self._all = []
        self._client = client = Client(
            CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5, reconnect_on_failure=False
        )
        if user:
            client.username_pw_set(user)
        if ca:
            client.tls_set(str(ca))
        client.on_connect = lambda client, *_: client.subscribe([(f"{PREFIX}/{topic}", 1) for topic in topics])
        client.on_subscribe = lambda *_: self._ready.put(True)
        client.on_message = lambda _client, _data, message: self._heard.put(message)
        client.connect("127.0.0.1", port)
        client.loop_start()
        self._ready.get(timeout=5)

    def close(self):
        self._client.disconnect()
        self._client.loop_stop()

    def send(self, payload, *, topic="command", qos=1, retain=False):
        """Without waiting for the broker to take it."""
        return self._client.publish(f"{PREFIX}/{topic}", payload, qos, retain)

    def say(self, content, *, retain=False, expiry_s=None, topic="command"):
        payload = content if isinstance(content, bytes) else json.dumps(content).encode()
        properties = None
        if expiry_s is not None:
            properties = Properties(PacketTypes.PUBLISH)
            properties.MessageExpiryInterval = expiry_s
        self._client.publish(f"{PREFIX}/{topic}", payload, 1, retain, properties).wait_for_publish(5)

    def messages(self, topic):
        """(payload or None, retained) of everything heard so far under `topic`."""
        while not self._heard.empty():
            message = self._heard.get()
            payload = None
            if message.payload and not message.topic.endswith(("/command", "/forecast")):
                with contextlib.suppress(ValueError):  # what others have published there in a test
                    payload = json.loads(message.payload)
            if payload is not None:
                check(message.topic, payload)
            self._all.append((message.topic, payload, bool(message.retain)))
        return [(payload, kept) for name, payload, kept in self._all if name == f"{PREFIX}/{topic}"]

    def payloads(self, topic):
        return [payload for payload, _ in self.messages(topic)]

    def wait_for(self, topic, condition=lambda _payload: True, timeout_s=8.0):
        """The first payload under `topic` that fulfils the condition."""
        return until(
            lambda: next((entry for entry in self.payloads(topic) if entry and condition(entry)), None), timeout_s
        )

    def forget(self):
        self.messages("status")
        self._all.clear()


class Control:
    """Takes commands as the link does."""

    def __init__(self):
        self.commands = []
        self.answer = {"accepted": True, "reasons": []}

    def __call__(self, message):
        self.commands.append(message)
        if isinstance(self.answer, Exception):
            raise self.answer
        return self.answer


@pytest.fixture
def broker(tmp_path):
    broker = Broker(tmp_path)
    broker.start()
    yield broker
    broker.kill()


@pytest.fixture
def listen(broker):
    listeners = []

    def listen(user=None, **more):
        listeners.append(Listener(broker.port, user, **more))
        return listeners[-1]

    yield listen
    for listener in listeners:
        listener.close()


@pytest.fixture
def wire(broker):
    wire = DeafWire(broker.port)
    yield wire
    wire.close()


@pytest.fixture
def control():
    return Control()


@pytest.fixture
def publish(broker, control):
    """Starts a publisher that shows `publisher.shown[0]`, as report would four times a second."""
    publishers = []

    def publish(shown=None, on_forecast=None, password="", announced=None, **settings):
        box = [public() if shown is None else shown]
        settings = MqttSettings(**{"enabled": True, "host": "127.0.0.1", "port": broker.port, **settings})
        publisher = Publisher(
            settings,
            "Cagarra",
            send_command=control,
            password=password,
            snapshots=lambda: box[0],
            on_forecast=on_forecast,
            announced=announced,
        )
        publisher.shown = box
        publishers.append(publisher)
        publisher.start()
        return publisher

    yield publish
    for publisher in publishers:
        publisher.stop()


@pytest.fixture(name="until")
def _until():
    return until


@pytest.fixture
def aboard():
    """What report could be showing and telling."""
    return SimpleNamespace(
        public=public,
        event=event,
        low_feed=low_feed,
        noon_s=NOON_S,
        schema=schema,
        check=check,
        health_said=HEALTH_SAID,
    )
