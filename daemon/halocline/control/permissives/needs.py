"""Checks of how much or how long a command asks for."""

from halocline.control.forecast import tank_ceiling_l
from halocline.control.inputs import Reason
from halocline.control.permissives.permissive import Context
from halocline.plant.offer import LEAST_LITRES, LEAST_OTHERWISE


def litres_fit(at: Context) -> Reason | None:
    """The litres asked for find room in the tank."""
    litres = at.command.arguments.get("litres")
    ceiling_l = tank_ceiling_l(at.now)
    if litres is None or litres <= ceiling_l:
        return None
    return Reason("tank_has_no_room", {"litres": litres, "limit_l": ceiling_l})


def until_needs_clock(at: Context) -> Reason | None:
    """A time of day is one, and the boat's clock can tell when it comes."""
    arguments = at.command.arguments
    if arguments.get("until_unknown"):
        return Reason("clock_not_set")
    if "until" in arguments and "until_s" not in arguments:
        return Reason("argument_wrong", {"argument": "until", "wanted": "a time like 18:30, or a date and time"})
    return None


def until_is_near(at: Context) -> Reason | None:
    """A time of day that has just passed is tomorrow's: further away than any run lasts, and hardly meant."""
    until_s, limit_s = at.command.arguments.get("until_s"), at.now.settings.sequence.run_limit_s
    if until_s is None or until_s <= limit_s:
        return None
    return Reason("until_too_far", {"seconds": until_s, "limit_s": limit_s})


def one_need(at: Context) -> Reason | None:
    """Litres, minutes or a time of day: one of them."""
    given = [key for key in ("litres", "minutes", "until_s") if at.command.arguments.get(key) is not None]
    return Reason("several_needs", {"given": ", ".join(given)}) if len(given) > 1 else None


def need_is_positive(at: Context) -> Reason | None:
    """It is enough to be worth doing."""
    for key in ("litres", "minutes", "until_s", "seconds"):
        value = at.command.arguments.get(key)
        if value is not None and value < (LEAST_LITRES if key == "litres" else LEAST_OTHERWISE):
            return Reason("need_too_small", {"key": key, "value": value})
    return None
