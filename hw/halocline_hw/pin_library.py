"""Imports the pin library without what it names and a plant never uses; imported before anything else asks for it.

The library looks for a package `importlib_metadata` before it takes the standard one of nearly the same name, and
needs its function only to choose a pin factory by itself, which is never left to it here.
"""

import importlib

from halocline_hw.stand_ins import deferred, stand_ins

with stand_ins(
    {
        "importlib_metadata": {"entry_points": deferred("importlib.metadata", "entry_points")},
        "colorzero": {"Color": deferred("colorzero", "Color")},
    }
):
    importlib.import_module("gpiozero")
