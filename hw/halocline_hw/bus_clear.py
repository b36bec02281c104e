"""Clocks an I2C bus free when a chip holds the data line low.

Nine clock pulses with the data line released, then a stop condition (I2C specification, bus clear).
"""

from gpiozero import Factory, Pin  # type: ignore[import-untyped]

from halocline_hw.clock import Clock
from halocline_hw.wiring import BusClearPins

CLOCKS = 9  # a byte and its acknowledge bit: the most a chip can still want to send
HALF_CLOCK_S = 5e-6  # 100 kHz, which every chip follows


def clear_bus(pins: BusClearPins, pin_factory: Factory, clock: Clock) -> bool:
    """Give up to nine clocks until the data line is free, then a stop; whether the line is free.

    Both lines are only ever pulled low or released, as open-drain lines must be.
    """
    scl, sda = pin_factory.pin(pins.scl), pin_factory.pin(pins.sda)
    _release(scl)
    _release(sda)
    for _ in range(CLOCKS):
        if sda.state:
            break
        scl.output_with_state(False)
        clock.sleep(HALF_CLOCK_S)
        _release(scl)
        clock.sleep(HALF_CLOCK_S)
    if sda.state:
        sda.output_with_state(False)
        clock.sleep(HALF_CLOCK_S)
        _release(sda)
        clock.sleep(HALF_CLOCK_S)
    return bool(sda.state)


def _release(pin: Pin) -> None:
    pin.input_with_pull("floating")
