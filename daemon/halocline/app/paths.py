"""Where things lie: data, sockets, configuration. The same rules for every process, so that they meet."""

import hashlib
import os
import tempfile
from pathlib import Path

from halocline.plant.own_files import refuse_open_to_all

SYSTEM_CONFIG = Path("/etc/halocline/halocline.toml")
SYSTEM_SOCKET = Path("/run/halocline/control.sock")
SYSTEM_STATE = Path("/var/lib/halocline")
CONTROL_STATE = Path("/var/lib/halocline-control")
LATCH_FILE = "latch"
LONGEST_SOCKET_PATH = 70
"""Unix allows about 100 bytes; the link needs some of them for a temporary name."""


def state_dir(*, simulated: bool) -> Path:
    """The user's state folder (XDG Base Directory); a simulated boat never shares a real boat's record."""
    base = Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state") / "halocline"
    return base / "simulated" if simulated else base


def socket_in(data_dir: Path, name: str) -> Path:
    """The socket that belongs to a data folder; in a short place of its own where the folder's path is too long."""
    path = data_dir.absolute() / f"{name}.sock"
    if len(os.fsencode(path)) <= LONGEST_SOCKET_PATH:
        return path
    digest = hashlib.sha256(os.fsencode(data_dir.absolute())).hexdigest()[:12]
    return Path(tempfile.gettempdir()) / f"halocline-{os.getuid()}-{digest}" / f"{name}.sock"


def truth_socket(sea: Path) -> Path:
    """Where a simulated boat tells the truth and takes faults, beside the socket of its board."""
    return sea.with_name("truth.sock")


def make_private(folder: Path) -> None:
    """Make a folder (and its parents) that is ours alone. Raises OSError, also for one that is another user's, that a
    link of another user's leads to, or that everybody may write to."""
    for missing in reversed([place for place in folder.parents if not place.exists()]):
        missing.mkdir(mode=0o700, exist_ok=True)
    folder.mkdir(mode=0o700, exist_ok=True)
    ours = os.getuid()
    if folder.stat().st_uid != ours or folder.lstat().st_uid not in {ours, 0}:
        raise OSError(f"{folder} belongs to another user; choose another folder with --data")
    refuse_open_to_all(folder)


def control_sockets(data_dir: Path | None, *, simulated: bool | None = None) -> list[Path]:
    """Where a running control may be listening, the likeliest first; a simulated boat's or a real one's only, where
    that is said."""
    if data_dir is not None:
        return [socket_in(data_dir, "control")]
    own = [socket_in(state_dir(simulated=kind), "control") for kind in (False, True) if simulated in {None, kind}]
    return own if simulated else [SYSTEM_SOCKET, *own]
