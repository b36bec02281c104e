"""How long the parts of a run take, as far as settings and the expected flow tell, and how much the tank takes.

Foreseen, never measured.
"""

from halocline.control.situation import Situation, product_cap_l_h
from halocline.plant.settings import Settings
from halocline.plant.thresholds import FIRST_PRODUCT_VOLUMES

QUICK_RISE_S = 5.0
"""A regulator that was left set, or a release valve that closes, brings the pressure up within seconds. It tells how
long a start takes and decides nothing (from memory)."""

SUCTION_S = 2.0
"""From the feed pump's start until its pressure is there and begins to count as steady. It tells how long a start takes
and decides nothing (from memory)."""

TANK_SHARE = 0.9
"""Of the room that the level shows: senders and shapes of tanks are good to a tenth (common practice)."""
TANK_CEILING_L = 200.0
"""The most of one run into a tank whose level is not measured: about what a small plant makes in the four hours of a
run (chosen)."""
BRIM_PERCENT = 100.0
"""A tank that is full to the brim (computed)."""


def priming_s(prime_s: float) -> float:
    """From the press of Start until the high-pressure pump turns."""
    return SUCTION_S + prime_s


def first_product_l(settings: Settings) -> float:
    """Product that goes overboard before its salt is judged."""
    return max(FIRST_PRODUCT_VOLUMES * settings.plant.product_side_volume_l, settings.sequence.first_product_l)


def before_tank_s(settings: Settings, flow_l_h: float | None = None) -> float:
    """From the pump's start until the tank opens: pressure, first water, then good quality without a break.

    Without a flow, at the most that the element is ever asked for: the least time that it takes.
    """
    plant, drive, sequence = settings.plant, settings.drive, settings.sequence
    by_hand = drive.regulator == "hand_each_run"
    raise_s = drive.working_pressure_bar / drive.raise_bar_s if by_hand else QUICK_RISE_S
    product_s = first_product_l(settings) / (flow_l_h or product_cap_l_h(settings)) * 3600
    exchange_s = sequence.feed_exchanges * plant.feed_side_volume_l / plant.feed_flow_l_h * 3600
    opening_s = max(sequence.settle_s, product_s, exchange_s)
    return sequence.regulator_check_s + raise_s + opening_s + sequence.quality_hold_s


def tank_ceiling_l(now: Situation) -> float:
    """The most one run may put into the tank, whatever the level sensor says later: never beyond its full limit."""
    level = now.value("tank_fill")
    if level is None:
        return min(TANK_CEILING_L, TANK_SHARE * now.settings.plant.tank_capacity_l)
    capacity_l, full_percent = now.settings.plant.tank_capacity_l, now.settings.limits.tank_full_percent
    return capacity_l * max(0.0, min(TANK_SHARE * (BRIM_PERCENT - level), full_percent - level)) / 100
