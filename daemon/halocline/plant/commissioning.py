"""The steps by which a plant is commissioned, in their order: one table. Words in `words.commissioning_texts`.

Where an instrument can tell, a step rests on what was measured and not on a signature: control refuses to take it down
until it has seen it since its own start. What only a person can see is signed.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from halocline.plant.vocabulary import ACTUATORS, OPTIONAL_OUTPUTS

BEGUN = "begun"
OUTPUT = "output_"
"""Before an output's name: the step of trying it."""

Proof = Literal["list", "tried", "zeros", "aired", "no_product", "flushed", "fresh", "purged", "baseline"]

SAFETY_LIST = (
    "mains_by_electrician",
    "relief_valve_set",
    "pressure_switch_fitted",
    "stop_button_in_reach",
    "two_people",
    "by_hand_card",
)
"""What has to be true before anything is switched on (hw/safety.md)."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step; `proof` is what has to be seen before it can be signed, None where only a person can tell."""

    id: str
    proof: Proof | None = None


BEFORE = (Step(BEGUN), Step("safety", "list"), Step("chain"))
AFTER = (
    Step("zeros", "zeros"),
    Step("low_pressure", "aired"),
    Step("air", "aired"),
    Step("hoses_at_rest", "no_product"),
    Step("flush", "flushed"),
    Step("high_pressure", "fresh"),
    Step("hoses", "fresh"),
    Step("protections"),
    Step("first_water", "purged"),
    Step("baseline", "baseline"),
    Step("closed"),
)
"""Hoses stand twice: with the feed pump alone nothing passes a membrane, so what runs in the product's hose then is
brine; under pressure what runs there is fresh, or it is not product."""


def steps(fitted: Iterable[str]) -> tuple[Step, ...]:
    """All steps of a plant with these outputs."""
    wanted = set(fitted)
    outputs = (Step(f"{OUTPUT}{name}", "tried") for name in (*ACTUATORS, *OPTIONAL_OUTPUTS) if name in wanted)
    return (*BEFORE, *outputs, *AFTER)
