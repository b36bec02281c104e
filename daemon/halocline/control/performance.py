"""Sudden change of product flow and salt told apart from slow drift, against what the membrane's model expects.

A share is what is measured over what the model expects: what it usually is, and what it is now.

Fouling and scaling move the product over weeks; a sensor, a hose, a seal or the element's seal ring move it within a
minute. Times are multiples of the quality hold (60 s aboard), so that the quick boat learns quickly as well.
"""

from dataclasses import dataclass

from halocline.control.alarm_conditions.water import FLOW_JUMP, SALT_JUMP, SETTLED_HOLDS
from halocline.control.retained.retained_state import RetainedState, Usual
from halocline.control.situation import Departure, Observation, Permeabilities, membrane_of, wetted_flow_l_h
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import MAKING_WATER, State

SMOOTH_S = 10.0
"""A cell answers in 5 to 10 s and the flow at once (common practice): over ten seconds the share is of one and the same
moment."""
FORGET_S = 3600.0
"""The usual share follows within an hour: fouling and scaling, which take weeks, never depart from it (chosen)."""
LEARN_STEADY_BAR_S = 0.3
"""A hand at the regulator moves the pressure faster (0.5 bar/s); what is slower the expected flow follows (chosen)."""
LEARN_HOLDS = 2.0
"""Quality holds (60 s aboard) of steady product after which it counts as usual: so the first run already tells of a
jump (chosen)."""
FLOW_SETTLED_HOLDS = 1.0
"""Quality holds at working pressure after which the flow tells of the membrane: it settles with the pressure
(chosen)."""
SETTLED = {"flow": FLOW_SETTLED_HOLDS, "salt": SETTLED_HOLDS}
JUMPS = {"flow": FLOW_JUMP, "salt": SALT_JUMP}


@dataclass(slots=True)
class Share:
    """One share, 1 where the model is right. usual: None until learnt. learnt_s: for how long it was learnt."""

    usual: float | None = None
    learnt_s: float = 0.0
    present: float | None = None

    def update(self, share: float | None, elapsed_s: float) -> None:
        """One more measurement; None where there is none to rely on."""
        if share is None or self.present is None:
            self.present = share
        else:
            self.present += min(1.0, elapsed_s / SMOOTH_S) * (share - self.present)

    def change(self, learnt_after_s: float) -> float | None:
        """How far the present share departs from the usual one, relatively; None while either is not known."""
        if not self.present or not self.usual or self.learnt_s < learnt_after_s:
            return None
        return self.present / self.usual - 1.0

    def learn(self, elapsed_s: float, learnt_after_s: float) -> None:
        """Move the usual share towards the present one: a mean until it is learnt, over an hour from then on."""
        if self.present is None or elapsed_s <= 0:
            return
        over_s = FORGET_S if self.learnt_s >= learnt_after_s else self.learnt_s + elapsed_s
        usual = self.present if self.usual is None else self.usual
        self.usual = usual + min(1.0, elapsed_s / over_s) * (self.present - usual)
        self.learnt_s = min(FORGET_S, self.learnt_s + elapsed_s)

    def adopt(self) -> None:
        """A person has looked: from now on the present values are the usual ones."""
        self.usual = self.usual if self.present is None else self.present

    def forget(self) -> None:
        """Another membrane, or one made clean: nothing is usual yet."""
        self.usual, self.learnt_s = None, 0.0


def membrane_key(settings: Settings, calibrated: Permeabilities | None = None) -> str:
    """The membrane that shares are measured against; another calibration makes other shares."""
    membrane = membrane_of(settings, calibrated)
    return f"{membrane.water_permeability_lmh_bar:.4g} {membrane.salt_permeability_lmh:.4g}"


def shares_on_file(retained: RetainedState, membrane: str) -> dict[str, Share]:
    """The shares as they were remembered, if of this same membrane."""
    usual = retained.usual
    if usual is None or usual.membrane != membrane:
        return {"flow": Share(), "salt": Share()}
    known = {"flow": usual.flow, "salt": usual.salt}
    return {kind: Share(value, FORGET_S if value else 0.0) for kind, value in known.items()}


class Performance:
    """The shares of one plant's membrane. shares: of flow and of salt."""

    def __init__(self, settings: Settings, retained: RetainedState, calibrated: Permeabilities | None) -> None:
        self._settings = settings
        self._membrane = membrane_key(settings, calibrated)
        self.shares = shares_on_file(retained, self._membrane)

    def update(self, seen: Observation, working_s: float, elapsed_s: float) -> Departure:
        """Bring the shares to this tick: how far they depart from what is usual. `working_s` is the time at working
        pressure."""
        hold_s = self._settings.sequence.quality_hold_s
        changes = {}
        for kind, share in self.shares.items():
            settled = working_s >= SETTLED[kind] * hold_s
            share.update(_measured(kind, seen) if settled else None, elapsed_s)
            changes[kind] = change = share.change(LEARN_HOLDS * hold_s)
            if seen.state is State.PRODUCING and (change is None or abs(change) <= JUMPS[kind]):
                share.learn(elapsed_s, LEARN_HOLDS * hold_s)
        return Departure(
            changes["flow"],
            changes["salt"],
            _usually(self.shares["flow"], seen.expectation.flow_l_h),
            _usually(self.shares["salt"], seen.expectation.tds_mg_l),
        )

    def usual(self) -> Usual | None:
        """What is usual now, as it is retained; rounded, so that noise is not worth a write."""
        flow, salt = (None if share.usual is None else round(share.usual, 2) for share in self.shares.values())
        return None if flow is None and salt is None else Usual(self._membrane, flow, salt)

    def adopt(self, kind: str) -> None:
        """A person has looked at a jump: from now on the present share is the usual one."""
        self.shares[kind].adopt()

    def forget(self, calibrated: Permeabilities | None) -> None:
        """Nothing is usual yet: the element was changed or cleaned, or something was calibrated."""
        self._membrane = membrane_key(self._settings, calibrated)
        for share in self.shares.values():
            share.forget()


def _measured(kind: str, now: Observation) -> float | None:
    """Measured over expected, where pressure is steady and the instruments are good."""
    steady = now.drift_bar_s is not None and abs(now.drift_bar_s) <= LEARN_STEADY_BAR_S
    flow_l_h = now.flow_l_h
    if not steady or now.state not in MAKING_WATER or flow_l_h is None or flow_l_h < wetted_flow_l_h(now.settings):
        return None
    if kind == "flow":
        return flow_l_h / now.expectation.flow_l_h if now.expectation.flow_l_h else None
    tds_mg_l = now.tds_mg_l if now.value("product_conductivity") is not None else None
    return tds_mg_l / now.expectation.tds_mg_l if tds_mg_l and now.expectation.tds_mg_l else None


def _usually(share: Share, expected: float | None) -> float | None:
    return None if expected is None or share.usual is None else share.usual * expected
