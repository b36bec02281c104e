"""One line of `halocline check`, and all of them as text or as JSON."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from halocline.plant.words.check_texts import CHECK_LABELS, CHECK_TEXTS, CheckState, CheckText

WIDTH = 10
SIMULATED = "SIMULATED: a simulated boat is checked; of this computer only what it needs."


@dataclass(frozen=True, slots=True)
class Line:
    """What was found, by its id in the table of texts. `more`: details, a line each."""

    id: str
    values: Mapping[str, Any] = field(default_factory=dict)
    more: Sequence[str] = ()

    @property
    def text(self) -> CheckText:
        """Its row."""
        return CHECK_TEXTS[self.id]

    @property
    def state(self) -> CheckState:
        """How grave it is."""
        return self.text.state

    @property
    def found(self) -> str:
        """What was found, in words."""
        return self.text.found.format_map(self.values)

    @property
    def do(self) -> str:
        """What to do about it; empty where nothing is to be done."""
        return self.text.do.format_map(self.values)

    def message(self) -> dict[str, Any]:
        """As JSON tells it."""
        return {
            "id": self.id,
            "state": self.state,
            "about": self.text.about,
            "found": self.found,
            "do": self.do,
            "more": list(self.more),
        }


def count(lines: Iterable[Line], state: CheckState) -> int:
    """How many are so grave."""
    return sum(line.state == state for line in lines)


def as_text(lines: Sequence[Line], *, simulated: bool) -> Iterator[str]:
    """For a terminal: a line each, its details below it, and the sum."""
    if simulated:
        yield SIMULATED
    for line in lines:
        yield f"{CHECK_LABELS[line.state]:<{WIDTH}}{line.text.about}: {line.found} {line.do}".rstrip()
        yield from (f"{'':<{WIDTH}}  {detail}" for detail in line.more)
    yield _sum(lines)


def _sum(lines: Sequence[Line]) -> str:
    problems, warnings = count(lines, "problem"), count(lines, "warning")
    found = [f"{n} {word if n == 1 else word + 's'}" for n, word in ((problems, "problem"), (warnings, "warning")) if n]
    return f"{' and '.join(found)}." if found else "Nothing to put right."


def as_message(lines: Sequence[Line], *, simulated: bool, version: str) -> dict[str, Any]:
    """For programs."""
    return {
        "schema": 1,
        "version": version,
        "simulated": simulated,
        "problems": count(lines, "problem"),
        "warnings": count(lines, "warning"),
        "lines": [line.message() for line in lines],
    }
