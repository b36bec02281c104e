"""The life of alarms (IEC 62682): raised, acknowledged, returned, latched, shelved, suppressed, out of service.

Acknowledging, silencing, shelving and taking out of service change what people see and hear, and so does listing an
alarm under the cause that brought it. None of them changes the effects of a cause, which `judge` returns.
"""

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from halocline.control.alarm_conditions import CONDITIONS
from halocline.control.alarm_conditions.condition import Condition, Measured, Notes, Values
from halocline.control.situation import Situation
from halocline.link.snapshot import AlarmNow
from halocline.plant.alarms import (
    DEFINITIONS,
    PRIORITY_ORDER,
    ROWS,
    SET_ASIDE,
    AlarmDefinition,
    AlarmState,
    Effect,
    Priority,
)
from halocline.plant.settings import LimitSettings
from halocline.plant.thresholds import ROUNDING_S
from halocline.plant.vocabulary import State

LONGEST_SHELF_S = 24 * 3600.0
"""A day: the watch that has the plant tomorrow sees the alarm again (that shelving ends by itself: IEC 62682; how long:
chosen)."""
TOGETHER_S = 60.0
"""What was raised this long before its cause, or is this long after the cause has gone, still belongs to it. Longer
than most delays in the table of causes (chosen)."""

WAITING = frozenset({AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED})
SILENT = frozenset({AlarmState.NORMAL, AlarmState.OUT_OF_SERVICE})
UNSEEN = SILENT | SET_ASIDE
PRESSING = frozenset({Priority.URGENT, Priority.HIGH})


@dataclass(slots=True)
class Alarm:
    """The present state of one cause.

    holds: the condition is true and has been for its delay, or has not been gone for long enough. beyond_s: how long it
    has been true on balance, while it does not hold yet: what breaks it for a moment takes no more than that moment
    away, so that noise about a limit neither hurries an alarm nor puts it off for ever. under: the alarm
    that this one is listed under, while suppressed.
    """

    cause: AlarmDefinition
    state: AlarmState = AlarmState.NORMAL
    values: Values = field(default_factory=dict)
    holds: bool = False
    raised_s: float = 0.0
    beyond_s: float | None = None
    gone_s: float | None = None
    shelved_until_s: float | None = None
    suppressed_by: str | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """An alarm went from one state to another."""

    id: str
    to: AlarmState
    priority: Priority
    values: Values
    suppressed_by: str | None = None


def _conditions(row: AlarmDefinition) -> tuple[Condition, Condition]:
    """That a cause begins to hold, and that it goes on: a measured value has to come back by the row's dead band."""
    condition = CONDITIONS[row.id]
    if isinstance(condition, Measured):
        return condition.within(0.0), condition.within(row.dead_band)
    return condition, condition


class Annunciator:
    """Judges the rows armed in the present state and keeps each alarm's life."""

    def __init__(self, limits: LimitSettings) -> None:
        self._delays_s = MappingProxyType({row.id: row.delay_under(limits) for row in ROWS})
        self._alarms: dict[str, Alarm] = {}
        self._conditions = MappingProxyType({row.id: _conditions(row) for row in ROWS})
        armed = {state: [row for row in ROWS if state in row.armed] for state in State}
        self._rows = MappingProxyType(
            {state: tuple((row, row.id, *self._conditions[row.id]) for row in rows) for state, rows in armed.items()}
        )
        self._judged = MappingProxyType({state: frozenset(row.id for row in rows) for state, rows in armed.items()})
        self._silenced: set[str] = set()
        self._judged_s: float | None = None
        self.changes: list[Change] = []

    # ---- judging -------------------------------------------------------------------------------

    def judge(self, now: Situation, notes: Notes) -> list[AlarmDefinition]:
        """Judge all armed rows; returns the causes that hold now, in the order of the table."""
        now_s, holding, began = now.now_s, [], []
        elapsed_s = 0.0 if self._judged_s is None else now_s - self._judged_s
        self._judged_s = now_s
        judged = self._judged[now.state]
        alarms = self._alarms
        for row, id_, begins, goes_on in self._rows[now.state]:
            alarm = alarms.get(id_)
            held_before = alarm is not None and alarm.holds
            values = goes_on(now, notes) if held_before else begins(now, notes)
            if values is None:
                if alarm is not None:
                    self._release(alarm, now_s, elapsed_s)
                continue
            if alarm is None:
                alarm = alarms[id_] = Alarm(row)
            if self._hold(alarm, elapsed_s):
                holding.append(row)
                if not held_before:
                    began.append((alarm, values))
        for id_, alarm in alarms.items():
            if id_ not in judged and self._judge_unarmed(alarm, now, notes):
                began.append((alarm, self._conditions[id_][0](now, notes) or {}))
        if began:
            self._announce(began, now_s)
        if alarms:
            self._tidy(now_s)
        return holding

    def _judge_unarmed(self, alarm: Alarm, now: Situation, notes: Notes) -> bool:
        """Whether a trip's cause has come back while tripped; outside of its states no other row holds."""
        cause = alarm.cause
        if now.state is State.TRIPPED and cause.holds_in_trip and alarm.state is not AlarmState.NORMAL:
            held_before = alarm.holds
            begins, goes_on = self._conditions[cause.id]
            if (goes_on if held_before else begins)(now, notes) is not None:
                alarm.gone_s, alarm.holds = None, True
                return not held_before
        self._release(alarm, now.now_s)
        return False

    def _hold(self, alarm: Alarm, elapsed_s: float) -> bool:
        """Note that the condition is true; whether it has been for long enough to count."""
        alarm.gone_s = None
        if not alarm.holds:
            alarm.beyond_s = 0.0 if alarm.beyond_s is None else alarm.beyond_s + elapsed_s
            alarm.holds = alarm.beyond_s >= self._delays_s[alarm.cause.id] - ROUNDING_S
        return alarm.holds

    def _release(self, alarm: Alarm, now_s: float, elapsed_s: float = math.inf) -> None:
        """Note that the condition is not true; where it is not judged, no part of its delay is kept."""
        left_s = -math.inf if alarm.holds or alarm.beyond_s is None else alarm.beyond_s - elapsed_s
        alarm.beyond_s = left_s if left_s > 0 else None
        if not alarm.holds:
            return
        if alarm.gone_s is None:
            alarm.gone_s = now_s
        if now_s - alarm.gone_s < alarm.cause.clear_s:
            return
        alarm.holds = False
        if alarm.state is AlarmState.UNACKNOWLEDGED:
            self._to(alarm, AlarmState.RETURNED)
        elif alarm.state in (AlarmState.ACKNOWLEDGED, AlarmState.SUPPRESSED):
            self._to(alarm, AlarmState.LATCHED if alarm.cause.latched else AlarmState.NORMAL)

    # ---- raising and clearing ------------------------------------------------------------------------

    def _announce(self, began: list[tuple[Alarm, Values]], now_s: float) -> None:
        """Raise what has begun to hold: what another has brought with it comes after that one, and under it."""
        ids = {alarm.cause.id for alarm, _ in began}
        for alarm, values in sorted(began, key=lambda item: not ids.isdisjoint(item[0].cause.consequence_of)):
            alarm.values, alarm.raised_s = values, now_s
            if alarm.state in (AlarmState.SHELVED, AlarmState.OUT_OF_SERVICE):
                continue
            alarm.suppressed_by = self._root_of(alarm.cause, now_s)
            self._silenced.discard(alarm.cause.id)
            self._to(alarm, AlarmState.SUPPRESSED if alarm.suppressed_by else AlarmState.UNACKNOWLEDGED)
            self._gather(alarm, now_s)

    def _root_of(self, cause: AlarmDefinition, now_s: float) -> str | None:
        """The alarm that has brought this one with it, if one stands."""
        roots = [alarm for id_ in cause.consequence_of if (alarm := self._alarms.get(id_)) and _stands(alarm, now_s)]
        if not roots:
            return None
        first = min(roots, key=lambda alarm: alarm.raised_s)
        return first.suppressed_by or first.cause.id

    def _gather(self, root: Alarm, now_s: float) -> None:
        """Take what was raised shortly before its own cause under that cause."""
        for alarm in self._alarms.values():
            recent = now_s - alarm.raised_s <= TOGETHER_S
            if root.cause.id in alarm.cause.consequence_of and alarm.state is AlarmState.UNACKNOWLEDGED and recent:
                alarm.suppressed_by = root.suppressed_by or root.cause.id
                if alarm.suppressed_by != alarm.cause.id:
                    self._to(alarm, AlarmState.SUPPRESSED)

    def _tidy(self, now_s: float) -> None:
        """End shelving whose time is over, show alarms whose first cause is gone, forget what is normal."""
        for id_, alarm in list(self._alarms.items()):
            if alarm.state is AlarmState.SHELVED and now_s >= (alarm.shelved_until_s or 0.0):
                self._show_again(alarm)
            if alarm.state is AlarmState.SUPPRESSED and not self._is_present(alarm.suppressed_by):
                self._leave_behind(alarm)
            if alarm.state is AlarmState.NORMAL and alarm.beyond_s is None and not alarm.holds:
                del self._alarms[id_]

    def _show_again(self, alarm: Alarm) -> None:
        """Raise what was set aside if its cause is there now; a cause that is about to clear is not raised again."""
        alarm.holds = alarm.holds and alarm.gone_s is None
        self._to(alarm, AlarmState.UNACKNOWLEDGED if alarm.holds else AlarmState.NORMAL)

    def _leave_behind(self, alarm: Alarm) -> None:
        """The alarm it was listed under is over. A trip still has to be acknowledged and reset."""
        if alarm.cause.latched:
            self._to(alarm, AlarmState.UNACKNOWLEDGED)
        else:
            self._show_again(alarm)

    def _is_present(self, cause: str | None) -> bool:
        root = self._alarms.get(cause or "")
        return root is not None and root.state is not AlarmState.NORMAL

    def _to(self, alarm: Alarm, state: AlarmState) -> None:
        alarm.state = state
        if state is not AlarmState.SUPPRESSED:
            alarm.suppressed_by = None
        self.changes.append(Change(alarm.cause.id, state, alarm.cause.priority, alarm.values, alarm.suppressed_by))

    def take_changes(self) -> list[Change]:
        """What has changed since the last call."""
        changes, self.changes = self.changes, []
        return changes

    # ---- operator actions -------------------------------------------------------------------------------

    def restore(self, cause: str, now_s: float, values: Values | None = None) -> None:
        """Take up a latched trip from before a restart: its cause is gone, its acknowledgement is not known."""
        present = self._alarms.get(cause)
        if present is not None and present.state in WAITING:
            return
        row = DEFINITIONS.get(cause, AlarmDefinition(cause, Effect.TRIP, Priority.HIGH, frozenset()))
        alarm = self._alarms[cause] = Alarm(row, values=values or {}, raised_s=now_s)
        self._to(alarm, AlarmState.RETURNED)

    def acknowledge(self, cause: str | None, *, but: Collection[str] = ()) -> list[str]:
        """A person has seen it (all, when no cause is named, except those in `but`); the ids that this changed."""
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

    def take_out_of_service(self, cause: str) -> None:
        """Hide an alarm without effect until it is put back."""
        self._to(self._alarms.setdefault(cause, Alarm(DEFINITIONS[cause])), AlarmState.OUT_OF_SERVICE)

    def put_back(self, cause: str) -> None:
        """Take an alarm into service again; if its cause holds, it is raised."""
        self._show_again(self._alarms[cause])

    def reset(self) -> None:
        """Reset every latched trip."""
        for alarm in self._alarms.values():
            if alarm.state is AlarmState.LATCHED:
                self._to(alarm, AlarmState.NORMAL)

    def get(self, cause: str) -> Alarm | None:
        """The alarm of a cause that is neither normal nor out of service."""
        alarm = self._alarms.get(cause)
        return alarm if alarm is not None and alarm.state not in SILENT else None

    @property
    def alarms(self) -> list[Alarm]:
        """All that are neither normal nor out of service: the most pressing first, what is set aside last."""
        return sorted((alarm for alarm in self._alarms.values() if alarm.state not in SILENT), key=_pressing_first)

    @property
    def trips(self) -> list[Alarm]:
        """Every trip that has not been reset."""
        trips = [
            alarm for alarm in self._alarms.values() if alarm.cause.effect is Effect.TRIP and alarm.state not in SILENT
        ]
        return sorted(trips, key=_pressing_first)

    def _sounding(self) -> dict[str, Priority]:
        return {
            alarm.cause.id: alarm.cause.priority
            for alarm in self._alarms.values()
            if alarm.state in WAITING and alarm.cause.id not in self._silenced
        }

    def buzzer(self, now_s: float) -> bool:
        """Whether the buzzer sounds at this moment."""
        sounding = self._sounding()
        return bool(sounding) and _pattern(set(sounding.values()), now_s)

    def beacon(self, now_s: float) -> bool:
        """Whether the beacon is lit at this moment: as the buzzer, but steady once everything is acknowledged."""
        alarms = [
            alarm for alarm in self._alarms.values() if alarm.state not in UNSEEN and alarm.cause.priority in PRESSING
        ]
        waiting = {alarm.cause.priority for alarm in alarms if alarm.state in WAITING}
        return _pattern(waiting, now_s) if waiting else bool(alarms)


PATTERNS: Mapping[Priority, tuple[float, tuple[tuple[float, float], ...]]] = {
    Priority.URGENT: (1.0, ((0.0, 0.15), (0.3, 0.45), (0.6, 0.75))),
    Priority.HIGH: (4.0, ((0.0, 0.4), (0.8, 1.2))),
    Priority.LOW: (60.0, ((0.0, 0.2),)),
}
"""Buzzer and beacon: a period in s and the spans within it that sound. Three quick, two slow, one a minute. Told apart
by ear in the dark (chosen)."""


def _pattern(priorities: set[Priority], now_s: float) -> bool:
    for priority, (period_s, spans) in PATTERNS.items():
        if priority in priorities:
            phase_s = now_s % period_s
            return any(start <= phase_s < end for start, end in spans)
    return False


def _pressing_first(alarm: Alarm) -> tuple[bool, int, float]:
    return alarm.state in SET_ASIDE, PRIORITY_ORDER.index(alarm.cause.priority), alarm.raised_s


def _stands(alarm: Alarm, now_s: float) -> bool:
    """Whether others may be listed under the alarm: it holds, is a trip not reset, or has only just gone."""
    if alarm.state in (AlarmState.NORMAL, AlarmState.SHELVED, AlarmState.OUT_OF_SERVICE):
        return False
    just_gone = alarm.gone_s is not None and now_s - alarm.gone_s <= TOGETHER_S
    return alarm.holds or alarm.cause.latched or just_gone


def alarm_message(alarm: Alarm, now_s: float) -> AlarmNow:
    """As the link carries it."""
    return {
        "id": alarm.cause.id,
        "state": alarm.state,
        "priority": alarm.cause.priority,
        "since_s": round(now_s - alarm.raised_s, 2),
        "under": alarm.suppressed_by,
        "values": dict(alarm.values),
    }
