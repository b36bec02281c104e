"""Any bit of the first hundred bytes broken: the record is written, or what is told of it is the cause.

What stands there: https://www.sqlite.org/fileformat2.html, "The Database Header". Each byte gets two broken values,
those that say who may read and write it every bit; with `HALOCLINE_SOAK=1` all get every bit.
"""

import contextlib
import os
import tempfile
from pathlib import Path

import pytest

from halocline.report.backup import verify
from halocline.report.database_open import BESIDE, DamagedError, StoreError
from halocline.report.journal import Journal
from halocline.report.store import Entry, Store

HEAD_BYTES = 100
WRITE_VERSION, READ_VERSION = 18, 19
VALUES = (0, 1, 2, 3, 9, 127, 128, 255)
SOAK = bool(os.environ.get("HALOCLINE_SOAK"))
BEFORE = 20


def event(seq):
    return Entry("event", "b1", {"seq": seq, "mono_s": float(seq), "wall_s": None, "kind": "state", "to": "standby"})


@pytest.fixture(scope="module")
def place():
    """In memory where the system has such a folder: a thousand records are synced here."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None, prefix="halocline-head-") as folder:
        yield Path(folder)


@pytest.fixture(scope="module")
def whole(place):
    """A record as a clean end leaves it, with free pages inside."""
    path = place / "whole.sqlite3"
    with contextlib.closing(Store(path)) as store:
        store.write([event(seq) for seq in range(1, BEFORE + 1)])
        store._connection.execute("CREATE TABLE gone AS SELECT randomblob(20000) AS filling")
        store._connection.execute("DROP TABLE gone")
    return path.read_bytes()


def broken(whole, at):
    every = {whole[at] ^ (1 << bit) for bit in range(8)} | set(VALUES)
    for value in sorted(every if SOAK or at in (WRITE_VERSION, READ_VERSION) else {whole[at] ^ 1, 255}):
        if value != whole[at]:
            yield value, bytes((*whole[:at], value, *whole[at + 1 :]))


@pytest.mark.parametrize("at", range(HEAD_BYTES))
def test_whatever_a_byte_of_the_head_says_the_record_is_written_or_called_damaged(place, whole, at):
    record = place / "record.sqlite3"
    for value, content in broken(whole, at):
        for suffix in BESIDE:
            record.with_name(record.name + suffix).unlink(missing_ok=True)
        record.write_bytes(content)
        try:
            with contextlib.closing(Store(record)) as store:
                store.write([event(BEFORE + 1)])
        except DamagedError:
            continue
        except StoreError as error:
            pytest.fail(f"byte {at} is {value}, and it is said: {error}")
        assert len(Journal(record).events()) == BEFORE + 1, f"byte {at} is {value}"


@pytest.mark.parametrize("value", [3, 9])
def test_a_copy_that_could_not_be_written_is_not_called_checked(place, whole, value):
    copy = place / "copy.sqlite3"
    copy.write_bytes(bytes((*whole[:18], value, *whole[19:])))
    with pytest.raises(StoreError, match="is damaged: its head says that it may not be written"):
        verify(copy)
