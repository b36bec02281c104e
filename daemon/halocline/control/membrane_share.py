"""The share of what the membrane's model expects that is really measured: what it usually is, and what it is now."""

from dataclasses import dataclass

from halocline.control.retained_state import RetainedState
from halocline.control.situation import Permeabilities, membrane_of
from halocline.plant.settings import Settings

SMOOTH_S = 10.0
"""A cell answers in 5 to 10 s and the flow at once (common practice): over ten seconds the share is of one and the same
moment."""
FORGET_S = 3600.0
"""The usual share follows within an hour: fouling and scaling, which take weeks, never stand away from it (chosen)."""


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
        """How far the present share stands away from the usual one, relatively; None while either is not known."""
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
