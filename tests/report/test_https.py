"""The owner's certificate: what is wrong with it, and a page that speaks https."""

import datetime as dt
import http.client
import json
import socket
import ssl
import threading
import time

import pytest
import trustme
from cryptography.hazmat.primitives import serialization as kinds

from halocline.plant.settings import HttpSettings, ReportSettings
from halocline.report import secrets
from halocline.report.http.certificate import examine
from halocline.report.secrets import set_pin
from halocline.report.server import Report, ReportOptions

NOW_S = time.time()
NOW = dt.datetime.now(dt.UTC)
NAMES = ("cagarra.local", "127.0.0.1")


@pytest.fixture(scope="module")
def authority():
    return trustme.CA()


@pytest.fixture
def pair(tmp_path, authority):
    """Makes a certificate and its key as files; their settings."""

    def make(name="boat", days=365, since_days=-1, names=NAMES):
        made = authority.issue_cert(
            *names, not_before=NOW + dt.timedelta(days=since_days), not_after=NOW + dt.timedelta(days=days)
        )
        certificate, key = tmp_path / f"{name}.crt", tmp_path / f"{name}.key"
        certificate.write_bytes(b"".join(part.bytes() for part in made.cert_chain_pems))
        key.write_bytes(made.private_key_pem.bytes())
        key.chmod(0o640)
        return HttpSettings(certificate=str(certificate), key=str(key))

    return make


def refused(http):
    return [(problem.key, problem.found) for problem in examine(http, "boat.toml", NOW_S).refused]


def test_without_a_certificate_nothing_is_wrong():
    found = examine(HttpSettings(), "boat.toml", NOW_S)
    assert (found.refused, found.warned) == ((), ())


def test_a_good_pair_is_nothing_to_talk_about(pair):
    found = examine(pair(), "boat.toml", NOW_S)
    assert (found.refused, found.warned) == ((), ())


def test_both_missing_files_are_named_at_once():
    http = HttpSettings(certificate="/nowhere/boat.crt", key="/nowhere/boat.key")
    assert refused(http) == [
        ("http.certificate", "no file /nowhere/boat.crt"),
        ("http.key", "no file /nowhere/boat.key"),
    ]


def test_a_folder_instead_of_a_file_says_why_it_cannot_be_read(pair, tmp_path):
    http = HttpSettings(certificate=pair().certificate, key=str(tmp_path))
    ((key, found),) = refused(http)
    assert (key, found) == ("http.key", f"{tmp_path}, which cannot be read (it is a folder, not a regular file)")


def test_a_key_of_another_certificate_does_not_fit(pair):
    http = HttpSettings(certificate=pair().certificate, key=pair("other").key)
    assert refused(http) == [("http.key", "the key of another certificate")]


def test_files_that_hold_something_else_are_told_apart(pair, tmp_path):
    good, junk = pair(), tmp_path / "junk"
    junk.write_text("not PEM\n")
    assert refused(HttpSettings(certificate=str(junk), key=good.key)) == [
        ("http.certificate", f"no certificate in {junk}")
    ]
    assert refused(HttpSettings(certificate=good.certificate, key=str(junk))) == [
        ("http.key", f"no usable key in {junk}")
    ]


def test_a_key_with_a_pass_phrase_is_refused_for_nobody_is_there_to_type_it(pair):
    http = pair()
    with open(http.key, "rb") as file:
        key = kinds.load_pem_private_key(file.read(), None)
    locked = key.private_bytes(kinds.Encoding.PEM, kinds.PrivateFormat.PKCS8, kinds.BestAvailableEncryption(b"sesame"))
    with open(http.key, "wb") as file:
        file.write(locked)
    ((problem),) = examine(http, "boat.toml", NOW_S).refused
    assert (problem.key, problem.found) == ("http.key", "a key with a pass phrase")
    assert "openssl pkey" in problem.remedy


@pytest.mark.parametrize(
    ("since_days", "days", "found"),
    [
        (-30, -1, "a certificate that has expired"),
        (2, 30, "a certificate that is not valid yet"),
        (-30, 5, f"a certificate that expires on {(NOW + dt.timedelta(days=5)).date()}"),
    ],
)
def test_a_certificate_out_of_its_time_serves_with_a_warning(pair, since_days, days, found):
    examined = examine(pair(since_days=since_days, days=days), "boat.toml", NOW_S)
    assert examined.refused == ()
    (warning,) = examined.warned
    assert (warning.key, warning.found) == ("http.certificate", found)
    assert warning.remedy


def test_a_key_that_everybody_may_read_is_worth_a_warning(pair, tmp_path):
    http = pair()
    (tmp_path / "boat.key").chmod(0o644)
    (warning,) = examine(http, "boat.toml", NOW_S).warned
    assert warning.remedy == f"chmod o= {http.key}"


# ---- the server -------------------------------------------------------------------------------------


@pytest.fixture
def serve(link_path, tmp_path, until):
    running = []

    def start(settings, **options):
        ready = []
        told = ReportOptions(
            settings=settings, link_path=link_path, data_dir=tmp_path / "data", boat="Cagarra", port=0, **options
        )
        report = Report(told, ready.append)
        thread = threading.Thread(target=report.serve)
        thread.start()
        running.append((report, thread))
        until(lambda: ready)
        return ready[0]

    yield start
    for report, thread in running:
        report.end()
        thread.join(timeout=10)
        assert not thread.is_alive()


def asked(connection, method, path, body=None):
    headers = {"X-Halocline": "1", "Content-Type": "application/json"}
    connection.request(method, path, None if body is None else json.dumps(body), headers)
    answer = connection.getresponse()
    return answer, json.loads(answer.read() or b"null")


@pytest.fixture
def pin(tmp_path, monkeypatch):
    monkeypatch.setattr(secrets, "COST", 2**8)
    set_pin(tmp_path / "data" / "report.secrets.toml", "482913")
    return "482913"


def test_the_page_speaks_https_with_the_owners_certificate_and_secures_the_cookie(serve, pair, authority, pin):
    where = serve(ReportSettings(http=pair()))
    assert where.url == f"https://127.0.0.1:{where.port}/"
    trusting = ssl.create_default_context()
    authority.configure_trust(trusting)
    connection = http.client.HTTPSConnection("127.0.0.1", where.port, timeout=5, context=trusting)
    _, now = asked(connection, "GET", "/api/v1/now")
    assert [condition["id"] for condition in now["conditions"]] == ["control_down"]
    answer, _ = asked(connection, "POST", "/api/v1/session", {"pin": pin})
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith("__Host-halocline_session=")
    assert {"Secure", "HttpOnly", "SameSite=strict", "Path=/"} <= set(cookie.split("; "))
    connection.close()
    with socket.create_connection(("127.0.0.1", where.port), timeout=5) as plain:
        plain.sendall(b"GET /api/v1/now HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert plain.recv(100) == b""


def test_no_protocol_older_than_tls_1_2_is_spoken(serve, pair):
    where = serve(ReportSettings(http=pair()))
    old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    old.check_hostname, old.verify_mode = False, ssl.CERT_NONE
    old.set_ciphers("ALL:@SECLEVEL=0")
    with pytest.warns(DeprecationWarning, match="TLSv1"):
        old.maximum_version = ssl.TLSVersion.TLSv1_1
    with socket.create_connection(("127.0.0.1", where.port), timeout=5) as raw, pytest.raises(ssl.SSLError):
        old.wrap_socket(raw)


def test_handshakes_that_are_never_finished_do_not_keep_others_out(serve, pair, authority):
    where = serve(ReportSettings(http=pair()))
    half_open = [socket.create_connection(("127.0.0.1", where.port), timeout=5) for _ in range(200)]
    trusting = ssl.create_default_context()
    authority.configure_trust(trusting)
    started_s = time.monotonic()
    connection = http.client.HTTPSConnection("127.0.0.1", where.port, timeout=5, context=trusting)
    assert asked(connection, "GET", "/healthz")[0].status == 200
    assert time.monotonic() - started_s < 1.0
    connection.close()
    for one in half_open:
        one.close()


def test_with_an_unusable_certificate_the_page_comes_up_in_plain_http_and_takes_no_pin(
    serve, pair, control, until, pin
):
    control()
    broken = HttpSettings(certificate=pair().certificate, key="/nowhere/boat.key")
    where = serve(ReportSettings(http=broken), config_name="boat.toml")
    assert where.url.startswith("http://")
    connection = http.client.HTTPConnection("127.0.0.1", where.port, timeout=5)
    until(lambda: not asked(connection, "GET", "/api/v1/session")[1]["present"])
    _, now = asked(connection, "GET", "/api/v1/now")
    (condition,) = [one for one in now["conditions"] if one["id"] == "certificate"]
    assert condition["problems"][0]["key"] == "http.key"
    assert "no PIN is taken" in condition["means"]
    assert asked(connection, "POST", "/api/v1/session", {"pin": pin})[1]["ids"] == ["no_https"]
    assert asked(connection, "POST", "/api/v1/commands", {"command": "start"})[1]["ids"] == ["no_https"]
    until(lambda: asked(connection, "POST", "/api/v1/commands", {"command": "stop"})[1]["accepted"])
    connection.close()


def test_broken_settings_that_asked_for_https_take_no_pin_in_the_clear_either(serve, pin):
    where = serve([], https_wanted=True)
    connection = http.client.HTTPConnection("127.0.0.1", where.port, timeout=5)
    assert asked(connection, "POST", "/api/v1/session", {"pin": pin})[1]["ids"] == ["no_https"]
    connection.close()
