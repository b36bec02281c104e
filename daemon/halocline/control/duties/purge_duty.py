"""First water after preservative, cleaning or a new element: rinse, run overboard, then a person confirms.

Conductivity does not show preservative, so only litres and time count (common practice).
"""

from dataclasses import replace

from halocline.control.hydraulic_state import PUMP_PROOF_BAR, RINSE_BELOW_BAR
from halocline.control.inputs import Reason
from halocline.control.retained.retained_state import Purge
from halocline.control.situation import Situation, wetted_flow_l_h
from halocline.plant.purges import end_test
from halocline.plant.vocabulary import State


def purge_question(purge: Purge | None) -> Reason | None:
    """Why the product may not be drunk yet whatever the cell says, if so."""
    if purge is None:
        return None
    of = ", ".join(purge.kinds)
    if purge.left_s > 0:
        return Reason("purge_running", {"of": of, "seconds": purge.left_s})
    return Reason("purge_to_confirm", {"of": of, "tests": ", ".join(end_test(purge.kinds))})


def counted(purge: Purge, now: Situation, elapsed_s: float) -> Purge:
    """The purge with what of it was done since the last tick, in which the high-pressure pump was driven."""
    if now.pressure_bar is None:
        return purge
    turned = now.clocks.peak_since_pump_bar >= now.clocks.pressure_before_pump_bar + PUMP_PROOF_BAR
    flowing = now.flow_l_h is not None and now.flow_l_h >= wetted_flow_l_h(now.settings)
    if now.state is State.PRESSURISING and now.pressure_bar < RINSE_BELOW_BAR and turned:
        return replace(purge, rinsed_l=purge.rinsed_l + elapsed_s * now.settings.plant.feed_flow_l_h / 3600)
    if now.state is State.DIVERTING and flowing:
        return replace(purge, left_s=max(0.0, purge.left_s - elapsed_s))
    return purge
