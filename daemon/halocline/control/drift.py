"""Sudden change of product flow and salt told apart from slow drift, against what the membrane's model expects.

Fouling and scaling move the product over weeks; a sensor, a hose, a seal or the element's seal ring move it within a
minute. Times are multiples of the quality hold (60 s aboard), so that the quick boat learns quickly as well.
"""

from dataclasses import replace

from halocline.control.conditions.water import FLOW_JUMP, SALT_JUMP, SETTLED_HOLDS
from halocline.control.latch import Usual
from halocline.control.share import Share, membrane_key
from halocline.control.situation import Departure, Situation, wetted_flow_l_h
from halocline.control.standing import Standing
from halocline.plant.vocabulary import State

MAKING = frozenset({State.DIVERTING, State.PRODUCING})
STEADY_BAR_S = 0.3
LEARN_HOLDS = 2.0
FLOW_SETTLED_HOLDS = 1.0
SETTLED = {"flow": FLOW_SETTLED_HOLDS, "salt": SETTLED_HOLDS}
JUMPS = {"flow": FLOW_JUMP, "salt": SALT_JUMP}


def follow_shares(at: Standing, now: Situation, elapsed_s: float) -> None:
    """Bring the shares to this tick and tell its situation how far they stand away from what is usual."""
    hold_s = now.settings.sequence.quality_hold_s
    changes = {}
    for kind, share in at.shares.items():
        settled = now.clocks.working_s >= SETTLED[kind] * hold_s
        share.take(_measured(kind, now) if settled else None, elapsed_s)
        changes[kind] = change = share.change(LEARN_HOLDS * hold_s)
        if now.state is State.PRODUCING and (change is None or abs(change) <= JUMPS[kind]):
            share.learn(elapsed_s, LEARN_HOLDS * hold_s)
    now.departure = Departure(
        changes["flow"],
        changes["salt"],
        _usually(at.shares["flow"], now.expectation.flow_l_h),
        _usually(at.shares["salt"], now.expectation.tds_mg_l),
    )


def _measured(kind: str, now: Situation) -> float | None:
    """Measured over expected, where pressure is steady and the instruments are good."""
    steady = now.drift_bar_s is not None and abs(now.drift_bar_s) <= STEADY_BAR_S
    flow_l_h = now.flow_l_h
    if not steady or now.state not in MAKING or flow_l_h is None or flow_l_h < wetted_flow_l_h(now.settings):
        return None
    if kind == "flow":
        return flow_l_h / now.expectation.flow_l_h if now.expectation.flow_l_h else None
    tds_mg_l = now.tds_mg_l if now.value("product_conductivity") is not None else None
    return tds_mg_l / now.expectation.tds_mg_l if tds_mg_l and now.expectation.tds_mg_l else None


def _usually(share: Share, expected: float | None) -> float | None:
    return None if expected is None or share.usual is None else share.usual * expected


def usual_to_remember(at: Standing) -> Usual | None:
    """What is usual now, as the latch keeps it; rounded, so that noise is not worth a write."""
    flow, salt = (None if share.usual is None else round(share.usual, 2) for share in at.shares.values())
    return (
        None
        if flow is None and salt is None
        else Usual(membrane_key(at.settings, at.calibrating.in_force.membrane), flow, salt)
    )


def without_usual(at: Standing) -> None:
    """Forget what was usual: the element was changed or cleaned, or something was calibrated."""
    for share in at.shares.values():
        share.forget()
    at.latch = replace(at.latch, usual=None)
