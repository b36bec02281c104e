"""The trade's own figures beside ours: ASTM D4516, named as such.

It leaves polarisation out, so the seasons stay in it: between 12 and 29 °C an unchanged element moves by some seven per
cent. Nothing is decided by it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, median
from typing import Any

from halocline.physics.conductivity import tds_mg_l
from halocline.physics.errors import OutOfRange, Unsolvable
from halocline.physics.normalisation import OperatingPoint, normalise
from halocline.report.health.signals import drop_bar
from halocline.report.health.steady import Period

NAME = "ASTM D4516"
LATEST_PERIODS = 5
"""The standard's figures are read as a median of some (common practice): one run's noise is a per cent."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A steady period and its feed."""

    period: Period
    feed_l_h: float


def standard(baseline: Sequence[Measured], latest: Sequence[Measured]) -> dict[str, Any] | None:
    """Changes of flow, salt passage and drop (shares) of the latest periods over the mean of the baseline's; None where
    the standard knows none."""
    if not baseline or not latest:
        return None
    try:
        reference = _mean(baseline)
        found = [normalise(reference, _point(each)) for each in latest[-LATEST_PERIODS:]]
    except (OutOfRange, Unsolvable):
        return None
    measured = all(drop_bar(each.period) is not None for each in (*baseline, *latest[-LATEST_PERIODS:]))
    return {
        "name": NAME,
        "osmotic": found[0].osmotic,
        "runs": len(found),
        "flow": _middle([each.flow_change for each in found]),
        "salt_passage": _middle([each.salt_passage_change for each in found]),
        "pressure_drop": _middle([each.pressure_drop_change for each in found]) if measured else None,
    }


def _middle(values: Sequence[float]) -> float:
    return round(median(values), 5)


def _point(m: Measured) -> OperatingPoint:
    p = m.period
    return OperatingPoint(
        membrane_inlet_bar=(p.vessel_pressure_bar or 0.0) - (p.rest_vessel_pressure_bar or 0.0),
        pressure_drop_bar=max(drop_bar(p) or 0.0, 0.0),
        product_pressure_bar=p.product_pressure_bar or 0.0,
        feed_salinity_g_kg=p.sea_salinity_g_kg or 0.0,
        temperature_c=p.sea_temperature_c or 0.0,
        feed_flow_l_h=m.feed_l_h,
        product_flow_l_h=p.product_flow_l_h or 0.0,
        product_tds_mg_l=tds_mg_l(p.product_conductivity_us_cm or 0.0),
    )


def _mean(points: Sequence[Measured]) -> OperatingPoint:
    each = [_point(m) for m in points]
    return OperatingPoint(
        *(fmean(getattr(point, name) for point in each) for name in OperatingPoint.__dataclass_fields__)
    )
