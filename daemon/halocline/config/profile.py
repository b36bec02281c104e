"""The quick profile: the same plant in fewer litres and seconds, for a demonstration."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar, cast

T = TypeVar("T")


def quick(settings: T) -> T:
    """The settings with every field that has a quick factor multiplied by it, at every depth.

    The ranges that hold for a boat are not applied to the result; what must fit together still does.
    """
    values: Any = settings
    return cast(T, replace(values, **_changes(values)))


def _changes(settings: Any) -> dict[str, Any]:
    return {
        field.name: _quickened(field.metadata.get("quick"), getattr(settings, field.name)) for field in fields(settings)
    }


def _quickened(factor: float | None, value: Any) -> Any:
    if factor is not None:
        # Twelve digits keep 0.6 L × 0.1 from becoming 0.06000000000000001 L on a page.
        return float(f"{value * factor:.12g}")
    if isinstance(value, Mapping):
        return {key: _quickened(None, item) for key, item in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        return quick(value)
    return value
