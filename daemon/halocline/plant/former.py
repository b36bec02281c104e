"""Names that an earlier version used, and what became of them: one table for every file that may still hold them."""

from collections.abc import Container

FORMER_CHANNELS: dict[str, str] = {
    "membrane_pressure": "vessel_pressure",
    "motor_temperature": "pump_motor_temperature",
    "water_temperature": "sea_temperature",
    "tank_level": "tank_fill",
}
"""Channels by their former id. Settings, causes and faults made from a channel's id were renamed with it."""


def successor(name: str, known: Container[str]) -> str | None:
    """What a channel, key, cause or fault of an earlier version is called now; None where it is none of the `known`."""
    renamed = (name.replace(former, present) for former, present in FORMER_CHANNELS.items() if former in name)
    return next((present for present in renamed if present in known), None)
