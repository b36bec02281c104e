"""Whether the daemon's users may use what they need, and whether others may not: judged from owner, group and mode, so
that it holds for the services whoever asks."""

import grp
import os
import pwd
import stat
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from halocline.app.checkup.lines import Line
from halocline.app.checkup.system import System
from halocline.app.paths import CONTROL_STATE, SYSTEM_CONFIG, SYSTEM_SOCKET, SYSTEM_STATE
from halocline.report.server import SECRETS_NAME
from halocline_hw.device_files import remedy

CONTROL_USER, REPORT_USER = "halocline-control", "halocline-report"
READ, WRITE, ENTER = 4, 2, 1
OVERFLOW = "/proc/sys/kernel/overflowuid"


@dataclass(frozen=True, slots=True)
class User:
    """A user that needs rights."""

    name: str
    uid: int
    groups: frozenset[int]

    def may(self, found: os.stat_result, wanted: int) -> bool:
        """Whether all of `wanted` is given to this user."""
        mode = stat.S_IMODE(found.st_mode)
        given = mode & 7
        if found.st_uid == self.uid:
            given = mode >> 6 & 7
        elif found.st_gid in self.groups:
            given = mode >> 3 & 7
        return self.uid == 0 or given & wanted == wanted


@dataclass(frozen=True, slots=True)
class Need:
    """Who needs what of which file, and the group that gives it."""

    user: User
    path: str
    wanted: int
    group: str


def user_named(name: str) -> User | None:
    """A user of this computer, None if there is no such user."""
    try:
        entry = pwd.getpwnam(name)
    except KeyError:
        return None
    return User(name, entry.pw_uid, frozenset(os.getgrouplist(name, entry.pw_gid)))


def this_user() -> User:
    """Whoever runs this program."""
    try:
        name = pwd.getpwuid(os.getuid()).pw_name
    except KeyError:
        name = f"user {os.getuid()}"
    return User(name, os.getuid(), frozenset({os.getgid(), *os.getgroups()}))


def rights_lines(system: System, *, bus: int, config: Path) -> Iterator[Line]:
    """What is lacking, and what is open that must not be."""
    control, report = user_named(CONTROL_USER), user_named(REPORT_USER)
    needs = _devices(system, control or this_user(), bus)
    if control is not None and report is not None:
        needs += _folders(control, report, config)
    lacking = list(lacking_lines(system, needs))
    lacking += _open_lines(system, config)
    if lacking:
        yield from lacking
    elif hidden(system, bus):
        yield Line("rights_hidden")
    else:
        yield Line("rights_fit", {"user": (control or this_user()).name})


def _devices(system: System, user: User, bus: int) -> list[Need]:
    chips = [Need(user, path, READ | WRITE, "gpio") for path in system.names("/dev/gpiochip*")]
    return [*chips, Need(user, f"/dev/i2c-{bus}", READ | WRITE, "i2c")]


def _folders(control: User, report: User, config: Path) -> list[Need]:
    whole = READ | WRITE | ENTER
    needs = [
        Need(control, str(CONTROL_STATE), whole, CONTROL_USER),
        Need(report, str(SYSTEM_STATE), whole, REPORT_USER),
        Need(control, str(SYSTEM_SOCKET.parent), whole, "halocline"),
        Need(report, str(SYSTEM_SOCKET.parent), ENTER, "halocline"),
    ]
    if config == SYSTEM_CONFIG:
        needs += [Need(user, str(config), READ, "halocline") for user in (control, report)]
    return needs


def lacking_lines(system: System, needs: Sequence[Need]) -> Iterator[Line]:
    """One line for each need that is not met; what is not there is told by others."""
    for need in needs:
        found = system.status(need.path)
        if found is None or _is_masked(system, found) or need.user.may(found, need.wanted):
            continue
        place = str(system.place(need.path))
        do = remedy(place, need.group) if need.path.startswith("/dev/") else _give(found, need)
        yield Line("rights_lacking", {"user": need.user.name, "path": need.path, "remedy": do})


def _give(found: os.stat_result, need: Need) -> str:
    if stat.S_ISDIR(found.st_mode):
        return "sudo systemd-tmpfiles --create halocline.conf"
    try:
        grp.getgrnam(need.group)
    except KeyError:
        return f"there is no group {need.group}: install the package again"
    return f"sudo chgrp {need.group} {need.path} && sudo chmod 640 {need.path}"


def _open_lines(system: System, config: Path) -> Iterator[Line]:
    for path in (str(config), str(config.parent), str(CONTROL_STATE), str(SYSTEM_STATE)):
        found = system.status(path)
        if found is not None and found.st_mode & stat.S_IWOTH and not found.st_mode & stat.S_ISVTX:
            yield Line("rights_open", {"path": path})
    secrets = str(SYSTEM_STATE / SECRETS_NAME)
    kept = system.status(secrets)
    if kept is not None and kept.st_mode & stat.S_IROTH:
        yield Line("rights_readable", {"path": secrets})


def hidden(system: System, bus: int) -> bool:
    """Whether a service's own rooms keep devices or owners from sight: the kernel knows of what /dev does not show."""
    bus_hidden = system.exists(f"/sys/class/i2c-dev/i2c-{bus}") and not system.exists(f"/dev/i2c-{bus}")
    pins_hidden = bool(system.names("/sys/bus/gpio/devices/gpiochip*")) and not system.names("/dev/gpiochip*")
    masked = system.status(CONTROL_STATE)
    return bus_hidden or pins_hidden or (masked is not None and _is_masked(system, masked))


def _is_masked(system: System, found: os.stat_result) -> bool:
    """Whether the owner is one that this process's user namespace has no number for."""
    return found.st_uid == (system.number(OVERFLOW) or 65534)
