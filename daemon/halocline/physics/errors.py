"""The two ways in which physics refuses an input; both are `ValueError`s with a text a person can act on."""

from __future__ import annotations

import math


class OutOfRange(ValueError):
    """A quantity outside the range in which the formulas hold, or not a finite number at all."""

    def __init__(self, quantity: str, value: float, unit: str, low: float, high: float) -> None:
        self.quantity = quantity
        self.value = value
        self.unit = unit
        self.low = low
        self.high = high
        suffix = f" {unit}" if unit not in {"", "1"} else ""
        super().__init__(
            f"{quantity} is {value:g}{suffix}; allowed is {low:g} to {high:g}{suffix}: "
            f"check the sensor, or the number that was entered and its unit"
        )


class Unsolvable(ValueError):
    """Inputs that are each in range but contradict one another."""


def require(quantity: str, value: float, unit: str, low: float, high: float) -> float:
    """Return `value` if it is finite and within `low`…`high` (both included), else raise `OutOfRange`."""
    if low <= value <= high and math.isfinite(value):
        return value
    raise OutOfRange(quantity, value, unit, low, high)
