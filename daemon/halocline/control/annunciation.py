"""The life of alarms (IEC 62682): raised, acknowledged, returned, latched, shelved.

Acknowledging, silencing and shelving act on what people see and hear. The effects of a cause are read from
`effects` and know nothing of them.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

from halocline.control.conditions import CONDITIONS, Notes, Values
from halocline.control.situation import Situation
from halocline.plant.alarms import CAUSES, PRIORITY_ORDER, ROWS, AlarmState, Cause, Effect, Priority
from halocline.plant.vocabulary import State

LONGEST_SHELF_S = 24 * 3600.0


@dataclass(slots=True)
class Alarm:
    """One cause's present life."""

    cause: Cause
    state: AlarmState = AlarmState.NORMAL
    values: Values = field(default_factory=dict)
    raised_s: float = 0.0
    pending_s: float | None = None
    gone_s: float | None = None
    shelved_until_s: float | None = None

    @property
    def holds(self) -> bool:
        """Whether the condition itself holds now (or has not been gone for long enough)."""
        return self.state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED) or (
            self.state is AlarmState.SHELVED and self.gone_s is None
        )


@dataclass(frozen=True, slots=True)
class Change:
    """An alarm went from one state to another."""

    id: str
    to: AlarmState
    priority: Priority
    values: Values


class Annunciator:
    """Judges the rows armed in the present state and keeps each alarm's life."""

    def __init__(self, delays_s: Mapping[str, float] | None = None) -> None:
        self._delays_s = {row.id: row.delay_s for row in ROWS} | dict(delays_s or {})
        self._alarms: dict[str, Alarm] = {}
        self._rows = {state: tuple((row, CONDITIONS[row.id]) for row in ROWS if state in row.armed) for state in State}
        self._judged = {state: frozenset(row.id for row, _ in rows) for state, rows in self._rows.items()}
        self._silenced: set[str] = set()
        self.changes: list[Change] = []

    def judge(self, now: Situation, notes: Notes) -> list[Cause]:
        """Judge all armed rows; returns the causes that hold now, in the order of the table."""
        now_s, holding = now.now_s, []
        judged = self._judged[now.state]
        for row, condition in self._rows[now.state]:
            values = condition(now, notes)
            alarm = self._alarms.get(row.id)
            if values is not None:
                if alarm is None:
                    alarm = self._alarms[row.id] = Alarm(row)
                if self._hold(alarm, values, now_s):
                    holding.append(row)
            elif alarm is not None:
                self._release(alarm, now_s)
        for id_, alarm in list(self._alarms.items()):
            if id_ not in judged:
                self._judge_unarmed(alarm, now, notes)
            if alarm.state is AlarmState.SHELVED and now_s >= (alarm.shelved_until_s or 0.0):
                self._unshelve(alarm)
            if alarm.state is AlarmState.NORMAL and alarm.pending_s is None:
                del self._alarms[id_]
        return holding

    def _judge_unarmed(self, alarm: Alarm, now: Situation, notes: Notes) -> None:
        if now.state is State.TRIPPED and alarm.cause.holds_in_trip and alarm.state is not AlarmState.NORMAL:
            values = CONDITIONS[alarm.cause.id](now, notes)
            if values is not None:
                alarm.gone_s = None
                if not alarm.holds:
                    self._raise(alarm, values, now.now_s)
                return
        self._release(alarm, now.now_s)

    def _hold(self, alarm: Alarm, values: Values, now_s: float) -> bool:
        """Note that the condition is true; whether it has been for long enough to count."""
        alarm.gone_s = None
        if alarm.holds:
            return True
        if alarm.pending_s is None:
            alarm.pending_s = now_s
        if now_s - alarm.pending_s < self._delays_s[alarm.cause.id]:
            return False
        self._raise(alarm, values, now_s)
        return True

    def _raise(self, alarm: Alarm, values: Values, now_s: float) -> None:
        alarm.values, alarm.raised_s, alarm.gone_s = values, now_s, None
        self._to(alarm, AlarmState.UNACKNOWLEDGED)
        self._silenced.discard(alarm.cause.id)

    def _release(self, alarm: Alarm, now_s: float) -> None:
        alarm.pending_s = None
        if not alarm.holds:
            return
        if alarm.gone_s is None:
            alarm.gone_s = now_s
        if now_s - alarm.gone_s < alarm.cause.clear_s:
            return
        acknowledged = alarm.state is not AlarmState.UNACKNOWLEDGED
        if not acknowledged:
            self._to(alarm, AlarmState.RETURNED)
        elif alarm.cause.latched:
            self._to(alarm, AlarmState.LATCHED)
        else:
            self._to(alarm, AlarmState.NORMAL)

    def _to(self, alarm: Alarm, state: AlarmState) -> None:
        alarm.state = state
        self.changes.append(Change(alarm.cause.id, state, alarm.cause.priority, alarm.values))

    def _unshelve(self, alarm: Alarm) -> None:
        self._to(alarm, AlarmState.UNACKNOWLEDGED if alarm.gone_s is None else AlarmState.NORMAL)

    def restore(self, cause: str, now_s: float, values: Values | None = None) -> None:
        """Take up a latched trip from before a restart: its cause is gone, its acknowledgement is not known."""
        present = self._alarms.get(cause)
        if present is not None and present.state in (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED):
            return
        row = CAUSES.get(cause, Cause(cause, Effect.TRIP, Priority.HIGH, frozenset()))
        alarm = self._alarms[cause] = Alarm(row, values=values or {}, raised_s=now_s)
        self._to(alarm, AlarmState.RETURNED)

    def acknowledge(self, cause: str | None, *, but: Collection[str] = ()) -> list[str]:
        """Somebody has seen it (all, when no cause is named, save what stands in `but`); the ids that this changed."""
        changed = []
        for alarm in self._alarms.values():
            if cause not in (None, alarm.cause.id) or alarm.cause.id in but:
                continue
            if alarm.state is AlarmState.UNACKNOWLEDGED:
                self._to(alarm, AlarmState.ACKNOWLEDGED)
            elif alarm.state is AlarmState.RETURNED:
                self._to(alarm, AlarmState.LATCHED if alarm.cause.latched else AlarmState.NORMAL)
            else:
                continue
            changed.append(alarm.cause.id)
        return changed

    def silence(self) -> None:
        """Quiet the buzzer for what is sounding now; the next alarm sounds again."""
        self._silenced.update(self._sounding())

    def shelve(self, cause: str, now_s: float, seconds: float) -> None:
        """Put an alarm without effect out of sight for a time."""
        alarm = self._alarms[cause]
        alarm.shelved_until_s = now_s + min(seconds, LONGEST_SHELF_S)
        self._to(alarm, AlarmState.SHELVED)

    def reset(self) -> None:
        """Let go of every latched trip."""
        for alarm in self._alarms.values():
            if alarm.state is AlarmState.LATCHED:
                self._to(alarm, AlarmState.NORMAL)

    def get(self, cause: str) -> Alarm | None:
        """The alarm of a cause that is not normal."""
        alarm = self._alarms.get(cause)
        return alarm if alarm is not None and alarm.state is not AlarmState.NORMAL else None

    @property
    def alarms(self) -> list[Alarm]:
        """All that are not normal, the most pressing first."""
        present = [alarm for alarm in self._alarms.values() if alarm.state is not AlarmState.NORMAL]
        return sorted(present, key=lambda alarm: (PRIORITY_ORDER.index(alarm.cause.priority), alarm.raised_s))

    @property
    def trips(self) -> list[Alarm]:
        """Every trip that has not been reset."""
        return [alarm for alarm in self.alarms if alarm.cause.effect is Effect.TRIP]

    def _sounding(self) -> dict[str, Priority]:
        return {
            alarm.cause.id: alarm.cause.priority
            for alarm in self._alarms.values()
            if alarm.state in (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED) and alarm.cause.id not in self._silenced
        }

    def buzzer(self, now_s: float) -> bool:
        """Whether the buzzer sounds at this moment."""
        return _pattern(set(self._sounding().values()), now_s)

    def beacon(self, now_s: float) -> bool:
        """Whether the beacon is lit at this moment: as the buzzer, but steady once everything is acknowledged."""
        alarms = [alarm for alarm in self.alarms if alarm.cause.priority in (Priority.URGENT, Priority.HIGH)]
        waiting = {a.cause.priority for a in alarms if a.state in (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED)}
        return _pattern(waiting, now_s) if waiting else bool(alarms)


PATTERNS: Mapping[Priority, tuple[float, tuple[tuple[float, float], ...]]] = {
    Priority.URGENT: (1.0, ((0.0, 0.15), (0.3, 0.45), (0.6, 0.75))),
    Priority.HIGH: (4.0, ((0.0, 0.4), (0.8, 1.2))),
    Priority.LOW: (60.0, ((0.0, 0.2),)),
}
"""Buzzer and beacon: a period in s and the spans within it that sound. Three quick, two slow, one a minute."""


def _pattern(priorities: set[Priority], now_s: float) -> bool:
    for priority, (period_s, spans) in PATTERNS.items():
        if priority in priorities:
            phase_s = now_s % period_s
            return any(start <= phase_s < end for start, end in spans)
    return False


def alarm_message(alarm: Alarm, now_s: float) -> dict[str, Any]:
    """As the link carries it."""
    return {
        "id": alarm.cause.id,
        "state": alarm.state.value,
        "priority": alarm.cause.priority.value,
        "since_s": round(now_s - alarm.raised_s, 2),
        "values": dict(alarm.values),
    }
