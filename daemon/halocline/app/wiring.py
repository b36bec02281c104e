"""What people do with the wiring while no control runs: take its place for a few seconds, outputs released."""

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

from halocline.app.boards import NO_SEA, CannotStart, open_board
from halocline.app.locks import AlreadyRuns, only_one
from halocline.app.places import make_private
from halocline.app.trouble import in_words
from halocline.control.board import Board
from halocline.control.guarding import armed
from halocline.control.wiring_look import Look, look
from halocline.plant.own_files import open_lock
from halocline.plant.settings import Settings
from halocline_hw import Clock

LOCK_FILE = "control.lock"
"""The same as control's: whoever has it owns bus and pins."""


def look_at_wiring(settings: Settings, data_dir: Path, sea_path: Path | None) -> Look:
    """Look at every input, let go. Raises CannotStart with one line why it could not."""
    with _board_of(settings, data_dir, sea_path) as (clock, board):
        return look(settings, board, clock)


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
        with only_one(lock_in(data_dir), "control"):
            clock, board = open_board(settings, sea_path)
            try:
                yield clock, armed(board, settings, clock)
            finally:
                board.close()
    except AlreadyRuns as error:
        raise CannotStart(str(error)) from error
    except OSError as error:
        raise CannotStart(in_words(error)) from error
