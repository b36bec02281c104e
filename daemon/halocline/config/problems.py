"""What is wrong with a configuration, in words a person can act on."""

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, time
from difflib import get_close_matches
from json import dumps
from typing import Any, NamedTuple

LONGEST_SHOWN = 60
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


class Finding(NamedTuple):
    """One thing wrong, before it is known in which file."""

    key: str
    found: str
    allowed: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a file: where, what was found, what is allowed, what to do about it.

    `key` is dotted and empty where the file as a whole is at fault; `line` is known only where the parser
    gives one.
    """

    file: str
    key: str
    found: str
    allowed: str
    remedy: str
    line: int | None = None

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}, line {self.line}"
        subject = f"{place}: {self.key}" if self.key else place
        return f"{subject}: found {self.found}; allowed: {self.allowed}; {self.remedy}"


class ConfigError(ValueError):
    """A configuration that cannot be used; `problems` holds everything wrong with it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: list[Problem] = list(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def dotted(*parts: str) -> str:
    """The key's path as a TOML file writes it; a part that is not a plain word is quoted."""
    return ".".join(
        part if _BARE_KEY.fullmatch(part) and len(part) <= LONGEST_SHOWN else quoted(part) for part in parts
    )


def quoted(text: str) -> str:
    """The text in quotes on one line, shortened where it is long."""
    short = text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "…"
    return dumps(short, ensure_ascii=False)


def number(value: float) -> str:
    """A number as people write it: 64, 0.15, 1e+30."""
    return f"{value:.6g}" if math.isfinite(value) else str(value)


def shown(value: object) -> str:
    """What stands in the file, short enough for one line."""
    for kind, words in _SHOWN.items():
        if isinstance(value, kind):
            return words(value)
    return f"something of type {type(value).__name__}"


_SHOWN: dict[type, Callable[[Any], str]] = {
    bool: lambda value: "true" if value else "false",
    int: lambda value: str(value) if value.bit_length() <= 64 else "an enormous number",
    float: repr,
    str: quoted,
    date: lambda value: f"the date {value.isoformat()}",
    time: lambda value: f"the time {value.isoformat()}",
    list: lambda value: f"a list of {len(value)}",
    tuple: lambda value: f"a list of {len(value)}",
    dict: lambda _: "a table",
}


def nearest(word: str, known: Sequence[str]) -> str | None:
    """The known word a typing error was most likely meant to be."""
    matches = get_close_matches(word[:LONGEST_SHOWN].lower(), known, n=1, cutoff=0.6)
    return matches[0] if matches else None
