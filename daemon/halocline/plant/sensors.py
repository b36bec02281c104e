"""How each input is wired: one dataclass a sensor kind, as a configuration file describes it.

Every analogue kind names its converter input (`address`, `mux`) and the full-scale range `gain_v` to read it
with. `low` and `high` are the channel values at the ends of the sensor's span, in the channel's unit;
`error` is the sensor's own accuracy in the same unit, against which limits are judged.
"""

from dataclasses import dataclass
from typing import ClassVar, Literal

from halocline.plant.fields import setting

Compensation = Literal["natural", "nacl", "linear", "done"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalogueInput:
    """What all converter inputs have in common."""

    address: int = setting("I2C address of the ADC chip", low=0x48, high=0x4B)
    mux: int = setting("single-ended input of the chip", low=0, high=3)
    gain_v: float = setting(
        "full-scale range", default=4.096, unit="V", choices=(6.144, 4.096, 2.048, 1.024, 0.512, 0.256)
    )
    low: float = setting("what the channel is at the low end of the sensor's span, in the channel's unit")
    high: float = setting("what the channel is at the high end of the sensor's span, in the channel's unit")
    error: float = setting("accuracy of the sensor, in the channel's unit", low=0.0)
    smoothing_s: float = setting(
        "time constant of the displayed and judged value; fast comparisons use the unfiltered sample",
        default=0.2,
        unit="s",
        low=0.0,
        high=60.0,
    )
    compensation: Compensation = setting(
        "temperature compensation of a conductivity; 'done' where the transmitter already delivers 25 °C",
        default="nacl",
        choices=("natural", "nacl", "linear", "done"),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CurrentLoop(AnalogueInput):
    """4–20 mA over a shunt (IEC 60381-1, fault bands of NAMUR NE 43)."""

    kind: ClassVar[str] = "current_loop"
    shunt_ohm: float = setting("shunt resistor", default=150.0, unit="ohm", low=10.0, high=500.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratiometric(AnalogueInput):
    """0.5–4.5 V of a 5 V supply, the supply measured on an input of its own where `supply_mux` is given."""

    kind: ClassVar[str] = "ratiometric"
    supply_v: float = setting("nominal supply of the sensor", default=5.0, unit="V", low=3.0, high=5.5)
    supply_address: int | None = setting("chip that measures the supply", default=None, low=0x48, high=0x4B)
    supply_mux: int | None = setting("input that measures the supply", default=None, low=0, high=3)
    divider: float = setting("sensor volts per volt at the chip", default=1.0, low=1.0, high=10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Voltage(AnalogueInput):
    """A voltage proportional to the value (0–5 V, 0–10 V, a battery, a current sensor), through a divider."""

    kind: ClassVar[str] = "voltage"
    volts_low: float = setting("sensor volts at `low`", default=0.0, unit="V", low=-20.0, high=100.0)
    volts_high: float = setting("sensor volts at `high`", unit="V", low=-20.0, high=100.0)
    divider: float = setting("sensor volts per volt at the chip", default=1.0, low=1.0, high=100.0)
    live_zero: bool = setting("whether 0 V can only mean a broken wire", default=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermistor(AnalogueInput):
    """A thermistor to ground under a pull-up resistor. `low` and `high` bound the temperatures believed."""

    kind: ClassVar[str] = "thermistor"
    pullup_ohm: float = setting("resistor from the supply", default=10_000.0, unit="ohm", low=100.0, high=1e6)
    supply_v: float = setting("supply of the pull-up", default=3.3, unit="V", low=1.0, high=5.5)
    r25_ohm: float = setting("resistance at 25 °C", default=10_000.0, unit="ohm", low=100.0, high=1e6)
    beta_k: float = setting("beta constant", default=3950.0, unit="K", low=1000.0, high=6000.0)
    steinhart_hart: tuple[float, float, float] | None = setting(
        "coefficients a, b, c; they replace the beta constant", default=None
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ResistiveSender(AnalogueInput):
    """A tank sender to ground under a pull-up, European or American, with a table for the tank's shape."""

    kind: ClassVar[str] = "resistive_sender"
    pullup_ohm: float = setting("resistor from the supply", default=220.0, unit="ohm", low=10.0, high=100_000.0)
    supply_v: float = setting("supply of the pull-up", default=3.3, unit="V", low=1.0, high=15.0)
    empty_ohm: float = setting("resistance at empty", unit="ohm", low=0.0, high=500.0)
    full_ohm: float = setting("resistance at full", unit="ohm", low=0.0, high=500.0)
    shape: tuple[tuple[float, float], ...] = setting(
        "pairs (sender fraction, volume fraction) for a tank that is no box", default=()
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulses:
    """A turbine or reed meter on a pin of the computer."""

    kind: ClassVar[str] = "pulses"
    pin: int = setting("GPIO number (BCM)", low=2, high=27)
    pulses_per_l: float = setting("K-factor", unit="1/L", low=1.0, high=20_000.0)
    max_hz: float = setting("fastest believable pulse rate", default=200.0, unit="Hz", low=1.0, high=200.0)
    gate_s: float = setting("longest time over which pulses are averaged", default=10.0, unit="s", low=1.0, high=60.0)
    high: float = setting("largest flow the meter measures", unit="L/h")
    error: float = setting("accuracy of the meter at working flow", default=0.0, unit="L/h", low=0.0)

    @property
    def low(self) -> float:
        """A flow meter's span starts at zero."""
        return 0.0


Input = CurrentLoop | Ratiometric | Voltage | Thermistor | ResistiveSender | Pulses
INPUT_KINDS: dict[str, type[Input]] = {
    kind.kind: kind for kind in (CurrentLoop, Ratiometric, Voltage, Thermistor, ResistiveSender, Pulses)
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactInput:
    """A normally closed contact from a pin to ground."""

    pin: int = setting("GPIO number (BCM)", low=2, high=27)
    debounce_s: float = setting("time a change must last", default=0.05, unit="s", low=0.0, high=5.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputPin:
    """A relay driver on a pin."""

    pin: int = setting("GPIO number (BCM)", low=2, high=27)
    active_high: bool = setting("whether a high level energises the relay", default=True)
    accept_active_low: bool = setting("accept a board whose relays close while the computer boots", default=False)
