"""Supply, clock, bus, released pins and the hardware's watchdog of this computer."""

from collections.abc import Iterator

from halocline.app import supply
from halocline.app.checkup.lines import Line
from halocline.app.checkup.system import System
from halocline.plant.words.moments import date_of

LONG_CABLE_KHZ = 100.0
"""Standard mode: the slow edges that a metre of cable leaves still fit (I2C specification, 400 pF)."""

PERSIST = "/sys/module/pinctrl_bcm2835/parameters/persist_gpio_outputs"


SLOWER_SHARE = 0.95
"""Below this share of the speed that was reckoned with a bus is too slow: clocks are divided, and seldom hit the round
figure (chosen)."""


def computer_lines(
    system: System, *, bus: int, reckoned_khz: float | None, clock_set: bool, wall_s: float
) -> Iterator[Line]:
    """All of this module but the pins; `reckoned_khz`: what the configuration was checked for, None without one."""
    yield from bus_lines(system, bus, reckoned_khz)
    yield from supply_lines(system)
    yield from clock_lines(system, clock_set=clock_set, wall_s=wall_s)
    yield from watchdog_lines(system)


def supply_lines(system: System) -> Iterator[Line]:
    """The firmware's under-voltage flag."""
    flags = supply.flags(supply.flag_file(system.root))
    if flags is None:
        yield Line("supply_unknown")
    elif flags & supply.LOW_NOW:
        yield Line("supply_low")
    else:
        yield Line("supply_was_low" if flags & supply.WAS_LOW else "supply_good")


def clock_lines(system: System, *, clock_set: bool, wall_s: float) -> Iterator[Line]:
    """Whether the time is known, and whether anything keeps it right."""
    if not clock_set:
        yield Line("clock_unset", {"date": date_of(wall_s)})
        return
    said = system.properties("timedatectl", "show", "-p", "NTPSynchronized")
    kept = (said or {}).get("NTPSynchronized")
    if kept == "yes":
        yield Line("clock_kept")
    elif kept == "no":
        chip = "" if system.names("/sys/class/rtc/rtc*") else ", and it has no clock chip that outlasts a power cut"
        yield Line("clock_alone", {"chip": chip})
    else:
        yield Line("clock_unknown")


def bus_lines(system: System, bus: int, reckoned_khz: float | None) -> Iterator[Line]:
    """Whether the converters' bus is there, and how fast it runs where the kernel tells."""
    path, known = f"/dev/i2c-{bus}", f"/sys/class/i2c-dev/i2c-{bus}"
    if not system.exists(path) and not system.exists(known):
        yield Line("bus_missing", {"path": path})
        return
    try:
        told = system.content(f"{known}/device/of_node/clock-frequency")
    except OSError:
        yield Line("bus_silent", {"path": path})
        return
    khz = int.from_bytes(told, "big") / 1000.0  # a cell of the device tree
    found = {"path": path, "khz": f"{khz:.0f}"}
    if khz > LONG_CABLE_KHZ:
        yield Line("bus_fast", found)
    elif reckoned_khz is not None and khz < SLOWER_SHARE * reckoned_khz:
        yield Line("bus_slow", {**found, "reckoned": f"{reckoned_khz:.0f}"})
    else:
        yield Line("bus_fit", found)


def released_line(system: System, tried: bool | None) -> Line:
    """What becomes of a pin that was let go; `tried`: whether it stayed an output, None where that was not tried."""
    if tried is not None:
        return Line("released_stays" if tried else "released_low")
    said = system.text(PERSIST)
    if said in {"Y", "N"}:
        return Line("released_stays" if said == "Y" else "released_falls")
    return Line("released_unknown")


def watchdog_lines(system: System) -> Iterator[Line]:
    """The timer in the chip that starts a hanging computer anew."""
    found = system.names("/sys/class/watchdog/watchdog*")
    if not found:
        yield Line("watchdog_hardware_none")
        return
    name = system.text(f"{found[0]}/identity") or found[0]
    state = system.text(f"{found[0]}/state")
    if state is None:
        yield Line("watchdog_hardware_hidden", {"name": name})
    elif state == "active":
        after = f"{system.text(f'{found[0]}/timeout') or '?'} s"
        yield Line("watchdog_hardware", {"name": name, "after": after})
    else:
        yield Line("watchdog_hardware_off", {"name": name})
