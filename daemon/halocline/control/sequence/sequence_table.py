"""The sequence: how a run goes from rest to water and back, as a table.

Theory of operation
-------------------
The plant is in exactly one state. Each tick the facts of the moment (plain booleans with names) are worked out
elsewhere; here the first row of the table whose state and fact match decides the next state, and the state
decides which outputs may be energised. Nothing else may change the state.

* A trip leads from every state to ``tripped``, in the same step in which its cause is judged; outputs are computed
  from the new state, so everything is de-energised in that step too.
* Water reaches the tank in ``producing`` alone, and ``producing`` is entered from ``diverting`` alone.
* The high-pressure pump runs in ``pressurising``, ``diverting``, ``producing``, and at the start of ``stopping``
  while a hand opens the regulator. All of these keep the feed pump on.
* One thing only begins without a person's command: a flush at rest, under a person's standing consent, announced and
  once a day (`control/automatic_flush.py`); pumps stay off in it.
* No row leads out of ``tripped`` or ``laid_up`` without a person's command, and none from a restart to a running
  pump: control begins in ``tripped``, ``laid_up`` or ``standby``. A plant that was laid up when it tripped is laid
  up again by its reset.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from halocline.plant.vocabulary import ACTUATORS, OPTIONAL_OUTPUTS, RUNNING, State

S = State

ANYWHERE = frozenset(State) - {S.TRIPPED, S.LAID_UP}


@dataclass(frozen=True, slots=True)
class Row:
    """From any of `states`, when `fact` is true, to `to`."""

    states: frozenset[State]
    fact: str
    to: State


def _row(states: State | frozenset[State], fact: str, to: State) -> Row:
    return Row(states if isinstance(states, frozenset) else frozenset({states}), fact, to)


TABLE: tuple[Row, ...] = (
    _row(ANYWHERE, "trip", S.TRIPPED),
    _row(S.STANDBY, "unbidden_pressure", S.HAND_RUN),
    _row(S.STANDBY, "start_accepted", S.PRIMING),
    _row(S.STANDBY, "flush_accepted", S.FLUSHING),
    _row(S.STANDBY, "flush_alone", S.FLUSHING),
    _row(frozenset({S.STANDBY, S.TRIPPED}), "lay_up_accepted", S.LAID_UP),
    _row(S.STANDBY, "bench_accepted", S.BENCH),
    _row(RUNNING, "stop", S.STOPPING),
    _row(S.PRODUCING, "quality_lost", S.DIVERTING),
    _row(RUNNING, "target_reached", S.STOPPING),
    _row(S.PRIMING, "primed", S.PRESSURISING),
    _row(S.PRESSURISING, "raise_timeout", S.STOPPING),
    _row(S.PRESSURISING, "settled", S.DIVERTING),
    _row(S.DIVERTING, "quality_held", S.PRODUCING),
    _row(S.STOPPING, "depressurised_to_flush", S.FLUSHING),
    _row(S.STOPPING, "depressurised", S.STANDBY),
    _row(S.FLUSHING, "stop", S.STANDBY),
    _row(S.FLUSHING, "flush_called_off", S.STANDBY),
    _row(S.FLUSHING, "flush_complete", S.STANDBY),
    _row(S.FLUSHING, "flush_failed", S.STANDBY),
    _row(S.HAND_RUN, "pressure_gone", S.STANDBY),
    _row(S.BENCH, "stop", S.STANDBY),
    _row(S.BENCH, "bench_over", S.STANDBY),
    _row(S.TRIPPED, "reset_accepted", S.STANDBY),
    _row(S.LAID_UP, "recommission_accepted", S.STANDBY),
)

FACTS = frozenset(row.fact for row in TABLE)


def next_state(state: State, facts: Mapping[str, bool]) -> tuple[State, str | None]:
    """The state after this step and the fact that led there; the same state and None when nothing applies."""
    for row in TABLE:
        if state in row.states and facts.get(row.fact, False):
            return row.to, row.fact
    return state, None


ENERGISED: Mapping[State, Mapping[str, str]] = {
    S.STANDBY: {},
    S.PRIMING: {"feed_pump": "always", "inverter_enable": "always"},
    S.PRESSURISING: {
        "feed_pump": "always",
        "high_pressure_pump": "pump_permitted",
        "inverter_enable": "always",
        "pressure_release": "unloaded_start_over",
    },
    S.DIVERTING: {
        "feed_pump": "always",
        "high_pressure_pump": "pump_permitted",
        "inverter_enable": "always",
        "pressure_release": "always",
    },
    S.PRODUCING: {
        "feed_pump": "always",
        "high_pressure_pump": "pump_permitted",
        "inverter_enable": "always",
        "pressure_release": "always",
        "product_to_tank": "always",
    },
    S.STOPPING: {
        "feed_pump": "feed_needed",
        "high_pressure_pump": "waiting_for_regulator",
        "inverter_enable": "waiting_for_regulator",
    },
    S.FLUSHING: {"flush_valve": "flush_valve_may_open"},
    S.TRIPPED: {"feed_pump": "pump_disobeys"},
    S.LAID_UP: {},
    S.HAND_RUN: {"feed_pump": "feed_needed"},
    S.BENCH: {output: f"bench_{output}" for output in (*ACTUATORS, *OPTIONAL_OUTPUTS)},
}
"""Which outputs each state energises, and on what condition; what is not named here is off."""


def outputs(state: State, conditions: Mapping[str, bool]) -> frozenset[str]:
    """The outputs that are on in `state`. An unknown condition counts as false.

    Whatever the table and the conditions say, the high-pressure pump is never on without the feed pump or beside
    an open flush valve.
    """
    on = {
        output
        for output, condition in ENERGISED[state].items()
        if condition == "always" or conditions.get(condition, False)
    }
    if "feed_pump" not in on or "flush_valve" in on:
        on.discard("high_pressure_pump")
    return frozenset(on)
