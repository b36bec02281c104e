"""What must survive a restart of control, as one checked file.

A file that cannot be read back exactly is treated as the worst news it could carry: tripped, with flush and purge
owed, and with a motor that has just been too warm. What a file from an older version of the program does not tell is
counted as the worst, one thing at a time.
"""

import logging
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from halocline.control.retained import checked_file
from halocline.control.retained.checked_file import Unreadable
from halocline.plant.former_names import renamed
from halocline.plant.regular_file import OURS_MOST_BYTES, read_regular
from halocline.plant.settings import Settings
from halocline.plant.thresholds import PURGE_PRESERVATIVE_S, PURGE_S

VERSION = 2
"""Of the file's form; in the first some channels and causes had other names (chosen)."""
UNKNOWN = "unknown"

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Trip:
    """A trip that has not been reset: its cause, and the numbers that its text needs."""

    cause: str
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class CutOff:
    """Control ended in the middle of something, and no person has acknowledged it since.

    during: the state it was in, or `UNKNOWN`. computer: whether the whole computer was started anew, None where that
    cannot be told. on_purpose: it had been told to end.
    """

    during: str
    computer: bool | None = None
    on_purpose: bool = False


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment by the computer's clocks: `wall_s` is unix time, None while it is not set; `mono_s` counts from the
    start of the computer that `host_boot` names."""

    wall_s: float | None = None
    mono_s: float | None = None
    host_boot: str = ""

    def same_start(self, other: "Moment") -> bool | None:
        """Whether both are of one start of the computer; None where that cannot be told."""
        return self.host_boot == other.host_boot if self.host_boot and other.host_boot else None


@dataclass(frozen=True, slots=True)
class Purge:
    """First water that must not be drunk: what it is purged of and what is still to do.

    `rinsed_l` of the low-pressure rinse, `left_s` of product overboard, `confirmed` by a person at the end. `also` is
    what an earlier purge was of that has not been confirmed.
    """

    of: str
    rinsed_l: float = 0.0
    left_s: float = PURGE_PRESERVATIVE_S
    confirmed: bool = False
    also: tuple[str, ...] = ()

    @property
    def kinds(self) -> tuple[str, ...]:
        """All that it is purged of."""
        return (self.of, *self.also)


def new_purge(settings: Settings, of: str, owed: Purge | None) -> Purge:
    """A purge not yet begun; one that is owed already goes on as part of it, with its time and its end test."""
    sequence = settings.sequence
    whole_s = sequence.purge_preservative_s if of == "preservative" else sequence.purge_s
    if owed is None:
        return Purge(of, left_s=whole_s)
    also = tuple(kind for kind in owed.kinds if kind != of)
    return Purge(of, left_s=max(whole_s, owed.left_s), also=also)


@dataclass(frozen=True, slots=True)
class Lock:
    """A person has a housing open."""

    name: str
    reason: str


@dataclass(frozen=True, slots=True)
class Usual:
    """What this membrane usually gives of what its model expects: shares of flow and salt, 1 where the model is
    right."""

    membrane: str
    flow: float | None = None
    salt: float | None = None


@dataclass(frozen=True, slots=True)
class OutOfService:
    """An alarm that a person has taken out of service: who, why, and when (unix time, None without a clock)."""

    alarm: str
    who: str
    why: str
    wall_s: float | None = None


@dataclass(frozen=True, slots=True)
class FlushConsent:
    """A person's standing consent to flushes that nobody orders: who gave it, until when (unix time), and how many
    litres of it are left. A flush is charged as it is announced, and counts as failed until it is done. ended: the
    reason's id once it is over, until a person has seen that."""

    name: str
    until_wall_s: float
    left_l: float
    failures: int = 0
    ended: str | None = None


@dataclass(frozen=True, slots=True)
class RetainedState:
    """Everything that survives a restart of control.

    under_way: the state of the sequence while it is not at rest. closed: control ended because it was told to.
    `idle_s`, `laid_up_s`, `pump_starts_ago_s` and `motor_hot_ago_s` are ages at the moment `saved`, None where that
    is not known. `motor_worked_s` is how long the high-pressure pump's motor has worked without a rest;
    `motor_hot_ago_s` is None once it has cooled. `trips_proved_wall_s`: unix time of the last proof test that was
    passed, None where none is known. `flush_tried_ago_s`: since the last flush by itself began, None for a day or
    longer. way_out_open: the last flush has shown that the regulator is open.
    """

    trips: tuple[Trip, ...] = ()
    first_out: str | None = None
    laid_up: bool = False
    laid_up_with: str | None = None
    laid_up_s: float | None = None
    lock: Lock | None = None
    flush_owed: bool = False
    purge: Purge | None = None
    circuit_opened: bool = False
    chlorine_suspected: bool = False
    under_way: str | None = None
    cut_off: CutOff | None = None
    closed: bool = True
    idle_s: float | None = None
    pump_starts_ago_s: tuple[float, ...] = ()
    usual: Usual | None = None
    out_of_service: tuple[OutOfService, ...] = ()
    motor_worked_s: float = 0.0
    motor_hot_ago_s: float | None = None
    run_number: int = 0
    trips_proved_wall_s: float | None = None
    flush_consent: FlushConsent | None = None
    flush_tried_ago_s: float | None = None
    way_out_open: bool = False
    saved: Moment = Moment()


WORST = RetainedState(
    trips=(Trip("latch_unreadable"),),
    flush_owed=True,
    purge=Purge(of="preservative", left_s=PURGE_S, also=("glycol", "new_element", "cleaning")),
    circuit_opened=True,
    chlorine_suspected=True,
    cut_off=CutOff(UNKNOWN),
    closed=False,
    motor_hot_ago_s=0.0,
    flush_tried_ago_s=0.0,
)
"""What a file that cannot be read is taken for: everything that it could say, in its worst form (chosen)."""


def with_changes(retained: RetainedState, **changes: Any) -> RetainedState:
    """The same object where nothing of it changes, which is so in most ticks: a copy costs as much as a dozen of its
    comparisons, and what is the same object need not be looked at to know that there is nothing to write."""
    for name, value in changes.items():
        if getattr(retained, name) != value:
            return replace(retained, **changes)
    return retained


def with_consent_ended(retained: RetainedState, why: str) -> RetainedState:
    """The same with a consent that is over, for the first reason given; without one there is nothing to end."""
    consent = retained.flush_consent
    if consent is None or consent.ended is not None:
        return retained
    return replace(retained, flush_consent=replace(consent, ended=why))


def off_s(retained: RetainedState, now: Moment) -> float | None:
    """How long control was away since the latch was written; None where that cannot be known.

    While the computer stays up its own count is right, however its wall clock is set. Otherwise the wall clock
    must have been set both times, and one that went backwards was wrong at least once.
    """
    if retained == RetainedState():
        return 0.0
    saved = retained.saved
    if saved.same_start(now) and saved.mono_s is not None and now.mono_s is not None and now.mono_s >= saved.mono_s:
        return now.mono_s - saved.mono_s
    if saved.wall_s is None or now.wall_s is None or now.wall_s < saved.wall_s:
        return None
    return now.wall_s - saved.wall_s


def plain(values: Mapping[str, Any]) -> dict[str, Any]:
    """The values as a file can hold them: a number that is none is not known."""
    return {
        key: None if isinstance(value, float) and not math.isfinite(value) else value for key, value in values.items()
    }


def encode(retained: RetainedState) -> bytes:
    """The file's content."""
    return checked_file.encode(VERSION, asdict(retained))


def decode(content: bytes) -> RetainedState:
    """The latch in a file's content. Raises `Unreadable` for anything that no version of `encode` wrote."""
    version, document = checked_file.decode(content)
    if version not in (1, VERSION):
        raise Unreadable(f"it is of version {version}, which this program does not know")
    try:
        if version == 1:
            log.warning("what the plant remembers is of version 1: what it does not tell is counted as the worst")
            document = _from_version_1(document)
        return _retained(document)
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise Unreadable(str(error)) from error


def _purge(*, also: Sequence[str] = (), **values: Any) -> Purge:
    return Purge(**values, also=tuple(also))


def _retained(document: Mapping[str, Any]) -> RetainedState:
    """The latch that a document tells; what it leaves out is the worst. Raises TypeError for an unknown entry."""
    told: dict[str, Any] = {}
    for key, value in document.items():
        made = _ENTRIES.get(key)
        if isinstance(value, list):
            told[key] = tuple(made(**item) if made else item for item in value)
        else:
            told[key] = made(**value) if made and value is not None else value
    return replace(WORST, **told)


_ENTRIES: Mapping[str, Callable[..., Any]] = {
    "trips": Trip,
    "lock": Lock,
    "purge": _purge,
    "cut_off": CutOff,
    "usual": Usual,
    "out_of_service": OutOfService,
    "flush_consent": FlushConsent,
    "saved": Moment,
}
"""What is made of the entries of a document that are more than numbers and texts."""


def _from_version_1(document: Mapping[str, Any]) -> dict[str, Any]:
    """A document of version 1 in present terms.

    Version 1 forgot at the second restart that a run had been cut off, so a file that says "at rest" proves nothing.
    It kept no numbers with its trips, and named some causes otherwise.
    """
    old = {key: value for key, value in document.items() if key not in ("clean_stop", "extra", "saved_wall_s")}
    old["under_way"] = None if document.get("clean_stop") else UNKNOWN
    if "trips" in old:
        old["trips"] = [asdict(Trip(renamed(cause))) for cause in old["trips"]]
    if old.get("first_out"):
        old["first_out"] = renamed(old["first_out"])
    if "out_of_service" in old:
        old["out_of_service"] = [
            {**withdrawn, "alarm": renamed(withdrawn["alarm"])} for withdrawn in old["out_of_service"]
        ]
    return {**old, "saved": asdict(Moment(document.get("saved_wall_s")))}


def read(path: Path) -> RetainedState:
    """The latch on file; the worst one where it cannot be read or is gone, a fresh one where there never was one."""
    try:
        return decode(read_regular(path, OURS_MOST_BYTES, follow=False))
    except FileNotFoundError:
        if not checked_file.is_lost(path):
            return RetainedState()
        log.error("%s is gone: the worst is assumed", path)
        return WORST
    except (OSError, Unreadable) as error:
        log.error("%s cannot be read (%s): the worst is assumed", path, error)
        return WORST
