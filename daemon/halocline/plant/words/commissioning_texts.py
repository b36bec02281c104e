"""The steps of a commissioning and its safety list, as a person signs them."""

from collections.abc import Mapping

from halocline.plant.commissioning import OUTPUT
from halocline.plant.words.names import output_name, plain

STEP_TEXTS: Mapping[str, str] = {
    "begun": "Commissioning begun",
    "safety": "Safety list read and true",
    "chain": "Each hard-wired contact drops the relay, and only a hand brings it back",
    "zeros": "Sensors at rest: zeros right, wires in their places",
    "low_pressure": "Tight at low pressure, suction side too",
    "air": "Air purged: brine runs without bubbles",
    "hoses_at_rest": "At low pressure nothing runs in the product's hose",
    "flush": "Flush measured with a bucket; check valves tight",
    "high_pressure": "Tight at each pressure up to the working one; gauge against page",
    "hoses": "Under pressure what runs in the product's hose is fresh",
    "protections": "Trips tried: each drops everything and is named",
    "first_water": "First water overboard, end test passed",
    "baseline": "Membrane's baseline taken",
    "closed": "Commissioning closed",
}

SAFETY_TEXTS: Mapping[str, str] = {
    "mains_by_electrician": "Mains, residual-current protection and bonding were done and checked by a licensed "
    "electrician.",
    "relief_valve_set": "A relief valve is fitted without a tap before it, and set on a test bench.",
    "pressure_switch_fitted": "Pressure switch and low-suction switch are wired into the coil chain.",
    "stop_button_in_reach": "The stop button is in reach of whoever stands at the plant.",
    "two_people": "Two people are here, one of them at the breaker.",
    "by_hand_card": "The by-hand card made from this plant's limits hangs beside it.",
}


def step_name(step: str) -> str:
    """What is signed with a step."""
    if step.startswith(OUTPUT):
        name = output_name(step.removeprefix(OUTPUT))
        return f"{name[0].upper()}{name[1:]}: the right thing moves, nothing else"
    return STEP_TEXTS.get(step, plain(step))


def safety_point(point: str) -> str:
    """A point of the safety list, in full."""
    return SAFETY_TEXTS.get(point, plain(point))
