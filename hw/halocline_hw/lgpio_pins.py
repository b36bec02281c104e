"""lgpio's pins for the pin library, without its pulse at start and its floating pin at the end.

Imported only where there is a GPIO chip to open.
"""

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import lgpio  # type: ignore[import-not-found,unused-ignore]
from gpiozero.pins.lgpio import LGPIOFactory, LGPIOPin  # type: ignore[import-untyped]


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

    def _get_state(self) -> Any:
        with _lgpio_errors(self.info.name):
            return super()._get_state()

    def _set_state(self, value: Any) -> None:
        with _lgpio_errors(self.info.name):
            super()._set_state(value)


class SafeFactory(LGPIOFactory):  # type: ignore[misc] # the pin library is untyped
    """Pins of one GPIO chip by number."""

    def __init__(self, chip: int) -> None:
        with _lgpio_errors(f"gpiochip{chip}"):
            super().__init__(chip)
        self.pin_class = SafePin


@contextmanager
def _lgpio_errors(what: str) -> Iterator[None]:
    try:
        yield
    except lgpio.error as error:
        busy = "busy" in str(error).lower()
        remedy = "; another program holds it, gpioinfo tells which" if busy else ""
        raise OSError(errno.EBUSY if busy else errno.EIO, f"{what}: {error}{remedy}") from error
