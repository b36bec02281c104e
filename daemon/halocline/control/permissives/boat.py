"""Checks of the boat about the plant: card, batteries, tank, the water it floats in."""

from halocline.control.forecast import tank_ceiling_l
from halocline.control.inputs import Reason
from halocline.control.permissives.permissive import Context
from halocline.plant.offer import LEAST_LITRES


def latch_writable(at: Context) -> Reason | None:
    """What must survive a restart can be put on file."""
    return None if at.now.inputs.latch_writable else Reason("latch_not_writable")


def tank_has_room(at: Context) -> Reason | None:
    """Neither float nor level says that the tank is full."""
    level = at.now.value("tank_fill")
    limit = at.now.settings.limits.tank_full_percent
    if at.now.active("tank_float"):
        return Reason("tank_float_active")
    return (
        Reason("tank_is_full", {"percent": level, "limit_percent": limit})
        if level is not None and (level >= limit or tank_ceiling_l(at.now) < LEAST_LITRES)
        else None
    )


def battery_fit(at: Context) -> Reason | None:
    """By charge where it is known, else by voltage; a mean, so that no start is refused or let in by chance."""
    percent, limit_percent = at.now.levels["battery_charge_percent"], at.now.settings.limits.battery_start_percent
    if percent is not None:
        low = percent < limit_percent
        return Reason("battery_charge_too_low", {"percent": percent, "limit_percent": limit_percent}) if low else None
    volts, limit_v = at.now.levels["battery_voltage"], at.now.settings.limits.battery_start_v
    return (
        Reason("battery_too_low", {"volts": volts, "limit_v": limit_v})
        if volts is not None and volts < limit_v
        else None
    )


def supply_fit(at: Context) -> Reason | None:
    """The computer's own supply does not sag."""
    return Reason("supply_is_low") if at.now.inputs.supply_voltage_low else None


def water_not_too_warm(at: Context) -> Reason | None:
    """The sea is not too warm for the membrane."""
    temperature_c, limit_c = at.now.levels["sea_temperature"], at.now.settings.limits.water_too_warm_c
    if temperature_c is None or temperature_c < limit_c:
        return None
    return Reason("water_is_too_warm", {"temperature_c": temperature_c, "limit_c": limit_c})
