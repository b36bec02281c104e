"""The simulated boat: its sea, plant, sensors, person and faults, on whatever clock it is given."""

from halocline.simulation.coils import TimeoutRelay
from halocline.simulation.faults import FAULTS, Argument, Fault, Fitted, parse
from halocline.simulation.parameters import PlantParameters
from halocline.simulation.sea import Sea, what_is_fitted
from halocline.simulation.truth import Truth

__all__ = [
    "FAULTS",
    "Argument",
    "Fault",
    "Fitted",
    "PlantParameters",
    "Sea",
    "TimeoutRelay",
    "Truth",
    "parse",
    "what_is_fitted",
]
