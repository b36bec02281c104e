"""lgpio's pins for the pin library, without its pulse at start and its floating pin at the end.

Imported only where there is a GPIO chip to open.
"""

import errno
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import lgpio  # type: ignore[import-not-found,unused-ignore]
from gpiozero.pins.lgpio import LGPIOFactory, LGPIOPin  # type: ignore[import-untyped]

from halocline_hw.reservations import let_go_anywhere

_REMEDIES = (
    ("busy", errno.EBUSY, "; another program holds it, gpioinfo tells which"),
    ("event request", errno.ENXIO, "; its chip reports no edges, so no pulses can be counted there: use another pin"),
    ("permission", errno.EACCES, "; the daemon's user may not use this chip, see its group with ls -l /dev/gpiochip*"),
)
"""What lgpio says → the system's number for it, and what a person can do."""


class SafePin(LGPIOPin):  # type: ignore[misc] # the pin library is untyped
    """A pin that has its first level in the moment it becomes an output, and keeps its last."""

    def __init__(self, factory: Any, info: Any) -> None:
        with _lgpio_errors(info.name):
            super().__init__(factory, info)

    def output_with_state(self, state: bool) -> None:
        # The library claims first (low) and writes afterwards: an active-low relay would click.
        with _lgpio_errors(self.info.name):
            lgpio.gpio_claim_output(self.factory._handle, self._number, int(state))

    def close(self) -> None:
        # The library makes it a floating input. An output stays driven until the chip is let go.
        with _lgpio_errors(self.info.name):
            if self.function != "output":
                super().close()


def _in_words(name: str) -> Callable[..., Any]:
    """The library's method of this name, its errors as OSError."""
    method = getattr(LGPIOPin, name)

    def checked(pin: SafePin, *arguments: Any) -> Any:
        with _lgpio_errors(pin.info.name):
            return method(pin, *arguments)

    return checked


# Every call to the chip that a pin makes and that is not above.
for _name in ("_get_function", "_set_function", "_get_state", "_set_state", "_get_pull", "_set_pull", "_set_edges",
              "_enable_event_detect", "_disable_event_detect"):  # fmt: skip
    setattr(SafePin, _name, _in_words(_name))


class SafeFactory(LGPIOFactory):  # type: ignore[misc] # the pin library is untyped
    """Pins of one GPIO chip by number."""

    def __init__(self, chip: int) -> None:
        with _lgpio_errors(f"gpiochip{chip}"):
            super().__init__(chip)
        self.pin_class = SafePin
        let_go_anywhere(self)


@contextmanager
def _lgpio_errors(what: str) -> Iterator[None]:
    try:
        yield
    except lgpio.error as error:
        said = str(error).strip("'\"")
        number, remedy = next((entry for part, *entry in _REMEDIES if part in said.lower()), (errno.EIO, ""))
        raise OSError(number, f"{what}: {said}{remedy}") from error
