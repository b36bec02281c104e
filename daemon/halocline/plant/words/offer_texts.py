"""The offer of a run in words: what it gives, what ends it, and what comes with it. All of it is foreseen."""

from collections.abc import Iterator, Mapping
from typing import Any

from halocline.plant.offer import Need, Offer, Prospect
from halocline.plant.settings import UnitSettings
from halocline.plant.words.filling import fill

GIVES: Mapping[str, str] = {
    "need": "Puts about {litres} into the tank.",
    "tank": "Puts about {litres} into the tank, all that it has room for.",
    "motor": "Puts about {litres}[ of {wanted_l}] into the tank. The motor's rated run ends it first; then the "
    "motor rests {rest_s}.",
    "run_limit": "Puts about {litres}[ of {wanted_l}] into the tank. The longest run allowed, "
    "{run_limit_s}, ends it first.",
    "purge": "Puts nothing into the tank yet: washing {of} out takes longer than this run lasts. The next run goes on.",
}
UNKNOWN_FLOW = "How much water comes is not known while the sea water's temperature is not known."
PURGED = (
    "The first {before_s} go overboard to wash {of} out: nobody drinks that water. Then a person at the plant tests it "
    "and confirms; until then the tank stays shut."
)
FLUSH = "Then a flush takes {flush_l} of fresh water and, foreseen at the least flow for it, about {flush_s}."
NO_FLUSH = "No flush follows: the flush water may carry chlorine."
RESTS = "Then the motor rests {rest_s}."
NO_LEVEL = "The tank's level is not known: its float, or {room_l}, ends the run."
ASKS = "After {asks_after_s} the run asks whether a person is there, and ends without an answer."
BATTERY = "The battery is at {battery_percent}; the run ends if it comes down to {limit_percent}."
ONCE_MORE = "It is foreseen from the membrane's model[ at {pressure_bar}][ and {temperature_c}], not measured."
AS_USUAL = "It is foreseen from what this membrane usually gives[ at {pressure_bar}][ and {temperature_c}]."


def offer_texts(offered: Offer, on: Prospect, units: UnitSettings | None = None) -> list[str]:
    """What the offer comes to, in the order of what matters most."""
    values = {**_values(offered), "of": on.purge_of, "room_l": on.room_l, "run_limit_s": on.run_limit_s}
    values |= {"flush_l": on.flush_l, "flush_s": on.flush_s}
    return [fill(text, {**values, **_rests_on(on)}, units) for text in _parts(offered, on)]


def rests_on_text(on: Prospect, units: UnitSettings | None = None) -> str:
    """What the flow of an offer is told from."""
    if on.flow_l_h is None:
        return UNKNOWN_FLOW
    return fill(AS_USUAL if on.usual else ONCE_MORE, _rests_on(on), units)


def _values(offered: Offer) -> dict[str, Any]:
    short = offered.falls_short
    return {
        "litres": offered.litres,
        "wanted_l": offered.wanted_l if short else None,
        "before_s": offered.before_s,
        "rest_s": offered.rest_s,
    }


def _rests_on(on: Prospect) -> dict[str, Any]:
    return {
        "pressure_bar": on.pressure_bar,
        "temperature_c": on.temperature_c,
        "asks_after_s": on.asks_after_s,
        "battery_percent": on.battery_percent,
        "limit_percent": on.battery_stop_percent,
    }


def _parts(offered: Offer, on: Prospect) -> Iterator[str]:
    if offered.litres is None:
        yield UNKNOWN_FLOW
    else:
        yield GIVES[offered.ended_by]
    if on.purge_of is not None and offered.ended_by != "purge":
        yield PURGED
    if offered.rest_s is not None and offered.ended_by != "motor":
        yield RESTS
    yield NO_FLUSH if on.flush_s is None else FLUSH
    if offered.need == Need() and not on.level_known:
        yield NO_LEVEL
    if on.asks_after_s is not None and (offered.seconds or 0.0) > on.asks_after_s:
        yield ASKS
    if on.battery_percent is not None:
        yield BATTERY
