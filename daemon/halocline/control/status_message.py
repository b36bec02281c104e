"""What the plant does, why, and what it waits for: a sentence's id and its numbers. The words are report's."""

from collections.abc import Callable, Mapping
from typing import Any

from halocline.control.core import Core
from halocline.control.duties.attendance import answer_left_s
from halocline.control.inputs import Reason
from halocline.control.situation import Situation
from halocline.plant.thresholds import DAY_S, GONE_BAR
from halocline.plant.vocabulary import Ask, State

GENTLE_BAR_S = 0.7
"""No sentence teaches a hand to raise pressure faster: an element stands about that (common practice)."""

SETTLING_SHARE = 0.1
"""Of the pace at which a hand raises: what is slower has let go of the handle (chosen)."""


def sentence(core: Core) -> Reason:
    """The one sentence of the moment."""
    if core.last is None:
        return Reason("starting_up")
    said = _SENTENCES[core.plant.state](core, core.present())
    if core.ask() is Ask.STILL_THERE:
        return Reason(said.id, {**said.values, "answer_left_s": answer_left_s(core.last)})
    return said


def _standby(core: Core, now: Situation) -> Reason:
    if lock := core.plant.retained.lock:
        return Reason("standby_locked", {"name": lock.name, "reason": lock.reason})
    refusals = core.decisions.refused("start", now)
    if core.ask() is Ask.OPEN_REGULATOR:
        cut_off = core.plant.retained.cut_off
        said = {} if cut_off is None else {"during": cut_off.during, "computer": cut_off.computer}
        return Reason("standby_open_regulator", said)
    ended = core.why if core.plant.position.last_end is None else core.plant.position.last_end
    after = {"why": ended.id, **ended.values}
    if refusals:
        return Reason("standby_refused", {"reason": refusals[0].id, "more": len(refusals) - 1, **refusals[0].values})
    if core.plant.retained.flush_owed or core.plant.retained.purge or core.plant.retained.chlorine_suspected:
        return Reason("standby_owed", after)
    return Reason("standby_ready", after)


def _priming(core: Core, now: Situation) -> Reason:
    limit_bar = core.plant.settings.limits.feed_pressure_start_bar
    if now.feed_bar is None or now.feed_bar < limit_bar:
        return Reason("priming_waiting", {"pressure_bar": now.feed_bar, "limit_bar": limit_bar})
    return Reason("priming", {"pressure_bar": now.feed_bar, "seconds": core.plant.prime_s()})


def _rate(raise_bar_s: float) -> dict[str, Any]:
    """How fast a hand may raise the pressure, whatever pace a demonstration plays at."""
    if raise_bar_s <= GENTLE_BAR_S:
        return {"rate_bar_s": raise_bar_s}
    return {"rate_bar_s": GENTLE_BAR_S, "faster": True}


def _pressurising(core: Core, now: Situation) -> Reason:
    ask = core.ask()
    target_bar = now.expectation.target_pressure_bar
    values = {
        "pressure_bar": now.pressure_bar,
        "target_bar": target_bar,
        **_rate(core.plant.settings.drive.raise_bar_s),
    }
    if ask is Ask.SWITCH_PUMP_ON:
        return Reason("switch_pump_on", values)
    if core.plant.rinsing() and core.plant.retained.purge:
        rinsed = {
            "litres": core.plant.retained.purge.rinsed_l,
            "target_l": core.plant.rinse_l(),
            "of": ", ".join(core.plant.retained.purge.kinds),
        }
        return Reason("rinsing_open_regulator" if ask is Ask.OPEN_REGULATOR else "rinsing", {**values, **rinsed})
    if ask is Ask.RAISE_PRESSURE:
        too_fast = (now.rate_bar_s or 0.0) > core.plant.settings.limits.pressure_rise_warn_bar_s
        reached = (now.pressure_bar or 0.0) >= now.expectation.working_minimum_bar
        slow = (now.rate_bar_s or 0.0) < SETTLING_SHARE * core.plant.settings.drive.raise_bar_s
        if reached and slow:
            return Reason("pressure_settling", values)
        return Reason("raise_slower" if too_fast else "raise_pressure", values)
    return Reason("pressure_building", values)


def _diverting(core: Core, now: Situation) -> Reason:
    hold_s = core.plant.settings.sequence.quality_hold_s
    values = {"tds_mg_l": now.tds_mg_l, "limit_mg_l": core.plant.settings.limits.accept_tds_mg_l, "seconds": hold_s}
    if core.plant.quality.unmet:
        first = core.plant.quality.unmet[0]
        # Whatever closed the tank, it opens again at one limit only.
        opens = {"limit_mg_l": values["limit_mg_l"]} if first.id in ("tds_high", "tds_foreseen") else {}
        return Reason(f"diverting_{first.id}", {**values, **first.values, **opens})
    return Reason("diverting_holding", {**values, "left_s": max(0.0, hold_s - core.plant.quality.held_s)})


def _producing(core: Core, now: Situation) -> Reason:
    if core.plant.run is None:
        return Reason("producing", {"litres": 0.0})
    run = core.plant.run
    return Reason(
        "producing",
        {
            "litres": run.litres,
            "target_l": run.need.litres,
            "remaining_s": run.need.remaining_s(run, now.now_s, now.flow_l_h),
            "tds_mg_l": now.tds_mg_l,
        },
    )


def _stopping(core: Core, now: Situation) -> Reason:
    values = {"why": core.why.id, **core.why.values, "membrane_bar": now.pressure_bar}
    if core.ask() is Ask.OPEN_REGULATOR and (now.pressure_bar or 0.0) > GONE_BAR:
        return Reason("stopping_open_regulator", values)
    return Reason("stopping", values)


def _flushing(core: Core, now: Situation) -> Reason:
    flush = core.plant.flush
    if flush is None or flush.valve_open_s < 0:
        return Reason("flushing_waiting", {"pressure_bar": now.pressure_bar})
    values = {"litres": flush.litres, "target_l": flush.wanted_l, "measured": flush.measured}
    return Reason("flushing", values)


def _tripped(core: Core, now: Situation) -> Reason:
    cause = core.why.id if core.plant.alarms.get(core.why.id) else core.first_out or core.why.id
    alarm = core.plant.alarms.get(cause)
    values = dict(alarm.values) if alarm else dict(core.why.values)
    return Reason("tripped", {**values, "cause": cause, "membrane_bar": now.pressure_bar})


_SENTENCES: Mapping[State, Callable[[Core, Situation], Reason]] = {
    State.STANDBY: _standby,
    State.PRIMING: _priming,
    State.PRESSURISING: _pressurising,
    State.DIVERTING: _diverting,
    State.PRODUCING: _producing,
    State.STOPPING: _stopping,
    State.FLUSHING: _flushing,
    State.TRIPPED: _tripped,
    State.LAID_UP: lambda core, now: Reason(
        "laid_up", {"of": core.plant.retained.laid_up_with, "days": core.plant.rest.laid_up_s(now.now_s) / DAY_S}
    ),
    State.HAND_RUN: lambda _core, now: Reason("hand_run", {"pressure_bar": now.pressure_bar}),
    State.BENCH: lambda core, _now: Reason("bench", {"output": (core.plant.work.bench or ("",))[0]}),
}
