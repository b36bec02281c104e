"""The sensors: true value, what is wrong with the sensor, noise; and meters that count pulses.

Sensor faults act on the value in the channel's unit, before it becomes volts or pulses.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Sequence
from random import Random

from halocline.plant.sensors import AnalogueInput, Pulses
from halocline.simulation.faults import Request
from halocline.simulation.voltages import Encode, broken_v, encoder, lsb_v

LOOSE_S = 0.2
"""A loose wire makes or breaks contact at most this often."""

BREAKS = {"sensor_open": "open", "sensor_short": "short"}


class Illness:
    """The faults of one sensor that stand now, and what they need to remember."""

    __slots__ = ("_faults", "_history", "_loose_until_s", "_random", "_since_s", "frozen", "loose", "wire")

    def __init__(self, random: Random) -> None:
        self._random = random
        self._faults: dict[str, dict[str, float]] = {}
        self._since_s: dict[str, float] = {}
        self._history: deque[tuple[float, float]] = deque()
        self._loose_until_s = -math.inf
        self.loose = self.frozen = False
        self.wire: str | None = None

    def set(self, requests: Sequence[Request], now_s: float) -> None:
        """Take over which faults stand; one that stood already goes on from when it began."""
        self._faults = {request.fault.name: dict(request.values) for request in requests}
        self._since_s = {name: self._since_s.get(name, now_s) for name in self._faults}
        self.wire = next((how for name, how in BREAKS.items() if name in self._faults), None)
        self.frozen = "sensor_stuck" in self._faults
        if "sensor_delayed" not in self._faults:
            self._history.clear()

    def restart(self, name: str, now_s: float) -> None:
        """A fault was given anew: it counts from now."""
        self._since_s[name] = now_s

    @property
    def remembers(self) -> bool:
        """Whether it wants to be told every value."""
        return "sensor_delayed" in self._faults

    @property
    def silent(self) -> bool:
        """Whether a meter with this illness gives no pulses at all."""
        return self.wire is not None or "pulses_lost" in self._faults

    def remember(self, value: float, now_s: float) -> None:
        """Keep a value for a sensor that shows the past; the first one kept is the one it shows."""
        self._history.append((now_s, value))
        wanted_s = now_s - self._faults["sensor_delayed"]["seconds"]
        while len(self._history) > 1 and self._history[1][0] <= wanted_s:
            self._history.popleft()

    def shown(self, value: float, now_s: float) -> float:
        """The value the sensor believes in."""
        faults = self._faults
        if "sensor_delayed" in faults:
            value = self._history[0][1] if self._history else value
        if "sensor_drift" in faults:
            value += faults["sensor_drift"]["per_min"] * (now_s - self._since_s["sensor_drift"]) / 60.0
        if "sensor_offset" in faults:
            value += faults["sensor_offset"]["value"]
        if "sensor_noise" in faults:
            value += self._random.gauss(0.0, faults["sensor_noise"]["sd"])
        return value

    def is_loose(self, now_s: float) -> bool:
        """Whether a loose wire is open at this moment."""
        if "sensor_intermittent" not in self._faults:
            return False
        if now_s >= self._loose_until_s:
            self._loose_until_s = now_s + LOOSE_S
            self.loose = self._random.random() < self._faults["sensor_intermittent"]["fraction"]
        return self.loose


class AnalogueSensor:
    """One converter input with its circuit, its noise, and its faults."""

    __slots__ = (
        "_encode",
        "_frozen_v",
        "_gauss",
        "_noise_v",
        "_sensor",
        "_supply_factor",
        "_value",
        "channel",
        "ill",
        "illness",
    )

    def __init__(
        self,
        channel: str,
        sensor: AnalogueInput,
        value: Callable[[float], float],
        *,
        noise_lsb: float,
        supply_factor: float,
        random: Random,
    ) -> None:
        self.channel = channel
        self.illness = Illness(random)
        self.ill = False
        self._sensor = sensor
        self._value = value
        self._noise_v = noise_lsb * lsb_v(sensor.gain_v)
        self._gauss = random.gauss
        self._supply_factor = supply_factor
        self._encode: Encode = encoder(sensor, supply_factor)  # type: ignore[arg-type]
        self._frozen_v: float | None = None

    def volts(self, now_s: float, ahead_s: float) -> float:
        """What the chip sees now; `ahead_s` is how far the plant's state lies behind."""
        if self.ill:
            return self._ill_volts(now_s, ahead_s)
        return self._encode(self._value(ahead_s)) + self._gauss(0.0, self._noise_v)

    def afflict(self, requests: Sequence[Request], now_s: float) -> None:
        """Take over the faults that stand."""
        if not any(request.fault.name == "sensor_stuck" for request in requests):
            self._frozen_v = None
        self.illness.set(requests, now_s)
        self.ill = bool(requests)

    def note(self, now_s: float) -> None:
        """Be told that time went on."""
        if self.illness.remembers:
            self.illness.remember(self._value(0.0), now_s)

    def _ill_volts(self, now_s: float, ahead_s: float) -> float:
        illness = self.illness
        noise_v = self._gauss(0.0, self._noise_v)
        if illness.wire is not None:
            return broken_v(self._sensor, illness.wire, self._supply_factor) + noise_v  # type: ignore[arg-type]
        if illness.is_loose(now_s):
            return broken_v(self._sensor, "open", self._supply_factor) + noise_v
        if illness.frozen and self._frozen_v is not None:
            return self._frozen_v
        volts = self._encode(illness.shown(self._value(ahead_s), now_s)) + noise_v
        if illness.frozen:
            self._frozen_v = volts
        return volts


class Meter:
    """A turbine: pulses from the flow through it, counted with the time of the last one."""

    __slots__ = ("_flow", "_least_l_h", "_per_l_h", "_stuck_hz", "channel", "hz", "ill", "illness", "last_s", "phase")

    def __init__(
        self, channel: str, sensor: Pulses, flow: Callable[[float], float], threshold: float, random: Random
    ) -> None:
        self.channel = channel
        self.illness = Illness(random)
        self.ill = False
        self.phase = random.random()
        self.last_s = 0.0
        self.hz = 0.0
        self._flow = flow
        self._per_l_h = sensor.pulses_per_l / 3600.0
        self._least_l_h = threshold * sensor.high
        self._stuck_hz: float | None = None

    def step(self, now_s: float, seconds: float) -> None:
        """Turn for a while at the present speed; `now_s` is the time at the end."""
        if self.hz > 0.0:
            before = int(self.phase)
            self.phase += self.hz * seconds
            whole = int(self.phase)
            if whole > before:
                self.last_s = now_s - (self.phase - whole) / self.hz

    def refresh(self, now_s: float) -> None:
        """Take the present flow; a turbine does not count backwards, and stands still in a trickle."""
        flow_l_h = self._flow(0.0)
        if self.ill:
            self.hz = self._ill_hz(flow_l_h, now_s)
        else:
            self.hz = flow_l_h * self._per_l_h if flow_l_h > self._least_l_h else 0.0

    def edges(self, now_s: float, ahead_s: float) -> tuple[int, float]:
        """Pulses until now, and when the last one came."""
        whole = int(self.phase)
        if self.hz > 0.0 and ahead_s > 0.0:
            reached = self.phase + self.hz * ahead_s
            if int(reached) > whole:
                whole = int(reached)
                return whole, now_s - (reached - whole) / self.hz
        return whole, self.last_s

    def afflict(self, requests: Sequence[Request], now_s: float) -> None:
        """Take over the faults that stand."""
        self.illness.set(requests, now_s)
        self._stuck_hz = self.hz if self.illness.frozen else None
        self.ill = bool(requests)

    def note(self, now_s: float) -> None:
        """Be told that time went on."""
        if self.illness.remembers:
            self.illness.remember(self._flow(0.0), now_s)

    def _ill_hz(self, flow_l_h: float, now_s: float) -> float:
        if self.illness.silent or self.illness.is_loose(now_s):
            return 0.0
        if self._stuck_hz is not None:
            return self._stuck_hz
        shown = self.illness.shown(flow_l_h, now_s)
        return shown * self._per_l_h if shown > self._least_l_h else 0.0
