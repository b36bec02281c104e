"""The water in the tank by the record: its age, and chlorine in it. Salt is measured elsewhere, germs nowhere."""

from dataclasses import dataclass

from halocline.plant.duties import CHLORINE_FREE_MG_L
from halocline.report.duties.facts import Facts

CHLORINE_IN = frozenset({"tank_chlorinated", "shore_water_taken"})
CHLORINE_OUT = "chlorine_strip_zero"
CHLORINE_READ = "chlorine_read"


@dataclass(frozen=True, slots=True)
class Water:
    """Moments in Unix seconds, None where nothing is known or nothing stands."""

    turned_s: float | None
    contact_until_s: float | None
    chlorine_since_s: float | None
    residual_mg_l: float | None
    residual_s: float | None


def turnover_s(of: Facts) -> float | None:
    """Since when a whole tankful was made: no more of the water of before is there than stays in its corners. Computed,
    from litres into the tank and its volume in the settings; a run that is dated into the future tells no age."""
    capacity_l = of.setting("boat", "tank_capacity_l")
    if capacity_l is None:
        return None
    made_l = 0.0
    for run in reversed([run for run in of.runs if run.ended_s <= of.now_s]):
        made_l += run.litres
        if made_l >= capacity_l:
            return run.ended_s
    return None


def water(of: Facts) -> Water:
    """How it stands."""
    since: float | None = None
    contact_until: float | None = None
    read: tuple[float, float] | None = None
    for one in of.work:
        mg_l = one.number("mg_l")
        if one.kind in CHLORINE_IN:
            since = one.at_s
            hours = one.number("contact_h")
            contact_until = one.at_s + hours * 3600.0 if hours is not None else None
        elif one.kind == CHLORINE_READ and mg_l is not None:
            read = (mg_l, one.at_s)
            since = one.at_s if mg_l >= CHLORINE_FREE_MG_L and since is None else since
        elif one.kind == CHLORINE_OUT:
            since = contact_until = None
    return Water(
        turned_s=turnover_s(of),
        contact_until_s=contact_until if contact_until is not None and contact_until > of.now_s else None,
        chlorine_since_s=since,
        residual_mg_l=read[0] if read else None,
        residual_s=read[1] if read else None,
    )
