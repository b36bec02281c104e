"""What only a person can do now, if anything."""

from collections.abc import Callable, Mapping

from halocline.control.duties.attendance import is_asked
from halocline.control.hydraulic_state import HAND_BAR, RINSE_BELOW_BAR, is_below, still_turns
from halocline.control.plant_state import PlantState
from halocline.control.situation import Situation
from halocline.plant.vocabulary import Ask, State


def asked(at: PlantState, now: Situation) -> Ask | None:
    """What a person is asked to do in the present state."""
    ask = _ASKS.get(at.state)
    deed = ask(at, now) if ask else None
    return Ask.STILL_THERE if deed is None and is_asked(now) else deed


def _by_hand(at: PlantState) -> bool:
    return at.settings.drive.regulator == "hand_each_run"


def _standby(at: PlantState, now: Situation) -> Ask | None:
    if _by_hand(at) and at.retained.cut_off is not None:
        return Ask.OPEN_REGULATOR
    return Ask.REARM_RELAY if at.rest.asks_for_rearming(now.now_s) else None


def _pressurising(at: PlantState, now: Situation) -> Ask | None:
    if at.settings.drive.pump != "relay" and now.clocks.turning_s < 0:
        return Ask.SWITCH_PUMP_ON
    if at.rinsing():
        return None if is_below(now, RINSE_BELOW_BAR) else Ask.OPEN_REGULATOR
    checking = now.clocks.turning_s <= at.settings.sequence.regulator_check_s
    return Ask.RAISE_PRESSURE if _by_hand(at) and not checking and _is_fed(now) else None


def _is_fed(now: Situation) -> bool:
    """Whether the feed is strong enough to raise the pressure: a person who follows a pressure that falls for lack of
    feed has turned the regulator too far when the feed comes back."""
    feed_bar = now.known("feed_pressure")
    return feed_bar is not None and feed_bar >= now.settings.limits.feed_pressure_low_low_bar


def _stopping(at: PlantState, now: Situation) -> Ask | None:
    """First the regulator, then the pump; a regulator that is left set is left alone."""
    if at.settings.drive.pump != "relay" and (is_below(now, HAND_BAR) or not _by_hand(at)):
        return Ask.SWITCH_PUMP_OFF
    return Ask.OPEN_REGULATOR if _by_hand(at) else None


def _flushing(at: PlantState, _now: Situation) -> Ask | None:
    """Until a meter has shown that the flush water finds its way out: then it was done. Without one nobody knows.
    One that nobody ordered asks nobody."""
    shown = at.flush is not None and (at.flush.is_seen_flowing or at.flush.alone)
    return Ask.OPEN_REGULATOR if _by_hand(at) and not shown else None


def _tripped(at: PlantState, now: Situation) -> Ask | None:
    if at.settings.drive.pump == "watch_only" and still_turns(now):
        return Ask.SWITCH_PUMP_OFF
    # With water under the plant nothing is touched before the breaker is off: the alarm says so.
    return Ask.OPEN_REGULATOR if _by_hand(at) and not now.active("bilge_wet") else None


_ASKS: Mapping[State, Callable[[PlantState, Situation], Ask | None]] = {
    State.STANDBY: _standby,
    State.PRESSURISING: _pressurising,
    State.STOPPING: _stopping,
    State.FLUSHING: _flushing,
    State.TRIPPED: _tripped,
}
