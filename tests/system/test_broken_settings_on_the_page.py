"""A configuration that cannot be used, in real processes: the page comes up and says which key and what to do."""

import http.client
import json
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from halocline.config import demo_text

pytestmark = pytest.mark.system

BROKEN_CONTROL = ("[limits]\n", "[limits]\nvessel_pressure_high_bar = 70\n")
BROKEN_REPORT = ("[http]\nport = 8080\n", "[http]\nport = 99999\n")


class Process:
    """One of the two services, as its unit starts it."""

    def __init__(self, name, folder, config, *options):
        self.process = subprocess.Popen(
            [sys.executable, "-m", "halocline", name, "--config", config, "--data", folder, *options],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        self.lines = []
        self._reading = threading.Thread(target=self._read, daemon=True)
        self._reading.start()

    def _read(self):
        self.lines += [line.rstrip("\n") for line in iter(self.process.stdout.readline, "")]

    def end(self):
        if self.process.poll() is None:
            self.process.terminate()
        status = self.process.wait(10)
        self._reading.join(5)
        self.process.stdout.close()
        return status


@pytest.fixture
def service(tmp_path):
    running = []

    def start(name, config, *options):
        running.append(Process(name, str(tmp_path / name), str(config), "--socket", str(tmp_path / "c.sock"), *options))
        return running[-1]

    yield start
    for one in running:
        one.end()


def file_with(folder, *changes):
    text = demo_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = Path(folder) / "halocline.toml"
    path.write_text(text, encoding="utf-8")
    return path


def asked(port, path):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    try:
        connection.request("GET", path)
        answer = connection.getresponse()
        body = answer.read().decode()
        return json.loads(body) if "json" in answer.headers["content-type"] else body
    except OSError:
        return None
    finally:
        connection.close()


def conditions(port):
    now = asked(port, "/api/v1/now")
    return {} if now is None else {condition["id"]: condition for condition in now["conditions"]}


def test_broken_tables_of_either_process_are_shown_by_the_page_with_key_and_remedy(service, tmp_path, port, wait_until):
    config = file_with(tmp_path, BROKEN_CONTROL, BROKEN_REPORT)
    service("report", config, "--port", str(port))
    control = service("control", config)
    assert control.process.wait(20) == 2
    found = wait_until(lambda: conditions(port), 20)
    assert set(found) == {"control_configuration", "report_configuration"}
    keys = {problem["key"]: problem["do"] for problem in found["control_configuration"]["problems"]}
    assert "limits.vessel_pressure_high_bar" in keys
    assert all(keys.values())
    (own,) = found["report_configuration"]["problems"]
    assert (own["key"], own["found"], own["do"] != "") == ("http.port", "99999", True)
    assert asked(port, "/healthz")["conditions"] == ["control_configuration", "report_configuration"]
    plain = asked(port, "/plain")
    assert "limits.vessel_pressure_high_bar" in plain
    assert "http.port" in plain

    file_with(tmp_path)
    wait_until(lambda: "control_configuration" not in conditions(port), 5)


def test_a_control_that_cannot_have_its_pins_says_so_on_the_page(service, tmp_path, port, wait_until):
    """A right configuration on a computer without the electronics, as a board that came loose would look."""
    config = file_with(tmp_path)
    control = service("control", config)
    service("report", config, "--port", str(port))
    assert control.process.wait(20) == 2
    found = wait_until(lambda: conditions(port), 20)
    assert set(found) == {"control_cannot_start"}
    (said,) = control.lines
    assert found["control_cannot_start"]["means"].endswith(said.removeprefix("halocline control: "))
