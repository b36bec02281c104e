"""Where the page can be reached: by number, by name, or from this computer only; the likeliest for a phone first."""

import fcntl
import ipaddress
import os
import socket
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

INTERFACES = Path("/sys/class/net")
SIOCGIFADDR = 0x8915
"""Ask the kernel for an interface's IPv4 address (netdevice(7))."""

EVERYWHERE = frozenset({"", "0.0.0.0", "::"})
LOOPBACK_NAMES = frozenset({"localhost"})

Kind = Literal["network", "name", "this_computer"]


@dataclass(frozen=True, slots=True)
class Interface:
    """A network this computer is on. `real` unless it only exists in software (a tunnel, a container's bridge)."""

    name: str
    address: str
    wireless: bool = False
    real: bool = True


@dataclass(frozen=True, slots=True)
class Place:
    """An address for a browser."""

    url: str
    kind: Kind


@dataclass(frozen=True, slots=True)
class Served:
    """What the page is served as: the configured host, the port, http or https, this computer's name."""

    host: str
    port: int
    scheme: str = "http"
    name: str = "localhost"

    def url(self, host: str) -> str:
        """The address with this host in it, as browsers write it."""
        bracketed = f"[{host}]" if ":" in host and not host.startswith("[") else host
        usual = 443 if self.scheme == "https" else 80
        return f"{self.scheme}://{bracketed}{'' if self.port == usual else f':{self.port}'}/"

    @property
    def own_url(self) -> str:
        """The address for a browser on this computer."""
        if self.host in EVERYWHERE:
            return self.url("::1" if self.host == "::" else "127.0.0.1")
        return self.url(self.host)


def url_by_name(served: Served) -> str | None:
    """The address that outlasts the next change of the network; None where others cannot reach the page."""
    return next((place.url for place in places(served, interfaces_now()) if place.kind == "name"), None)


def places(served: Served, interfaces: Sequence[Interface], came_by: str | None = None) -> list[Place]:
    """Every address, best first and never empty.

    A phone is on the wireless network, so that one comes first, but before it the network by which the one who asks
    came (`came_by`). By number works on every phone, so it stands before the name; with https the name stands first,
    for it is what a certificate is made out to.
    """
    own = Place(served.own_url, "this_computer")
    if _only_here(served.host):
        return [own]
    if served.host in EVERYWHERE:
        ranked = sorted(interfaces, key=lambda found: _rank(found, came_by))
        numbers = [Place(served.url(found.address), "network") for found in ranked if _is_own_network(found.address)]
    else:
        numbers = [Place(served.url(served.host), "network")]
    names = [Place(served.url(f"{served.name}.local"), "name")] if numbers else []
    first, second = (names, numbers) if served.scheme == "https" else (numbers, names)
    return [*first, *second, *([own] if served.host in EVERYWHERE else [])]


def best(found: Sequence[Place]) -> Place | None:
    """What to write on a card; None when only this computer can reach the page."""
    return next((place for place in found if place.kind != "this_computer"), None)


def interfaces_now(folder: Path = INTERFACES) -> list[Interface]:
    """The networks this computer is on at the moment, one IPv4 address each; none where the kernel does not say."""
    try:
        names = sorted(os.listdir(folder))
    except OSError:
        return []
    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        for name in names:
            address = _address_of(asking, name)
            if address is not None:
                wireless = any((folder / name / mark).exists() for mark in ("wireless", "phy80211"))
                found.append(Interface(name, address, wireless, wireless or (folder / name / "device").exists()))
    return found


def _address_of(asking: socket.socket, name: str) -> str | None:
    request = struct.pack("256s", os.fsencode(name)[:15])
    try:
        answer = fcntl.ioctl(asking.fileno(), SIOCGIFADDR, request)
    except OSError:
        return None
    return socket.inet_ntoa(answer[20:24])


def _rank(interface: Interface, came_by: str | None) -> tuple[bool, bool, bool, bool, str]:
    made_up = ipaddress.ip_address(interface.address).is_link_local
    return (interface.address != came_by, made_up, not interface.real, not interface.wireless, interface.name)


def _is_own_network(address: str) -> bool:
    parsed = ipaddress.ip_address(address)
    return not (parsed.is_loopback or parsed.is_unspecified or parsed.is_multicast or parsed.is_global)


def _only_here(host: str) -> bool:
    if host in LOOPBACK_NAMES:
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
