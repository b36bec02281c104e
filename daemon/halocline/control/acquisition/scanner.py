"""Turns conversions into time-stamped samples, the membrane pressure between every two other channels.

One turn is one conversion of the membrane pressure (two, where the first is above the limit) and one of another; what
may not grow old comes again after every few of the rest. A chip that does not deliver is tried again at once while
that costs next to nothing, then leaves the rotation and is probed once a second, after a bus clear where pins are wired
for it. Each new pressure sample is compared here, unfiltered, so that the loop hears of two in a row above the limit at
once.
"""

import contextlib
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import cycle
from typing import NamedTuple, Protocol

from halocline.control.acquisition.board import Board
from halocline.control.acquisition.hardware_interlock import InterlockGuard
from halocline.plant.sensors import AnalogueInput, Ratiometric
from halocline.plant.settings import Settings
from halocline.plant.thresholds import AGE_LIMITS_S, RATE_SPS, URGENT_AFTER

ATTEMPTS = 3
"""A spark on the bus spoils one conversion, hardly three that follow at once (chosen)."""
RETRY_WITHIN_S = 0.03
"""Conversions that fail quickly are repeated; one that hangs has cost its time, and the others wait (chosen)."""
PROBE_EVERY_S = 1.0
"""A chip that is lost costs a hang each time it is asked: once a second leaves the scan its pace (chosen)."""
BLOCKED_AFTER_S = AGE_LIMITS_S["vessel_pressure"]
"""A chip that keeps the bus waiting for so long makes the membrane pressure too old: it is lost."""
SAMPLES_KEPT = 4096
"""Almost 5 s of conversions at full pace, if the loop is held up (computed: 4096 / 860)."""
IN_A_ROW = 2
"""A single conversion may be a spark; two that follow each other, each a mean of 1.2 ms, are pressure (chosen)."""
PRESSURE = "vessel_pressure"


class Sample(NamedTuple):
    """One conversion: volts at the chip at monotonic `t_s`; None where the chip did not deliver."""

    channel: str
    t_s: float
    volts: float | None
    supply: bool = False


@dataclass(frozen=True, slots=True)
class Source:
    """Where one channel (or the supply of its sensor) is converted."""

    channel: str
    address: int
    mux: int
    gain_v: float
    supply: bool = False


class Clock(Protocol):
    """Monotonic seconds."""

    def now(self) -> float:
        """Monotonic time in s."""


def sources(settings: Settings) -> list[Source]:
    """Every converter input that has to be read, the membrane pressure first."""
    found = []
    for channel, sensor in settings.inputs.items():
        if not isinstance(sensor, AnalogueInput):
            continue
        found.append(Source(channel, sensor.address, sensor.mux, sensor.gain_v))
        if isinstance(sensor, Ratiometric) and sensor.supply_mux is not None:
            address = sensor.address if sensor.supply_address is None else sensor.supply_address
            found.append(Source(channel, address, sensor.supply_mux, sensor.gain_v, supply=True))
    return sorted(found, key=lambda source: source.channel != PRESSURE or source.supply)


def rotation(others: Sequence[Source]) -> list[Source]:
    """The order of the other channels: what may not grow old comes again after every few of the rest."""
    urgent = [source for source in others if source.channel in AGE_LIMITS_S and not source.supply]
    rest = [source for source in others if source not in urgent]
    rounds = [[*urgent, *rest[at : at + URGENT_AFTER]] for at in range(0, len(rest), URGENT_AFTER)]
    return [source for each in rounds for source in each] or urgent


class FastWatch:
    """Two consecutive unfiltered samples above the limit. Once seen it stays until taken."""

    def __init__(self, limit_bar: float, instant: Callable[[float | None], float | None]) -> None:
        self._limit_bar = limit_bar
        self._instant = instant
        self._above = 0
        self.seen_bar: float | None = None

    def ingest(self, volts: float | None) -> bool:
        """Judge one sample; whether it is the second in a row above the limit."""
        value = self._instant(volts)
        self._above = self._above + 1 if value is not None and value > self._limit_bar else 0
        if self._above < IN_A_ROW:
            return False
        self.seen_bar = value
        return True

    @property
    def doubtful(self) -> bool:
        """Whether the last sample was the first above the limit, so that another one has to tell."""
        return 0 < self._above < IN_A_ROW

    def take_seen(self) -> float | None:
        """The pressure that was seen since the last call, if any."""
        seen, self.seen_bar = self.seen_bar, None
        return seen


class _Chip:
    """How one converter has behaved lately."""

    __slots__ = ("failed", "next_probe_s", "retries")

    def __init__(self) -> None:
        self.failed = False
        self.next_probe_s = 0.0
        self.retries = 0


class Scanner:
    """Reads the board's converters. `wake` is called when the fast watch fires."""

    def __init__(
        self, board: Board, settings: Settings, clock: Clock, watch: FastWatch, wake: Callable[[], None]
    ) -> None:
        self._board = board
        self._clock = clock
        self._watch = watch
        self._wake = wake
        all_sources = sources(settings)
        self._pressure = all_sources[0]
        self._others: Iterator[Source] | None = cycle(rotation(all_sources[1:])) if len(all_sources) > 1 else None
        self._chips = {source.address: _Chip() for source in all_sources}
        self._busy: tuple[int, float] | None = None
        self._can_clear_bus = settings.plant.bus_clear_clock_pin is not None
        self.bus_clears = 0
        self.guard = None if settings.interlock is None else InterlockGuard(board)
        self.samples: deque[Sample] = deque(maxlen=SAMPLES_KEPT)

    def turn(self) -> None:
        """One turn. Never raises for what the electronics do."""
        self._scan(self._pressure)
        # The second look follows at once: between turns the scanner may then take its time.
        if self._watch.doubtful:
            self._scan(self._pressure)
        if self._others is not None:
            self._scan(next(self._others))
        if self.guard is not None:
            self.guard.turn(self._clock.now())

    @property
    def interlock_lost(self) -> bool:
        """Whether a comparator interlock is fitted that was not seen to hold its window."""
        return self.guard is not None and self.guard.lost

    def scan_pressure(self) -> None:
        """The membrane pressure alone."""
        self._scan(self._pressure)

    def lost_chips(self, now_s: float) -> tuple[int, ...]:
        """Addresses that do not deliver: found out, or keeping us waiting too long for an answer."""
        lost = [address for address, chip in self._chips.items() if chip.failed]
        busy = self._busy
        if busy is not None and now_s - busy[1] > BLOCKED_AFTER_S and busy[0] not in lost:
            lost.append(busy[0])
        return tuple(sorted(lost))

    def retries(self) -> dict[int, int]:
        """Conversions that had to be repeated, by address."""
        return {address: chip.retries for address, chip in self._chips.items()}

    def _scan(self, source: Source) -> None:
        chip = self._chips[source.address]
        now_s = self._clock.now()
        if chip.failed and now_s < chip.next_probe_s:
            self._deliver(source, None)
            return
        self._busy = (source.address, now_s)
        volts = self._convert(source, chip, attempts=1 if chip.failed else ATTEMPTS)
        if volts is None and self._cleared_bus():
            volts = self._convert(source, chip, attempts=1)
        self._busy = None
        chip.failed = volts is None
        if chip.failed:
            chip.next_probe_s = self._clock.now() + PROBE_EVERY_S
        self._deliver(source, volts)

    def _convert(self, source: Source, chip: _Chip, attempts: int) -> float | None:
        began_s = self._clock.now()
        for attempt in range(attempts):
            if attempt and self._clock.now() - began_s > RETRY_WITHIN_S:
                break
            try:
                return self._board.convert(source.address, source.mux, source.gain_v, RATE_SPS)
            except OSError:
                chip.retries += 1
        return None

    def _cleared_bus(self) -> bool:
        """Whether the bus was cleared, and is free now. A free bus is left as it is."""
        if not self._can_clear_bus:
            return False
        self.bus_clears += 1
        with contextlib.suppress(OSError):
            return self._board.clear_bus()
        return False

    def _deliver(self, source: Source, volts: float | None) -> None:
        self.samples.append(Sample(source.channel, self._clock.now(), volts, source.supply))
        if source.channel == PRESSURE and not source.supply and self._watch.ingest(volts):
            self._wake()
