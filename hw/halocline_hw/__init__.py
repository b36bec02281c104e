"""The electronics: the real board on a Raspberry Pi, and the same board emulated chip by chip.

`RaspberryPiBoard` is the one board there is. `open_raspberry_pi` gives it copper,
`halocline_hw.emulated` emulated chips and pins, `halocline_hw.remote` those of another process.
Importing needs no hardware.
"""

import halocline_hw.pin_library  # noqa: F401 - before any module that imports gpiozero itself
from halocline_hw.clock import Clock, RealClock, VirtualClock
from halocline_hw.interlock import Interlock
from halocline_hw.open_board import (
    drive_raspberry_pi_safe,
    header_chip,
    open_raspberry_pi,
    released_pins_stay,
    safe_levels,
)
from halocline_hw.raspberry_pi import RaspberryPiBoard, drive_all_safe
from halocline_hw.wiring import BusClearPins, ContactPin, OutputPin, PulsePin, Wiring

__all__ = [
    "BusClearPins",
    "Clock",
    "ContactPin",
    "Interlock",
    "OutputPin",
    "PulsePin",
    "RaspberryPiBoard",
    "RealClock",
    "VirtualClock",
    "Wiring",
    "drive_all_safe",
    "drive_raspberry_pi_safe",
    "header_chip",
    "open_raspberry_pi",
    "released_pins_stay",
    "safe_levels",
]
