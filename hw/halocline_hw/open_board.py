"""Opens the computer's own pins and I2C bus. The only place that needs the GPIO library itself."""

import errno
import importlib
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from glob import glob
from typing import Any

from gpiozero import Factory, GPIOZeroError  # type: ignore[import-untyped]

from halocline_hw.clock import Clock, RealClock
from halocline_hw.device_files import remedy
from halocline_hw.gpio_chip import chip_label
from halocline_hw.raspberry_pi import RaspberryPiBoard, drive_all_safe
from halocline_hw.smbus import SmbusBus
from halocline_hw.wiring import Wiring

# The header's chip has had the numbers 0, 4 and 0 again over the years; its label stays.
HEADER_LABELS = ("pinctrl-rp1", "pinctrl-bcm2711", "pinctrl-bcm2835")

LINE_IN_USE, LINE_IS_OUTPUT = 1, 2
"""Bits of a line's flags (lgpio's documentation, gpio_get_mode)."""


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
    return "\n".join([f"/dev/gpiochip{find_header_chip()}", *lines, ""])


def released_pins_stay(wiring: Wiring) -> bool | None:
    """Whether this kernel leaves a released output driven, seen on the plant's own outputs, which were let go at their
    safe levels just before; None where other programs hold them all. Raises OSError."""
    lgpio = _lgpio()
    handle = lgpio.gpiochip_open(find_header_chip())
    try:
        flags = [int(lgpio.gpio_get_line_info(handle, output.pin)[2]) for output in wiring.outputs.values()]
    except lgpio.error as error:
        raise OSError(errno.EIO, f"the GPIO chip does not tell its lines: {error}") from error
    finally:
        lgpio.gpiochip_close(handle)
    free = [line for line in flags if not line & LINE_IN_USE]
    return any(line & LINE_IS_OUTPUT for line in free) if free else None


def header_chip() -> str:
    """The header's GPIO chip, its device and label. Raises OSError."""
    path = f"/dev/gpiochip{find_header_chip()}"
    return f"{path} ({chip_label(path)})"


def open_pin_factory() -> Factory:
    """A pin factory on the header's GPIO chip, found by its label."""
    _lgpio()
    number = find_header_chip()
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


def find_header_chip() -> int:
    """The number of the GPIO chip behind the header. Raises OSError naming what was found instead."""
    found: list[str] = []
    for path in sorted(glob("/dev/gpiochip*")):
        digits = path.removeprefix("/dev/gpiochip")
        if not digits.isdecimal():
            continue
        label = chip_label(path)
        if label in HEADER_LABELS:
            return int(digits)
        found.append(f"{path} ({label or 'cannot be opened: ' + remedy(path, 'gpio')})")
    raise OSError(
        errno.ENODEV,
        f"no GPIO chip of a Raspberry Pi's header ({', '.join(HEADER_LABELS)}); found {', '.join(found) or 'none'}."
        " The pins of other computers are not known; the simulated boat runs on each: halocline run --simulated",
    )


def _lgpio() -> Any:
    install = "install the system's python3-lgpio and make the environment with --system-site-packages"
    try:
        with _folder_for_a_pipe():
            lgpio = importlib.import_module("lgpio")
    except ImportError as error:
        raise OSError(errno.ENODEV, f"the GPIO library lgpio is not installed: {install}") from error
    except OSError as error:
        raise OSError(
            error.errno or errno.EACCES,
            f"lgpio could not make its notification pipe ({error.strerror}): neither the service's folder nor"
            f" {tempfile.gettempdir()} can be written to; a card that has become read-only does that",
        ) from error
    if not hasattr(lgpio, "gpiochip_open"):
        raise OSError(errno.ENODEV, f"the installed lgpio is an empty placeholder: {install}")
    return lgpio


@contextmanager
def _folder_for_a_pipe() -> Iterator[None]:
    """lgpio leaves a pipe in the folder it is imported in: one of the service's own in memory, else a temporary one,
    and the pipe's name is gone afterwards, for whoever holds it needs no name. Raises OSError."""
    here = os.open(".", os.O_PATH)
    try:
        with tempfile.TemporaryDirectory(dir=os.environ.get("RUNTIME_DIRECTORY")) as folder:
            os.chdir(folder)
            try:
                yield
            finally:
                os.fchdir(here)
    finally:
        os.close(here)
