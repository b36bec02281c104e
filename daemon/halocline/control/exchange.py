"""What the loop and housekeeping hand to each other: values only, so that neither waits for the other."""

from dataclasses import dataclass, field
from typing import Any

from halocline.control.inputs import Command, Reason
from halocline.control.orders import ToFile
from halocline.control.retained.retained_state import RetainedState
from halocline.link.snapshot import SnapshotNow


@dataclass(slots=True)
class World:
    """What the loop has to know of the computer: set by housekeeping, read by the loop."""

    clock_set: bool = True
    wall_s: float | None = None
    supply_voltage_low: bool = False
    latch_writable: bool = True

    def tell_time(self, wall_s: float | None) -> None:
        """The wall-clock time, None while the computer's clock is not set."""
        self.wall_s, self.clock_set = wall_s, wall_s is not None

    def tell_latch_writable(self, writable: bool) -> None:
        """Whether what must survive a restart can be put on file."""
        self.latch_writable = writable


@dataclass(slots=True)
class News:
    """What housekeeping has to pass on: values only, encoded by housekeeping."""

    mono_s: float
    events: list[dict[str, Any]] = field(default_factory=list)
    answers: list[tuple[str, bool, list[Reason]]] = field(default_factory=list)
    retained: RetainedState | None = None
    persist: list[tuple[Command, ToFile]] = field(default_factory=list)
    now: SnapshotNow | None = None
    row: dict[str, Any] | None = None
    simulate: list[Command] = field(default_factory=list)

    @property
    def empty(self) -> bool:
        """Whether there is nothing to pass on."""
        return not (
            self.events or self.answers or self.retained or self.persist or self.now or self.row or self.simulate
        )
