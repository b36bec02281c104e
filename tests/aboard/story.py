"""The story that `make aboard` plays: one boat, from the package's file to water in the tank, and what goes wrong then.

Each part is judged from outside: by what another computer gets over http, and by the times at which the kernel saw
each pin change. Parts can be named to play them alone; the first two are always played on a fresh disk unless
--as-it-is keeps the guest of the last time. Figures go into systemd/README.md, between its two marks, once every part
has come out as it should with one and the same package.

A part that does not come out as it should is played once more if the host had held the guest up meanwhile, and only
then: what a computer does that gets no processor says nothing about it. How long was measured (`stall.py`) and is told.
"""

import argparse
import contextlib
import fcntl
import hashlib
import json
import os
import platform
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import failing
import installing
import losing_power
import running
from rig import RigError
from telling import HANDBOOK, ROOT, Story

MARKS = ("<!-- aboard: figures -->", "<!-- aboard: end -->")
HELD_UP_MS = 150.0
"""In a quarter of a second. A tick is missed after 50 ms, a run is stopped after some in a row."""

PARTS: tuple[Callable[[Story], None], ...] = (
    installing.install,
    installing.configure,
    installing.by_hand,
    failing.errors,
    running.run,
    running.commissioning,
    failing.watchdog,
    failing.starved,
    running.crowd,
    failing.services,
    running.broker,
    failing.converters,
    failing.disk,
    failing.read_only,
    failing.clock,
    failing.crashing,
    running.cost,
    losing_power.reboot,
    losing_power.power,
    losing_power.forgetful_card,
    installing.year,
    installing.purge,
)
IF_NAMED: tuple[Callable[[Story], None], ...] = (installing.older,)
"""Played only where it is named: it wants what `build-older` makes, and leaves an older package behind."""


def play(story: Story, part: Callable[[Story], None]) -> str:
    """What did not come out as it should; empty if all did."""
    before = ""
    for again in (False, True):
        print(f"{part.__name__}: {(part.__doc__ or '').strip()}", flush=True)
        story.figures = []
        if before:
            story.tell(f"`{part.__name__}` was played twice", f"the first time {before}")
        if story.rig.stalls is not None:
            story.rig.stalls.forget()
        began_s = time.monotonic()
        try:
            part(story)
        except (RigError, OSError, KeyError, ValueError) as error:
            said = f"{type(error).__name__}: {error}"
        else:
            said = ""
        held_up_ms = story.rig.stalls.worst_ms if story.rig.stalls is not None else 0.0
        before = f"the host held the guest up by {held_up_ms:.0f} ms in 250 at most"
        print(f"  ({time.monotonic() - began_s:.0f} s; {before})", flush=True)
        if not said:
            return ""
        print(f"  not as it should be: {said}", flush=True)
        if again or held_up_ms < HELD_UP_MS:
            return said
    raise AssertionError


class Figures:
    """What each part told of one package, kept beside the rig: a part that is played alone takes its former place."""

    def __init__(self, folder: Path, package: Path) -> None:
        self._file = folder / "figures.json"
        self._package = hashlib.sha256(package.read_bytes()).hexdigest()
        self._parts: dict[str, list[tuple[str, str]]] = {}
        with contextlib.suppress(OSError, ValueError):
            kept = json.loads(self._file.read_text("utf-8"))
            if kept["package"] == self._package:
                self._parts = kept["parts"]

    def keep(self, part: str, figures: list[tuple[str, str]] | None) -> None:
        """None for a part that did not come out as it should."""
        self._parts.pop(part, None)
        if figures is not None:
            self._parts[part] = figures
        self._file.write_text(json.dumps({"package": self._package, "parts": self._parts}, indent=1), "utf-8")

    def write_table(self) -> bool:
        """Put them between the marks of systemd/README.md once every part has come out as it should; whether it was."""
        names = [part.__name__ for part in PARTS]
        if not set(names) <= self._parts.keys():
            return False
        names += [part.__name__ for part in IF_NAMED if part.__name__ in self._parts]
        text = HANDBOOK.read_text("utf-8")
        before, _, rest = text.partition(MARKS[0])
        _, _, after = rest.partition(MARKS[1])
        busy = os.getloadavg()[0] / (os.cpu_count() or 1)
        head = f"Measured on {datetime.now(UTC):%Y-%m-%d}, {platform.machine()}, host load {busy:.1f} for each core."
        rows = "\n".join(f"| {what} | {figure} |" for name in names for what, figure in self._parts[name])
        table = f"{MARKS[0]}\n{head}\n\n| what | figure |\n|---|---|\n{rows}\n{MARKS[1]}"
        HANDBOOK.write_text(f"{before}{table}{after}", "utf-8")
        return True


def main() -> int:
    """Play the parts, each whatever became of those before; exit status 1 if one did not come out as it should."""
    parser = argparse.ArgumentParser(description=__doc__)
    names = [part.__name__ for part in (*PARTS, *IF_NAMED)]
    parser.add_argument("parts", nargs="*", choices=[*names, []], metavar="PART", help=", ".join(names))
    parser.add_argument("--package", type=Path, required=True)
    parser.add_argument("--as-it-is", action="store_true", help="go on with the guest of the last time")
    parser.add_argument("--keep", action="store_true", help="leave the guest running")
    arguments = parser.parse_args()
    story = Story(arguments.package)
    lock = (story.rig.folder / "lock").open("w")
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        parser.error("another story is being played on this rig")
    chosen = [part for part in PARTS if not arguments.parts or part.__name__ in arguments.parts]
    if arguments.as_it_is:
        story.rig.watch()
    else:
        chosen = [*PARTS[:2], *(part for part in chosen if part not in PARTS[:2])]
    chosen += [part for part in IF_NAMED if part.__name__ in arguments.parts]
    figures = Figures(story.rig.folder, arguments.package)
    failed = {}
    try:
        for part in chosen:
            said = play(story, part)
            figures.keep(part.__name__, None if said else story.figures)
            if said:
                failed[part.__name__] = said
                if part in PARTS[:2]:
                    break
    finally:
        if not arguments.keep:
            story.rig.cut()
    for name, said in failed.items():
        print(f"aboard: {name}: {said}", file=sys.stderr)
    if figures.write_table():
        print(f"Every part came out as it should: the table in {HANDBOOK.relative_to(ROOT)} is written.")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
