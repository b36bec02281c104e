"""A card that stands still holds up the latch file and nothing else."""

import threading
import time

import pytest

from halocline.control.retained import checked_file
from halocline.control.retained.file_writer import FileWriter


@pytest.fixture
def card(monkeypatch):
    """The card: `set` lets writing go on."""
    moving = threading.Event()
    written = []

    def write(path, content):
        moving.wait(5.0)
        written.append((path.name, content))

    monkeypatch.setattr(checked_file, "write", write)
    moving.written = written
    return moving


def reported(file_writer, said):
    end_s = time.monotonic() + 5.0
    while not said and time.monotonic() < end_s:
        file_writer.poll()
    return said


def test_a_write_is_begun_and_not_waited_for(tmp_path, card):
    file_writer, said = FileWriter(threaded=True), []
    file_writer.begin(tmp_path / "latch", b"new", said.append)
    file_writer.poll()
    assert said == []
    assert file_writer.busy_s is not None
    card.set()
    assert reported(file_writer, said) == [None]
    assert file_writer.busy_s is None
    assert card.written == [("latch", b"new")]


def test_what_went_wrong_is_reported_where_it_is_polled(tmp_path):
    file_writer, said = FileWriter(threaded=True), []
    file_writer.begin(tmp_path / "no folder" / "latch", b"new", said.append)
    (error,) = reported(file_writer, said)
    assert isinstance(error, FileNotFoundError)


def test_without_a_thread_it_is_done_at_once(tmp_path):
    file_writer, said = FileWriter(threaded=False), []
    file_writer.begin(tmp_path / "latch", b"new", said.append)
    file_writer.poll()
    assert said == [None]
    assert (tmp_path / "latch").read_bytes() == b"new"
