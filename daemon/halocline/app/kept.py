"""What a simulated boat goes on from: its state outlives the run, and whoever starts it has to know."""

import shlex
from pathlib import Path

from halocline.app.paths import LATCH_FILE
from halocline.control.retained import retained_state as retained_file
from halocline.control.retained.retained_state import RetainedState
from halocline.plant.words.moments import minute_of


def kept_line(data_dir: Path) -> str:
    """Where the boat's state is kept, what it goes on from, and how to begin anew."""
    folder = shlex.quote(str(data_dir))
    if not (data_dir / LATCH_FILE).exists():
        return f"A new boat. It is kept in {folder}; the next run goes on from there."
    retained = retained_file.read(data_dir / LATCH_FILE)
    when = "" if retained.saved.wall_s is None else f" at {minute_of(retained.saved.wall_s)}"
    owing = ", ".join(_owing(retained))
    # Moved and not removed: the folder may be one that the person chose, with other things in it.
    aside = shlex.quote(f"{data_dir}.before")
    return (
        f"This boat goes on from what was kept in {folder}{when}{f': {owing}' if owing else ''}. "
        f"To begin anew, end it, then type: mv {folder} {aside}"
    )


def _owing(retained: RetainedState) -> list[str]:
    """What a person will meet that a new boat has not."""
    standing = {
        "a safety stop stands": retained.trips,
        "laid up": retained.laid_up,
        "locked": retained.lock,
        "cut off in the middle of something": retained.under_way or retained.cut_off,
        "a flush is owed": retained.flush_owed,
        "a purge is owed": retained.purge,
        "the flush water may carry chlorine": retained.chlorine_suspected,
    }
    return [said for said, stands in standing.items() if stands]
