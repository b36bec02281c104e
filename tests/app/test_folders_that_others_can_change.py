"""What the plant must remember is nobody else's to change, and a lock is no way to reach other files."""

import os
import stat

import pytest

from halocline.app import last_words
from halocline.app.locks import only_one
from halocline.app.paths import make_private
from halocline.app.wiring_access import lock_in
from halocline.cli.main import main
from halocline.report.database_open import StoreError, WriterLock


def private(folder):
    folder.mkdir(mode=0o700)
    return folder


@pytest.mark.parametrize("mode", [0o707, 0o777, 0o1777, 0o702])
@pytest.mark.parametrize("command", ["run", "control", "report"])
def test_a_folder_that_everybody_may_write_to_is_refused_in_one_line(tmp_path, capsys, command, mode):
    folder = private(tmp_path / "boat")
    folder.chmod(mode)
    assert main([command, "--simulated", "--data", str(folder)]) == 2
    (said,) = capsys.readouterr().err.splitlines()
    assert said.startswith(f"halocline {command}: {folder}: everybody may write there")
    assert said.endswith(f"chmod o-w {folder}")
    assert list(folder.iterdir()) == []


def test_so_is_one_in_a_folder_where_everybody_may_put_another_in_its_place(tmp_path):
    around = private(tmp_path / "around")
    around.chmod(0o777)
    with pytest.raises(OSError, match=f"chmod o-w {around}$"):
        make_private(around / "boat")
    around.chmod(0o1777)
    make_private(around / "boat")


def test_a_new_folder_is_ours_alone(tmp_path):
    before = os.umask(0)
    try:
        make_private(tmp_path / "new" / "boat")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "new" / "boat").stat().st_mode) == 0o700
    assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o700


def test_a_file_in_the_folders_place_is_said(tmp_path):
    (tmp_path / "boat").write_text("")
    with pytest.raises(OSError, match="boat"):
        make_private(tmp_path / "boat")


LOCKS = {
    "process": lambda lock: only_one(lock, "control").__enter__(),
    "check": lambda lock: lock_in(lock.parent),
    "record": lambda lock: WriterLock(lock.with_suffix("")),
}


@pytest.mark.parametrize("taken", LOCKS)
@pytest.mark.parametrize("target", ["precious", "nothing"])
def test_a_lock_is_never_taken_through_a_link(tmp_path, taken, target):
    (tmp_path / "precious").write_text("kept")
    lock = private(tmp_path / "boat") / "control.lock"
    lock.symlink_to(tmp_path / target)
    with pytest.raises((OSError, StoreError), match=f"a link stands at .*; remove it: rm {lock}"):
        LOCKS[taken](lock)
    assert (tmp_path / "precious").read_text() == "kept"
    assert not (tmp_path / "nothing").exists()


@pytest.mark.parametrize("taken", LOCKS)
def test_what_is_no_regular_file_is_no_lock_and_nobody_waits_for_it(tmp_path, taken):
    lock = private(tmp_path / "boat") / "control.lock"
    os.mkfifo(lock)
    with pytest.raises((OSError, StoreError), match=f"no regular file stands at .*; remove it: rm {lock}"):
        LOCKS[taken](lock)


def test_a_lock_keeps_what_stands_in_its_file(tmp_path):
    """It opens nothing to write: whatever it was led to, it could not empty it."""
    lock = private(tmp_path / "boat") / "control.lock"
    lock.write_text("kept")
    with only_one(lock, "control"):
        assert lock.read_text() == "kept"


def test_a_lock_of_another_user_is_refused(tmp_path, monkeypatch):
    lock = private(tmp_path / "boat") / "control.lock"
    lock.touch()
    us = os.geteuid()
    monkeypatch.setattr(os, "geteuid", lambda: us + 1)
    monkeypatch.setattr("halocline.plant.own_files.owners_of", lambda _folder: {us + 1})
    with pytest.raises(OSError, match=f"{lock} belongs to another user"), only_one(lock, "control"):
        pass


def test_last_words_are_not_left_in_other_files(tmp_path):
    (tmp_path / "precious").write_text("kept")
    (tmp_path / f"{last_words.NAME}.new").symlink_to(tmp_path / "precious")
    last_words.leave(tmp_path / "control.sock", ["no board"])
    assert (tmp_path / "precious").read_text() == "kept"
    assert list(last_words.read(tmp_path / last_words.NAME)) == ["no board"]
