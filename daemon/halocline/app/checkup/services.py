"""The services as systemd has them, and the package's files as they were installed."""

import hashlib
from collections.abc import Iterator, Mapping

from halocline.app.checkup.lines import Line
from halocline.app.checkup.system import System

CONTROL, REPORT = "halocline-control", "halocline-report"
ASKED = (
    *("LoadState", "ActiveState", "SubState", "UnitFileState", "FragmentPath", "DropInPaths", "NeedDaemonReload"),
    "WatchdogUSec",
)
MODEL = "/sys/firmware/devicetree/base/model"
PACKAGED = "/usr/lib/systemd/system/"
SUMS = "/var/lib/dpkg/info/halocline.md5sums"
LOOKED_AT = ("usr/lib/", "opt/halocline/bin/", "etc/")
"""The package's parts that a hand may have changed; the program's own modules are too many to read each time."""


def is_a_boats(system: System) -> bool:
    """Whether this is meant to be a boat's computer: with our service, or with a header for the plant's wires."""
    return system.exists(f"{PACKAGED}{CONTROL}.service") or "Raspberry Pi" in (system.text(MODEL) or "")


def service_lines(system: System) -> Iterator[Line]:
    """Both services and the watchdog that systemd keeps over control."""
    units = {unit: system.properties("systemctl", "show", unit, "-p", ",".join(ASKED)) for unit in (CONTROL, REPORT)}
    control = units[CONTROL]
    if control is None:
        yield Line("services_hidden")
        return
    if control.get("LoadState") == "not-found":
        yield Line("services_none")
        return
    for unit, said in units.items():
        yield from unit_lines(unit, said or {})
    # systemd tells the time only of a service that runs
    if control.get("ActiveState") == "active":
        yield _watchdog(control)


def unit_lines(unit: str, said: Mapping[str, str]) -> Iterator[Line]:
    """One service."""
    values = {"unit": unit}
    if said.get("LoadState") == "masked":
        yield Line("service_masked", values)
        return
    troubles = list(_troubles(unit, said))
    yield from troubles or [Line("service_sound", values)]


def _troubles(unit: str, said: Mapping[str, str]) -> Iterator[Line]:
    values = {"unit": unit}
    state, path = said.get("ActiveState"), said.get("FragmentPath", "")
    if state == "failed" or said.get("SubState") == "auto-restart":
        yield Line("service_failing", values)
    elif state not in {"active", "activating"}:
        yield Line("service_stopped", values)
    if said.get("UnitFileState") != "enabled":
        yield Line("service_disabled", values)
    if path and not path.startswith((PACKAGED, "/lib/systemd/system/")):
        yield Line("service_shadowed", {**values, "path": path})
    for drop_in in said.get("DropInPaths", "").split():
        yield Line("service_drop_in", {**values, "path": drop_in})
    if said.get("NeedDaemonReload") == "yes":
        yield Line("service_stale", values)


def _watchdog(said: Mapping[str, str]) -> Line:
    after = said.get("WatchdogUSec", "0")
    return (
        Line("watchdog_service_off") if after in {"0", "infinity", ""} else Line("watchdog_service", {"after": after})
    )


def package_lines(system: System) -> Iterator[Line]:
    """The package's files against the sums that dpkg keeps of them; nothing where no package is installed."""
    sums = system.text(SUMS)
    if sums is None:
        return
    listed = [line.split(maxsplit=1) for line in sums.splitlines() if line]
    wanted = [(total, name) for total, name in listed if name.startswith(LOOKED_AT)]
    changed = [line for total, name in wanted if (line := _changed(system, total, f"/{name}")) is not None]
    yield from changed or [Line("files_sound", {"count": len(wanted)})]


def _changed(system: System, total: str, path: str) -> Line | None:
    try:
        content = system.content(path)
    except FileNotFoundError:
        return Line("file_missing", {"path": path})
    except OSError:
        return None  # not this user's to read
    found = hashlib.md5(content, usedforsecurity=False).hexdigest()
    return None if found == total else Line("file_changed", {"path": path})
