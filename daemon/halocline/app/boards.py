"""The one place that opens a board: this computer's own pins and bus, or a simulated boat's."""

from pathlib import Path

from halocline.app.patient_clock import PatientBoard, PatientClock
from halocline.control.acquisition.board import Board
from halocline.control.acquisition.scanner import sources
from halocline.plant.settings import Settings
from halocline.rehearsal.board_wiring import wiring_of
from halocline_hw import Clock, RealClock, Wiring, drive_all_safe, open_raspberry_pi
from halocline_hw.remote import RemotePinFactory, open_remote_board

SEA_WITHIN_S = 5.0
NO_SEA = "no simulated boat runs at {place}; start one with halocline run --simulated, or name its folder with --data"


class CannotStart(Exception):
    """Control cannot run here; the message says why and what to do."""


def open_board(settings: Settings, sea_path: Path | None) -> tuple[Clock, Board]:
    """The board and the clock that control lives by; the chips themselves always live by the real one.

    Raises OSError, or CannotStart where no simulated boat comes up.
    """
    wiring, clock = wiring_of(settings), RealClock()
    if sea_path is None:
        return clock, open_raspberry_pi(wiring, clock)
    board = _join_sea(wiring, sea_path, clock)
    pressure, patient = sources(settings)[0], PatientClock()
    return patient, PatientBoard(board, patient, pressure.address, pressure.mux)


def _join_sea(wiring: Wiring, sea_path: Path, clock: Clock) -> Board:
    give_up_s = clock.now() + SEA_WITHIN_S
    while True:
        try:
            return open_remote_board(wiring, str(sea_path), clock)
        except OSError:
            if clock.now() > give_up_s:
                raise CannotStart(NO_SEA.format(place=sea_path.parent)) from None
            clock.sleep(0.05)


def drive_simulated_safe(wiring: Wiring, board_path: Path) -> None:
    """Every pin of a simulated board to its safe level. Raises OSError."""
    factory = RemotePinFactory(str(board_path))
    try:
        drive_all_safe(wiring, factory)
    finally:
        factory.connection.close()
