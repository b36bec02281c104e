"""The converter's driver, without the platform detection that its packages bring along.

The driver works on any bus object. `busio` stands in its signatures only, but importing the real one asks
/proc/cpuinfo and the device tree what computer this is, and fails where they are hidden (a service with
`ProcSubset=pid`) or the computer is not known. So an empty name stands in for it while the driver is imported.
"""

import importlib
import sys
from types import ModuleType

_names_only = ModuleType("busio", "Names for the signatures of a driver that is given its bus.")
_names_only.__dict__["I2C"] = object
_before = sys.modules.get("busio")
sys.modules["busio"] = _names_only
try:
    importlib.import_module("adafruit_ads1x15.ads1115")
finally:
    del sys.modules["busio"]
    if _before is not None:
        sys.modules["busio"] = _before

from adafruit_ads1x15.ads1x15 import Mode  # noqa: E402
from adafruit_ads1x15.ads1115 import ADS1115  # noqa: E402 - the stand-in has to be there before, and gone after

__all__ = ["ADS1115", "Mode"]
