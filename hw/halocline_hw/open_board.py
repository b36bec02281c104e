"""Opens the computer's own pins and I2C bus. The only place that needs the GPIO library itself."""

import errno
import importlib
from contextlib import suppress
from glob import glob
from typing import Any

from gpiozero import Factory, GPIOZeroError  # type: ignore[import-untyped]

from halocline_hw.clock import Clock, RealClock
from halocline_hw.device_files import remedy
from halocline_hw.raspberry_pi import RaspberryPiBoard, drive_all_safe
from halocline_hw.smbus import SmbusBus
from halocline_hw.wiring import Wiring

# The header's chip has had the numbers 0, 4 and 0 again over the years; its label stays.
HEADER_LABELS = ("pinctrl-rp1", "pinctrl-bcm2711", "pinctrl-bcm2835")


def open_raspberry_pi(wiring: Wiring, clock: Clock | None = None) -> RaspberryPiBoard:
    """The board of this computer, every output claimed at its safe level.

    Raises OSError with one line that names the remedy; nothing is ever opened in its place.
    """
    pin_factory = open_pin_factory()
    try:
        bus = SmbusBus(wiring.i2c_bus)
    except OSError:
        # Without its converters the plant cannot run, but its relays must not be left as they are.
        with suppress(OSError):
            drive_all_safe(wiring, pin_factory)
        pin_factory.close()
        raise
    return RaspberryPiBoard(
        wiring,
        i2c_bus=bus,
        pin_factory=pin_factory,
        clock=clock or RealClock(),
        on_close=(bus.close, pin_factory.close),
    )


def drive_raspberry_pi_safe(wiring: Wiring) -> None:
    """Drive every output of this computer safe and let go. Raises OSError naming what could not be."""
    pin_factory = open_pin_factory()
    try:
        drive_all_safe(wiring, pin_factory)
    finally:
        pin_factory.close()


def safe_levels(wiring: Wiring) -> str:
    """The header's chip and the safe level of every output, as `halocline-safe` reads it. Raises OSError."""
    lines = (f"{output.pin}={int(output.safe_level)}" for output in wiring.outputs.values())
    return "\n".join([f"/dev/gpiochip{find_header_chip(_lgpio())}", *lines, ""])


def open_pin_factory() -> Factory:
    """A pin factory on the header's GPIO chip, found by its label."""
    lgpio = _lgpio()
    number = find_header_chip(lgpio)
    pins = importlib.import_module("halocline_hw.lgpio_pins")
    factory: Factory = pins.SafeFactory(number)
    try:
        _ = factory.board_info
    except (GPIOZeroError, OSError) as error:
        factory.close()
        raise OSError(
            errno.ENODEV,
            f"this computer does not say which Raspberry Pi it is ({error}): /proc/device-tree/system/linux,revision or"
            " /proc/cpuinfo has to be there and readable; a model newer than gpiozero wants a newer package",
        ) from error
    return factory


def find_header_chip(lgpio: Any) -> int:
    """The number of the GPIO chip behind the header. Raises OSError naming what was found instead."""
    found: list[str] = []
    for path in sorted(glob("/dev/gpiochip*")):
        digits = path.removeprefix("/dev/gpiochip")
        if not digits.isdecimal():
            continue
        label = _label(lgpio, int(digits))
        if label in HEADER_LABELS:
            return int(digits)
        found.append(f"{path} ({label or 'cannot be opened: ' + remedy(path, 'gpio')})")
    raise OSError(
        errno.ENODEV,
        f"no GPIO chip of a Raspberry Pi's header ({', '.join(HEADER_LABELS)}); found {', '.join(found) or 'none'}."
        " The pins of other computers are not known; the simulated boat runs on each: halocline run --simulated",
    )


def _label(lgpio: Any, number: int) -> str:
    try:
        handle = lgpio.gpiochip_open(number)
    except lgpio.error:
        return ""
    try:
        return str(lgpio.gpio_get_chip_info(handle)[3])
    finally:
        lgpio.gpiochip_close(handle)


def _lgpio() -> Any:
    install = "install the system's python3-lgpio and make the environment with --system-site-packages"
    try:
        lgpio = importlib.import_module("lgpio")
    except ImportError as error:
        raise OSError(errno.ENODEV, f"the GPIO library lgpio is not installed: {install}") from error
    except OSError as error:
        raise OSError(
            error.errno or errno.EACCES,
            "lgpio could not make its notification pipe: start the daemon in a folder it may write to",
        ) from error
    if not hasattr(lgpio, "gpiochip_open"):
        raise OSError(errno.ENODEV, f"the installed lgpio is an empty placeholder: {install}")
    return lgpio
