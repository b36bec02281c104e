"""One value of a file made into one field of a settings dataclass, by the field's annotation and metadata."""

import math
from dataclasses import MISSING, Field
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin

from halocline.config.durations import parse_duration, show_duration
from halocline.config.problems import nearest, number, quoted, shown

HEXADECIMAL = frozenset({"address", "supply_address"})
"""I2C addresses are printed on boards, and written by people, in base sixteen."""


class UnfitError(Exception):
    """A value the field cannot take: what was found, what is allowed, what to do."""

    def __init__(self, found: str, allowed: str, remedy: str) -> None:
        super().__init__(found)
        self.found = found
        self.allowed = allowed
        self.remedy = remedy


def allowed(field: Field[Any], hint: Any) -> str:
    """What the field takes, as a short phrase."""
    hint = without_none(hint)
    origin = get_origin(hint)
    if origin is Literal or field.metadata.get("choices"):
        return _one_of(_choices(field, hint))
    if origin is tuple:
        return _allowed_list(hint)
    if hint is bool:
        return "true or false"
    if hint is str:
        return "a text in quotes" if has_default(field) else "a text in quotes, not empty"
    return _range(field, hint)


def without_none(hint: Any) -> Any:
    """The type of an optional field's value when it is given."""
    if get_origin(hint) in (Union, UnionType):
        return next(kind for kind in get_args(hint) if kind is not NoneType)
    return hint


def has_default(field: Field[Any]) -> bool:
    """Whether the key may be left out."""
    return field.default is not MISSING


def is_duration(field: Field[Any]) -> bool:
    """Whether the file writes the field as a number with a unit of time."""
    return field.metadata.get("unit") == "s"


def convert(field: Field[Any], hint: Any, value: object) -> Any:
    """The field's value from what stands in the file. Raises `UnfitError`."""
    hint = without_none(hint)
    if get_origin(hint) is tuple:
        return _list(field, hint, value)
    if get_origin(hint) is Literal:
        return _choice(field, hint, value)
    if hint is bool:
        return _flag(field, hint, value)
    if hint is str:
        return _text(field, hint, value)
    result = _whole(field, hint, value) if hint is int else _real(field, hint, value)
    return _in_range(field, hint, value, result)


def _choice(field: Field[Any], hint: Any, value: object) -> Any:
    choices = _choices(field, hint)
    if isinstance(value, str) and value in choices:
        return value
    words = [choice for choice in choices if isinstance(choice, str)]
    near = nearest(value, words) if isinstance(value, str) else None
    remedy = f"did you mean {quoted(near)}?" if near else "choose one of them"
    raise UnfitError(shown(value), allowed(field, hint), remedy)


def _flag(field: Field[Any], hint: Any, value: object) -> bool:
    if isinstance(value, bool):
        return value
    raise UnfitError(shown(value), allowed(field, hint), "write the word without quotes")


def _text(field: Field[Any], hint: Any, value: object) -> str:
    if not isinstance(value, str):
        raise UnfitError(shown(value), allowed(field, hint), "put it in quotes")
    if not value.strip() and not has_default(field):
        raise UnfitError("an empty text", allowed(field, hint), f"write it: {field.metadata['doc']}")
    if not value.isprintable():
        raise UnfitError("a text with control characters", allowed(field, hint), "keep it on one line, without tabs")
    return value


def _whole(field: Field[Any], hint: Any, value: object) -> int:
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    raise UnfitError(shown(value), allowed(field, hint), "write a whole number without quotes")


def _real(field: Field[Any], hint: Any, value: object) -> float:
    if is_duration(field):
        return _duration(field, hint, value)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise UnfitError(shown(value), allowed(field, hint), "write a number without quotes")
    return _finite(value, allowed(field, hint))


def _duration(field: Field[Any], hint: Any, value: object) -> float:
    if isinstance(value, str):
        try:
            return parse_duration(value)
        except ValueError:
            remedy = 'write a number and its unit (ms, s, min, h or d) in quotes, as in "90s"'
            raise UnfitError(shown(value), allowed(field, hint), remedy) from None
    example = "90s"
    if isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < 1e9:
        example = f"{number(value)}s"
    raise UnfitError(
        shown(value), allowed(field, hint), f"write it with its unit and in quotes, as in {quoted(example)}"
    )


def _finite(value: float, permitted: str) -> float:
    try:
        result = float(value)
    except OverflowError:
        result = math.inf
    if math.isfinite(result):
        return result
    raise UnfitError(shown(value), permitted, "write a finite number")


def _in_range(field: Field[Any], hint: Any, value: object, result: float) -> float:
    low, high, choices = (field.metadata.get(name) for name in ("low", "high", "choices"))
    if choices:
        if result in choices:
            return result
        raise UnfitError(shown(value), allowed(field, hint), "choose one of them")
    if (low is None or result >= low) and (high is None or result <= high):
        return result
    unit = field.metadata.get("unit")
    remedy = f"check the number and its unit ({unit})" if unit and not is_duration(field) else "check the number"
    raise UnfitError(_with_unit(field, value), allowed(field, hint), remedy)


def _list(field: Field[Any], hint: Any, value: object) -> tuple[Any, ...]:
    kinds = get_args(hint)
    variadic = len(kinds) == 2 and kinds[1] is Ellipsis
    if not isinstance(value, (list, tuple)) or not (variadic or len(value) == len(kinds)):
        raise UnfitError(shown(value), _allowed_list(hint), "write them in square brackets, with commas between")
    return tuple(_element(field, kinds[0] if variadic else kinds[index], item) for index, item in enumerate(value))


def _element(field: Field[Any], kind: Any, item: object) -> Any:
    if get_origin(kind) is tuple:
        return _list(field, kind, item)
    if kind is str:
        if isinstance(item, str) and item and item.isprintable():
            return item
        raise UnfitError(f"{shown(item)} in the list", "texts in quotes", "put each in quotes")
    if isinstance(item, bool) or not isinstance(item, (int, float)):
        raise UnfitError(f"{shown(item)} in the list", "numbers", "write numbers without quotes")
    return _finite(item, "finite numbers")


def _allowed_list(hint: Any) -> str:
    kinds = get_args(hint)
    inner = "texts in quotes" if kinds[0] is str else "numbers"
    if get_origin(kinds[0]) is tuple:
        return "a list of pairs of numbers, as in [[0, 0], [1, 1]]"
    return f"a list of {inner}" if kinds[-1] is Ellipsis else f"a list of {len(kinds)} {inner}"


def _choices(field: Field[Any], hint: Any) -> tuple[Any, ...]:
    return get_args(hint) if get_origin(hint) is Literal else tuple(field.metadata["choices"])


def _one_of(choices: tuple[Any, ...]) -> str:
    words = [quoted(choice) if isinstance(choice, str) else number(choice) for choice in choices]
    return f"{', '.join(words[:-1])} or {words[-1]}" if len(words) > 1 else words[0]


def _range(field: Field[Any], hint: Any) -> str:
    bounds: tuple[Any, Any] = (field.metadata.get("low"), field.metadata.get("high"))
    unit = field.metadata.get("unit", "")
    low, high = (None if bound is None else _bound(field, bound) for bound in bounds)
    suffix = f" {unit}" if unit and not is_duration(field) else ""
    noun = "a whole number" if hint is int else "a number"
    if low is not None and high is not None:
        return f"{low} to {high}{suffix}"
    if low is not None:
        return f"{noun} of at least {low}{suffix}"
    if high is not None:
        return f"{noun} up to {high}{suffix}"
    return f"{noun}, in {unit}" if unit else noun


def _bound(field: Field[Any], bound: Any) -> str:
    if is_duration(field):
        return quoted(show_duration(bound))
    return hex(bound) if field.name in HEXADECIMAL else number(bound)


def _with_unit(field: Field[Any], value: object) -> str:
    if field.name in HEXADECIMAL and isinstance(value, int) and 0 <= value < 1 << 16:
        return hex(value)
    unit = field.metadata.get("unit")
    return f"{shown(value)} {unit}" if unit and not is_duration(field) else shown(value)
