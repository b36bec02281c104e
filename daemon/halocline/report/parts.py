"""How each part of report does, for whoever watches over it from outside."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

PartName = Literal["control", "record", "mqtt"]
PartState = Literal["ok", "waiting", "failing", "off"]
"""waiting: it does what it can, and what it needs from outside is not there. off: the settings do not want it."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part now; `problem` is a sentence for people, None while all is well."""

    state: PartState
    problem: str | None = None


OFF = Part("off")

Parts = Mapping[PartName, Part]


def well(parts: Parts) -> bool:
    """Whether no part fails. A broker that is away is none of ours, and no start of ours brings it back."""
    return all(part.state != "failing" for part in parts.values())


def of_peer(alive: bool, connected: bool, problem: str | None) -> Part:
    """A part that speaks to another program outside; `alive`: its thread lives."""
    if not alive:
        return Part("failing", "Its thread has ended; start report anew.")
    return Part("ok" if connected and problem is None else "waiting", problem)


AskPart = Callable[[], Part]
