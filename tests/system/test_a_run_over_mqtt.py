"""A whole run watched by a real MQTT client, the broker killed and restarted in the middle of it."""

import contextlib
import json
import shutil
import socket
import subprocess
import threading
import time
from datetime import UTC, datetime

import pytest
from paho.mqtt.client import CallbackAPIVersion, Client, MQTTProtocolVersion
from playwright.sync_api import expect, sync_playwright

from halocline.config import demo_text

pytestmark = [pytest.mark.system, pytest.mark.timeout(240)]

PREFIX = "halocline/cagarra"
MOSQUITTO = shutil.which("mosquitto") or "/usr/sbin/mosquitto"


class Broker:
    """A real broker on loopback that can be killed and come back at the same port."""

    def __init__(self, folder):
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self._config = folder / "broker.conf"
        self._config.write_text(f"listener {self.port} 127.0.0.1\nallow_anonymous true\npersistence false\n")
        self.start()

    def start(self):
        self._process = subprocess.Popen(
            [MOSQUITTO, "-c", str(self._config)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

    def kill(self):
        self._process.kill()
        self._process.wait()


class Watcher:
    """Everything the broker tells, in the order it came."""

    def __init__(self, port):
        self.heard = []
        self._lock = threading.Lock()
        self._client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        self._client.on_connect = lambda client, *_: client.subscribe(f"{PREFIX}/#", qos=1)
        self._client.on_message = self._hear
        self._client.reconnect_delay_set(1, 1)
        self._client.connect_async("127.0.0.1", port, keepalive=10)
        self._client.loop_start()

    def _hear(self, _client, _userdata, message):
        with self._lock:
            self.heard.append((message.topic.removeprefix(f"{PREFIX}/"), message.payload))

    def states(self):
        with self._lock:
            snapshots = [json.loads(payload) for topic, payload in self.heard if topic == "now" and payload]
        return [snapshot["state"] for snapshot in snapshots]

    def wait(self, condition, timeout_s=90.0):
        end_s = time.monotonic() + timeout_s
        while not condition():
            assert time.monotonic() < end_s, f"heard {self.states()[-5:]}, {len(self.heard)} messages"
            time.sleep(0.1)

    def say(self, topic, content):
        self._client.publish(f"{PREFIX}/{topic}", json.dumps(content), qos=1, retain=True)

    def close(self):
        self._client.disconnect()
        self._client.loop_stop()


@pytest.fixture
def sea_side(a_boat, tmp_path):
    with contextlib.ExitStack() as leaving:
        broker = Broker(tmp_path)
        leaving.callback(broker.kill)
        config = tmp_path / "boat.toml"
        broker_is = f'host = "127.0.0.1"\nport = {broker.port}\nkeepalive_s = "5s"\naccept_forecast = true'
        mqtt = f"[mqtt]\nenabled = true\n{broker_is}"
        config.write_text(demo_text().replace("[mqtt]\nenabled = false", mqtt), encoding="utf-8")
        watcher = Watcher(broker.port)
        leaving.callback(watcher.close)
        yield a_boat("--config", str(config)).wait_ready(), broker, watcher


def test_a_run_is_followed_through_a_broker_that_dies_and_comes_back(sea_side):
    boat, broker, watcher = sea_side
    watcher.wait(lambda: ("status", b"online") in [(t, p.strip(b'"')) for t, p in watcher.heard] or watcher.states())
    boat.order("start", litres=0.3)
    watcher.wait(lambda: "pressurising" in watcher.states())
    broker.kill()
    boat.wait_state("diverting", "producing")
    before = len(watcher.heard)
    broker.start()
    watcher.wait(lambda: len(watcher.heard) > before)
    watcher.wait(lambda: "producing" in watcher.states())
    watcher.wait(lambda: watcher.states()[-1:] == ["standby"])
    told = [topic for topic, _ in watcher.heard]
    assert {"event", "plan"} <= set(told)
    assert all(
        topic in ("status", "now", "plan", "health", "duties", "event") or topic.startswith("alarm/") for topic in told
    )
    runs = boat.http("GET", "/api/v1/runs")[1]["runs"]
    assert runs[0]["litres"] == pytest.approx(0.3, abs=0.05)


def test_an_alarm_stands_at_the_broker_until_it_is_over(sea_side):
    boat, _, watcher = sea_side
    boat.fault("stop_button")
    watcher.wait(lambda: any(topic == "alarm/stop_button" and payload for topic, payload in watcher.heard))
    boat.fault("stop_button", clear=True)
    boat.wait(lambda now: not now["contacts"]["stop_button"])
    boat.order("acknowledge")
    boat.wait(lambda now: "reset" in now["allowed_commands"])
    boat.order("reset")
    watcher.wait(lambda: ("alarm/stop_button", b"") in watcher.heard)


def test_a_forecast_that_a_broker_keeps_is_in_the_plan_of_page_and_broker(sea_side, wait_until):
    boat, _, watcher = sea_side
    hour = datetime.now(UTC).replace(minute=0, second=0, microsecond=0)
    watcher.say("forecast", {"from": hour.isoformat(), "sun_w": [0] * 48, "sea": []})
    said = wait_until(lambda: boat.http("GET", "/api/v1/plan")[1]["ahead"]["forecast"], 90.0, 1.0)
    assert "from the broker" in said
    drawn = boat.http("GET", "/api/v1/plan")[1]["ahead"]["drawn"]
    assert max(drawn["sun_w"]) == 0
    watcher.wait(lambda: any(topic == "plan" and json.loads(payload)["until"] for topic, payload in watcher.heard))


def alarm_texts(watcher, cause):
    """What the broker holds of an alarm, newest last."""
    return [json.loads(payload) for topic, payload in watcher.heard if topic == f"alarm/{cause}" and payload]


def test_low_feed_pressure_warns_and_then_trips_in_words_on_page_broker_command_line_and_buzzer(sea_side, watch):
    boat, _, watcher = sea_side
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page()
        page.goto(boat.address)
        strip = page.get_by_role("region", name="Alarms")
        boat.order("start", litres=5)
        boat.wait_state("diverting", "producing")
        for severity, cause, state in (
            (0.783, "feed_pressure_low", ("diverting", "producing")),
            (0.8, "feed_pressure_low_low", ("tripped",)),
        ):
            with watch(boat) as seen:
                boat.fault("prefilter_clogged", severity=severity)
                now = boat.wait(lambda now, cause=cause: cause in [alarm["id"] for alarm in now["alarms"]], 30.0)
                alarm = next(alarm for alarm in now["alarms"] if alarm["id"] == cause)
                assert boat.now()["state"] in state
                assert all(len(alarm[key]) > 20 for key in ("means", "ignored", "do"))
                expect(strip).to_contain_text(alarm["means"], timeout=10_000)
                expect(strip).to_contain_text(alarm["do"])
                watcher.wait(lambda cause=cause: alarm_texts(watcher, cause), 10.0)
                assert alarm_texts(watcher, cause)[-1]["do"] == alarm["do"]
                told = " ".join(boat.cli("status").stdout.split())
                assert alarm["name"] in told
                assert alarm["do"] in told
                watcher.wait(lambda seen=seen: seen.times("buzzer"), 10.0)  # it sounds every 4 s
            boat.order("silence")
        assert boat.now()["first_out"] == "feed_pressure_low_low"
        browser.close()
