"""Settings fields that carry their own unit, range and explanation, so that loader and documents agree."""

from collections.abc import Mapping
from dataclasses import MISSING, field
from typing import Any


def setting(
    doc: str,
    *,
    default: Any = MISSING,
    unit: str = "",
    low: float | None = None,
    high: float | None = None,
    choices: tuple[Any, ...] = (),
    quick: float | None = None,
) -> Any:
    """A dataclass field of a configuration table; `unit="s"` makes it a duration in files.

    `low` and `high` are the values allowed, inclusive; `quick` is the factor of the quick demo profile.
    Without a default the key must be given.
    """
    metadata: Mapping[str, Any] = {
        "doc": doc,
        "unit": unit,
        "low": low,
        "high": high,
        "choices": choices,
        "quick": quick,
    }
    return field(default=default, metadata=metadata)
