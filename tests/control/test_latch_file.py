"""What survives a restart: one file that says exactly what was written, or the worst it could have said."""

import os
import zlib

import pytest
from hand_driven_plant import QUICK, Plant
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.control import latch as latch_file
from halocline.control.checked_file import Unreadable, write
from halocline.control.core import Core
from halocline.control.latch import WORST, Latch, Lock, Purge, decode, encode, off_s, read
from halocline.plant.vocabulary import PURGES

FINITE = st.floats(0, 1e7, allow_nan=False)
LATCHES = st.builds(
    Latch,
    trips=st.lists(st.text(max_size=20), max_size=4).map(tuple),
    first_out=st.none() | st.text(max_size=20),
    laid_up=st.booleans(),
    laid_up_with=st.none() | st.sampled_from(PURGES),
    lock=st.none() | st.builds(Lock, st.text(max_size=20), st.text(max_size=50)),
    flush_owed=st.booleans(),
    purge=st.none() | st.builds(Purge, st.sampled_from(PURGES), FINITE, FINITE, st.booleans()),
    circuit_opened=st.booleans(),
    clean_stop=st.booleans(),
    idle_s=st.none() | FINITE,
    saved_wall_s=st.none() | FINITE,
    pump_starts_ago_s=st.lists(FINITE, max_size=4).map(tuple),
    motor_hot_ago_s=st.none() | FINITE,
    run_number=st.integers(0, 10**9),
)
FULL = Latch(
    trips=("stop_button", "bilge_wet"),
    first_out="stop_button",
    laid_up=True,
    laid_up_with="glycol",
    lock=Lock("ann", "filter open"),
    flush_owed=True,
    purge=Purge("glycol", 12.5, 900.0),
    run_number=41,
)


@settings(deadline=None)
@given(LATCHES)
def test_what_was_written_is_what_is_read(latch):
    assert decode(encode(latch)) == latch


@pytest.mark.parametrize("length", range(len(encode(FULL))))
def test_a_file_cut_short_anywhere_is_the_worst_news(tmp_path, length):
    path = tmp_path / "latch"
    path.write_bytes(encode(FULL)[:length])
    assert read(path) == WORST


def test_a_single_bit_that_flipped_anywhere_is_the_worst_news(tmp_path):
    whole = encode(FULL)
    for position in range(len(whole)):
        for bit in range(8):
            broken = bytearray(whole)
            broken[position] ^= 1 << bit
            with pytest.raises(Unreadable):
                decode(bytes(broken))


@settings(deadline=None)
@given(st.binary(max_size=200))
def test_garbage_is_the_worst_news(content):
    with pytest.raises(Unreadable):
        decode(content)


@pytest.mark.parametrize(
    "body",
    [
        b"[]",
        b"null",
        b"7",
        b"{}",
        b'{"version":2}',
        b'{"version":1,"lock":{"nobody":1}}',
        b"\xff\xfe",
        b'{"version":1,"purge":7}',
    ],
)
def test_a_sum_that_fits_does_not_make_up_for_a_content_that_does_not(body):
    with pytest.raises(Unreadable):
        decode(b"%08x %s\n" % (zlib.crc32(body), body))


def test_the_worst_news_is_a_trip_with_flush_and_purge_owed():
    plant = Plant(latch=WORST)
    plant.tick()
    assert plant.state == "tripped"
    assert plant.alarms >= {"latch_unreadable", "restarted_unexpectedly"}
    assert plant.core.latch.flush_owed
    assert plant.core.latch.purge is not None
    assert plant.latches[-1].trips == ("latch_unreadable",)


def test_no_file_yet_is_a_new_plant(tmp_path):
    assert read(tmp_path / "latch") == Latch()


def test_a_file_that_cannot_be_read_is_the_worst_news(tmp_path):
    (tmp_path / "latch").mkdir()
    assert read(tmp_path / "latch") == WORST


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_write_that_fails_leaves_the_old_file_whole(tmp_path, monkeypatch, step):
    path = tmp_path / "latch"
    write(path, encode(FULL))

    def fail(*_args):
        raise OSError(28, "No space left on device")

    if step == "fsync":
        monkeypatch.setattr(os, "fsync", fail)
    else:
        monkeypatch.setattr("pathlib.Path.replace", fail)
    with pytest.raises(OSError, match="No space left"):
        write(path, encode(Latch()))
    monkeypatch.undo()
    assert read(path) == FULL


def test_the_new_file_is_on_the_card_before_it_takes_the_old_ones_place(tmp_path, monkeypatch):
    path, done = tmp_path / "latch", []
    real_fsync, real_replace = os.fsync, latch_file.Path.replace
    monkeypatch.setattr(os, "fsync", lambda file: (done.append("fsync"), real_fsync(file))[1])
    monkeypatch.setattr("pathlib.Path.replace", lambda a, b: (done.append("rename"), real_replace(a, b))[1])
    write(path, encode(FULL))
    assert done == ["fsync", "rename", "fsync"]
    assert read(path) == FULL


@settings(deadline=None, max_examples=60)
@given(LATCHES)
def test_whatever_is_on_file_control_comes_up_at_rest(latch):
    plant = Plant(latch=latch)
    assert plant.state == ("tripped" if latch.trips else "laid_up" if latch.laid_up else "standby")
    plant.wait(1)
    assert plant.on == set()
    kept = plant.core.latch
    assert (kept.lock, kept.purge, kept.flush_owed, kept.laid_up) == (
        latch.lock,
        latch.purge,
        latch.flush_owed,
        latch.laid_up,
    )


def test_what_a_run_does_to_the_latch_is_told_as_it_happens():
    plant = Plant()
    plant.give("start")
    assert plant.latches[-1].clean_stop is False
    assert plant.latches[-1].run_number == 1
    plant.until("diverting")
    assert plant.latches[-1].flush_owed is True
    plant.press("stop_button")
    plant.tick()
    assert plant.latches[-1].trips == ("stop_button",)
    assert plant.latches[-1].first_out == "stop_button"
    assert plant.latches[-1].clean_stop is True


def test_a_latch_that_did_not_change_is_not_written_again():
    plant = Plant()
    plant.wait(20)
    assert plant.latches == []


def test_time_off_is_told_by_the_wall_clock_and_otherwise_unknown():
    latch = Latch(idle_s=900.0, saved_wall_s=1_800_000_000.0)
    assert off_s(latch, 1_800_003_600.0) == 3600.0
    assert off_s(latch, 1_799_999_000.0) == 0.0, "a clock that jumped back is no time gone by"
    assert off_s(latch, None) is None
    assert off_s(Latch(idle_s=900.0), 1_800_000_000.0) is None
    assert off_s(Latch(), None) == 0.0, "a boat that was never switched on owes nothing yet"


def test_unknown_time_off_counts_as_due():
    core = Core(QUICK, Latch(idle_s=900.0), 1000.0, off_s=None)
    assert 1000.0 - core.idle_since_s > 7 * 86400


def test_pump_starts_of_the_last_hour_survive_a_restart():
    core = Core(QUICK, Latch(pump_starts_ago_s=(1200.0, 60.0)), 1000.0, off_s=600.0)
    assert list(core.pump_starts_s) == [-800.0, 340.0]
