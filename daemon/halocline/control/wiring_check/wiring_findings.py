"""What is wrong with the wiring, told from what the inputs show at rest. One root cause, one finding.

A chip that does not answer explains all of its channels, exchanged wires explain both of theirs; only what is left is
looked at by itself. Findings carry ids and numbers; the words stand in `plant.words`.
"""

import errno
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import chain

from halocline.control.acquisition.scanner import sources
from halocline.control.inputs import Reason
from halocline.control.wiring_check.wiring_survey import WiringSurvey
from halocline.plant.sensors import AnalogueInput, CurrentLoop, Input, Pulses, Ratiometric, Voltage
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import Quality, Reading
from halocline.signals.conversion import SUPPLY_BAND, converter_for
from halocline.signals.formulas import LOOP_LOW_MA, LOOP_SPAN_MA
from halocline.signals.rest_checks import exchange_partners, rest_findings

CLOSED_AT_REST = ("stop_button", "bilge_wet", "pressure_switch", "flow_at_tank", "tank_float", "plant_button")
COMMON_SHUNTS_OHM = (50.0, 100.0, 120.0, 150.0, 165.0, 220.0, 250.0, 270.0, 330.0)
"""Resistors that people have at hand (common practice)."""
SHUNT_TOLERANCE = 0.03
"""Such resistors are good to 1 %, a sender's zero to 2 % (common practice)."""
NEARLY_NOTHING_V = 0.05
"""An input that nothing is wired to floats near ground (from memory)."""
BELOW_GROUND_V = -0.005
"""No sensor of ours pulls an input below ground; the converter's own offset is a tenth of this (data sheet of the
ADS111x family for the offset; the limit: chosen)."""


def wiring_findings(settings: Settings, look: WiringSurvey) -> list[Reason]:
    """Everything in which the plant at rest differs from one that is wired correctly; empty when all is well."""
    chips = list(_chips(settings, look))
    if look.interlock_lost and settings.interlock is not None:
        chips.append(Reason("interlock_silent", {"address": settings.interlock.address}))
    silent = {source.channel for source in sources(settings) if source.address in look.chip_errors}
    exchanged, explained = _exchanged(settings, look, silent)
    left = {
        channel: reading
        for channel, reading in look.readings.items()
        if channel in settings.inputs and channel not in silent | explained
    }
    signals = chain.from_iterable(_signal(settings, look, channel, reading) for channel, reading in left.items())
    at_rest = _zeros(settings, left) if look.at_rest else []
    lines = chain(_contacts(look), _pulses(settings, left)) if look.at_rest else ()
    return [*chips, *exchanged, *signals, *at_rest, *lines]


# ---- chips -----------------------------------------------------------------------------------------


def _chips(settings: Settings, look: WiringSurvey) -> Iterator[Reason]:
    addresses = {source.address for source in sources(settings)}
    timed_out = {address for address, number in look.chip_errors.items() if number == errno.ETIMEDOUT}
    gone = sorted(look.chip_errors.keys() - timed_out)
    if addresses and timed_out == addresses and len(addresses) > 1:
        yield Reason("bus_held_low")
        return
    yield from (Reason("chip_hangs", {"address": address}) for address in sorted(timed_out))
    if set(gone) == addresses and not look.strangers:
        yield Reason("no_chip_answers")
        return
    strangers = list(look.strangers)
    for address in gone:
        if strangers:
            yield Reason("chip_elsewhere", {"address": address, "other": strangers.pop(0)})
        else:
            yield Reason("chip_missing", {"address": address})


# ---- exchanged wires -------------------------------------------------------------------------------


def _exchanged(settings: Settings, look: WiringSurvey, silent: set[str]) -> tuple[list[Reason], set[str]]:
    if look.at_rest is False:
        return [], set()
    readings = {channel: reading for channel, reading in look.readings.items() if channel not in silent}
    found, explained = [], set()
    for finding in rest_findings(readings, settings.inputs, vented=True):
        if finding.id not in ("channels_swapped", "addresses_crossed"):
            continue
        if finding.id == "channels_swapped":
            one, other = str(finding.values["channel"]), str(finding.values["other"])
            found.append(Reason("wires_exchanged", {"channel": one, "other": other, **_places(settings, one, other)}))
            explained |= {one, other}
        else:
            crossed = [int(str(finding.values[key]), 16) for key in ("address", "other")]
            found.append(Reason("chips_exchanged", {"address": crossed[0], "other": crossed[1]}))
            explained |= {source.channel for source in sources(settings) if source.address in crossed}
    return found, explained


def _places(settings: Settings, one: str, other: str) -> dict[str, int]:
    at = {source.channel: source for source in sources(settings) if not source.supply}
    return {
        "address": at[one].address,
        "mux": at[one].mux,
        "other_address": at[other].address,
        "other_mux": at[other].mux,
    }


# ---- single signals --------------------------------------------------------------------------------


def is_dry(channel: str, quality: Quality) -> bool:
    """A conductivity cell in air: at rest no fault of the wiring."""
    return channel == "product_conductivity" and quality is Quality.IMPLAUSIBLE


def _signal(settings: Settings, look: WiringSurvey, channel: str, reading: Reading) -> Iterator[Reason]:
    sensor, quality = settings.inputs[channel], reading.quality
    if quality is Quality.GOOD or (is_dry(channel, quality) and look.at_rest is not False):
        return
    if isinstance(sensor, Ratiometric) and _supply_is_off(sensor, look.supplies_v.get(channel)):
        volts = look.supplies_v[channel] * sensor.divider
        yield Reason("sensor_supply_off", {"channel": channel, "volts": volts, "nominal_v": sensor.supply_v})
        return
    values = _values(channel, sensor, reading)
    if reading.raw is not None and reading.raw < BELOW_GROUND_V:
        yield Reason("below_ground", values)
        return
    if quality is Quality.IMPLAUSIBLE and look.at_rest is not False:
        partners = exchange_partners(channel, look.readings, settings.inputs)
        if partners:
            yield Reason("may_be_exchanged", {**values, "others": ", ".join(partners)})
            return
    if quality in ENDED_ELSEWHERE:
        place = _would_fit(sensor, look.free_v)
        if place is not None:
            yield Reason("wire_on_another_input", {**values, "address": place[0], "other_mux": place[1]})
            return
    if (sensor.kind, quality) in SIGNALS:
        yield Reason(f"{sensor.kind}_{quality.value}", values)
    else:
        yield Reason("signal_bad", values)


ENDED_ELSEWHERE = frozenset({Quality.OPEN, Quality.SHORT, Quality.IMPLAUSIBLE})

SIGNALS = frozenset(
    {
        ("current_loop", Quality.OPEN),
        ("current_loop", Quality.SHORT),
        ("current_loop", Quality.UNDER),
        ("current_loop", Quality.OVER),
        ("ratiometric", Quality.OPEN),
        ("ratiometric", Quality.SHORT),
        ("voltage", Quality.OPEN),
        ("voltage", Quality.SHORT),
        ("voltage", Quality.UNDER),
        ("voltage", Quality.OVER),
        ("thermistor", Quality.OPEN),
        ("thermistor", Quality.SHORT),
        ("thermistor", Quality.IMPLAUSIBLE),
        ("resistive_sender", Quality.OPEN),
        ("resistive_sender", Quality.SHORT),
        ("resistive_sender", Quality.OVER),
        ("resistive_sender", Quality.UNDER),
        ("pulses", Quality.IMPLAUSIBLE),
    }
)
"""Kind of sensor and quality for which there are words of their own."""


def _values(channel: str, sensor: Input, reading: Reading) -> dict[str, float | str]:
    values: dict[str, float | str] = {"channel": channel, "quality": reading.quality.value}
    if isinstance(sensor, AnalogueInput):
        values |= {"address": sensor.address, "mux": sensor.mux}
    if isinstance(sensor, Voltage):
        values["divider"] = sensor.divider
    if reading.raw is not None:
        values["rate_hz" if isinstance(sensor, Pulses) else "volts"] = reading.raw
        if isinstance(sensor, CurrentLoop):
            values["loop_ma"] = 1000.0 * reading.raw / sensor.shunt_ohm
    return values


def _supply_is_off(sensor: Ratiometric, supply_v: float | None) -> bool:
    if supply_v is None:
        return False
    low, high = SUPPLY_BAND
    return not low <= supply_v * sensor.divider / sensor.supply_v <= high


def _would_fit(sensor: Input, free_v: Mapping[tuple[int, int], float]) -> tuple[int, int] | None:
    """An input nobody configured on which this sensor's signal may have ended."""
    if isinstance(sensor, Pulses):
        return None
    convert: Callable[[float, float | None], tuple[float | None, Quality]] = converter_for(sensor)
    supply_v = sensor.supply_v / sensor.divider if isinstance(sensor, Ratiometric) else None
    for place, volts in sorted(free_v.items()):
        if volts > NEARLY_NOTHING_V and convert(volts, supply_v)[1] is Quality.GOOD:
            return place
    return None


# ---- values at rest --------------------------------------------------------------------------------


def _zeros(settings: Settings, readings: Mapping[str, Reading]) -> list[Reason]:
    found = []
    for finding in rest_findings(readings, settings.inputs, vented=True):
        if finding.id not in ("zero_off", "rest_value_off"):
            continue
        channel = str(finding.values["channel"])
        sensor, raw = settings.inputs[channel], readings[channel].raw
        fitted_ohm = _likely_shunt_ohm(sensor, raw) if isinstance(sensor, CurrentLoop) else None
        if fitted_ohm is not None and isinstance(sensor, CurrentLoop):
            values = {**finding.values, "fitted_ohm": fitted_ohm, "shunt_ohm": sensor.shunt_ohm}
            found.append(Reason("shunt_differs", values))
        elif isinstance(sensor, Voltage):
            found.append(Reason("divider_differs", {**finding.values, "divider": sensor.divider}))
        else:
            found.append(Reason(finding.id, finding.values))
    return found


def _likely_shunt_ohm(sensor: CurrentLoop, raw_v: float | None) -> float | None:
    """The resistor that would make these volts of a pressure of nothing; None where none is near."""
    if raw_v is None:
        return None
    at_zero_ma = LOOP_LOW_MA - LOOP_SPAN_MA * sensor.low / (sensor.high - sensor.low)
    implied_ohm = 1000.0 * raw_v / at_zero_ma
    near = min(COMMON_SHUNTS_OHM, key=lambda ohm: abs(ohm - implied_ohm))
    fits = abs(near - implied_ohm) <= SHUNT_TOLERANCE * near
    return near if fits and abs(near - sensor.shunt_ohm) > SHUNT_TOLERANCE * near else None


# ---- contacts and pulses ---------------------------------------------------------------------------


def _contacts(look: WiringSurvey) -> Iterator[Reason]:
    yield from _open_at_rest(look.active)
    tank, overboard = look.active.get("diverter_at_tank"), look.active.get("diverter_overboard")
    if tank is None or overboard is None:
        if overboard is False:
            yield Reason("diverter_end_closed", {"contact": "diverter_overboard"})
        elif tank is True:
            yield Reason("diverter_end_open", {"contact": "diverter_at_tank"})
    elif (tank, overboard) == (True, False):
        yield Reason("diverter_ends_exchanged")
    elif tank == overboard:
        yield Reason("diverter_ends_both_open" if tank else "diverter_ends_both_closed")


def _open_at_rest(active: Mapping[str, bool]) -> Iterable[Reason]:
    return (Reason(f"{name}_open_at_rest") for name in CLOSED_AT_REST if active.get(name))


def _pulses(settings: Settings, readings: Mapping[str, Reading]) -> Iterator[Reason]:
    for channel, reading in readings.items():
        sensor = settings.inputs[channel]
        if isinstance(sensor, Pulses) and reading.quality is Quality.GOOD and (reading.value or 0.0) > sensor.error:
            yield Reason("pulses_at_rest", _values(channel, sensor, reading))
