"""Boards for the tests: one wiring, opened in this process or through a socket."""

import tempfile
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import pytest

from halocline_hw import (
    BusClearPins,
    ContactPin,
    OutputPin,
    PulsePin,
    RaspberryPiBoard,
    RealClock,
    VirtualClock,
    Wiring,
)
from halocline_hw.board_server import BoardServer
from halocline_hw.emulated import EmulatedBoard
from halocline_hw.remote import open_remote_board

WIRING = Wiring(
    adc_addresses=(0x48, 0x49),
    outputs={
        "feed_pump": OutputPin(17),
        "high_pressure_pump": OutputPin(27),
        "heartbeat": OutputPin(18),
        "buzzer": OutputPin(22, active_high=False, accept_active_low=True),
    },
    contacts={"stop_button": ContactPin(5), "bilge_wet": ContactPin(6)},
    pulses={"product_flow": PulsePin(21, max_hz=200.0)},
    bus_clear=BusClearPins(scl=14, sda=15),
)


def volts_of_0x48(number: int, t_s: float) -> float:
    return 0.5 + 0.75 * number


def volts_of_0x49(number: int, t_s: float) -> float:
    return 3.0 - 0.5 * number


VOLTS = {0x48: volts_of_0x48, 0x49: volts_of_0x49}


Emulate = Callable[..., tuple[EmulatedBoard, VirtualClock]]
Serve = Callable[..., AbstractContextManager[tuple[EmulatedBoard, str]]]


def emulated(**options: Any) -> tuple[EmulatedBoard, VirtualClock]:
    clock = VirtualClock(100.0)
    return EmulatedBoard(WIRING, VOLTS, clock, **options), clock


@contextmanager
def served(**options: Any) -> Iterator[tuple[EmulatedBoard, str]]:
    """An emulated board on the real clock behind a socket, its wire time left out."""
    far = EmulatedBoard(WIRING, VOLTS, RealClock(), charge_wire_time=False, **options)
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "board")
        server = BoardServer(path, far.bus, far.pins)
        server.start()
        try:
            yield far, path
        finally:
            server.close()


@pytest.fixture
def wiring() -> Wiring:
    return WIRING


@pytest.fixture
def emulate() -> Emulate:
    """Makes an emulated board on a virtual clock that starts at 100 s."""
    return emulated


@pytest.fixture
def serve() -> Serve:
    """Makes an emulated board behind a socket."""
    return served


@pytest.fixture(params=["here", "in another process's place"])
def far_and_board(request: pytest.FixtureRequest) -> Iterator[tuple[EmulatedBoard, RaspberryPiBoard]]:
    """The far side of a board, and the board as control sees it: directly, and through the socket."""
    if request.param == "here":
        far, _ = emulated()
        board = far.open()
        yield far, board
        board.close()
        return
    with served() as (far, path):
        board = open_remote_board(WIRING, path, RealClock())
        yield far, board
        board.close()
