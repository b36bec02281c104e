"""Whoever looks at the wiring takes control's lock, and leaves it so that control can take it again."""

import os

from halocline.app.wiring_access import LOCK_FILE, lock_in


def test_a_folder_of_ones_own_is_made_private(tmp_path):
    lock = lock_in(tmp_path / "new")
    assert lock == tmp_path / "new" / LOCK_FILE
    assert (tmp_path / "new").stat().st_mode & 0o777 == 0o700


def test_a_lock_made_by_root_is_given_to_the_user_of_the_folder(tmp_path, monkeypatch):
    given = []
    monkeypatch.setattr(os, "fchown", lambda _file, *whom: given.append(whom))
    lock_in(tmp_path)
    folder = tmp_path.stat()
    assert given == [(folder.st_uid, folder.st_gid)]


def test_a_lock_that_is_there_is_left_as_it_is(tmp_path):
    (tmp_path / LOCK_FILE).touch(mode=0o600)
    before = (tmp_path / LOCK_FILE).stat()
    assert lock_in(tmp_path).stat().st_ino == before.st_ino
