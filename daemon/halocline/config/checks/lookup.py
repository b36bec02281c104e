"""Numbers of settings by their dotted key, with the words to speak of them."""

from collections.abc import Mapping
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
    owner: Any = settings
    *path, last = key.split(".")
    for part in path:
        owner = owner.get(part) if isinstance(owner, Mapping) else getattr(owner, part, None)
    value = getattr(owner, last, None)
    if value is None:
        return None
    return Named(key, value, with_unit(value, type(owner).__dataclass_fields__[last].metadata["unit"]))


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
