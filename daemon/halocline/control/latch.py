"""What must survive a restart of control, as one checked file.

A file that cannot be read back exactly is treated as the worst news it could carry: tripped, with flush and purge
owed, and with a motor that has just been too warm.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, fields, replace
from pathlib import Path
from typing import Any

from halocline.control import checked_file
from halocline.control.checked_file import Unreadable

VERSION = 1


@dataclass(frozen=True, slots=True)
class Purge:
    """First water that must not be drunk: what it is purged of and what is still to do.

    `rinsed_l` of the low-pressure rinse, `left_s` of product overboard, `confirmed` by a person at the end. `also` is
    what an earlier purge was of that nobody has confirmed.
    """

    of: str
    rinsed_l: float = 0.0
    left_s: float = 1800.0
    confirmed: bool = False
    also: tuple[str, ...] = ()

    @property
    def kinds(self) -> tuple[str, ...]:
        """All that it is purged of."""
        return (self.of, *self.also)


@dataclass(frozen=True, slots=True)
class Lock:
    """Somebody has a housing open."""

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
    """An alarm that somebody has taken out of service: who, why, and when (unix time, None without a clock)."""

    alarm: str
    who: str
    why: str
    wall_s: float | None = None


@dataclass(frozen=True, slots=True)
class Latch:
    """Everything control remembers across a restart.

    `idle_s`, `pump_starts_ago_s` and `motor_hot_ago_s` are ages when the file was written, at `saved_wall_s` (unix
    time, None while the clock was not set). `motor_worked_s` is how long the high-pressure pump's motor has worked
    without a rest; `motor_hot_ago_s` is None once it has cooled.
    """

    trips: tuple[str, ...] = ()
    first_out: str | None = None
    laid_up: bool = False
    laid_up_with: str | None = None
    lock: Lock | None = None
    flush_owed: bool = False
    purge: Purge | None = None
    circuit_opened: bool = False
    chlorine_suspected: bool = False
    clean_stop: bool = True
    idle_s: float | None = None
    pump_starts_ago_s: tuple[float, ...] = ()
    usual: Usual | None = None
    out_of_service: tuple[OutOfService, ...] = ()
    motor_worked_s: float = 0.0
    motor_hot_ago_s: float | None = None
    saved_wall_s: float | None = None
    run_number: int = 0
    extra: dict[str, Any] = field(default_factory=dict)


WORST = Latch(
    trips=("latch_unreadable",),
    flush_owed=True,
    purge=Purge(of="preservative", left_s=3600.0, also=("glycol", "new_element", "cleaning")),
    circuit_opened=True,
    chlorine_suspected=True,
    clean_stop=False,
    motor_hot_ago_s=0.0,
)


def off_s(latch: Latch, wall_s: float | None) -> float | None:
    """How long the computer was away since the latch was written; None where one of the clocks was not set."""
    if latch == Latch():
        return 0.0
    if latch.saved_wall_s is None or wall_s is None:
        return None
    return max(0.0, wall_s - latch.saved_wall_s)


def encode(latch: Latch) -> bytes:
    """The file's content."""
    return checked_file.encode(VERSION, asdict(latch))


def decode(content: bytes) -> Latch:
    """The latch in a file's content. Raises `Unreadable` for anything but exactly what `encode` wrote."""
    document = checked_file.decode(VERSION, content)
    try:
        known = {item.name for item in fields(Latch)}
        values: dict[str, Any] = {
            key: tuple(value) if isinstance(value, list) else value for key, value in document.items()
        }
        latch = Latch(**{key: value for key, value in values.items() if key in known})
        return replace(
            latch,
            lock=Lock(**document["lock"]) if document.get("lock") else None,
            purge=_purge(**document["purge"]) if document.get("purge") else None,
            usual=Usual(**document["usual"]) if document.get("usual") else None,
            out_of_service=tuple(OutOfService(**entry) for entry in document.get("out_of_service", ())),
        )
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise Unreadable(str(error)) from error


def _purge(*, also: Sequence[str] = (), **values: Any) -> Purge:
    return Purge(**values, also=tuple(also))


def read(path: Path) -> Latch:
    """The latch on file; the worst one where it cannot be read, a fresh one where there is none."""
    try:
        return decode(path.read_bytes())
    except FileNotFoundError:
        return Latch()
    except (OSError, Unreadable):
        return WORST
