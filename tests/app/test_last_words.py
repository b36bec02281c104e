"""What control leaves behind when it cannot start, for the page to show."""

import stat

import pytest

from halocline.app import control, last_words
from halocline.app.boards import CannotStart
from halocline.app.locks import only_one
from halocline.config import load_demo


@pytest.fixture
def start(tmp_path, monkeypatch):
    """Starts control on a boat whose electronics are missing."""

    def missing(*_):
        raise CannotStart("no converter answers at 0x48; look at its supply and its address")

    monkeypatch.setattr(control, "open_board", missing)
    socket_path = tmp_path / "run" / "control.sock"
    return lambda: control.run_control(
        load_demo()[0], data_dir=tmp_path / "data", socket_path=socket_path, sea_path=None
    ), last_words.beside(socket_path)


def test_a_missing_board_is_left_in_words_for_the_folders_group(start):
    begin, words = start
    with pytest.raises(CannotStart, match="0x48"):
        begin()
    assert last_words.read(words) == ["no converter answers at 0x48; look at its supply and its address"]
    assert stat.S_IMODE(words.stat().st_mode) == 0o640
    assert words.stat().st_gid == words.parent.stat().st_gid


def test_a_second_control_says_nothing_in_the_name_of_the_first(start, tmp_path):
    begin, words = start
    (tmp_path / "data").mkdir(mode=0o700)
    with only_one(tmp_path / "data" / control.LOCK_FILE, "control"), pytest.raises(CannotStart, match="already runs"):
        begin()
    assert not words.exists()


def test_they_are_forgotten_once_control_runs_and_nobody_minds_when_there_were_none(tmp_path):
    socket_path = tmp_path / "control.sock"
    last_words.leave(socket_path, ["one", "two"])
    assert last_words.read(last_words.beside(socket_path)) == ["one", "two"]
    last_words.forget(socket_path)
    last_words.forget(socket_path)
    assert last_words.read(last_words.beside(socket_path)) == ()


def test_a_place_that_cannot_be_written_is_no_further_trouble(tmp_path):
    last_words.leave(tmp_path / "nowhere" / "control.sock", ["lost"])
