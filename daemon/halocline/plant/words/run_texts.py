"""What a run gave, a figure at a time, and what is known where there is no number."""

from collections.abc import Mapping
from typing import NamedTuple

from halocline.plant.settings import UnitSettings
from halocline.plant.words.units import quantity

GOES_ON = "told when the run has ended"
NOT_ON_RECORD = "not on record"
NOT_FLUSHED = "no flush on record"
NOT_MEASURED = "not measured"
NO_WATER = "no water went to the tank"


class Figure(NamedTuple):
    """The unit of the interfaces, and what is said of a run that ended without the figure."""

    unit: str
    without: str = NOT_ON_RECORD
    of_the_tank: bool = False
    """Whether there is nothing to measure unless water went to the tank."""


FIGURES: Mapping[str, Figure] = {
    "seconds": Figure("s"),
    "producing_s": Figure("s"),
    "litres": Figure("L"),
    "overboard_l": Figure("L"),
    "flush_l": Figure("L", NOT_FLUSHED),
    "tds_mean_mg_l": Figure("mg/L", NOT_MEASURED, of_the_tank=True),
    "tds_worst_mg_l": Figure("mg/L", NOT_MEASURED, of_the_tank=True),
    "peak_pressure_bar": Figure("bar"),
    "energy_wh": Figure("Wh"),
}


def run_figure(
    name: str, figures: Mapping[str, float | None], units: UnitSettings | None = None, *, going_on: bool = False
) -> str:
    """One of a run's figures as people read it; where it has no number, why not."""
    figure, value = FIGURES[name], figures.get(name)
    if value is not None:
        return quantity(value, figure.unit, units)
    if going_on:
        return GOES_ON
    return NO_WATER if figure.of_the_tank and figures.get("litres") == 0 else figure.without
