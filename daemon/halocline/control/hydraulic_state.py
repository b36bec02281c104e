"""What the pressures tell of pump and feed: whether the pump turns, whether it is fed, whether pressure is gone.

Alarms, permissives and the sequence ask the same questions; here each has one answer and one limit.
"""

from halocline.control.situation import Observation, Situation
from halocline.plant.thresholds import GONE_BAR
from halocline.plant.vocabulary import State

HAND_BAR = 10.0
"""No feed pump makes so much and an open regulator cannot hold it: above, the pump turns against a load, and salt is
pressed into the membrane (chosen; by default `limits.regulator_closed_bar` as well)."""
PUMP_PROOF_BAR = 1.0
"""A pump that turns lifts the pressure of an open circuit by this through the friction of element and hoses; a good
sender's noise is 0.02 bar (chosen)."""
RINSE_BELOW_BAR = 7.0
"""So low that hardly any preservative is pressed through the membrane with the water (common practice)."""
FLUSH_BELOW_BAR = 3.0
"""Fresh-water pumps aboard give 2 to 3 bar: against more the flush would not run in, and sea water could run back (from
memory)."""
RELEASE_S = {"needle": 15.0, "spring": 60.0}
"""By kind of regulator: an open needle lets the pressure go within seconds, a spring closes on the last of it, which
then seeps away (from memory)."""
TRAPPED_FRACTION = 0.8
"""A pump that stands lets the pressure fall by a fifth at once: with the outlet shut it goes to the osmotic pressure,
about half of what it was (computed: 28 of 55 bar); one that turns holds it."""
TRAPPED_RISE_BAR = 3.0
"""Pressure that is only left behind does not rise; warming and a sender's noise come to less (chosen)."""
FEED_GRACE_S = 3.0
"""A feed pump fills its hoses and brings its pressure up in about 2 s (from memory); the high-pressure pump stands
until that has held."""
SUCTION_BAR = -0.1
"""Twice what a sender of -1 to 4 bar may be off at zero, 1 % of its span (computed)."""
STEADY_FEED_BAR = 0.2
"""A feed without air moves less, in waves and with its filters getting dirty: within it priming counts as steady and
air as gone (chosen)."""


def is_below(now: Observation, limit_bar: float) -> bool:
    """Whether the membrane pressure is known to be below the limit."""
    return now.pressure_bar is not None and now.pressure_bar < limit_bar


def feed_pump_had_its_time(now: Situation) -> bool:
    """Whether a feed pump that was switched on has had the time it needs to bring its pressure up."""
    return not 0 <= now.clocks.feed_pump_on_s < FEED_GRACE_S


def feed_low_low_bar(now: Situation) -> float:
    """The limit below which the feed is too weak for the high-pressure pump."""
    return now.settings.limits.feed_pressure_low_low_bar


def feed_is_low_low(now: Situation) -> bool:
    """Whether the feed is too weak for the high-pressure pump, once the feed pump had its 3 s to start."""
    feed_bar = now.known("feed_pressure")
    return feed_pump_had_its_time(now) and feed_bar is not None and feed_bar < feed_low_low_bar(now)


def feed_is_enough(now: Observation) -> bool:
    """Whether the feed is known to be strong enough for the high-pressure pump."""
    return now.feed_bar is not None and now.feed_bar >= now.settings.limits.feed_pressure_start_bar


def is_sucking(now: Observation) -> bool:
    """Only a pump that turns without feed draws its inlet below zero; with an open regulator nothing else tells."""
    feed_bar = now.known("feed_pressure")
    return feed_bar is not None and feed_bar < SUCTION_BAR


def is_trapped(now: Situation) -> bool:
    """Whether the pressure is what the pump left behind: it fell as the pump went off, and has not risen since.

    With the brine outlet closed it stays near the osmotic pressure until a person opens the regulator. A tripped
    plant that feeds its pump does so because the pump seems to turn: then nothing counts as left behind.
    """
    clocks = now.clocks
    fell = clocks.lowest_since_off_bar < TRAPPED_FRACTION * clocks.pressure_at_off_bar
    risen = (now.pressure_bar or 0.0) > clocks.lowest_since_off_bar + TRAPPED_RISE_BAR
    fed = clocks.feed_pump_on_s >= 0
    return fell and not risen and not fed and not is_sucking(now)


def turns_by_itself(now: Observation) -> bool:
    """Whether the high-pressure pump has to be taken to turn although nothing of ours drives it: by its own switch, a
    relay that sticks, or not yet switched off by the person who is asked to."""
    ending = now.state in (State.STOPPING, State.TRIPPED) and not is_below(now, GONE_BAR)
    return now.state is State.HAND_RUN or ending


def still_turns(now: Observation) -> bool:
    """Whether the high-pressure pump may still be turning, for all that is known."""
    return not is_below(now, GONE_BAR) or is_sucking(now)
