"""TLS against a real broker, with certificates that openssl makes here: what holds, and each way in which it does not.

What openssl says of each is its own (x509_vfy.h, sslerr.h); a remedy is judged by the key that it names.
"""

import socket
import subprocess
from pathlib import Path

import pytest

from halocline.app.checkup import broker_lines
from halocline.plant.settings import MqttSettings
from halocline.report.mqtt.tls import TlsFileError, TlsFiles, tls_context
from report_mqtt.conftest import Listener, until

pytestmark = pytest.mark.system

PASSWORD = "bulwark-7"
SECRETS = Path("/var/lib/halocline/report.secrets.toml")
AUTHORITY = """
[ca]
default_ca = own
[own]
database = {folder}/index
serial = {folder}/serial
new_certs_dir = {folder}
default_md = sha256
policy = any
unique_subject = no
[any]
commonName = supplied
"""


def openssl(*words):
    subprocess.run(["openssl", *map(str, words)], check=True, capture_output=True)


class Authority:
    """Signs certificates, in a folder of its own."""

    def __init__(self, folder):
        folder.mkdir()
        self.folder, self.certificate, self.key = folder, folder / "authority.pem", folder / "authority.key"
        (folder / "conf").write_text(AUTHORITY.format(folder=folder))
        (folder / "index").write_text("")
        (folder / "serial").write_text("01")
        subject = ("-subj", f"/CN=Authority of {folder.name}")
        openssl("req", "-x509", *NEW_KEY, *subject, "-keyout", self.key, "-out", self.certificate)

    def signs(self, name, alternatives="IP:127.0.0.1", begins="20200101000000Z", ends="20990101000000Z"):
        """Certificate and key."""
        request, extensions = self.folder / f"{name}.csr", self.folder / f"{name}.ext"
        certificate, key = self.folder / f"{name}.pem", self.folder / f"{name}.key"
        openssl("req", *NEW_KEY, "-subj", f"/CN={name}", "-keyout", key, "-out", request)
        extensions.write_text(f"subjectAltName = {alternatives}\n")
        dates = ("-startdate", begins, "-enddate", ends)
        own = ("-config", self.folder / "conf", "-cert", self.certificate, "-keyfile", self.key)
        openssl("ca", "-batch", "-notext", *own, *dates, "-extfile", extensions, "-in", request, "-out", certificate)
        return certificate, key


NEW_KEY = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes")


@pytest.fixture(scope="module")
def authority(tmp_path_factory):
    return Authority(tmp_path_factory.mktemp("signing") / "harbour")


@pytest.fixture(scope="module")
def stranger(tmp_path_factory):
    return Authority(tmp_path_factory.mktemp("signing") / "elsewhere")


@pytest.fixture
def secured(broker):
    """Starts the broker with TLS: these certificate and key, and these further lines."""

    def secured(pair, *lines):
        certificate, key = pair
        broker.start_anew("user root", f"certfile {certificate}", f"keyfile {key}", *lines)
        return broker

    return secured


def checked(broker, password="", **settings):
    """What `halocline check` says of it."""
    mqtt = MqttSettings(enabled=True, **{"host": "127.0.0.1", "port": broker.port, "tls": True, **settings})
    (line,) = broker_lines(mqtt, password, SECRETS)
    return line


def problem(publisher):
    """What is wrong once an attempt has failed."""
    return until(lambda: publisher.health().problem if "Next try" in (publisher.health().problem or "") else None)


def test_over_tls_all_is_as_without(authority, secured, publish, control):
    broker = secured(authority.signs("broker"))
    publish(tls=True, ca=str(authority.certificate), accept_commands=True)
    listener = Listener(broker.port, ca=authority.certificate)
    listener.wait_for("status", lambda status: status["status"] == "online")
    listener.say({"command": "stop"})
    assert listener.wait_for("answer")["accepted"] is True
    listener.close()
    assert checked(broker, ca=str(authority.certificate)).id == "broker_reached"


def test_certificate_and_password_together_let_us_in_and_neither_stands_in_the_log(
    authority, secured, publish, tmp_path, caplog
):
    passwords = tmp_path / "passwords"
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(passwords), "cagarra", PASSWORD], check=True)
    wants = (f"cafile {authority.certificate}", "require_certificate true", "allow_anonymous false")
    broker = secured(authority.signs("broker"), *wants, f"password_file {passwords}")
    certificate, key = authority.signs("cagarra")
    with caplog.at_level("DEBUG"):
        ours = {"ca": str(authority.certificate), "certificate": str(certificate), "key": str(key)}
        publisher = publish(tls=True, username="cagarra", password=PASSWORD, **ours)
        until(lambda: publisher.health().connected)
    assert PASSWORD not in caplog.text
    assert key.read_text().splitlines()[1] not in caplog.text
    assert checked(broker, PASSWORD, username="cagarra", **ours).id == "broker_reached"
    refused = checked(broker, "wrong", username="cagarra", **ours)
    assert refused.id == "broker_refuses"
    assert str(SECRETS) in refused.do


FUTURE, PAST = {"begins": "20980101000000Z"}, {"ends": "20210101000000Z"}
BROKERS = {
    "of another authority": ("stranger", {}, "nobody this computer trusts", "mqtt.ca"),
    "out of date": ("authority", PAST, "has expired", "clock"),
    "of the future": ("authority", FUTURE, "not valid yet", "clock"),
    "for another address": ("authority", {"alternatives": "IP:127.0.0.9"}, "not made out to this address", "mqtt.host"),
}


@pytest.mark.parametrize(("signer", "made", "said", "remedy"), BROKERS.values(), ids=BROKERS)
def test_a_broker_whose_certificate_is_wrong_is_not_talked_to(
    signer, made, said, remedy, request, authority, secured, publish
):
    broker = secured(request.getfixturevalue(signer).signs("broker", **made))
    publisher = publish(tls=True, ca=str(authority.certificate))
    told = problem(publisher)
    assert said in told
    assert remedy in told
    assert "\n" not in told
    line = checked(broker, ca=str(authority.certificate))
    assert (line.id, said in line.found, remedy in line.do) == ("broker_unreachable", True, True)


def test_a_certificate_for_another_name_is_told_apart(authority, secured, publish):
    broker = secured(authority.signs("broker", alternatives="DNS:galley.example"))
    line = checked(broker, host="localhost", ca=str(authority.certificate))
    assert "made out to another name" in line.found
    assert "mqtt.host" in line.do


def test_a_self_signed_certificate_that_nobody_named_is_refused(authority, secured, publish):
    broker = secured((authority.certificate, authority.key))
    told = problem(publish(tls=True))
    assert "this computer does not know it" in told or "nobody this computer trusts" in told
    assert "mqtt.ca" in told
    assert checked(broker).id == "broker_unreachable"


@pytest.mark.parametrize("version", ["tlsv1.2", "tlsv1.3"])
def test_a_broker_that_wants_a_certificate_of_ours_says_so_in_our_words(version, authority, secured, publish):
    wants = (f"cafile {authority.certificate}", "require_certificate true", f"tls_version {version}")
    broker = secured(authority.signs("broker"), *wants)
    told = problem(publish(tls=True, ca=str(authority.certificate)))
    assert "mqtt.certificate" in told
    assert "mqtt.certificate" in checked(broker, ca=str(authority.certificate)).do


@pytest.mark.parametrize("version", ["tlsv1.2", "tlsv1.3"])
def test_a_broker_that_does_not_take_our_certificate(version, authority, stranger, secured, publish):
    wants = (f"cafile {authority.certificate}", "require_certificate true", f"tls_version {version}")
    broker = secured(authority.signs("broker"), *wants)
    certificate, key = stranger.signs("cagarra")
    ours = {"ca": str(authority.certificate), "certificate": str(certificate), "key": str(key)}
    assert "mqtt.certificate" in problem(publish(tls=True, **ours))
    assert "mqtt.certificate" in checked(broker, **ours).do


def test_tls_where_none_is_spoken_and_none_where_it_is(authority, broker, secured, publish):
    told = problem(publish(tls=True, ca=str(authority.certificate)))
    assert "usually 8883" in told
    secured(authority.signs("broker"))
    told = problem(publish())
    assert "mqtt.tls = true" in told
    assert "mqtt.tls = true" in checked(broker, tls=False).do


def test_a_port_of_nobody_and_a_name_of_nobody(publish):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))  # bound and not listened at: refused
        assert "nothing listens there. See that the broker runs" in problem(publish(port=taken.getsockname()[1]))
    assert "its name is not known. Look at mqtt.host" in problem(publish(host="nobody.invalid"))


def test_files_that_cannot_be_used_are_named_with_their_key_and_mended_without_a_restart(
    authority, stranger, secured, publish, tmp_path
):
    secured(authority.signs("broker"))
    certificate, key = authority.signs("cagarra")
    locked = tmp_path / "locked.key"
    openssl("pkey", "-in", key, "-out", locked, "-aes256", "-passout", "pass:hush")
    other = stranger.signs("cagarra")[1]
    wrong = {
        "mqtt.ca: no file": TlsFiles(str(tmp_path / "missing.pem")),
        "mqtt.ca: no certificate in": TlsFiles(str(key)),
        "mqtt.certificate: no certificate in": TlsFiles("", str(key), str(key)),
        "mqtt.key: no usable key in": TlsFiles("", str(certificate), str(certificate)),
        f"mqtt.key: {other} is the key of another": TlsFiles("", str(certificate), str(other)),
        f"mqtt.key: {locked} has a pass phrase": TlsFiles("", str(certificate), str(locked)),
    }
    for said, files in wrong.items():
        with pytest.raises(TlsFileError) as raised:
            tls_context(files)
        assert str(raised.value).startswith(said)
        assert "hush" not in str(raised.value)
    mended = tmp_path / "missing.pem"
    publisher = publish(tls=True, ca=str(mended))
    assert f"mqtt.ca: no file {mended}. Check the path." in problem(publisher)
    mended.write_bytes(authority.certificate.read_bytes())
    until(lambda: publisher.health().connected)


def test_a_port_that_hangs_up_is_none_for_tls(authority, publish):
    with socket.create_server(("127.0.0.1", 0)) as mute:
        publisher = publish(tls=True, ca=str(authority.certificate), port=mute.getsockname()[1])
        taken, _ = mute.accept()
        taken.close()
        assert "usually 8883" in problem(publisher)
