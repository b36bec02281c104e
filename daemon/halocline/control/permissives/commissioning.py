"""Checks of signing a step of the commissioning: what can be measured is not taken on a signature."""

from collections.abc import Callable, Mapping, Sequence

from halocline.control.inputs import Reason
from halocline.control.permissives.permissive import Context, not_running, unasked
from halocline.plant.commissioning import OUTPUT, SAFETY_LIST, Proof, Step, steps
from halocline.signals.rest_checks import rest_findings

COMMISSIONED = "commissioned"


def step_shown(at: Context) -> Reason | Sequence[Reason] | None:
    """The step is one that there is, and what it rests on was seen."""
    arguments = at.command.arguments
    if arguments.get("kind") != COMMISSIONED:
        return None
    known = {step.id: step for step in steps(at.now.settings.outputs)}
    step = known.get(arguments.get("step", ""))
    if step is None:
        return Reason("commissioning_step_unknown", {"step": arguments.get("step", ""), "known": ", ".join(known)})
    return None if step.proof is None else PROOFS[step.proof](at, step)


def _list(at: Context, _step: Step) -> Reason | None:
    ticked = at.command.arguments.get("confirmed", ())
    left = [point for point in SAFETY_LIST if point not in ticked]
    return unasked(at, SAFETY_LIST) or (
        Reason("commissioning_list_open", {"points": ", ".join(left)}) if left else None
    )


def _tried(at: Context, step: Step) -> Reason | None:
    output = step.id.removeprefix(OUTPUT)
    return None if output in at.evidence.tried else Reason("commissioning_untried", {"output": output})


def _zeros(at: Context, _step: Step) -> list[Reason]:
    running = not_running(at)
    if running is not None:
        return [running]
    pressures = [name for name in ("vessel_pressure", "feed_pressure") if at.now.value(name) is None]
    unknown = [Reason("sensor_not_good", {"channel": name}) for name in pressures]
    found = rest_findings(at.now.inputs.readings, at.now.settings.inputs, vented=True)
    return [*unknown, *(Reason(finding.id, finding.values) for finding in found)]


def _aired(at: Context, _step: Step) -> Reason | None:
    left_s = at.now.settings.sequence.prime_after_opening_s - at.evidence.aired_s
    return Reason("commissioning_air", {"seconds": left_s}) if left_s > 0 else None


def _no_product(at: Context, _step: Step) -> Reason | None:
    seen = at.evidence
    if seen.strange_l_h is not None:
        return Reason("commissioning_brine_at_low_pressure", {"flow_l_h": seen.strange_l_h})
    left_s = at.now.settings.sequence.settle_s - seen.still_s
    return Reason("commissioning_meter_unseen", {"seconds": left_s}) if left_s > 0 else None


def _fresh(at: Context, _step: Step) -> Reason | None:
    seen = at.evidence
    if seen.salty_mg_l is not None:
        return Reason("commissioning_brine_under_pressure", {"tds_mg_l": seen.salty_mg_l})
    left_s = at.now.settings.sequence.settle_s - seen.fresh_s
    return Reason("commissioning_product_unseen", {"seconds": left_s}) if left_s > 0 else None


def _flushed(at: Context, _step: Step) -> Reason | None:
    seen = at.evidence.flushed and not at.retained.flush_owed
    return None if seen else Reason("commissioning_not_flushed")


def _purged(at: Context, step: Step) -> Reason | None:
    return _fresh(at, step) if at.retained.purge is None else Reason("commissioning_purge_owed")


def _baseline(at: Context, _step: Step) -> Reason | None:
    return None if at.has_baseline else Reason("commissioning_no_baseline")


PROOFS: Mapping[Proof, Callable[[Context, Step], Reason | Sequence[Reason] | None]] = {
    "list": _list,
    "tried": _tried,
    "zeros": _zeros,
    "aired": _aired,
    "no_product": _no_product,
    "flushed": _flushed,
    "fresh": _fresh,
    "purged": _purged,
    "baseline": _baseline,
}
