"""What a run gave, a figure at a time, and what is known where there is no number."""

from collections.abc import Mapping
from typing import NamedTuple

from halocline.plant.settings import UnitSettings
from halocline.plant.words.units import quantity

GOES_ON = "told when the run has ended"
NOT_ON_RECORD = "not on record"
NOT_FLUSHED = "no flush on record"
NOT_MEASURED = "not measured"
AT_LEAST = "at least "
NO_WATER = "no water went to the tank"
NONE_ON_RECORD = "none on record"
NO_WATER_ON_RECORD = "no water to the tank is on record"
TANK_WAS_OPEN = "the tank was open; how much it got is not on record"
TANK_OPEN_FOR = "the tank was open; for how long is not on record"


class Figure(NamedTuple):
    """The unit of the interfaces, and what is said of a run that ended without the figure."""

    unit: str
    without: str = NOT_ON_RECORD
    of_the_tank: bool = False
    """Whether there is nothing to measure unless water went to the tank."""
    grows: bool = True
    """Whether a run that goes on can only have more of it."""
    of_an_open_tank: str = ""
    """What is said of a run that was cut off when the tank was open already and nothing of it is on record."""


FIGURES: Mapping[str, Figure] = {
    "seconds": Figure("s"),
    "producing_s": Figure("s", of_an_open_tank=TANK_OPEN_FOR),
    "litres": Figure("L", of_an_open_tank=TANK_WAS_OPEN),
    "overboard_l": Figure("L"),
    "flush_l": Figure("L", NOT_FLUSHED),
    "tds_mean_mg_l": Figure("mg/L", NOT_MEASURED, of_the_tank=True, grows=False),
    "tds_worst_mg_l": Figure("mg/L", NOT_MEASURED, of_the_tank=True),
    "peak_pressure_bar": Figure("bar"),
    "energy_wh": Figure("Wh"),
}


PEAK_MEANS = "The highest pressure is the highest single sample until the pressure was gone, also after a trip."
SALT_MEANS = (
    "The highest salt is the highest single sample while water went to the tank, with the noise of the cell in it; "
    "decisions rest on smoothed readings."
)

ENERGY_FROM: Mapping[str | None, str] = {
    "battery": "inferred: what the battery gave beyond the boat's draw before the start",
    "configured": "assumed: the configured power for the time the pump ran",
    "both": "partly inferred from the battery, partly assumed from the configured power",
    None: "uncertain: how it was worked out is not on record, and the draw of the rest of the boat may be in it",
}
"""What the energy of a run rests on: no sensor measures the pumps alone."""


def energy_basis(basis: str | None) -> str:
    """What a run's energy rests on, in words."""
    return ENERGY_FROM.get(basis, ENERGY_FROM[None])


def run_figure(
    name: str,
    figures: Mapping[str, float | None],
    units: UnitSettings | None = None,
    *,
    going_on: bool = False,
    cut_off: bool = False,
) -> str:
    """One of a run's figures as people read it; where it has no number, why not. Of a run that was cut off nobody
    told the end, so it had at least as much, and what is not on record it may have had all the same."""
    figure, value = FIGURES[name], figures.get(name)
    if cut_off:
        return _of_a_cut_off(figure, value, figures, units)
    if value is not None:
        return quantity(value, figure.unit, units)
    if going_on:
        return GOES_ON
    return NO_WATER if figure.of_the_tank and figures.get("litres") == 0 else figure.without


def _of_a_cut_off(
    figure: Figure, value: float | None, figures: Mapping[str, float | None], units: UnitSettings | None
) -> str:
    opened = figures.get("producing_s") is not None
    least = "" if value is None else quantity(value, figure.unit, units, down=figure.grows)
    if least and not (figure.grows and least == quantity(0.0, figure.unit, units, down=True)):
        return f"{AT_LEAST if figure.grows else ''}{least}"
    if opened and figure.of_an_open_tank:
        return figure.of_an_open_tank
    if value is not None:
        return NONE_ON_RECORD
    if figure.of_the_tank:
        return NOT_ON_RECORD if opened or figures.get("litres") else NO_WATER_ON_RECORD
    return figure.without
