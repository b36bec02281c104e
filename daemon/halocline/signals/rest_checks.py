"""What sensors must read before a start, while nothing runs: zeros, and wires that ended on the wrong input.

A pressure is only judged while the plant is vented; a sea head on the feed side is no zero error.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

from halocline.plant.sensors import AnalogueInput, Input, Pulses, Ratiometric
from halocline.plant.thresholds import CHIP_INPUTS
from halocline.plant.vocabulary import Quality, Reading
from halocline.signals.compensation import BELIEVED_C
from halocline.signals.conversion import Sample, converter_for

ZERO_TOLERANCE = 0.02
"""Fraction of a pressure sensor's span that its zero may be off. Usual transmitters are good to 1 %, and age as much
again (from memory)."""

SEA_HEAD_BAR = 0.3
"""Three metres below the waterline; common practice on a cruising boat is less (computed: 0.1 bar a metre)."""

FEED_SIDE = frozenset({"feed_pressure", "filter_inlet_pressure", "vessel_pressure", "brine_pressure"})
PRESSURES = FEED_SIDE | {"product_pressure"}

REST_WINDOWS: dict[str, tuple[float, float]] = {
    "sea_temperature": BELIEVED_C,
    "pump_motor_temperature": (-20.0, 90.0),
    "battery_voltage": (9.0, 64.0),
}
"""What is believable at rest, besides pressures, in the channel's unit (the sea's: see BELIEVED_C; the rest invented,
wide on purpose)."""

CROSSED_PAIRS = 2
"""Two inputs that both fit the other chip's are no chance: one could be an exchanged wire (chosen)."""

DEAD = frozenset({Quality.OPEN, Quality.SHORT})


class Finding(NamedTuple):
    """Something to put right before a start: `zero_off`, `rest_value_off`, `channels_swapped` or
    `addresses_crossed`, with the numbers and names that belong to it."""

    id: str
    values: dict[str, float | str]


@dataclass(frozen=True, slots=True)
class _Spot:
    """One analogue channel at rest: its sensor, its place, the volts there, what is believable."""

    channel: str
    sensor: AnalogueInput
    place: tuple[int, int]
    volts: float
    window: tuple[float, float] | None


def rest_findings(readings: Mapping[str, Reading], sensors: Mapping[str, Input], *, vented: bool) -> list[Finding]:
    """Everything wrong with the rest values of the analogue channels; an empty list is fit to start.

    `readings` carry volts in `raw`. Channels that were never read are another check's affair.
    """
    spots = _spots(readings, sensors, vented=vented)
    crossed, explained = _crossed(spots)
    swapped, named = _swapped([spot for spot in spots if spot.channel not in explained])
    off = _off([spot for spot in spots if spot.channel not in explained | named], readings)
    return [*crossed, *swapped, *off]


def exchange_partners(channel: str, readings: Mapping[str, Reading], sensors: Mapping[str, Input]) -> list[str]:
    """The channels with which `channel`, which cannot be as it is, would make sense at rest if both had each
    other's volts."""
    spots = {spot.channel: spot for spot in _spots(readings, sensors, vented=True)}
    own = spots.pop(channel, None)
    return [] if own is None else [name for name, spot in spots.items() if _better_exchanged([(own, spot)])]


def _spots(readings: Mapping[str, Reading], sensors: Mapping[str, Input], *, vented: bool) -> list[_Spot]:
    return [
        _Spot(channel, sensor, (sensor.address, sensor.mux), raw, _window(channel, sensor, vented))
        for channel, sensor in sensors.items()
        if not isinstance(sensor, Pulses) and channel in readings and (raw := readings[channel].raw) is not None
    ]


def _window(channel: str, sensor: AnalogueInput, vented: bool) -> tuple[float, float] | None:
    if channel not in PRESSURES:
        return REST_WINDOWS.get(channel)
    if not vented:
        return None
    allowed = max(ZERO_TOLERANCE * (sensor.high - sensor.low), sensor.error)
    return -allowed, allowed + (SEA_HEAD_BAR if channel in FEED_SIDE else 0.0)


def _off(spots: Iterable[_Spot], readings: Mapping[str, Reading]) -> list[Finding]:
    found = []
    for spot in spots:
        value = readings[spot.channel].value
        if spot.window is None or value is None or spot.window[0] <= value <= spot.window[1]:
            continue
        kind = "zero_off" if spot.channel in PRESSURES else "rest_value_off"
        low, high = spot.window
        found.append(Finding(kind, {"channel": spot.channel, "value": value, "low": low, "high": high}))
    return found


def _swapped(spots: list[_Spot]) -> tuple[list[Finding], set[str]]:
    # A dead wire is no exchanged one, and would fit wherever 0 V is a value.
    alive = [spot for spot in spots if _sample(spot.sensor, spot.volts)[1] not in DEAD]
    pairs = [pair for pair in combinations(alive, 2) if _better_exchanged([pair])]
    sure = [(a, b) for a, b in pairs if not (_fits(a, a.volts) or _fits(b, b.volts))]
    chosen = sure or [(a, b) for a, b in pairs if a.window and b.window]
    findings = [Finding("channels_swapped", {"channel": a.channel, "other": b.channel}) for a, b in chosen]
    return findings, {spot.channel for pair in chosen for spot in pair}


def _crossed(spots: list[_Spot]) -> tuple[list[Finding], set[str]]:
    at = {spot.place: spot for spot in spots}
    findings: list[Finding] = []
    explained: set[str] = set()
    for one, other in combinations(sorted({address for address, _ in at}), 2):
        pairs = [(at[one, mux], at[other, mux]) for mux in range(CHIP_INPUTS) if {(one, mux), (other, mux)} <= set(at)]
        wrong = sum(not (_fits(a, a.volts) and _fits(b, b.volts)) for a, b in pairs)
        if wrong >= CROSSED_PAIRS and _better_exchanged(pairs):
            findings.append(Finding("addresses_crossed", {"address": f"{one:#x}", "other": f"{other:#x}"}))
            explained |= {spot.channel for pair in pairs for spot in pair}
    return findings, explained


def _better_exchanged(pairs: Iterable[tuple[_Spot, _Spot]]) -> bool:
    """Whether something does not fit as it is, and everything fits with the volts exchanged."""
    pairs = tuple(pairs)
    as_is = all(_fits(a, a.volts) and _fits(b, b.volts) for a, b in pairs)
    return not as_is and all(_fits(a, b.volts) and _fits(b, a.volts) for a, b in pairs)


def _fits(spot: _Spot, volts: float) -> bool:
    value, quality = _sample(spot.sensor, volts)
    if value is None or quality is not Quality.GOOD:
        return False
    return spot.window is None or spot.window[0] <= value <= spot.window[1]


def _sample(sensor: AnalogueInput, volts: float) -> Sample:
    supply_v = sensor.supply_v / sensor.divider if isinstance(sensor, Ratiometric) else None
    return converter_for(sensor)(volts, supply_v)  # type: ignore[arg-type]
