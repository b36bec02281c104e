"""What is owed, and what alone ends it: one table, for the search through all states and for stories on real files.

The property: whatever is in force stays in force under any sequence of kills, stops, restarts, power cuts, orderly
ends and clocks that are set, until the act that stands beside it.
"""

from collections.abc import Callable
from dataclasses import dataclass

from halocline.control.retained.retained_state import RetainedState

DAY_S = 86400.0


@dataclass(frozen=True)
class Obligation:
    """`owed` by a latch. `ended_by`: accepted commands, log entries as `log:kind`, or events as `event:kind`."""

    owed: Callable[[RetainedState], bool]
    ended_by: frozenset[str]


def _row(owed, *ended_by):
    return Obligation(owed, frozenset(ended_by))


OBLIGATIONS = {
    "a run that was cut off": _row(lambda retained: retained.cut_off is not None, "acknowledge"),
    "a trip": _row(lambda retained: bool(retained.trips), "reset"),
    "the first cause of a trip": _row(lambda retained: bool(retained.trips and retained.first_out), "reset"),
    "a service lock": _row(lambda retained: retained.lock is not None, "service_unlock"),
    "laid up": _row(lambda retained: retained.laid_up, "recommission"),
    "a flush": _row(lambda retained: retained.flush_owed, "event:flush_complete"),
    "a purge": _row(lambda retained: retained.purge is not None, "log:purge_confirmed"),
    "chlorine in the flush water": _row(lambda retained: retained.chlorine_suspected, "log:chlorine_strip_zero"),
    "air in the circuit": _row(lambda retained: retained.circuit_opened, "event:producing"),
    "an alarm out of service": _row(lambda retained: bool(retained.out_of_service), "log:alarm_in_service"),
    "a consent that is over": _row(
        lambda retained: retained.flush_consent is not None and retained.flush_consent.ended is not None,
        "acknowledge",
        "consent_flush",
        "withdraw_flush_consent",
    ),
    "a consent that was never given, taken back or is over": _row(
        lambda retained: retained.flush_consent is None or retained.flush_consent.ended is not None, "consent_flush"
    ),
    "a day's pause": _row(lambda retained: retained.flush_tried_ago_s is not None, "event:day"),
    "a motor that was too warm": _row(lambda retained: retained.motor_hot_ago_s is not None, "event:cooled"),
    "work of the motor": _row(lambda retained: retained.motor_worked_s > 0, "event:rested"),
}


def owed(retained):
    """The names of all that is owed by it."""
    return frozenset(name for name, row in OBLIGATIONS.items() if row.owed(retained))


def acts(events, before=None, after=None):
    """What was done, in the table's words: from control's events, and from the states before and after."""
    done = set()
    for event in events:
        if event["kind"] == "command" and event["accepted"]:
            done.add(event["command"])
        elif event["kind"] == "log":
            done.add(f"log:{event['what']}")
        elif event["kind"] == "flush_ended" and event["complete"]:
            done.add("event:flush_complete")
        elif event["kind"] == "state":
            done.add(f"event:{event['to']}")
    return done


def forgotten(before, after, done):
    """What is owed no more although nothing that ends it was done."""
    return {name for name in before - after if not OBLIGATIONS[name].ended_by & set(done)}


def by_time(core):
    """What ends by itself once enough time has gone by; the rules about the motor look after how long that is."""
    rested = core.plant.motor.worked_s == 0.0
    day = core.plant.alone.tried_ago_s(core.last.now_s) >= DAY_S
    return {"event:cooled"} | ({"event:rested"} if rested else set()) | ({"event:day"} if day else set())
