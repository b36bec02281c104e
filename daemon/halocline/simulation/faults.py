"""Every fault that the simulated boat can have: its name, what it takes, and what it does to the plant.

The tables here are the whole list; `parse` judges a request against them, `Upsets` is what the plant sees.
A fault given again replaces its arguments; a cleared one leaves the plant as if it had never been.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Literal

from halocline.plant.former_names import successor

Kind = Literal["plant", "sensor", "electronics"]
Value = float | int | str | bool


@dataclass(frozen=True, slots=True)
class Argument:
    """A number a fault takes, with its range and a value to practise with (None: it depends on the channel)."""

    name: str
    low: float
    high: float
    unit: str = ""
    typical: float | None = None
    optional: bool = False


@dataclass(frozen=True, slots=True)
class Fault:
    """One row: `target` names what it strikes (`output`, `channel` or `address`), empty for the plant. What it is
    called and what it does stand in `plant.words.fault_texts`."""

    name: str
    kind: Kind
    arguments: tuple[Argument, ...] = ()
    target: str = ""
    targets: tuple[str, ...] = ()
    """The targets allowed; empty: whatever the boat has fitted."""


def _plant(name: str, *arguments: Argument) -> Fault:
    return Fault(name, "plant", arguments)


def _sensor(name: str, *arguments: Argument) -> Fault:
    return Fault(name, "sensor", arguments, target="channel")


def _chip(name: str) -> Fault:
    return Fault(name, "electronics", target="address")


SEVERITY = Argument("severity", 0.0, 1.0, typical=0.8)
ANY = 1e6
MOST_ALIKE = 3
"""Faults named to who misspelt one."""
VALVES = ("product_to_tank", "flush_valve", "pressure_release")

FAULTS: dict[str, Fault] = {
    fault.name: fault
    for fault in (
        _plant("prefilter_clogged", SEVERITY),
        _plant("seacock_closed"),
        _plant("air_in_suction", SEVERITY),
        _plant("brine_blocked", Argument("rate_bar_per_ms", 0.001, 2.0, "bar/ms", typical=0.1, optional=True)),
        _plant("regulator_drift", Argument("bar_per_min", -100.0, 100.0, "bar/min", typical=5.0)),
        _plant("regulator_left_at", Argument("bar", 0.0, 100.0, "bar", typical=55.0)),
        _plant("membrane_leak", Argument("factor", 0.1, 5000.0, typical=5.0)),
        _plant("membrane_fouled", Argument("factor", 0.01, 2.0, typical=0.6)),
        _plant("hoses_swapped"),
        _plant("product_line_closed"),
        _plant("hp_pump_dead"),
        _plant("hp_pump_worn", Argument("factor", 0.0, 1.0, typical=0.7)),
        _plant("feed_pump_dead"),
        Fault("relay_welded", "plant", target="output"),
        Fault("valve_stuck", "plant", target="output", targets=VALVES),
        _plant("hand_start"),
        _plant("hand_stop"),
        _plant("battery_sag", Argument("volts", 0.0, 60.0, "V", typical=1.5)),
        _plant("tank_fill", Argument("percent", 0.0, 100.0, "%", typical=96.0)),
        _plant("flush_supply_empty"),
        _plant("flush_check_leaks"),
        _plant("flush_valve_leaks"),
        _plant("sea_temperature", Argument("value", -2.0, 45.0, "°C", typical=43.0)),
        _plant("bilge_wet"),
        _plant("stop_button"),
        _plant("pressure_switch"),
        _sensor("sensor_open"),
        _sensor("sensor_short"),
        _sensor("sensor_stuck"),
        _sensor("sensor_drift", Argument("per_min", -ANY, ANY)),
        _sensor("sensor_noise", Argument("sd", 0.0, ANY)),
        _sensor("sensor_offset", Argument("value", -ANY, ANY)),
        _sensor("sensor_delayed", Argument("seconds", 0.0, 3600.0, "s", typical=5.0)),
        _sensor("sensor_intermittent", Argument("fraction", 0.0, 1.0, typical=0.3)),
        _sensor("pulses_lost"),
        _chip("adc_missing"),
        _chip("adc_hang"),
        _chip("adc_reset"),
        _chip("adc_wrong_channel"),
        _chip("i2c_stuck"),
    )
}


@dataclass(frozen=True, slots=True)
class Request:
    """A fault as judged: `key` is its name and target, under which a later one replaces it."""

    fault: Fault
    target: str | int | None
    values: Mapping[str, float]
    position: bool | None = None

    @property
    def key(self) -> tuple[str, str | int | None]:
        """What this request replaces or clears."""
        return self.fault.name, self.target


@dataclass(frozen=True, slots=True)
class Fitted:
    """What the boat has that a fault can strike."""

    outputs: tuple[str, ...]
    analogue: tuple[str, ...]
    pulses: tuple[str, ...]
    addresses: tuple[int, ...]


def parse(name: str, arguments: Mapping[str, Value], fitted: Fitted, *, clear: bool = False) -> Request:
    """Judge a request. Raises ValueError with one line that names what is wrong and what would be right.

    To clear, arguments are optional: without its target a fault is cleared wherever it stands.
    """
    fault = FAULTS.get(name)
    if fault is None:
        raise ValueError(f"no fault is called {name!r}{_alike(name)}")
    known = {argument.name for argument in fault.arguments} | ({fault.target} - {""})
    if name == "valve_stuck":
        known.add("position")
    for given in arguments:
        if given not in known:
            takes = f"it takes {_listed(sorted(known))}" if known else "it takes none"
            raise ValueError(f"fault {name} has no argument {given!r}; {takes}")
    target = _target(fault, arguments, fitted, clear)
    values = {} if clear else _values(fault, arguments)
    return Request(fault, target, values, None if clear else _position(fault, arguments))


def _values(fault: Fault, arguments: Mapping[str, Value]) -> dict[str, float]:
    values: dict[str, float] = {}
    for argument in fault.arguments:
        if argument.name in arguments:
            values[argument.name] = _number(fault, argument, arguments[argument.name])
        elif not argument.optional:
            raise ValueError(f"fault {fault.name} needs {argument.name}, {_range(argument)}")
    return values


def _number(fault: Fault, argument: Argument, value: Value) -> float:
    number = value if isinstance(value, (int, float)) and not isinstance(value, bool) else math.nan
    if not argument.low <= number <= argument.high:
        raise ValueError(f"fault {fault.name}: {argument.name} is {value!r}; give {_range(argument)}")
    return float(number)


def _range(argument: Argument) -> str:
    if argument.high >= ANY:
        return "a number in the channel's unit"
    return f"a number from {argument.low:g} to {argument.high:g} {argument.unit}".rstrip()


def _position(fault: Fault, arguments: Mapping[str, Value]) -> bool | None:
    if fault.name != "valve_stuck":
        return None
    value = arguments.get("position")
    if isinstance(value, bool):
        return value
    if value not in ("on", "off"):
        given = f" is {value!r}; give" if value is not None else " is needed:"
        raise ValueError(f"fault valve_stuck: position{given} on or off")
    return value == "on"


def _target(fault: Fault, arguments: Mapping[str, Value], fitted: Fitted, clear: bool) -> str | int | None:
    if not fault.target:
        return None
    allowed = targets_of(fault, fitted)
    if fault.target not in arguments:
        if clear:
            return None
        if fault.name == "i2c_stuck" and allowed:
            return allowed[0]
        raise ValueError(f"fault {fault.name} needs {fault.target}: one of {_listed(allowed)}")
    value = arguments[fault.target]
    chosen = _address(value) if fault.target == "address" else value
    if chosen not in allowed or isinstance(chosen, bool) or not isinstance(chosen, (str, int)):
        names = [each for each in allowed if isinstance(each, str)]
        given = hex(chosen) if isinstance(chosen, int) and chosen > 1 else repr(value)
        nearest = _nearest(str(value), names)
        raise ValueError(f"fault {fault.name}: {fault.target} {given} is none of {_listed(allowed)}{nearest}")
    return chosen


def targets_of(fault: Fault, fitted: Fitted) -> tuple[str | int, ...]:
    """What of the boat's outputs, channels or chips a fault can strike; nothing for a fault of the plant."""
    if not fault.target:
        return ()
    if fault.target == "address":
        return fitted.addresses
    if fault.target == "channel":
        return fitted.pulses if fault.name == "pulses_lost" else fitted.analogue + fitted.pulses
    switched = tuple(output for output in fitted.outputs if output != "heartbeat")
    return tuple(output for output in switched if not fault.targets or output in fault.targets)


def _address(value: Value) -> Value:
    if not isinstance(value, str):
        return value
    try:
        return int(value, 0)
    except ValueError:
        return value


def _listed(names: Iterable[str | int]) -> str:
    return ", ".join(hex(name) if isinstance(name, int) else name for name in names) or "(none fitted)"


def _alike(name: str) -> str:
    """The faults that may have been meant: those with the word in their name, else the one spelt most nearly so."""
    present = successor(name, FAULTS)
    if present:
        return f"; renamed: write {present}"
    containing = [known for known in FAULTS if name and name in known]
    alike = containing or get_close_matches(name, list(FAULTS), n=1, cutoff=0.5)
    return f"; did you mean {' or '.join(alike[:MOST_ALIKE])}?" if alike else ""


def _nearest(name: str, names: Sequence[str]) -> str:
    present, close = successor(name, names), get_close_matches(name, names, n=1, cutoff=0.5)
    if present:
        return f"; renamed: write {present}"
    return f"; did you mean {close[0]}?" if close else ""


@dataclass(slots=True)
class Upsets:
    """What is wrong with the plant now; every default is a healthy plant."""

    prefilter_severity: float = 0.0
    seacock_closed: bool = False
    air_severity: float = 0.0
    brine_blocked: bool = False
    blocked_rate_bar_ms: float | None = None
    regulator_drift_bar_s: float = 0.0
    regulator_left_at_bar: float | None = None
    salt_factor: float = 1.0
    water_factor: float = 1.0
    hoses_swapped: bool = False
    product_line_closed: bool = False
    hp_pump_dead: bool = False
    hp_pump_factor: float = 1.0
    feed_pump_dead: bool = False
    hand_start: bool = False
    hand_stop: bool = False
    battery_sag_v: float = 0.0
    tank_percent: float | None = None
    flush_supply_empty: bool = False
    flush_check_leaks: bool = False
    flush_valve_leaks: bool = False
    sea_temperature_c: float | None = None
    bilge_wet: bool = False
    stop_button: bool = False
    pressure_switch: bool = False
    welded: set[str] = field(default_factory=set)
    stuck: dict[str, bool] = field(default_factory=dict)


_ARGUMENT_FIELDS: dict[tuple[str, str], tuple[str, float]] = {
    ("prefilter_clogged", "severity"): ("prefilter_severity", 1.0),
    ("air_in_suction", "severity"): ("air_severity", 1.0),
    ("brine_blocked", "rate_bar_per_ms"): ("blocked_rate_bar_ms", 1.0),
    ("regulator_drift", "bar_per_min"): ("regulator_drift_bar_s", 1.0 / 60.0),
    ("regulator_left_at", "bar"): ("regulator_left_at_bar", 1.0),
    ("membrane_leak", "factor"): ("salt_factor", 1.0),
    ("membrane_fouled", "factor"): ("water_factor", 1.0),
    ("hp_pump_worn", "factor"): ("hp_pump_factor", 1.0),
    ("battery_sag", "volts"): ("battery_sag_v", 1.0),
    ("tank_fill", "percent"): ("tank_percent", 1.0),
    ("sea_temperature", "value"): ("sea_temperature_c", 1.0),
}
"""Which field an argument sets, and times what."""


class ActiveFaults:
    """The faults that stand now, in the order they came."""

    __slots__ = ("_active",)

    def __init__(self) -> None:
        self._active: dict[tuple[str, str | int | None], Request] = {}

    def set(self, request: Request) -> None:
        """Let it stand, in place of one with the same name and target."""
        self._active[request.key] = request

    def clear(self, request: Request) -> list[Request]:
        """End it (with no target: wherever it stands); returns what was ended."""
        name, target = request.key
        ended = [key for key in self._active if key[0] == name and target in (None, key[1])]
        return [self._active.pop(key) for key in ended]

    def stands(self, name: str) -> bool:
        """Whether a fault of this name stands."""
        return any(key[0] == name for key in self._active)

    def upsets(self) -> Upsets:
        """What these faults do to the plant."""
        upsets = Upsets()
        for request in self._active.values():
            if request.fault.kind == "plant":
                _upset(upsets, request)
        return upsets

    def of_channel(self, channel: str) -> list[Request]:
        """The sensor faults of one channel."""
        return [
            request for request in self._active.values() if request.fault.kind == "sensor" and request.target == channel
        ]

    def standing(self) -> tuple[Request, ...]:
        """What stands, in the order it came."""
        return tuple(self._active.values())

    def names(self) -> tuple[str, ...]:
        """What stands, for the truth."""
        return tuple(name if target is None else f"{name} {target}" for name, target in self._active)


def _upset(upsets: Upsets, request: Request) -> None:
    name = request.fault.name
    if name == "relay_welded":
        upsets.welded.add(str(request.target))
    elif name == "valve_stuck":
        upsets.stuck[str(request.target)] = bool(request.position)
    elif hasattr(upsets, name):
        setattr(upsets, name, True)
    for argument, value in request.values.items():
        attribute, factor = _ARGUMENT_FIELDS[name, argument]
        setattr(upsets, attribute, value * factor)
