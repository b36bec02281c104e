"""What the electronics show while nothing runs: every input looked at for some seconds, for `halocline check`.

A look is taken from a board of our own while control is stopped, or from a running control's snapshot.
"""

import errno
import statistics
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from halocline.control.acquisition.board import Board
from halocline.control.acquisition.measurement import Measurement
from halocline.control.acquisition.scanner import FastWatch, Scanner, sources
from halocline.plant.settings import Settings
from halocline.plant.thresholds import CHIP_INPUTS, RATE_SPS
from halocline.plant.vocabulary import AT_REST, Quality, Reading, State

CHECK_S = 3.0
"""A channel is acquitted after one good second; slow meters need longer to show that they stand still (chosen)."""

TURN_S = 0.02
"""A pause between two turns, so that `check` leaves the computer to others (chosen)."""
ADDRESSES = range(0x48, 0x4C)
"""By where its ADDR pin is tied (data sheet of the ADS111x family)."""
FREE_INPUT_GAIN_V = 4.096
"""The range that takes all that a chip at 3.3 V can be given (data sheet of the ADS111x family)."""
FREE_INPUT_LOOKS = 5
"""Their median drops two that a spark has spoilt (computed)."""


class Clock(Protocol):
    """Monotonic seconds that can be waited for."""

    def now(self) -> float:
        """Monotonic time in s."""

    def sleep(self, seconds: float) -> None:
        """Let so many seconds pass."""


@dataclass(frozen=True, slots=True)
class WiringSurvey:
    """What was seen. `chip_errors`: errno by the address of a chip that does not deliver. `strangers`: addresses
    at which a chip answers that nobody configured. `free_v`: volts at inputs nobody configured, by (address, mux).
    `supplies_v`: measured supplies of sensors as volts at the chip, by channel. `at_rest`: whether nothing runs, None
    where a person may be running the pump by its own switch. `interlock_lost`: a comparator interlock is fitted that
    does not hold its window. `retries`: conversions that had to be repeated, by address of the chip."""

    readings: Mapping[str, Reading]
    active: Mapping[str, bool]
    chip_errors: Mapping[int, int] = field(default_factory=dict)
    strangers: tuple[int, ...] = ()
    free_v: Mapping[tuple[int, int], float] = field(default_factory=dict)
    supplies_v: Mapping[str, float] = field(default_factory=dict)
    interlock_lost: bool = False
    retries: Mapping[int, int] = field(default_factory=dict)
    at_rest: bool | None = True


def look(settings: Settings, board: Board, clock: Clock) -> WiringSurvey:
    """Look at every input of a board for `CHECK_S`."""
    measurement = Measurement(settings, board)
    scanner = Scanner(board, settings, clock, FastWatch(float("inf"), lambda _volts: None), lambda: None)
    supplies_v: dict[str, float] = {}
    end_s = clock.now() + CHECK_S
    while clock.now() < end_s:
        scanner.turn()
        supplies_v |= {s.channel: s.volts for s in scanner.samples if s.supply and s.volts is not None}
        measurement.take_samples(scanner)
        measurement.take_lines(clock.now())
        clock.sleep(TURN_S)
    inputs = measurement.inputs(
        clock.now(),
        State.STANDBY,
        scanner,
        overpressure_bar=None,
        missed_ticks=0,
        clock_set=True,
        wall_s=None,
        supply_voltage_low=False,
        latch_writable=True,
    )
    places = {(source.address, source.mux) for source in sources(settings)}
    errors = dict(_errors(board, {address for address, _ in places}))
    return WiringSurvey(
        readings=inputs.readings,
        active=inputs.active,
        chip_errors=errors,
        strangers=tuple(_strangers(board, settings)) if errors else (),
        free_v=dict(_free_inputs(board, places, errors)),
        supplies_v=supplies_v,
        interlock_lost=scanner.interlock_lost,
        retries=scanner.retries(),
    )


def _errors(board: Board, addresses: Iterable[int]) -> Iterator[tuple[int, int]]:
    """How each chip fails that still does."""
    for address in sorted(addresses):
        try:
            board.convert(address, 0, FREE_INPUT_GAIN_V, RATE_SPS)
        except OSError as error:
            yield address, error.errno or errno.EIO


def _strangers(board: Board, settings: Settings) -> Iterator[int]:
    known = {source.address for source in sources(settings)}
    yield from (address for address in ADDRESSES if address not in known and board.answers(address))


def _free_inputs(
    board: Board, places: set[tuple[int, int]], errors: Mapping[int, int]
) -> Iterator[tuple[tuple[int, int], float]]:
    """Volts at the inputs of working chips that nothing is configured on."""
    for address in sorted({address for address, _ in places} - errors.keys()):
        for mux in range(CHIP_INPUTS):
            if (address, mux) in places:
                continue
            try:
                seen = [board.convert(address, mux, FREE_INPUT_GAIN_V, RATE_SPS) for _ in range(FREE_INPUT_LOOKS)]
            except OSError:
                continue
            yield (address, mux), statistics.median(seen)


def from_snapshot(settings: Settings, now: Mapping[str, Any]) -> WiringSurvey:
    """The same from a running control's `now` message; what only a board of one's own can tell is left out."""
    readings = {
        channel: Reading(reading["value"], reading["raw"], reading["unit"], Quality(reading["quality"]), 0.0)
        for channel, reading in now["readings"].items()
    }
    silent: dict[int, list[bool]] = {}
    for source in sources(settings):
        if source.channel in readings:
            missing = readings[source.channel].quality is Quality.MISSING
            silent.setdefault(source.address, []).append(missing)
    state = now["state"]
    return WiringSurvey(
        readings=readings,
        active=dict(now["contacts"]),
        chip_errors={address: errno.EREMOTEIO for address, missing in silent.items() if all(missing)},
        interlock_lost=any(alarm["id"] == "interlock_not_armed" for alarm in now["alarms"]),
        retries={int(address, 16): count for address, count in now.get("retries", {}).items()},
        at_rest=None if state == State.HAND_RUN else state in AT_REST,
    )
