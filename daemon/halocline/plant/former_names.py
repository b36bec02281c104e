"""Names that earlier versions wrote into files: one table for every file that may still hold them.

A record and what is on file are read under the names of now. What a person writes is refused with the name of now.
"""

import json
import re
from collections.abc import Container, Mapping
from typing import Any

FORMER_CHANNELS: Mapping[str, str] = {
    "membrane_pressure": "vessel_pressure",
    "motor_temperature": "pump_motor_temperature",
    "water_temperature": "sea_temperature",
    "tank_level": "tank_fill",
}
"""Former name of a channel → its name. Causes, limits and columns made from the name changed with it."""

FREE_TEXT = frozenset({"note", "who", "initials"})
"""What a person wrote stays as it was written."""

_PART = re.compile(rf"(?<![a-z])(?<!pump_)({'|'.join(FORMER_CHANNELS)})(?![a-z])")
_NAME = re.compile(r"[a-z][a-z0-9_]*")


def renamed(name: str) -> str:
    """A name as it is now, `sensor_fault_tank_level` → `sensor_fault_tank_fill`; a name of now stays."""
    return _PART.sub(lambda found: FORMER_CHANNELS[found[1]], name)


def successor(name: str, known: Container[str]) -> str | None:
    """What a channel, key, cause or fault of an earlier version is called now; None where it is none of the `known`."""
    present = renamed(name)
    return present if present != name and present in known else None


def renamed_text(text: str) -> str:
    """A stored name, or a stored JSON document with every name in it, as they are now; other text as it is."""
    if not _PART.search(text):
        return text
    if _NAME.fullmatch(text):
        return renamed(text)
    try:
        content = json.loads(text)
    except (ValueError, RecursionError):
        return text
    return json.dumps(_renamed_in(content), ensure_ascii=False)


def _renamed_in(content: Any) -> Any:
    if isinstance(content, dict):
        return {renamed(key): item if key in FREE_TEXT else _renamed_in(item) for key, item in content.items()}
    if isinstance(content, list):
        return [_renamed_in(item) for item in content]
    return renamed(content) if isinstance(content, str) and _NAME.fullmatch(content) else content
