"""Causes of the sea water that feeds the high-pressure pump."""

from halocline.control.alarm_conditions.condition import Condition, Level, Notes, Values, known, noted
from halocline.control.hydraulic_state import FEED_GRACE_S, feed_low_low_bar, feed_pump_had_its_time
from halocline.control.situation import Situation
from halocline.plant.vocabulary import State

BAR = ("pressure_bar", "limit_bar")


def _where(_now: Situation, notes: Notes) -> Values:
    """Where the water is held up, as far as the senders tell."""
    return notes.standing.get("suction", {})


def _not_reached(now: Situation, notes: Notes) -> Values | None:
    sequence, limit_bar = now.settings.sequence, now.settings.limits.feed_pressure_start_bar
    enough = now.feed_bar is not None and now.feed_bar >= limit_bar
    allowed_s = sequence.prime_limit_s + (now.clocks.prime_s if enough else 0)
    if now.in_state_s < allowed_s:
        return None
    return {"pressure_bar": now.feed_bar, "limit_bar": limit_bar, "seconds": allowed_s, **_where(now, notes)}


FEED: dict[str, Condition] = {
    "feed_pressure_not_reached": _not_reached,
    "feed_pressure_low_low": Level(
        known("feed_pressure"),
        feed_low_low_bar,
        BAR,
        above=False,
        when=lambda now, _notes: feed_pump_had_its_time(now),
        more=_where,
    ),
    "feed_lost_while_stopping": Level(
        known("feed_pressure"),
        feed_low_low_bar,
        BAR,
        above=False,
        # A stop switches the feed off in the end: then its pressure tells nothing.
        when=lambda now, _notes: now.clocks.feed_pump_on_s >= FEED_GRACE_S,
        more=_where,
    ),
    "feed_pressure_unsteady": noted("feed_unsteady"),
    "feed_pressure_wavering": noted("feed_unsteady"),
    "feed_pressure_low": Level(
        lambda now: now.feed_bar,
        lambda now: now.settings.limits.feed_pressure_low_bar,
        BAR,
        above=False,
        when=lambda now, _notes: now.clocks.feed_pump_on_s >= FEED_GRACE_S and now.state is not State.PRIMING,
        more=_where,
    ),
    "filter_drop_high": Level(
        lambda now: now.filter_drop_bar,
        lambda now: now.settings.limits.filter_drop_high_bar,
        ("drop_bar", "limit_bar"),
    ),
}
