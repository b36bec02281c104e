"""Power lost while the latch file is written, on a real file system: it says the old or the new, never anything else.

What is on the disk's image at that moment is what the card would hold: nothing that the kernel had only in mind.
"""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from halocline.control.retained import checked_file
from halocline.control.retained.retained_state import Lock, RetainedState, Trip, encode, read

OLD = RetainedState(flush_owed=True, trips=(Trip("adc_lost", {"address": 0x48}),), first_out="adc_lost")
NEW = RetainedState(lock=Lock("ann", "filter open"), under_way="priming", run_number=7)
CALLS = ("fsync of the file", "rename", "fsync of the folder", "the end")


class PowerCut(BaseException):
    """Nothing more happens."""


def as_it_stands(disk, to):
    """A folder with what the medium holds at this moment; in an ordinary folder: what was written, as after a kill."""
    if not hasattr(disk, "image"):
        shutil.copytree(disk.folder, to)
        return to
    image = to.with_suffix(".img")
    shutil.copy(disk.image, image)
    to.mkdir()
    subprocess.run(["mount", "-o", "loop", image, to], check=True)
    try:
        held = {path.name: path.read_bytes() for path in to.iterdir() if path.is_file()}
    finally:
        subprocess.run(["umount", to], check=True)
    for name, content in held.items():
        (to / name).write_bytes(content)
    return to


@pytest.mark.parametrize("call", range(len(CALLS)), ids=CALLS)
def test_power_cut_before_any_call_of_a_write_leaves_the_old_or_the_new(disk, tmp_path, monkeypatch, call):
    path, done = disk.folder / "latch", []
    checked_file.write(path, encode(OLD))

    def counted(really):
        def called(*args):
            if len(done) == call:
                raise PowerCut
            done.append(really)
            return really(*args)

        return called

    monkeypatch.setattr(os, "fsync", counted(os.fsync))
    monkeypatch.setattr(Path, "replace", counted(Path.replace))
    try:
        checked_file.write(path, encode(NEW))
        cut = False
    except PowerCut:
        cut = True
    monkeypatch.undo()
    held = read(as_it_stands(disk, tmp_path / "held") / "latch")
    assert cut is (call < 3)
    assert held in ((OLD, NEW) if call == 2 else (OLD,) if call < 2 else (NEW,))


def test_writes_one_after_another_leave_at_every_moment_what_was_kept_or_what_came_next(disk, tmp_path, monkeypatch):
    path, kept = disk.folder / "latch", RetainedState(run_number=0)
    checked_file.write(path, encode(kept))
    for number in range(1, 21):
        looked = []

        def look_then(really, wanted=number % 3, looked=looked, number=number):
            def called(*args):
                if len(looked) == wanted:
                    looked.append(as_it_stands(disk, tmp_path / f"held {number}"))
                elif len(looked) < wanted:
                    looked.append(None)
                return really(*args)

            return called

        following = RetainedState(run_number=number)
        with monkeypatch.context() as patch:
            patch.setattr(os, "fsync", look_then(os.fsync))
            patch.setattr(Path, "replace", look_then(Path.replace))
            checked_file.write(path, encode(following))
        (held,) = [place for place in looked if place is not None]
        assert read(held / "latch") in (kept, following)
        kept = following
