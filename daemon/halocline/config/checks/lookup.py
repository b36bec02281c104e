"""Numbers of settings by their dotted key, with the words to speak of them."""

from collections.abc import Mapping
from dataclasses import Field
from typing import Any, NamedTuple

from halocline.config.durations import show_duration
from halocline.config.problems import number
from halocline.plant.settings import Settings


class Named(NamedTuple):
    """A number, the key it stands under, and the text in which people read it."""

    key: str
    value: float
    text: str


def named(settings: Settings, key: str) -> Named | None:
    """The number under a key such as `limits.tank_full_percent`; None where it could not be read."""
    owner, last = _owner(settings, key)
    value = getattr(owner, last, None)
    if value is None:
        return None
    return Named(key, value, with_unit(value, field_of(settings, key).metadata["unit"]))


def field_of(settings: Settings, key: str) -> Field[Any]:
    """The field under such a key, which must be there."""
    owner, last = _owner(settings, key)
    found: Field[Any] = type(owner).__dataclass_fields__[last]
    return found


def _owner(settings: Settings, key: str) -> tuple[Any, str]:
    owner: Any = settings
    *path, last = key.split(".")
    for part in path:
        owner = owner.get(part) if isinstance(owner, Mapping) else getattr(owner, part, None)
    if owner is None and path[0] == "inputs":  # a file has both under one name
        owner = settings.contacts.get(path[1])
    return owner, last


def with_unit(value: float, unit: str) -> str:
    """The number with its unit; seconds as a file writes a duration."""
    if unit == "s":
        return f'"{show_duration(value)}"'
    return f"{number(value)} {unit}" if unit else number(value)


def sensor_number(settings: Settings, channel: str, name: str) -> float | None:
    """A sensor's `low`, `high` or `error`; None where there is no such sensor or it could not be read."""
    return getattr(settings.inputs.get(channel), name, None)


def supply_inputs(settings: Settings) -> dict[str, tuple[int, int]]:
    """Chip address and input on which a sensor's supply is measured, by the sensor's channel."""
    found = {}
    for channel, sensor in settings.inputs.items():
        mux = getattr(sensor, "supply_mux", None)
        address = getattr(sensor, "supply_address", None) or getattr(sensor, "address", None)
        if mux is not None and address is not None:
            found[channel] = (address, mux)
    return found
