"""What the commands of one tick come to, for all that follows in it."""

from dataclasses import dataclass, field
from typing import Any

from halocline.control.calibration.calibration_command import Made
from halocline.control.calibration.calibration_store import Calibrations
from halocline.control.inputs import Command, Reason
from halocline.control.retained.retained_state import RetainedState

ToFile = RetainedState | Made
"""What has to be on file before a command counts: the retained state with it, or a change of the calibrations."""


@dataclass(slots=True)
class Orders:
    """What the commands of one tick come to. `persist`: what has to be on file first; None stands for the retained
    state with it."""

    accepted: set[str] = field(default_factory=set)
    commands: dict[str, Command] = field(default_factory=dict)
    stop: bool = False
    who: str = ""
    events: list[dict[str, Any]] = field(default_factory=list)
    answers: list[tuple[str, bool, list[Reason]]] = field(default_factory=list)
    persist: list[tuple[Command, Made | None]] = field(default_factory=list)
    calibrations: Calibrations | None = None
    simulate: list[Command] = field(default_factory=list)

    def order_stop(self, who: str) -> None:
        """Stop, whatever else was ordered."""
        self.stop, self.who = True, who

    def put_in_force(self, calibrations: Calibrations) -> None:
        """These calibrations are in force from this tick on."""
        self.calibrations = calibrations

    def command(self, name: str) -> Command | None:
        """The accepted command of that name."""
        return self.commands.get(name)
