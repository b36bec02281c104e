import socket
import uuid

import pytest

from halocline.app import notify

CALLS = [
    (notify.ready, (), b"READY=1"),
    (notify.watchdog, (), b"WATCHDOG=1"),
    (notify.stopping, (), b"STOPPING=1"),
    (notify.status, ("at rest",), b"STATUS=at rest"),
]


@pytest.fixture(params=["path", "abstract"])
def systemd(request, tmp_path, monkeypatch):
    """The other end, under a path or in the abstract namespace."""
    name = f"halocline-test-{uuid.uuid4().hex}"
    address, told = (str(tmp_path / "notify"),) * 2 if request.param == "path" else ("\0" + name, "@" + name)
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(address)
        heard.settimeout(2)
        monkeypatch.setenv("NOTIFY_SOCKET", told)
        yield heard


@pytest.mark.parametrize(("call", "arguments", "said"), CALLS)
def test_systemd_hears_each_word(systemd, call, arguments, said):
    call(*arguments)
    assert systemd.recv(200) == said


@pytest.mark.parametrize(("call", "arguments", "said"), CALLS)
def test_without_systemd_nothing_is_said(monkeypatch, call, arguments, said):
    def refuse(*_):
        raise AssertionError("a socket was made")

    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    monkeypatch.setattr(socket, "socket", refuse)
    assert call(*arguments) is None


def test_a_socket_that_is_gone_is_no_error(monkeypatch, tmp_path):
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "nobody"))
    assert notify.watchdog() is None


def received(heard):
    try:
        return heard.recv(50)
    except BlockingIOError:
        return None


def test_a_reader_that_has_fallen_behind_does_not_hold_the_loop_up(systemd):
    for _ in range(5000):
        notify.watchdog()
    systemd.setblocking(False)
    waiting = sum(1 for _ in iter(lambda: received(systemd), None))
    assert 0 < waiting < 5000
