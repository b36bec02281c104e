"""The form of a protection: what the protected thing gets to stand here, against what it can stand.

What it gets to stand is a sum of parts: times on the way from a fault to the relay, or steps between a limit and the
worst that can follow. A part that a file sets carries its key, so that a sum that is too large names what to change.
"""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from halocline.config.checks.ladders import HAIR
from halocline.config.checks.lookup import field_of, named, with_unit
from halocline.config.problems import Finding
from halocline.plant.settings import Settings
from halocline.plant.thresholds import RUN_DOWN_S, TICK_S

ACTS_WITHIN_S = round(3 * TICK_S, 3)
"""Three turns of the loop: to see, to find the debounce over, to find the delay over."""

CONTACTOR_S = 0.05
"""A contactor opens in 20 to 50 ms (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hardware:
    """What no file knows of the parts behind it, s. `pace` is the share of real time in which waits are played."""

    cell_s: float = 10.0
    run_down_s: float = RUN_DOWN_S
    pace: float = 1.0


ABOARD = Hardware()
"""The slowest that is usual: a conductivity cell answers in 5 to 10 s, a pump runs down in 0.1 to 1 s (common
practice)."""

SIMULATED = Hardware(cell_s=1.0, pace=0.1)
"""A simulated boat may be played in a tenth of the time, its cell as well."""


@dataclass(frozen=True, slots=True)
class Part:
    """One addend of a sum, `value` × `factor`; `key` is where a file sets the value, empty where none does."""

    what: str
    value: float
    key: str = ""
    factor: float = 1.0

    @property
    def amount(self) -> float:
        """What it adds, in the sum's unit."""
        return self.value * self.factor


class Shortfall(NamedTuple):
    """A key that leaves a protected thing too much to stand; the smaller `strictness`, the more it has to change."""

    strictness: float
    finding: Finding


def strictest(shortfalls: Iterable[Shortfall]) -> list[Finding]:
    """One line a key: what satisfies the strictest of its protections satisfies the others."""
    kept: dict[str, Shortfall] = {}
    for shortfall in shortfalls:
        key = shortfall.finding.key
        kept[key] = min(shortfall, kept.get(key, shortfall), key=lambda each: each.strictness)
    return [shortfall.finding for shortfall in kept.values()]


Parts = Sequence[Part]
Reach = Callable[[Settings, Hardware], Parts | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Protection:
    """One row. `causes` of the table of causes act; the sum of `parts` must not be more than `stands`.

    `what` is protected against what. `stands` is a figure in `unit`, or the key of a rating; `source` says where it
    comes from, `otherwise` what happens if the sum is larger. `parts` answers None where there is nothing to protect,
    or nothing that could. `aboard_only`: a rehearsal may shorten it at will, for nobody drinks its water.
    """

    id: str
    causes: tuple[str, ...]
    what: str
    unit: str
    stands: float | str
    source: str
    otherwise: str
    parts: Reach
    aboard_only: bool = False

    def limit(self, settings: Settings) -> float:
        """What the protected thing stands, in `unit`: a figure, or what the file says of it."""
        if isinstance(self.stands, float):
            return self.stands
        found = named(settings, self.stands)
        return math.inf if found is None else found.value

    def shortfalls(self, settings: Settings, hardware: Hardware) -> Iterator[Shortfall]:
        """The key to change, where the protected thing would get to stand more than it can."""
        parts = None if self.aboard_only and hardware is not ABOARD else self.parts(settings, hardware)
        if parts is None:
            return
        stands = self.limit(settings)
        over = sum(part.amount for part in parts) - stands
        if over > HAIR * max(1.0, abs(stands)):
            yield self._blame(settings, max(parts, key=lambda part: _excess(settings, part)), over)

    def _blame(self, settings: Settings, part: Part, over: float) -> Shortfall:
        found, lower = named(settings, part.key), part.factor > 0
        assert found is not None, part.key
        bound = _rounded(part.value - over / part.factor, down=lower)
        word, verb = ("at most", "lower") if lower else ("at least", "raise")
        amount = with_unit(bound, field_of(settings, part.key).metadata["unit"])
        allowed, remedy = f"{word} {amount} with the rest as it is", f"{verb} it: {self.otherwise}"
        return Shortfall(bound if lower else -bound, Finding(found.key, found.text, allowed, remedy))


def _excess(settings: Settings, part: Part) -> float:
    """By how much a part is worse than with its key left out; a part without a key is never to blame."""
    if not part.key:
        return -math.inf
    default = field_of(settings, part.key).default
    usual = default if isinstance(default, int | float) else 0.0
    return part.amount - usual * part.factor


def _rounded(value: float, *, down: bool) -> float:
    """To three digits, to the safe side; never below nothing."""
    if value <= 0.0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(value)) - 2)
    return float(f"{(math.floor(value / step + HAIR) if down else math.ceil(value / step - HAIR)) * step:.12g}")
