"""A look at the wiring while no control runs: takes control's place for a few seconds, outputs released."""

from pathlib import Path

from halocline.app.boards import NO_SEA, CannotStart, open_board
from halocline.app.locks import AlreadyRuns, only_one
from halocline.app.places import make_private
from halocline.app.trouble import in_words
from halocline.control.wiring_look import Look, look
from halocline.plant.settings import Settings

LOCK_FILE = "control.lock"
"""The same as control's: whoever has it owns bus and pins."""


def look_at_wiring(settings: Settings, data_dir: Path, sea_path: Path | None) -> Look:
    """Open the board, look at every input, let go. Raises CannotStart with one line why it could not."""
    if sea_path is not None and not sea_path.exists():
        raise CannotStart(NO_SEA.format(place=sea_path.parent))
    try:
        make_private(data_dir)
        with only_one(data_dir / LOCK_FILE, "control"):
            clock, board = open_board(settings, sea_path)
            try:
                return look(settings, board, clock)
            finally:
                board.close()
    except AlreadyRuns as error:
        raise CannotStart(str(error)) from error
    except OSError as error:
        raise CannotStart(in_words(error)) from error
