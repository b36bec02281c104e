"""What the plant does, why, and what it waits for: a sentence's id and its numbers. Report has the words."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import Any, NamedTuple

from halocline.control.duties.attendance import answer_left_s
from halocline.control.hmi.operator_prompts import asked
from halocline.control.inputs import Reason
from halocline.control.plant_state import PlantState
from halocline.control.situation import Situation
from halocline.plant.thresholds import DAY_S, GONE_BAR
from halocline.plant.vocabulary import Ask, State

GENTLE_BAR_S = 0.7
"""No sentence asks a person to raise the pressure faster: an element bears about that (common practice)."""

SETTLING_SHARE = 0.1
"""Of the pace at which a person raises the pressure: what is slower is no longer raised (chosen)."""


class _View(NamedTuple):
    """What a sentence looks at. now: the situation in the state that the tick led to; against_start: every reason for
    which a start would be refused; ask: what only a person can do."""

    at: PlantState
    now: Situation
    against_start: Sequence[Reason]
    ask: Ask | None


def sentence(at: PlantState, last: Situation, against_start: Sequence[Reason]) -> Reason:
    """The one sentence of the moment, after the tick whose situation `last` is. `against_start`: every reason for which
    a start would be refused."""
    view = _View(at, at.present(last), against_start, asked(at, last))
    message = _SENTENCES[at.state](view)
    if view.ask is Ask.STILL_THERE:
        return Reason(message.id, {**message.values, "answer_left_s": answer_left_s(last)})
    return message


def _standby(view: _View) -> Reason:
    at, ask, refusals = view.at, view.ask, view.against_start
    if lock := at.retained.lock:
        return Reason("standby_locked", {"name": lock.name, "reason": lock.reason})
    if ask is Ask.OPEN_REGULATOR:
        cut_off = at.retained.cut_off
        return Reason("standby_open_regulator", {} if cut_off is None else asdict(cut_off))
    left_s = at.alone.left_s(view.now.now_s)
    if left_s is not None:
        return Reason("standby_flush_coming", {"seconds": left_s})
    ended = at.position.why if at.position.last_end is None else at.position.last_end
    after = {"why": ended.id, **ended.values}
    if refusals:
        return Reason("standby_refused", {"reason": refusals[0].id, "more": len(refusals) - 1, **refusals[0].values})
    if at.retained.flush_owed or at.retained.purge or at.retained.chlorine_suspected:
        return Reason("standby_owed", after)
    return Reason("standby_ready", after)


def _priming(view: _View) -> Reason:
    at, now = view.at, view.now
    limit_bar = at.settings.limits.feed_pressure_start_bar
    if now.feed_bar is None or now.feed_bar < limit_bar:
        return Reason("priming_waiting", {"pressure_bar": now.feed_bar, "limit_bar": limit_bar})
    steady_s = math.floor(at.position.feed_steady_s)
    values = {"pressure_bar": now.feed_bar, "held_s": steady_s, "seconds": at.prime_s()}
    return Reason("priming_after_opening" if at.retained.circuit_opened else "priming", values)


def _rate(raise_bar_s: float) -> dict[str, Any]:
    """How fast a hand may raise the pressure, whatever pace a demonstration plays at."""
    if raise_bar_s <= GENTLE_BAR_S:
        return {"rate_bar_s": raise_bar_s}
    return {"rate_bar_s": GENTLE_BAR_S, "faster": True}


def _pressurising(view: _View) -> Reason:
    at, now, ask = view.at, view.now, view.ask
    target_bar = now.expectation.target_pressure_bar
    values = {
        "pressure_bar": now.pressure_bar,
        "target_bar": target_bar,
        **_rate(at.settings.drive.raise_bar_s),
    }
    if ask is Ask.SWITCH_PUMP_ON:
        return Reason("switch_pump_on", values)
    if at.rinsing() and at.retained.purge:
        rinsed = {
            "litres": at.retained.purge.rinsed_l,
            "target_l": at.rinse_l(),
            "of": ", ".join(at.retained.purge.kinds),
        }
        return Reason("rinsing_open_regulator" if ask is Ask.OPEN_REGULATOR else "rinsing", {**values, **rinsed})
    if ask is Ask.RAISE_PRESSURE:
        too_fast = (now.rate_bar_s or 0.0) > at.settings.limits.pressure_rise_warn_bar_s
        reached = (now.pressure_bar or 0.0) >= now.expectation.working_minimum_bar
        slow = (now.rate_bar_s or 0.0) < SETTLING_SHARE * at.settings.drive.raise_bar_s
        if reached and slow:
            return Reason("pressure_settling", values)
        return Reason("raise_slower" if too_fast else "raise_pressure", values)
    return Reason("pressure_building", values)


def _diverting(view: _View) -> Reason:
    at, now = view.at, view.now
    hold_s = at.settings.sequence.quality_hold_s
    values = {"tds_mg_l": now.tds_mg_l, "limit_mg_l": at.settings.limits.accept_tds_mg_l, "seconds": hold_s}
    if at.quality.unmet:
        first = at.quality.unmet[0]
        # Whatever closed the tank, it opens again at one limit only.
        opens = {"limit_mg_l": values["limit_mg_l"]} if first.id in ("tds_high", "tds_foreseen") else {}
        return Reason(f"diverting_{first.id}", {**values, **first.values, **opens})
    return Reason("diverting_holding", {**values, "left_s": max(0.0, hold_s - at.quality.held_s)})


def _producing(view: _View) -> Reason:
    at, now = view.at, view.now
    if at.run is None:
        return Reason("producing", {"litres": 0.0})
    run = at.run
    return Reason(
        "producing",
        {
            "litres": run.litres,
            "target_l": run.need.litres,
            "remaining_s": run.need.remaining_s(run, now.now_s, now.flow_l_h),
            "tds_mg_l": now.tds_mg_l,
        },
    )


def _stopping(view: _View) -> Reason:
    at, now, ask = view.at, view.now, view.ask
    values = {"why": at.position.why.id, **at.position.why.values, "membrane_bar": now.pressure_bar}
    if ask is Ask.OPEN_REGULATOR and (now.pressure_bar or 0.0) > GONE_BAR:
        return Reason("stopping_open_regulator", values)
    return Reason("stopping", values)


def _flushing(view: _View) -> Reason:
    at, now = view.at, view.now
    flush = at.flush
    if flush is None or flush.valve_open_s < 0:
        return Reason("flushing_waiting", {"pressure_bar": now.pressure_bar})
    values = {"litres": flush.litres, "target_l": flush.wanted_l, "measured": flush.measured}
    return Reason("flushing_alone" if flush.alone else "flushing", values)


def _tripped(view: _View) -> Reason:
    at, now = view.at, view.now
    cause = at.position.why.id if at.alarms.get(at.position.why.id) else at.position.first_out or at.position.why.id
    alarm = at.alarms.get(cause)
    values = dict(alarm.values) if alarm else dict(at.position.why.values)
    return Reason("tripped", {**values, "cause": cause, "membrane_bar": now.pressure_bar})


_SENTENCES: Mapping[State, Callable[[_View], Reason]] = {
    State.STANDBY: _standby,
    State.PRIMING: _priming,
    State.PRESSURISING: _pressurising,
    State.DIVERTING: _diverting,
    State.PRODUCING: _producing,
    State.STOPPING: _stopping,
    State.FLUSHING: _flushing,
    State.TRIPPED: _tripped,
    State.LAID_UP: lambda view: Reason(
        "laid_up", {"of": view.at.retained.laid_up_with, "days": view.at.rest.laid_up_s(view.now.now_s) / DAY_S}
    ),
    State.HAND_RUN: lambda view: Reason("hand_run", {"pressure_bar": view.now.pressure_bar}),
    State.BENCH: lambda view: Reason("bench", {"output": (view.at.work.bench or ("",))[0]}),
}
