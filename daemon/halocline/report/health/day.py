"""The reference day of a plant, and its element as the settings have it."""

from collections.abc import Mapping
from typing import Any

from halocline.physics.membrane import Membrane
from halocline.report.health.film import Reference
from halocline.report.health.seen import Seen

REFERENCE_C = 25.0


def reference_of(has: Seen) -> Reference:
    """The conditions that flow and salt are brought to: those of the settings, with the first salinity entered."""
    plant = has.settings.get("plant") or {}
    drive = has.settings.get("drive") or {}
    first_salinity = next((k.period.sea_salinity_g_kg for k in has.kept if k.period.sea_salinity_g_kg), None)
    return Reference(
        REFERENCE_C,
        float(drive.get("working_pressure_bar") or 55.0),
        float(first_salinity or plant.get("sea_salinity_g_kg") or 36.0),
        float(plant.get("feed_flow_l_h") or 340.0),
    )


def membrane_of(settings: Mapping[str, Any]) -> Membrane:
    """The element as the settings have it."""
    given = settings.get("membrane") or {}
    area = float(given.get("area_m2") or 2.6)
    a, b = given.get("water_permeability_lmh_bar"), given.get("salt_permeability_lmh")
    if a and b:
        return Membrane(float(a), float(b), area)
    plate = Membrane.from_nameplate(
        float(given.get("nameplate_flow_m3_d") or 2.4), float(given.get("nameplate_rejection") or 0.994), area
    )
    return Membrane(float(a or plate.water_permeability_lmh_bar), float(b or plate.salt_permeability_lmh), area)
