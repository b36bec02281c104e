"""The simulated boat: its sea, plant, sensors, person and faults, on whatever clock it is given."""

from halocline.simulation.coils import TimeoutRelay
from halocline.simulation.faults import FAULTS, Argument, Fault
from halocline.simulation.parameters import PlantParameters
from halocline.simulation.sea import Sea
from halocline.simulation.truth import Truth

__all__ = ["FAULTS", "Argument", "Fault", "PlantParameters", "Sea", "TimeoutRelay", "Truth"]
