"""Letting go of pins at a moment that nobody chooses."""

from threading import RLock
from typing import Any


def let_go_anywhere(factory: Any) -> None:
    """Give a pin factory a lock that one thread may take twice.

    The pin library lets go of a pin when its object is collected, and that may be while the same thread reserves
    another: with the library's own lock the thread would wait for itself for ever.
    """
    factory._res_lock = RLock()
