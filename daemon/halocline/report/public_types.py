"""The snapshot that people and programs get: every key, with its type.

`report/public.py` makes it. The API's models, the page's types and the schema at the broker are made from it.
"""

from collections.abc import Mapping
from typing import Literal, TypedDict

from halocline.link.snapshot import (
    AttendanceNow,
    Drive,
    Duties,
    FlushAloneFigures,
    Locked,
    PurgeFigures,
    ReadingNow,
    RunNow,
    Values,
)
from halocline.plant.alarms import AlarmState, Priority
from halocline.plant.vocabulary import Part, State
from halocline.plant.words import AskPlace

ConditionId = Literal[
    "control_configuration",
    "control_cannot_start",
    "control_down",
    "control_silent",
    "configuration_next",
    "report_configuration",
    "certificate",
    "record_unavailable",
    "record_behind",
    "record_note",
]


class LinkState(TypedDict):
    """Whether control is heard."""

    control: Literal["live", "lost"]
    age_s: float | None


class PublicAsk(TypedDict):
    """What only a person can do, now; `place` is where the sentence says it too."""

    id: str
    text: str | None
    place: AskPlace


class PublicAlarm(TypedDict):
    """An alarm that is not normal; `since` is null while the clock is not set. `under` is the alarm that has brought
    this one with it, while it is suppressed; `part` is where the page's drawing marks it."""

    id: str
    name: str
    state: AlarmState
    priority: Priority
    since: str | None
    since_s: float | None
    values: Values
    under: str | None
    part: Part | None
    means: str
    ignored: str
    do: str


class OutOfService(TypedDict):
    """An alarm that a person has taken out of service, and why; `since` is null without a clock."""

    id: str
    name: str
    who: str
    why: str
    since: str | None


class EndTest(TypedDict):
    """A test that a person confirms at the end of a purge: its id, and the statement in words."""

    id: str
    text: str


class Purge(PurgeFigures):
    """What first water still has to be purged of (`also`: of an earlier purge; `named`: all of it in words), the tests
    that end it, and what speaks against confirming them now."""

    named: str
    tests: list[EndTest]
    not_now: list[str]


class Owed(Duties):
    """What the plant still needs. `chlorine`: the flush water may carry chlorine, which blocks every flush."""

    purge: Purge | None


class FlushAlone(FlushAloneFigures):
    """Flushes that nobody orders: the consent in force, if one is, and what speaks against the next one now. `next` and
    the consent's `until` are null while the clock is not set."""

    by: str | None
    until: str | None
    left_l: float | None
    failures: int
    next: str | None
    not_now: list[str]


class StartQuestion(TypedDict):
    """A statement that a start asks a person to confirm."""

    id: str
    text: str


class GivenReason(TypedDict):
    """Something that the configuration lets the plant do, and why, in the owner's words."""

    id: str
    means: str
    why: str


class UnitChoice(TypedDict):
    """The units people see; the numbers here keep theirs."""

    pressure: Literal["bar", "psi"]
    volume: Literal["L", "gal"]
    temperature: Literal["C", "F"]
    salt: Literal["mg/L", "uS/cm"]


class ConfigurationProblem(TypedDict):
    """One thing wrong with the configuration file; `key` is empty where the file as a whole is at fault."""

    file: str
    line: int | None
    key: str
    found: str
    allowed: str
    do: str


class PublicCondition(TypedDict):
    """What is wrong on the computer's side, gravest first. While control is not heard exactly one of the ids
    `control_…` says why; `problems` lists a configuration's."""

    id: ConditionId
    means: str
    do: str
    problems: list[ConfigurationProblem]


class Framed(TypedDict):
    """What stands around every snapshot, whether or not control is heard."""

    schema: Literal[1]
    boat: str
    simulated: bool
    link: LinkState
    problems: list[str]
    conditions: list[PublicCondition]
    units: UnitChoice
    version: str


class PassedOn(TypedDict):
    """What control says and report passes on as it is; null with the link lost."""

    boot: str | None
    seq: int | None
    uptime_s: float | None
    state: State | None
    since_s: float | None
    first_out: str | None
    run: RunNow | None
    attendance: AttendanceNow | None
    locked: Locked | None
    limits: dict[str, float] | None
    drive: Drive | None


class Known(Framed, PassedOn):
    """Everything known at one moment. With the link lost the values are null. `run_takes_wh`: what the run that goes on
    will still take from the battery, foreseen by the pump's power; null where its end is not known."""

    time: str | None
    sentence: str
    run_takes_wh: float | None
    ask: PublicAsk | None
    readings: Mapping[str, ReadingNow]
    contacts: Mapping[str, bool | None]
    derived: Mapping[str, float | None]
    outputs: Mapping[str, bool | None]
    alarms: list[PublicAlarm] | None
    out_of_service: list[OutOfService] | None
    owed: Owed | None
    flush_alone: FlushAlone | None
    allowed_commands: list[str]
    refused: dict[str, list[str]]
    refused_ids: dict[str, list[str]]
    given_reasons: list[GivenReason]
    questions: list[StartQuestion]


class LastKnown(Known):
    """The last thing heard before the link was lost. It is past."""

    last: None


class PublicSnapshot(Known):
    """The present; the last known past stands under `last` while the link is lost."""

    last: LastKnown | None
