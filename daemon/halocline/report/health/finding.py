"""What a person is told without asking: the likeliest story once it is sure, until it is put aside with a reason."""

from collections.abc import Mapping, Sequence
from typing import Any

from halocline.plant.vocabulary import FINDINGS
from halocline.report.health.patterns import TOLD
from halocline.report.health.seen import Aside, Seen
from halocline.report.public import iso

RENEWING = ("cleaned", "element_changed")
"""Work after which a new baseline begins."""
RENEWED_BY_WORK: Mapping[str, tuple[str, ...]] = {"prefilter": ("filter_changed",)}
"""Finding → the work after which it is another one; `RENEWING` for those that are not here."""
RENEWED_BY_CALIBRATION: Mapping[str, str] = {
    "conductivity_drift": "product_conductivity",
    "flow_meter_drift": "product_flow",
    "pressure_drift": "vessel_pressure",
}


def finding(patterns: Sequence[Mapping[str, Any]], has: Seen, *, known: bool) -> dict[str, Any] | None:
    """`known`: the record is enough for a figure. None while nothing is sure, or surely nothing is wrong."""
    top = patterns[0] if patterns else None
    if top is None or not known or top["confidence"] < TOLD or top["name"] not in FINDINGS:
        return None
    aside = _aside(top["name"], has)
    told = None if aside is None else {"on": iso(aside.at_s), "reason": aside.reason, "who": aside.who}
    return {"name": top["name"], "confidence": top["confidence"], "aside": told}


def _aside(name: str, has: Seen) -> Aside | None:
    """The newest entry counts, as long as the story is the one that it names and nothing has made it another since."""
    newest = has.asides[-1] if has.asides else None
    if newest is None or newest.finding != name:
        return None
    kinds = RENEWED_BY_WORK.get(name, RENEWING)
    renewed = [wall_s for wall_s, kind, _ in has.work if kind in kinds]
    channel = RENEWED_BY_CALIBRATION.get(name)
    renewed += [wall_s for wall_s, calibrated, _ in has.calibrations if calibrated == channel]
    return newest if newest.at_s > max(renewed, default=0.0) else None
