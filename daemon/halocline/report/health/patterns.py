"""Which stories are told, how sure, since when, on what evidence, and what would tell for certain."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from halocline.plant import words
from halocline.report.health.fit import Component, Fit
from halocline.report.health.outlook import bounded
from halocline.report.health.prefilter import Prefilter
from halocline.report.health.stories import NOTHING

TOLD = 0.8
LEAST_SHARE = 0.01


def patterns(fit: Fit | None, named: Mapping[str, float], filters: Prefilter) -> list[dict[str, Any]]:
    """The likeliest first. `named`: how likely each story is; its confidences sum to 1."""
    shares = {name: share for name, share in named.items() if name}
    nothing = shares.pop(NOTHING, 0.0)
    # What fits no story is told as the nearest ones, never as certain.
    told = sum(shares.values())
    if told > 0.0:
        near = 0.5 * named.get("", 0.0) / told
        shares = {name: share * (1.0 + near) for name, share in shares.items()}
    shares["prefilter"] = filters.due * nothing
    shares[NOTHING] = (1.0 - filters.due) * nothing
    found: list[dict[str, Any]] = []
    for name, share in sorted(shares.items(), key=lambda each: -each[1]):
        if share < LEAST_SHARE and found:
            continue
        best = None if fit is None else _best_of(fit, name)
        since = None if best is None or best.shape is None else round(best.shape.onset_h, 1)
        evidence = [] if fit is None or best is None else _evidence(best)
        if name == "prefilter" and filters.text is not None:
            evidence = [{"quantity": "filter_drop", "text": filters.text}]
        found.append({"name": name, "confidence": round(share, 3), "since_h": since, "evidence": evidence})
    return found


def ask(told: Sequence[Mapping[str, Any]]) -> str | None:
    """The measurement that would tell the two likeliest stories apart, while neither is certain."""
    if len(told) < 2 or told[0]["confidence"] >= TOLD:
        return None
    return words.tells_apart(told[0]["name"], told[1]["name"])


def _best_of(fit: Fit, name: str) -> Component | None:
    """The likeliest course of a story that has one."""
    return next((c for c in fit.components if c.chapter and c.shape and c.chapter.story.name == name != NOTHING), None)


def _evidence(best: Component) -> list[dict[str, str]]:
    """What each signal did over the course of a story."""
    course = next(each for each in best.sea.courses if each.shape == best.shape)
    (change_u, change_w), (doubt_u, doubt_w) = course.free()
    found = [
        {"quantity": "flow", "text": words.evidence_text("flow", math.expm1(bounded(change_u)), doubt_u)},
        {"quantity": "salt_passage", "text": words.evidence_text("salt", math.expm1(bounded(change_w)), doubt_w)},
    ]
    for signal, (precision, weighted) in course.scalars.items():
        if precision > 0.0:
            text = words.evidence_text(signal, weighted / precision, precision**-0.5)
            found.append({"quantity": "pressure_drop" if signal == "drop" else signal, "text": text})
    return found
