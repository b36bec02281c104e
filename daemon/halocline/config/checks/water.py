"""What follows from the sea the plant drinks and the water it lets in."""

from collections.abc import Iterator

from halocline.config.problems import Finding, number
from halocline.physics.seawater import osmotic_pressure_bar
from halocline.plant.settings import Settings

COLDEST_SEA_C = 0.0
USUAL_SEA_C = 25.0
UNQUESTIONED_TDS_MG_L = {"accept_tds_mg_l": 500.0, "reject_tds_mg_l": 600.0, "reject_at_once_tds_mg_l": 1000.0}
"""US secondary standard for what is let in; WHO's taste panel called water up to 600 mg/L good, above 900 poor."""


def _working_minimum_bar(settings: Settings, temperature_c: float) -> float:
    osmotic_bar = osmotic_pressure_bar(settings.plant.sea_salinity_g_kg, temperature_c)
    return osmotic_bar + settings.limits.working_margin_bar


def working_minimum_lies_above_an_open_regulator(settings: Settings) -> Iterator[Finding]:
    """Pressure that shows a closed regulator must be less than pressure that makes water."""
    minimum_bar = _working_minimum_bar(settings, COLDEST_SEA_C)
    limit_bar = settings.limits.regulator_closed_bar
    least_bar = minimum_bar - settings.limits.pressure_lost_bar
    if limit_bar >= least_bar:
        allowed = (
            f"below {least_bar:.1f} bar, the working minimum in cold water"
            f" ({minimum_bar:.1f} bar) less limits.pressure_lost_bar"
        )
        remedy = "lower it, or raise limits.working_margin_bar: a run must be told from a regulator left closed"
        yield Finding("limits.regulator_closed_bar", f"{number(limit_bar)} bar", allowed, remedy)


def working_minimum_can_be_reached(settings: Settings) -> Iterator[Finding]:
    """A run set to less than the working minimum would raise pressure for ever."""
    minimum_bar = _working_minimum_bar(settings, USUAL_SEA_C)
    pressure_bar = settings.drive.working_pressure_bar
    if pressure_bar <= minimum_bar:
        allowed = f"above the working minimum, {minimum_bar:.1f} bar at 25 °C in plant.sea_salinity_g_kg"
        remedy = "raise it, or lower limits.working_margin_bar"
        yield Finding("drive.working_pressure_bar", f"{number(pressure_bar)} bar", allowed, remedy)


def unusual_water_has_a_reason(settings: Settings) -> Iterator[Finding]:
    """Saltier water is let in, or turned away later, only where the file says why."""
    limits = settings.limits
    for key, most_mg_l in UNQUESTIONED_TDS_MG_L.items():
        if getattr(limits, key) > most_mg_l and not limits.accept_reason.strip():
            found = f"{number(getattr(limits, key))} mg/L without a reason"
            allowed = f"up to {number(most_mg_l)} mg/L, or more with limits.accept_reason"
            yield Finding(f"limits.{key}", found, allowed, "lower it, or write down why in accept_reason")
