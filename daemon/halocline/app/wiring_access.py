"""What people do with the wiring while no control runs: take its place for a few seconds, outputs released."""

import contextlib
import errno
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from halocline.app.boards import NO_SEA, CannotStart, open_board
from halocline.app.locks import AlreadyRuns, only_one
from halocline.app.os_errors import in_words
from halocline.app.paths import make_private
from halocline.control.acquisition.board import Board
from halocline.control.acquisition.hardware_interlock import armed
from halocline.control.wiring_check.wiring_survey import WiringSurvey, look
from halocline.plant.own_files import open_lock
from halocline.plant.settings import Settings
from halocline.rehearsal.board_wiring import wiring_of
from halocline_hw import Clock, header_chip, released_pins_stay

LOCK_FILE = "control.lock"
"""The same as control's: whoever has it owns bus and pins."""


class NoBoard(CannotStart):
    """The board could not be opened; `absent` where this computer has none at all."""

    def __init__(self, error: OSError) -> None:
        super().__init__(in_words(error))
        self.absent = error.errno == errno.ENODEV


@dataclass(frozen=True, slots=True)
class Looked:
    """What was seen of the wiring, and of the pins once they were let go: the header's chip, and whether released
    outputs stay driven; both None where they are a simulated boat's or nothing tells."""

    look: WiringSurvey
    chip: str | None = None
    released_stay: bool | None = None


def look_at_wiring(settings: Settings, data_dir: Path, sea_path: Path | None) -> Looked:
    """Look at every input, let go. Raises CannotStart with one line why it could not."""
    with _board_of(settings, data_dir, sea_path) as (clock, board):
        seen = look(settings, board, clock)
    if sea_path is not None:
        return Looked(seen)
    try:
        return Looked(seen, header_chip(), released_pins_stay(wiring_of(settings)))
    except OSError:
        return Looked(seen)


class NotProved(Exception):
    """The interlock did not do what it is there for, or it was no moment to ask; the message says which."""


def prove_interlock(settings: Settings, data_dir: Path, sea_path: Path | None) -> float:
    """Open the comparator interlock on purpose and see its circuit follow; how long opening took, s.

    Raises NotProved, or CannotStart with one line why the board could not be had.
    """
    with _board_of(settings, data_dir, sea_path) as (clock, board):
        pressure = look(settings, board, clock).readings["vessel_pressure"]
        if pressure.good is None:
            raise NotProved("membrane pressure cannot be read, so nobody knows whether the plant is at rest")
        if pressure.good > AT_REST_BAR:
            raise NotProved(f"there are {pressure.good:.1f} bar at the membrane: a pump runs, or the regulator is shut")
        try:
            return board.prove_interlock()
        except OSError as error:
            raise NotProved(in_words(error)) from error


AT_REST_BAR = 3.0


def lock_in(data_dir: Path) -> Path:
    """Control's lock, which control must be able to take afterwards: whoever looks is often root, control is not.
    Raises OSError."""
    if not data_dir.exists():
        make_private(data_dir)
    os.close(open_lock(data_dir / LOCK_FILE))
    return data_dir / LOCK_FILE


@contextlib.contextmanager
def _board_of(settings: Settings, data_dir: Path, sea_path: Path | None) -> Iterator[tuple[Clock, Board]]:
    """The board, its interlock programmed, for as long as no control may start."""
    if sea_path is not None and not sea_path.exists():
        raise CannotStart(NO_SEA.format(place=sea_path.parent))
    try:
        with only_one(_lock(data_dir), "control"):
            try:
                clock, board = open_board(settings, sea_path)
            except OSError as error:
                raise NoBoard(error) from error
            try:
                yield clock, armed(board, settings, clock)
            finally:
                board.close()
    except AlreadyRuns as error:
        raise CannotStart(str(error)) from error
    except OSError as error:
        raise CannotStart(in_words(error)) from error


def _lock(data_dir: Path) -> Path:
    try:
        return lock_in(data_dir)
    except PermissionError as error:
        raise CannotStart(f"{data_dir} is not this user's; put sudo before the command") from error
