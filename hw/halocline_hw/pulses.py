"""Counts a meter's pulses and leaves out what no water could have made.

Contacts bounce and wires pick up noise; both look like pulses that come too fast. Those are counted
apart, so that whoever judges the reading sees that there were any.
"""

from threading import Lock
from typing import Any, Protocol

from gpiozero import Factory, InputDevice  # type: ignore[import-untyped]

from halocline_hw.clock import Clock
from halocline_hw.wiring import PulsePin

# Two edges of an even rate may come this much closer than the mean: meters are not built that evenly.
EVENNESS = 0.8


class PulseMeter(Protocol):
    """Pulses of one line: `excess` counts those left out."""

    @property
    def excess(self) -> int: ...

    def read(self) -> tuple[int, float]:
        """Pulses counted, and the monotonic time of the last one in s."""

    def close(self) -> None: ...


def pulse_meter(pulse: PulsePin, pin_factory: Factory, clock: Clock) -> PulseMeter:
    """Counts in the pin where the pin can count, else edge by edge."""
    device = InputDevice(pulse.pin, pull_up=True, pin_factory=pin_factory)
    try:
        if hasattr(device.pin, "counted_pulses"):
            return CountedPulses(device, pulse.max_hz, clock)
        return EdgePulses(device, pulse.max_hz, clock)
    except Exception:
        # now, and not when the object is collected: by then its chip may have been let go
        device.close()
        raise


class EdgePulses:
    """Counts falling edges as the pin library reports them."""

    def __init__(self, device: InputDevice, max_hz: float, clock: Clock) -> None:
        self._device = device
        self._clock = clock
        self._least_apart_s = EVENNESS / max_hz
        self._lock = Lock()
        self._count = 0
        self._last_s = clock.now()
        self._last_ticks: Any = None
        self.excess = 0
        device.pin.edges = "falling"
        device.pin.when_changed = self._on_edge

    def _on_edge(self, ticks: Any, state: Any) -> None:  # noqa: ARG002 - the pin library's signature
        # The library's ticks are the time of the edge; our clock tells when we heard of it.
        with self._lock:
            last = self._last_ticks
            if last is not None and self._device.pin_factory.ticks_diff(ticks, last) < self._least_apart_s:
                self.excess += 1
                return
            self._last_ticks = ticks
            self._count += 1
            self._last_s = self._clock.now()

    def read(self) -> tuple[int, float]:
        with self._lock:
            return self._count, self._last_s

    def close(self) -> None:
        self._device.pin.when_changed = None
        self._device.close()


class CountedPulses:
    """Reads a pin that counts by itself (`counted_pulses() -> (count, time of the last)`)."""

    def __init__(self, device: InputDevice, max_hz: float, clock: Clock) -> None:
        self._device = device
        self._clock = clock
        self._max_hz = max_hz
        self._seen, _ = device.pin.counted_pulses()
        self._read_s = self._last_s = clock.now()
        self._count = 0
        self.excess = 0

    def read(self) -> tuple[int, float]:
        now_s = self._clock.now()
        total, last_s = self._device.pin.counted_pulses()
        new = total - self._seen
        if new > 0:
            possible = int(self._max_hz * (now_s - self._read_s)) + 1
            self._count += min(new, possible)
            self.excess += max(0, new - possible)
            self._seen, self._last_s = total, last_s
        self._read_s = now_s
        return self._count, self._last_s

    def close(self) -> None:
        self._device.close()
