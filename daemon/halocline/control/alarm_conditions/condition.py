"""The forms a condition takes. It answers None while all is well, else the numbers a tired person needs.

`dead_band` is how far a value has to come back inside its limit before a cause that holds is over; it stands in the
table of causes, and so do the delays.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from halocline.control.situation import Situation

Values = Mapping[str, Any]
Plain = Callable[[Situation, "Notes"], Values | None]


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


class Condition(Protocol):
    """Whether a cause holds now, with its numbers."""

    def __call__(self, now: Situation, notes: Notes, dead_band: float = 0.0, /) -> Values | None: ...


@dataclass(frozen=True, slots=True)
class Fact:
    """Something that is so or is not, where no value could waver about a limit."""

    of: Plain

    def __call__(self, now: Situation, notes: Notes, _dead_band: float = 0.0, /) -> Values | None:
        """Its numbers while it is so."""
        return self.of(now, notes)


def _always(_now: Situation, _notes: Notes) -> bool:
    return True


def _nothing_more(_now: Situation, _notes: Notes) -> Values:
    return {}


@dataclass(frozen=True, slots=True)
class Level:
    """A measured quantity beyond its limit: above it, or below it where `above` is false.

    keys: what value and limit are called in the numbers. when: asked besides. more: further numbers.
    unknown_holds: a value that is not known counts as beyond the limit.
    """

    value: Callable[[Situation], float | None]
    limit: Callable[[Situation], float]
    keys: tuple[str, str]
    above: bool = True
    when: Callable[[Situation, Notes], bool] = _always
    more: Callable[[Situation, Notes], Values] = _nothing_more
    unknown_holds: bool = False

    def __call__(self, now: Situation, notes: Notes, dead_band: float = 0.0, /) -> Values | None:
        """Value, limit and further numbers while the value is beyond the limit."""
        value, limit = self.value(now), self.limit(now)
        if not self.when(now, notes) or (value is None and not self.unknown_holds):
            return None
        if value is not None and not self._beyond(value, limit, dead_band):
            return None
        return {self.keys[0]: value, self.keys[1]: limit, **self.more(now, notes)}

    def _beyond(self, value: float, limit: float, dead_band: float) -> bool:
        return value > limit - dead_band if self.above else value < limit + dead_band


def contact(name: str) -> Fact:
    """A fitted contact is open."""
    return Fact(lambda now, _notes: {"contact": name} if now.active(name) else None)


def noted(cause: str) -> Fact:
    """Somebody noted it."""
    return Fact(lambda _now, notes: notes.standing.get(cause))


def known(channel: str) -> Callable[[Situation], float | None]:
    """The channel's value where it carries one, at the end of its span too."""
    return lambda now: now.known(channel)


def over(channel: str, limit: Callable[[Situation], float], keys: tuple[str, str]) -> Level:
    """The channel reads more than the limit."""
    return Level(known(channel), limit, keys)


def below(channel: str, limit: Callable[[Situation], float], keys: tuple[str, str]) -> Level:
    """The channel reads less than the limit."""
    return Level(known(channel), limit, keys, above=False)
