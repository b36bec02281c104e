"""What a service tells systemd (sd_notify): datagrams to the socket named in NOTIFY_SOCKET, nothing without one."""

import contextlib
import os
import socket


def _send(text: str) -> None:
    address = os.environ.get("NOTIFY_SOCKET")
    if not address:
        return
    if address.startswith("@"):
        address = "\0" + address[1:]
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK) as out:
        out.sendto(text.encode(), address)


def ready() -> None:
    """The service does its work from now on."""
    _send("READY=1")


def watchdog() -> None:
    """The work still goes on; only who has just done some of it may say so (in control, a completed good tick)."""
    _send("WATCHDOG=1")


def stopping() -> None:
    """The service is about to end."""
    _send("STOPPING=1")


def status(text: str) -> None:
    """One line for `systemctl status`."""
    _send(f"STATUS={text}")
