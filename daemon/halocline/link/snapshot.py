"""The live snapshot as control gives it and the link carries it: every key, with its type.

Control's view makes it, report and the command line read it, and the API's models and the page's types are made from
its parts. Values are ids and numbers.
"""

from collections.abc import Mapping
from typing import Any, NotRequired, TypedDict, cast

from halocline.plant.alarms import AlarmState, Priority
from halocline.plant.settings import PumpDrive, RegulatorDrive
from halocline.plant.vocabulary import Quality, State

Values = dict[str, float | int | str | bool | None]


class ReasonNow(TypedDict):
    """Why something is refused or happened: an id for the words, and the values that belong to it."""

    id: str
    values: dict[str, Any]


class ReadingNow(TypedDict):
    """One channel; `value` is null unless the quality is good, under or over."""

    value: float | None
    raw: float | None
    unit: str
    quality: Quality
    age_s: float | None


class RunNow(TypedDict):
    """The run that goes on."""

    id: str
    litres: float
    target_l: float | None
    seconds: float
    energy_wh: float
    energy_basis: str | None
    remaining_s: float | None


class AlarmNow(TypedDict):
    """An alarm that is not normal; `under` has brought it with it, while it is suppressed."""

    id: str
    state: AlarmState
    priority: Priority
    since_s: float
    under: str | None
    values: Values


class OutOfServiceNow(TypedDict):
    """An alarm that a person has taken out of service, and why."""

    alarm: str
    who: str
    why: str
    wall_s: float | None


class AttendanceAnswer(TypedDict):
    """The command that answers "still there?"."""

    command: str
    alarm: str


class AttendanceNow(TypedDict):
    """Whether the run asks "still there?" now, in how many seconds it will, and how long it waits for an answer."""

    asked: bool
    due_s: float
    answer_left_s: float | None
    answer: AttendanceAnswer


class PurgeFigures(TypedDict):
    """What first water still has to be purged of (`also`: of an earlier purge), and how far that has come."""

    of: str
    also: list[str]
    rinsed_l: float
    rinse_l: float
    left_s: float
    confirm: bool


class PurgeNow(PurgeFigures):
    """With the tests that end it, and what speaks against confirming them now."""

    tests: list[str]
    not_now: list[ReasonNow]


class Duties(TypedDict):
    """What the plant still needs. `chlorine`: the flush water may carry chlorine, which blocks every flush."""

    flush: bool
    chlorine: bool


class OwedNow(Duties):
    """With the purge."""

    purge: PurgeNow | None


class FlushConsentNow(TypedDict):
    """A person's consent to flushes that nobody orders: until when (unix time), litres left, failures in a row."""

    name: str
    until_wall_s: float
    left_l: float
    failures: int


class FlushAloneFigures(TypedDict):
    """Flushes that nobody orders: what each takes, what stays in the tank, in how many
    seconds the next can begin at the earliest (null without consent), and how long its notice still lasts."""

    flush_l: float
    tank_percent: float
    next_s: float | None
    notice_left_s: float | None


class FlushAloneNow(FlushAloneFigures):
    """With the consent that is in force, and what speaks against the next one now."""

    consent: FlushConsentNow | None
    not_now: list[ReasonNow]


class Locked(TypedDict):
    """A person has a housing open."""

    name: str
    reason: str


class Drive(TypedDict):
    """Who switches the pump, and how the pressure is set."""

    pump: PumpDrive
    regulator: RegulatorDrive


class SnapshotNow(TypedDict):
    """Everything that control knows at one tick."""

    simulated: bool
    state: State
    since_s: float
    sentence: ReasonNow
    ask: str | None
    first_out: str | None
    readings: dict[str, ReadingNow]
    contacts: dict[str, bool]
    retries: dict[str, int]
    derived: dict[str, float | None]
    outputs: dict[str, bool]
    run: RunNow | None
    alarms: list[AlarmNow]
    out_of_service: list[OutOfServiceNow]
    attendance: AttendanceNow | None
    owed: OwedNow | None
    flush_alone: FlushAloneNow | None
    locked: Locked | None
    allowed: list[str]
    refused: dict[str, list[ReasonNow]]
    limits: dict[str, float]
    given_reasons: dict[str, str]
    prospect: dict[str, Any]
    drive: Drive | None
    questions: list[str]


class StampedSnapshot(SnapshotNow):
    """As it goes over the link: of which start of control, after which number, when. `shortened`: it was too long."""

    mono_s: float
    wall_s: float | None
    boot: str
    seq: int
    uptime_s: float
    shortened: NotRequired[bool]


_NOTHING: Mapping[str, Any] = {
    "simulated": False,
    "wall_s": None,
    "sentence": {"id": "", "values": {}},
    "readings": {},
    "contacts": {},
    "derived": {},
    "outputs": {},
    "alarms": [],
    "out_of_service": [],
    "owed": None,
    "flush_alone": None,
    "allowed": [],
    "refused": {},
    "given_reasons": {},
    "drive": None,
    "questions": [],
}


def completed(message: Mapping[str, Any]) -> StampedSnapshot:
    """A snapshot from the link, whatever version sent it: what it does not say is nothing."""
    return cast(StampedSnapshot, {**_NOTHING, **message})
