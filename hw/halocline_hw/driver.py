"""The converter's driver, without the platform detection that its packages bring along.

The driver works on any bus object. Of a platform's modules it wants names for its signatures and a function that
returns what it is given. The real ones ask /proc/cpuinfo and the device tree what computer this is, fail where they
are hidden (a service with `ProcSubset=pid`) or the computer is not known, and bring packages that cannot be had for
every computer. So stand-ins take their place while the driver is imported, and they need not be installed.
"""

import importlib
from typing import Any, Literal

from halocline_hw.stand_ins import stand_ins

STAND_INS: dict[str, dict[str, Any]] = {
    "busio": {"I2C": object},
    "circuitpython_typing": {"ReadableBuffer": object, "WriteableBuffer": object},
    "micropython": {"const": lambda value: value},
    # of the standard library since long; the package of that name takes its time
    "typing_extensions": {"Literal": Literal},
}


with stand_ins(STAND_INS):
    importlib.import_module("adafruit_ads1x15.ads1115")

from adafruit_ads1x15.ads1x15 import Mode  # noqa: E402
from adafruit_ads1x15.ads1115 import ADS1115  # noqa: E402 - the stand-ins have to be there before, and gone after

__all__ = ["ADS1115", "Mode"]
