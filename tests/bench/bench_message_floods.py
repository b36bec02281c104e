"""Thirty floods of messages against the plant's client at a real broker (mosquitto, in its standard settings): how
long `status` was not online, how long a stop took, how many stops were lost, how much memory grew.

The client runs in a process of its own, each flood comes from two more, and a hand publishes stops all the while.
SECONDS_EACH (4) may be set.
"""

import itertools
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

SECONDS = float(os.environ.get("SECONDS_EACH", "4"))
PREFIX = "halocline/cagarra"
STOP_EVERY_S = 0.5
STOP_WITHIN_S = 10.0
FLOODERS = 2

PLANT = """
import json, os, sys, threading, time
from halocline.plant.settings import MqttSettings
from halocline.report.mqtt.publisher import Publisher
def control(message):
    print(json.dumps({"who": message["who"], "at_s": time.monotonic()}), flush=True)
    return {"accepted": True}
settings = MqttSettings(enabled=True, host="127.0.0.1", port=int(sys.argv[1]), accept_commands=True)
shown = {"link": {"control": "live"}, "boot": "b1", "seq": 1, "time": None, "alarms": [], "filler": "x" * 6000}
publisher = Publisher(settings, "Cagarra", send_command=control, snapshots=lambda: shown)
publisher.start()
for line in sys.stdin:
    pages = int(open("/proc/self/statm").read().split()[1])
    health = publisher.health()
    told = {"rss_kb": pages * os.sysconf("SC_PAGE_SIZE") // 1024, "connections": health.connections}
    print(json.dumps({**told, "dropped": dict(health.commands_dropped)}), flush=True)
"""

FLOOD = """
import sys, time
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
port, topic, size, qos, retain, seconds, kind = sys.argv[1:]
client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
client.max_queued_messages_set(2000)
client.connect("127.0.0.1", int(port))
client.loop_start()
body = {"noise": b"x", "deep": b"[", "stops": b'{"command":"stop","x":'}[kind]
payload = (body * (int(size) // len(body) + 1))[:int(size)]
until_s, sent = time.monotonic() + float(seconds), 0
while time.monotonic() < until_s:
    client.publish(topic, payload, int(qos), retain == "1")
    sent += 1
    if sent % 50 == 0:
        time.sleep(0.001)
print(sent)
"""

FLOODS = [
    *itertools.product(("command",), (0, 60, 4_000, 16_000, 17_000, 200_000), (0, 1, 2), (0,), ("noise",)),
    *itertools.product(("command", "alarm/mine", "status"), (60, 17_000), (1,), (1,), ("noise",)),
    *itertools.product(("command",), (60, 4_000), (0, 1, 2), (0,), ("stops", "deep")),
][:30]


class Plant:
    """The client in its process, and what it has passed on."""

    def __init__(self, port: int) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-c", PLANT, str(port)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        self.passed_on: dict[str, float] = {}
        self._told: list[dict[str, object]] = []
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        for line in self._process.stdout or ():
            said = json.loads(line)
            if "who" in said:
                self.passed_on.setdefault(said["who"], said["at_s"])
            else:
                self._told.append(said)

    def state(self) -> dict[str, object]:
        """Memory, connections, what was dropped."""
        count = len(self._told)
        assert self._process.stdin is not None
        self._process.stdin.write("\n")
        self._process.stdin.flush()
        while len(self._told) == count:
            time.sleep(0.01)
        return self._told[-1]

    def end(self) -> None:
        self._process.kill()
        self._process.wait()


class Hand:
    """Publishes stops and watches the status."""

    def __init__(self, port: int) -> None:
        self.words: list[tuple[float, str]] = []
        self._client = client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        client.on_message = self._hear
        client.connect("127.0.0.1", port)
        client.subscribe(f"{PREFIX}/status", 0)
        client.loop_start()

    def _hear(self, _client: object, _data: object, message: object) -> None:
        try:
            word = json.loads(message.payload)["status"]  # type: ignore[attr-defined]
        except (ValueError, KeyError, TypeError):
            return
        self.words.append((time.monotonic(), word))

    def stop(self, name: str) -> float:
        """Publishes one; when."""
        self._client.publish(f"{PREFIX}/command", json.dumps({"command": "stop", "who": name}), 1)
        return time.monotonic()

    def offline_s(self, since_s: float) -> float:
        """For how long the last word was not online since then."""
        total_s, word, at_s = 0.0, "offline", since_s
        for moment_s, said in [*self.words, (time.monotonic(), "")]:
            if moment_s >= since_s:
                total_s += (moment_s - at_s) if word != "online" else 0.0
                at_s = moment_s
            word = said or word
        return total_s


def one(plant: Plant, hand: Hand, port: int, number: int, flood: tuple[object, ...]) -> dict[str, float]:
    """One flood; the figures."""
    topic, *rest = flood
    arguments = [str(part) for part in (port, f"{PREFIX}/{topic}", *rest[:3], SECONDS, rest[3])]
    began_s, before = time.monotonic(), plant.state()
    flooders = [
        subprocess.Popen([sys.executable, "-c", FLOOD, *arguments], stdout=subprocess.PIPE) for _ in range(FLOODERS)
    ]
    stops = {}
    while any(flooder.poll() is None for flooder in flooders):
        name = f"{number}.{len(stops)}"
        stops[name] = hand.stop(name)
        time.sleep(STOP_EVERY_S)
    sent = sum(int(flooder.stdout.read()) for flooder in flooders if flooder.stdout)
    last_s = time.monotonic()
    while time.monotonic() - last_s < STOP_WITHIN_S and not all(name in plant.passed_on for name in stops):
        time.sleep(0.05)
    took_s = sorted(plant.passed_on[name] - at_s for name, at_s in stops.items() if name in plant.passed_on)
    after = plant.state()
    return {
        "sent": sent,
        "stops": len(stops),
        "lost": len(stops) - len(took_s),
        "worst_s": took_s[-1] if took_s else float("inf"),
        "median_s": took_s[len(took_s) // 2] if took_s else float("inf"),
        "offline_s": hand.offline_s(began_s),
        "grown_kb": after["rss_kb"] - before["rss_kb"],  # type: ignore[operator]
        "connections": after["connections"] - before["connections"],  # type: ignore[operator]
    }


def main() -> None:
    """Every flood in turn, on one broker and one client."""
    program = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
    if program is None:
        print("no mosquitto here: apt-get install mosquitto")
        return
    with tempfile.TemporaryDirectory() as folder, socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
        probe.close()
        config = Path(folder) / "mosquitto.conf"
        config.write_text(f"listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\nlog_dest none\n")
        broker = subprocess.Popen([program, "-c", str(config)], stderr=subprocess.DEVNULL)
        time.sleep(1.0)
        plant, hand = Plant(port), Hand(port)
        time.sleep(2.0)
        rows = []
        print("topic        bytes qos retained kind     sent  stops lost  median s  worst s  offline s  grown kB  new")
        for number, flood in enumerate(FLOODS):
            row = one(plant, hand, port, number, flood)
            rows.append(row)
            topic, size, qos, retain, kind = flood
            print(
                f"{topic:12} {size:6} {qos:3} {retain:8} {kind:6} {row['sent']:7} {row['stops']:6} {row['lost']:4}"
                f" {row['median_s']:9.3f} {row['worst_s']:8.3f} {row['offline_s']:10.2f} {row['grown_kb']:9}"
                f" {row['connections']:9}",
                flush=True,
            )
        total = {key: sum(row[key] for row in rows) for key in ("sent", "stops", "lost", "offline_s", "grown_kb")}
        print(
            f"all: {total}, worst stop {max(row['worst_s'] for row in rows):.3f} s, dropped {plant.state()['dropped']}"
        )
        plant.end()
        broker.kill()
        broker.wait()


if __name__ == "__main__":
    main()
