"""Texts with numbers in them.

A template names its values in braces, ``{pressure_bar}``; the end of the name says the unit, ``{limit:1}`` gives it
where the name does not; ``said`` marks text that is filled already. A part in square brackets is left out while one
of its values is not known; outside of brackets such a value reads "unknown". A value and its limit never look alike
while they differ.
"""

import math
import re
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from string import Formatter
from typing import Any, NamedTuple

from halocline.plant.settings import UnitSettings
from halocline.plant.vocabulary import CHANNELS, FLOW_CHANNELS
from halocline.plant.words import names
from halocline.plant.words.alarm_names import alarm_name
from halocline.plant.words.moments import UNKNOWN_TIME, time_of_day
from halocline.plant.words.purge_texts import end_test_name
from halocline.plant.words.units import UNKNOWN, number_of, quantity

Values = Mapping[str, Any]

LONGEST = 220
"""Characters of any one text: what can be read at arm's length."""

LONGEST_TYPED = 110
MOST_DIGITS = 4

UNIT_BY_ENDING: Mapping[str, str] = {
    "_wall_s": "moment",
    "_bar_s": "bar/s",
    "_bar": "bar",
    "_mg_l": "mg/L",
    "_l_h": "L/h",
    "_l": "L",
    "litres": "L",
    "_c": "°C",
    "_ma": "mA",
    "_ohm": "Ω",
    "_hz": "Hz",
    "_v": "V",
    "volts": "V",
    "_s": "s",
    "seconds": "s",
    "minutes": "min",
    "hours": "h",
    "days": "d",
    "percent": "%",
    "recovery": "1",
    "_wh": "Wh",
}


def _listed(name: Callable[[str], str]) -> Callable[[Any], str]:
    """Ids with commas between them, by name; the first three stand for many, and the name of one more is as short as
    saying that there is one."""

    def text(value: Any) -> str:
        items = _ids(value)
        if len(items) <= 4:
            return ", ".join(map(name, items)) or UNKNOWN
        return f"{', '.join(map(name, items[:3]))} and {len(items) - 3} more"

    return text


def _ids(value: Any) -> list[str]:
    return [item.strip() for item in str(value).split(",") if item.strip()]


def _purged_of(value: Any) -> str:
    """All of it by name: what is left out would be taken for absent from the water."""
    *others, last = [names.purge_name(item) for item in _ids(value)] or [UNKNOWN]
    return f"{', '.join(others)} and {last}" if others else last


def _questions(value: Any) -> str:
    return ", ".join(
        names.QUESTION_NAMES.get(item, names.plain(item)) for item in str(value).replace(" ", "").split(",")[:4]
    )


FASTER = "(This demonstration is faster than a hand may be.)"


def _tests(value: Any) -> str:
    return ", ".join(end_test_name(test) for test in str(value).replace(" ", "").split(",")[:6])


def _address(value: Any) -> str:
    number = number_of(value)
    return names.plain(value) if number is None else f"0x{int(abs(number)) & 0xFFFF:02x}"


def _moment(value: Any) -> str:
    """The first whole minute that is not before it: until then is waited, and at it nothing has to be any more."""
    number = number_of(value)
    told = time_of_day(None if number is None else math.ceil(number / 60) * 60)
    return UNKNOWN if told == UNKNOWN_TIME else told


def _count(value: Any) -> str:
    return quantity(value, "")


def _typed(value: Any) -> str:
    return names.typed(value)


def _long(value: Any) -> str:
    return names.typed(value, LONGEST_TYPED)


NAMED: Mapping[str, Callable[[Any], str]] = {
    "channel": names.channel_name,
    "contact": names.contact_name,
    "output": names.output_name,
    "need": names.need_name,
    "quality": names.quality_text,
    "of": _purged_of,
    "who": names.asker,
    "questions": _questions,
    "tests": _tests,
    "faster": lambda value: FASTER if value is True else UNKNOWN,
    "alarm": alarm_name,
    "causes": _listed(alarm_name),
    "others": _listed(names.channel_name),
    "text": _typed,
    "long": _long,
    "address": _address,
    "moment": _moment,
    "count": _count,
}
"""Renderings by the value's key, or by the word after the colon in a template."""


class Piece(NamedTuple):
    """Literal text, then perhaps a value: its key and its unit or rendering."""

    literal: str
    key: str | None
    kind: str


@lru_cache(maxsize=1024)
def _pieces(template: str) -> tuple[Piece, ...]:
    return tuple(Piece(literal, key, spec or _kind(key or "")) for literal, key, spec, _ in Formatter().parse(template))


def _kind(key: str) -> str:
    if key in NAMED:
        return key
    return next((unit for ending, unit in UNIT_BY_ENDING.items() if key.endswith(ending)), "text")


def keys_of(template: str) -> Iterator[str]:
    """The names of all values in a template."""
    return (piece.key for piece in _pieces(template) if piece.key)


OPTIONAL = re.compile(r"\[([^\[\]]*)\]")


def _without_unknowns(template: str, values: Values) -> str:
    def part(match: re.Match[str]) -> str:
        inner = match.group(1)
        return inner if all(_known(piece, values) for piece in _pieces(inner) if piece.key) else ""

    while OPTIONAL.search(template):
        template = OPTIONAL.sub(part, template)
    return template


def _known(piece: Piece, values: Values) -> bool:
    return _render(piece, values, None, 0) != UNKNOWN


def _render(piece: Piece, values: Values, units: UnitSettings | None, more_digits: int) -> str:
    value = values.get(piece.key or "")
    if value is None or value == "":
        return UNKNOWN
    if piece.kind == "said":
        return str(value)
    if piece.kind in NAMED:
        return NAMED[piece.kind](value if isinstance(value, int | float) else str(value))
    return quantity(value, _unit(piece.kind, values), units, more_digits=more_digits)


def _unit(kind: str, values: Values) -> str:
    """The unit; "own" and "raw" are those of the channel the values speak of."""
    channel = str(values.get("channel"))
    if kind == "own":
        return CHANNELS[channel].unit if channel in CHANNELS else ""
    if kind == "raw":
        return "Hz" if channel in FLOW_CHANNELS else "V"
    return kind


def fill(template: str, values: Values, units: UnitSettings | None = None) -> str:
    """The template with its values in the owner's units, never longer than `LONGEST`. Never raises for any values."""
    pieces = _pieces(_without_unknowns(template, values))
    for more_digits in range(MOST_DIGITS):
        texts = [_render(piece, values, units, more_digits) if piece.key else "" for piece in pieces]
        if not _alike(pieces, texts, values):
            break
    return shortened("".join(piece.literal + text for piece, text in zip(pieces, texts, strict=True)))


def _alike(pieces: tuple[Piece, ...], texts: list[str], values: Values) -> bool:
    shown = [
        (piece.key, number, text)
        for piece, text in zip(pieces, texts, strict=True)
        if piece.key and (number := number_of(values.get(piece.key))) is not None
    ]
    limits = [item for item in shown if item[0].startswith("limit")]
    return any(text == other and number != limit for _, limit, text in limits for _, number, other in shown)


def shortened(text: str, room: int = LONGEST) -> str:
    """The text, cut at a word where it is longer than there is room for."""
    return text if len(text) <= room else text[: room - 1].rsplit(" ", 1)[0].rstrip(" ,;:.") + "…"


def sentence_case(clause: str) -> str:
    """A clause as a sentence of its own."""
    return f"{clause[:1].upper()}{clause[1:]}{'' if clause.endswith(('.', '…', '!', '?')) else '.'}"
