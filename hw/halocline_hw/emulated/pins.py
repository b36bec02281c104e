"""The pin library's mock pins, wired to a circuit one can switch and watch."""

from collections import deque
from collections.abc import Callable, Iterator
from math import floor
from threading import RLock
from typing import Any, Literal, NamedTuple

from gpiozero.exc import PinInvalidFunction, PinInvalidPull, PinSetInput  # type: ignore[import-untyped]
from gpiozero.pins.mock import MockFactory, MockPin  # type: ignore[import-untyped]
from gpiozero.pins.pi import PiPin  # type: ignore[import-untyped]

from halocline_hw.clock import Clock
from halocline_hw.emulated.bus import EmulatedBus
from halocline_hw.reservations import let_go_anywhere
from halocline_hw.wiring import PULLED_UP_AT_POWER_ON, Wiring

PulseSource = Callable[[float], float]
"""Pulses given up to the monotonic time t_s, parts of a pulse included; never decreasing."""

KEPT_EVENTS = 10_000  # enough for any test; a long demonstration must not fill the memory


class PinEvent(NamedTuple):
    """What was done to a pin: claimed as an output or an input, or written; and the level it then has."""

    t_s: float
    gpio: int
    what: Literal["output", "input", "write"]
    level: bool


class EmulatedPin(MockPin):  # type: ignore[misc] # the pin library is untyped
    """A pin with a wire: an output has a latch, an input sees ground, its pull, or another's level."""

    def __init__(self, factory: "EmulatedPinFactory", info: Any) -> None:
        super().__init__(factory, info)
        self.gpio = int(info.name[4:])
        self.grounded = False
        self.level_from: Callable[[], bool] | None = None
        self.on_release: Callable[[], None] | None = None
        self._latch = False
        self._pull = info.pull or ("up" if self.gpio in PULLED_UP_AT_POWER_ON else "down")

    def output_with_state(self, state: bool) -> None:
        self._latch = bool(state)
        self._function = "output"
        self._seen("output")

    def input_with_pull(self, pull: str) -> None:
        self._set_pull_of_input(pull)
        self._to_input()

    def ground(self, closed: bool) -> None:
        """Connect the pin's wire to ground, or open it."""
        if closed == self.grounded:
            return
        self.grounded = closed
        edge = "falling" if closed else "rising"
        if self._function == "input" and self._edges in (edge, "both") and self._when_changed is not None:
            PiPin._call_when_changed(self, self.factory.clock.now(), not closed)

    def _get_state(self) -> bool:
        if self._function == "output":
            return self._latch
        if self.level_from is not None:
            return self.level_from()
        return not self.grounded and self._pull == "up"

    def _set_state(self, value: float) -> None:
        if self._function != "output":
            raise PinSetInput(f"cannot set state of pin {self!r}")
        self._latch = bool(value)
        self._seen("write")

    def _set_function(self, value: str) -> None:
        if value == "output":
            self._function = "output"
            self._seen("output")
        elif value == "input":
            self._to_input()
        else:
            raise PinInvalidFunction("function must be input or output")

    def _to_input(self) -> None:
        was_low = self._function == "output" and not self._latch
        self._function = "input"
        self._seen("input")
        if was_low and self.on_release is not None:
            self.on_release()

    def _set_pull(self, value: str) -> None:
        self._set_pull_of_input(value)

    def _set_pull_of_input(self, value: str) -> None:
        if value not in ("up", "down", "floating"):
            raise PinInvalidPull("pull must be floating, up, or down")
        self._pull = value

    def _seen(self, what: Literal["output", "input", "write"]) -> None:
        self.factory.seen(self, what)


class CountingPin(EmulatedPin):
    """A pin that counts its own pulses, so that thousands need not be given edge by edge."""

    def __init__(self, factory: "EmulatedPinFactory", info: Any) -> None:
        super().__init__(factory, info)
        self._lock = RLock()  # pulses are given and asked for by different threads
        self._source: PulseSource | None = None
        self._total = 0.0
        self._asked_s = self._last_s = factory.clock.now()

    def feed(self, pulses: int) -> None:
        """Give so many pulses now."""
        with self._lock:
            self.counted_pulses()
            self._total += pulses
            self._last_s = self.factory.clock.now()

    def ground(self, closed: bool) -> None:
        if closed and not self.grounded:
            self.feed(1)
        super().ground(closed)

    def pulses_from(self, source: PulseSource | None) -> None:
        """Ask `source` for the pulses from now on; None stops them."""
        with self._lock:
            self.counted_pulses()
            self._source = source
            self._start = 0.0 if source is None else source(self.factory.clock.now())
            self._before = self._total

    def counted_pulses(self) -> tuple[int, float]:
        """Whole pulses so far, and the time of the last one in s, interpolated between two asks."""
        with self._lock:
            now_s = self.factory.clock.now()
            if self._source is not None:
                self._take(self._before + self._source(now_s) - self._start, now_s)
            self._asked_s = now_s
            return floor(self._total), self._last_s

    def _take(self, total: float, now_s: float) -> None:
        if total <= self._total:
            return
        whole = floor(total)
        if whole > floor(self._total):
            share = (whole - self._total) / (total - self._total)
            self._last_s = self._asked_s + share * (now_s - self._asked_s)
        self._total = total


class EmulatedPinFactory(MockFactory):  # type: ignore[misc] # the pin library is untyped
    """Makes the pins of one emulated computer and tells `watch` what is done to them."""

    def __init__(self, clock: Clock, pin_class: type[EmulatedPin], watch: Callable[..., None]) -> None:
        super().__init__(revision="c03112", pin_class=pin_class)
        let_go_anywhere(self)
        self.clock = clock
        self.seen = watch

    def ticks(self) -> float:
        return self.clock.now()


class EmulatedPins:
    """Every line of a wiring from its other side: relays to look at, contacts to open, pulses to give.

    All contacts start closed, as intact circuits are. on_output(line, energised, t_s) is called when a
    relay changes. pins_count=False gives pulses edge by edge through the pin library, as copper does.
    """

    def __init__(
        self,
        wiring: Wiring,
        clock: Clock,
        *,
        on_output: Callable[[str, bool, float], None] | None = None,
        pins_count: bool = True,
    ) -> None:
        self.pins_count = pins_count
        self._wiring = wiring
        self._clock = clock
        self._on_output = on_output
        self._energised = dict.fromkeys(wiring.outputs, False)
        self._output_of = {output.pin: (line, output) for line, output in wiring.outputs.items()}
        self.events: deque[PinEvent] = deque(maxlen=KEPT_EVENTS)
        self.factory = EmulatedPinFactory(clock, CountingPin if pins_count else EmulatedPin, self._seen)
        for line in wiring.contacts:
            self.set_contact(line, True)

    def energised(self, line: str) -> bool:
        """Whether the output's relay is driven; a pin nobody drives is held safe by its resistor."""
        return self._energised[line]

    def outputs(self) -> dict[str, bool]:
        """Every output and whether its relay is driven."""
        return dict(self._energised)

    def ever_energised(self) -> Iterator[tuple[float, str]]:
        """(time, line) of every event in the record that left a relay driven."""
        for event in self.events:
            line, output = self._output_of.get(event.gpio, (None, None))
            if line is None or output is None or event.what == "input":
                continue
            if event.level == output.active_high:
                yield event.t_s, line

    def set_contact(self, line: str, closed: bool) -> None:
        """Close or open the contact's circuit."""
        self.factory.pin(self._wiring.contacts[line].pin).ground(closed)

    def feed_pulses(self, line: str, pulses: int) -> None:
        """Give so many pulses now, as fast as they go."""
        pin = self.factory.pin(self._wiring.pulses[line].pin)
        if isinstance(pin, CountingPin):
            pin.feed(pulses)
            return
        for _ in range(pulses):
            pin.ground(True)
            pin.ground(False)

    def set_pulse_source(self, line: str, source: PulseSource | None) -> None:
        """Let `source` say how many pulses the line has given; needs pins that count."""
        self.factory.pin(self._wiring.pulses[line].pin).pulses_from(source)

    def tie_to_bus(self, bus: EmulatedBus) -> None:
        """Connect the bus-clear pins to the two lines of an emulated bus."""
        if self._wiring.bus_clear is None:
            raise ValueError("the wiring has no bus-clear pins")
        self.factory.pin(self._wiring.bus_clear.scl).on_release = bus.clock_pulse
        self.factory.pin(self._wiring.bus_clear.sda).level_from = bus.data_is_free

    def _seen(self, pin: EmulatedPin, what: Literal["output", "input", "write"]) -> None:
        t_s = self._clock.now()
        level = pin._get_state()
        self.events.append(PinEvent(t_s, pin.gpio, what, level))
        found = self._output_of.get(pin.gpio)
        if found is None:
            return
        line, output = found
        energised = what != "input" and level == output.active_high
        if energised != self._energised[line]:
            self._energised[line] = energised
            if self._on_output is not None:
                self._on_output(line, energised, t_s)
