"""What `halocline check` says of a broker, asked of a real one."""

import socket
import subprocess
from pathlib import Path

from halocline.app.checkup import broker_lines
from halocline.plant.settings import MqttSettings

SECRETS = Path("/var/lib/halocline/report.secrets.toml")


def looked(port, *, enabled=True, username="", password=""):
    settings = MqttSettings(enabled=enabled, host="127.0.0.1", port=port, username=username)
    (line,) = broker_lines(settings, password, SECRETS)
    return line


def test_a_broker_that_takes_us(broker):
    assert looked(broker.port).id == "broker_reached"


def test_a_broker_that_does_not_run_is_told_by_its_place():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))  # bound and not listened at: refused
        line = looked(taken.getsockname()[1])
    assert line.id == "broker_unreachable"
    assert "nothing listens there" in line.found
    assert "mqtt.port" in line.do


def test_a_broker_that_wants_a_password_refuses_us_by_name(broker, tmp_path):
    passwords = tmp_path / "passwords"
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(passwords), "cagarra", "bulwark"], check=True)
    broker.start_anew("user root", "allow_anonymous false", f"password_file {passwords}")
    line = looked(broker.port, username="cagarra", password="wrong")
    assert line.id == "broker_refuses"
    assert "does not know this user" in line.found or "lets us not in" in line.found
    assert str(SECRETS) in line.do
    assert looked(broker.port, username="cagarra", password="bulwark").id == "broker_reached"


def test_no_broker_wanted_is_no_trouble():
    assert looked(1, enabled=False).state == "ok"
