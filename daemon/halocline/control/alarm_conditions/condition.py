"""The forms a condition takes. It answers None while all is well, else the numbers that its text needs.

The dead band is how far a value has to come back inside its limit before a cause that holds is over; it stands in the
table of causes, and so do the delays.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from halocline.control.situation import Situation

Values = Mapping[str, Any]


@dataclass(slots=True)
class Notes:
    """What happened and stays worth an alarm until something ends it: id → values."""

    standing: dict[str, Values] = field(default_factory=dict)

    def set(self, cause: str, values: Values | None = None) -> None:
        """Note that `cause` holds from now on."""
        self.standing[cause] = dict(values or {})

    def clear(self, cause: str) -> None:
        """Note that `cause` is over."""
        self.standing.pop(cause, None)


Condition = Callable[[Situation, Notes], Values | None]
"""Whether a cause holds now, with its numbers: as it stands a fact, where no value could waver about a limit."""


class Measured(ABC):
    """A condition on a measured value, which has to come back by a dead band before it is over."""

    __slots__ = ()

    def __call__(self, now: Situation, notes: Notes, /) -> Values | None:
        """Value, limit and further numbers while the value is beyond the limit."""
        return self.within(0.0)(now, notes)

    @abstractmethod
    def within(self, dead_band: float) -> Condition:
        """The same with the limit moved by the dead band: that it goes on, once it holds."""


def _nothing_more(_now: Situation, _notes: Notes) -> Values:
    return {}


@dataclass(frozen=True, slots=True)
class Level(Measured):
    """A measured quantity beyond its limit: above it, or below it where `above` is false.

    keys: what value and limit are called in the numbers. when: asked besides. more: further numbers.
    unknown_holds: a value that is not known counts as beyond the limit.
    """

    value: Callable[[Situation], float | None]
    limit: Callable[[Situation], float]
    keys: tuple[str, str]
    above: bool = True
    when: Callable[[Situation, Notes], bool] | None = None
    more: Callable[[Situation, Notes], Values] = _nothing_more
    unknown_holds: bool = False

    def within(self, dead_band: float) -> Condition:
        """The same with the limit moved by `dead_band`. Made once and asked in every tick: what is cheap and mostly
        settles it comes first."""
        value_of, limit_of, when, more = self.value, self.limit, self.when, self.more
        above, unknown_holds, (value_key, limit_key) = self.above, self.unknown_holds, self.keys

        def holds(now: Situation, notes: Notes) -> Values | None:
            value = value_of(now)
            if value is None and not unknown_holds:
                return None
            limit = limit_of(now)
            if value is not None and not (value > limit - dead_band if above else value < limit + dead_band):
                return None
            if when is not None and not when(now, notes):
                return None
            return {value_key: value, limit_key: limit, **more(now, notes)}

        return holds


def contact(name: str) -> Condition:
    """A fitted contact is open."""
    return lambda now, _notes: {"contact": name} if now.inputs.active.get(name) else None


def noted(cause: str) -> Condition:
    """The cause was noted and has not been cleared since."""
    return lambda _now, notes: notes.standing.get(cause)


def known(channel: str) -> Callable[[Situation], float | None]:
    """The channel's value where it carries one, at the end of its span too."""

    def value(now: Situation) -> float | None:
        reading = now.inputs.readings.get(channel)
        return None if reading is None else reading.value

    return value


def over(channel: str, limit: Callable[[Situation], float], keys: tuple[str, str]) -> Level:
    """The channel reads more than the limit."""
    return Level(known(channel), limit, keys)


def below(channel: str, limit: Callable[[Situation], float], keys: tuple[str, str]) -> Level:
    """The channel reads less than the limit."""
    return Level(known(channel), limit, keys, above=False)
