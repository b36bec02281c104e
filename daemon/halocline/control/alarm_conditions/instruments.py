"""Causes of the instruments themselves: sensors, converters, position switches."""

from halocline.control.alarm_conditions.condition import Condition, Notes, Values
from halocline.control.situation import Situation
from halocline.plant.vocabulary import CHANNELS, GOOD, NEEDED_CHANNELS, Quality


def _sensor_fault(channel: str) -> Condition:
    def condition(now: Situation, _notes: Notes) -> Values | None:
        reading = now.inputs.readings.get(channel)
        if reading is None:
            fitted = channel in now.settings.inputs
            return {"channel": channel, "quality": Quality.MISSING.value, "raw": None} if fitted else None
        if reading.quality is GOOD or _told_by_another(now, channel):
            return None
        if reading.quality in (Quality.UNDER, Quality.OVER) and channel in CARRY_ON_AT_END_OF_SPAN:
            return None
        if (channel, reading.quality) == VERY_SALTY:
            return None
        return {"channel": channel, "quality": reading.quality.value, "raw": reading.raw}

    return condition


CARRY_ON_AT_END_OF_SPAN = frozenset({"vessel_pressure", "feed_pressure", "tank_fill", "battery_current"})
"""Channels whose limits still judge a value at the end of the span; for the rest it proves nothing."""

VERY_SALTY = ("product_conductivity", Quality.OVER)
"""A cell beyond its span sees sea water, which is no fault of the cell; the tank stays closed all the same."""


def _told_by_another(now: Situation, channel: str) -> bool:
    """Whether the channel is dead with its converter, and that is told once for all: by `adc_lost` where a needed
    channel hangs on it, else by the first of its channels."""
    address = _address(now, channel)
    if address not in now.inputs.lost_chips:
        return False
    on_chip = [other for other in now.settings.inputs if _address(now, other) == address]
    return channel != on_chip[0] or any(other in NEEDED_CHANNELS for other in on_chip)


def _address(now: Situation, channel: str) -> int | None:
    return getattr(now.settings.inputs.get(channel), "address", None)


def _adc_lost(now: Situation, _notes: Notes) -> Values | None:
    if not now.inputs.lost_chips:
        return None
    needed = {_address(now, channel) for channel in NEEDED_CHANNELS}
    lost = [address for address in now.inputs.lost_chips if address in needed]
    return {"address": lost[0]} if lost else None


def _output_disagrees(now: Situation, _notes: Notes) -> Values | None:
    active, to_tank = now.inputs.active, now.clocks.to_tank
    for contact, wanted in (("diverter_at_tank", to_tank), ("diverter_overboard", not to_tank)):
        if active.get(contact, wanted) != wanted:
            return {"contact": contact, "to_tank": to_tank}
    return None


INSTRUMENTS: dict[str, Condition] = {
    "adc_lost": _adc_lost,
    "output_disagrees": _output_disagrees,
    # A product meter that is not good is `product_flow_missing`.
    **{f"sensor_fault_{channel}": _sensor_fault(channel) for channel in CHANNELS if channel != "product_flow"},
}
