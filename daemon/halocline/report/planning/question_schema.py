"""Tables of the question as JSON Schema, so that documents and interface say what the program takes."""

from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from types import UnionType
from typing import Any, get_args, get_origin, get_type_hints

from halocline.report.planning.question import LONGEST_TEXT, field_of, key_of


def schema_of(table: type) -> dict[str, Any]:
    """The schema of a table."""
    hints = get_type_hints(table)
    needed = [
        key_of(each.name) for each in fields(table) if each.default is MISSING and each.default_factory is MISSING
    ]
    properties = {
        key_of(name): _described(field_of(table, name).metadata, key_of(name), hint) for name, hint in hints.items()
    }
    return {"type": "object", "properties": properties, "required": needed}


def _described(metadata: Mapping[str, Any], key: str, hint: Any) -> dict[str, Any]:
    unit = metadata["unit"]
    text = f"{metadata['doc']}{f', {unit}' if unit else ''}"
    if key in ("from", "to"):
        return {"type": "string", "description": f"{text}; a moment with its offset, as 2026-07-01T06:00:00Z"}
    return {**_typed(metadata, hint), "description": text}


def _typed(metadata: Mapping[str, Any], hint: Any) -> dict[str, Any]:
    if get_origin(hint) is tuple:
        return {"type": "array", "items": _typed(metadata, get_args(hint)[0])}
    if isinstance(hint, UnionType):
        return _typed(metadata, get_args(hint)[0])
    if is_dataclass(hint) and isinstance(hint, type):
        return schema_of(hint)
    if hint is str:
        return {"type": "string", "maxLength": LONGEST_TEXT}
    bounds = {"minimum": metadata["low"], "maximum": metadata["high"]}
    return {"type": "number", **{key: value for key, value in bounds.items() if value is not None}}
