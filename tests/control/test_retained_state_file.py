"""What survives a restart: one file that says exactly what was written, or the worst it could have said."""

import os
import zlib
from dataclasses import asdict, replace

import pytest
from hand_driven_plant import QUICK, Plant
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.control.calibration import calibration_store as calibration_file
from halocline.control.core import Core
from halocline.control.retained import checked_file
from halocline.control.retained import retained_state as retained_file
from halocline.control.retained.checked_file import Unreadable, write
from halocline.control.retained.retained_state import (
    WORST,
    CutOff,
    Lock,
    Moment,
    OutOfService,
    Purge,
    RetainedState,
    Trip,
    decode,
    encode,
    off_s,
    read,
)
from halocline.plant.vocabulary import PURGES, State

FINITE = st.floats(0, 1e7, allow_nan=False)
TRIPS = st.builds(
    Trip, st.text(max_size=20), st.dictionaries(st.text(max_size=9), st.none() | FINITE | st.text(max_size=9))
)
LATCHES = st.builds(
    RetainedState,
    trips=st.lists(TRIPS, max_size=4).map(tuple),
    first_out=st.none() | st.text(max_size=20),
    laid_up=st.booleans(),
    laid_up_with=st.none() | st.sampled_from(PURGES),
    lock=st.none() | st.builds(Lock, st.text(max_size=20), st.text(max_size=50)),
    flush_owed=st.booleans(),
    purge=st.none() | st.builds(Purge, st.sampled_from(PURGES), FINITE, FINITE, st.booleans()),
    circuit_opened=st.booleans(),
    under_way=st.none() | st.sampled_from([state.value for state in State]),
    cut_off=st.none() | st.builds(CutOff, st.sampled_from(list(State)).map(str), st.none() | st.booleans()),
    closed=st.booleans(),
    idle_s=st.none() | FINITE,
    saved=st.builds(Moment, st.none() | FINITE, st.none() | FINITE, st.text(max_size=9)),
    laid_up_s=st.none() | FINITE,
    pump_starts_ago_s=st.lists(FINITE, max_size=4).map(tuple),
    motor_hot_ago_s=st.none() | FINITE,
    run_number=st.integers(0, 10**9),
)
FULL = RetainedState(
    trips=(Trip("adc_lost", {"address": 0x48}), Trip("stop_button")),
    first_out="adc_lost",
    laid_up=True,
    laid_up_with="glycol",
    lock=Lock("ann", "filter open"),
    flush_owed=True,
    purge=Purge("glycol", 12.5, 900.0),
    run_number=41,
)


@settings(deadline=None)
@given(LATCHES)
def test_what_was_written_is_what_is_read(retained):
    assert decode(encode(retained)) == retained


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
        b'{"version":3}',
        b'{"version":"2"}',
        b'{"version":2,"lock":{"nobody":1}}',
        b'{"version":2,"owed_by_a_later_version":true}',
        b'{"version":1,"owed_by_a_later_version":true}',
        b'{"version":1,"lock":{"nobody":1}}',
        b"\xff\xfe",
        b'{"version":1,"purge":7}',
    ],
)
def test_a_sum_that_fits_does_not_make_up_for_a_content_that_does_not(body):
    with pytest.raises(Unreadable):
        decode(b"%08x %s\n" % (zlib.crc32(body), body))


def test_the_worst_news_is_a_trip_with_flush_and_purge_owed():
    plant = Plant(retained=WORST)
    plant.tick()
    assert plant.state == "tripped"
    assert plant.alarms >= {"latch_unreadable", "restarted_unexpectedly"}
    assert plant.core.plant.retained.flush_owed
    assert plant.core.plant.retained.purge is not None
    assert plant.latches[-1].trips == (Trip("latch_unreadable"),)


def test_no_file_yet_is_a_new_plant(tmp_path):
    assert read(tmp_path / "latch") == RetainedState()


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
        write(path, encode(RetainedState()))
    monkeypatch.undo()
    assert read(path) == FULL


def test_the_new_file_is_on_the_card_before_it_takes_the_old_ones_place(tmp_path, monkeypatch):
    path, done = tmp_path / "latch", []
    real_fsync, real_replace = os.fsync, retained_file.Path.replace
    monkeypatch.setattr(os, "fsync", lambda file: (done.append("fsync"), real_fsync(file))[1])
    monkeypatch.setattr("pathlib.Path.replace", lambda a, b: (done.append("rename"), real_replace(a, b))[1])
    write(path, encode(FULL))
    assert done == ["fsync", "rename", "fsync"]
    assert read(path) == FULL


@settings(deadline=None, max_examples=60)
@given(LATCHES)
def test_whatever_is_on_file_control_comes_up_at_rest(retained):
    plant = Plant(retained=retained)
    assert plant.state == ("tripped" if retained.trips else "laid_up" if retained.laid_up else "standby")
    plant.wait(1)
    assert plant.on == set()
    kept = plant.core.plant.retained
    assert (kept.lock, kept.purge, kept.laid_up) == (retained.lock, retained.purge, retained.laid_up)
    assert kept.flush_owed or not retained.flush_owed


def test_what_a_run_does_to_the_latch_is_told_as_it_happens():
    plant = Plant()
    plant.give("start")
    assert plant.latches[-1].under_way == "priming"
    assert plant.latches[-1].run_number == 1
    plant.until("diverting")
    assert plant.latches[-1].flush_owed is True
    plant.press("stop_button")
    plant.tick()
    assert plant.latches[-1].trips == (Trip("stop_button", {"contact": "stop_button"}),)
    assert plant.latches[-1].first_out == "stop_button"
    assert plant.latches[-1].under_way is None


def test_a_latch_that_did_not_change_is_not_written_again():
    plant = Plant()
    plant.wait(20)
    assert [retained.closed for retained in plant.latches] == [False], "once: that control is there"


def test_time_off_is_told_by_the_wall_clock_and_otherwise_unknown():
    retained = RetainedState(idle_s=900.0, saved=Moment(1_800_000_000.0))
    assert off_s(retained, Moment(1_800_003_600.0)) == 3600.0
    assert off_s(retained, Moment(1_799_999_000.0)) is None, "one of the two was wrong"
    assert off_s(retained, Moment()) is None
    assert off_s(RetainedState(idle_s=900.0), Moment(1_800_000_000.0)) is None
    assert off_s(RetainedState(), Moment()) == 0.0, "a boat that was never switched on owes nothing yet"


def test_while_the_computer_stays_up_time_off_is_what_it_counted_itself():
    retained = RetainedState(saved=Moment(1_800_000_000.0, 500.0, "one start"))
    for wall_s in (None, 1_700_000_000.0, 1_800_000_060.0, 1_900_000_000.0):
        assert off_s(retained, Moment(wall_s, 560.0, "one start")) == 60.0
    assert off_s(retained, Moment(1_800_000_090.0, 560.0, "another start")) == 90.0
    assert off_s(retained, Moment(None, 560.0, "another start")) is None
    assert off_s(replace(retained, saved=Moment(None, 500.0, "")), Moment(None, 560.0, "")) is None


def test_a_document_that_leaves_something_out_has_the_worst_of_it():
    assert decode(checked_file.encode(2, {})) == WORST
    told = {key: value for key, value in asdict(RetainedState()).items() if key not in ("purge", "motor_hot_ago_s")}
    assert decode(checked_file.encode(2, told)) == RetainedState(purge=WORST.purge, motor_hot_ago_s=0.0)


VERSION_1 = {
    "trips": ["membrane_pressure_high_high", "sensor_fault_water_temperature", "stop_button"],
    "first_out": "membrane_pressure_high_high",
    "laid_up": True,
    "laid_up_with": "glycol",
    "lock": {"name": "ann", "reason": "filter open"},
    "flush_owed": False,
    "purge": {"of": "glycol", "rinsed_l": 12.5, "left_s": 900.0, "confirmed": False},
    "circuit_opened": False,
    "chlorine_suspected": False,
    "clean_stop": True,
    "idle_s": 900.0,
    "pump_starts_ago_s": [60.0],
    "usual": {"membrane": "1 1", "flow": 0.9, "salt": None},
    "out_of_service": [
        {"alarm": "sensor_fault_tank_level", "who": "ann", "why": "on order", "wall_s": 1.7e9},
        {"alarm": "sensor_fault_pump_motor_temperature", "who": "bob", "why": "", "wall_s": None},
    ],
    "motor_worked_s": 1200.0,
    "motor_hot_ago_s": None,
    "saved_wall_s": 1.8e9,
    "run_number": 41,
    "extra": {},
}
"""A file of before: other names, trips without numbers, and nothing of a run that was cut off but `clean_stop`."""


def test_a_file_of_version_1_is_taken_over_under_the_names_of_now_and_nothing_is_lost(tmp_path, caplog):
    path = tmp_path / "latch"
    path.write_bytes(checked_file.encode(1, VERSION_1))
    retained = read(path)
    assert [trip.cause for trip in retained.trips] == [
        "vessel_pressure_high_high",
        "sensor_fault_sea_temperature",
        "stop_button",
    ]
    assert retained.first_out == "vessel_pressure_high_high"
    assert [aside.alarm for aside in retained.out_of_service] == [
        "sensor_fault_tank_fill",
        "sensor_fault_pump_motor_temperature",
    ]
    assert (retained.laid_up, retained.lock, retained.purge) == (
        True,
        Lock("ann", "filter open"),
        Purge("glycol", 12.5, 900.0),
    )
    assert (retained.run_number, retained.saved.wall_s, retained.motor_worked_s) == (41, 1.8e9, 1200.0)
    assert "version 1" in caplog.text


@pytest.mark.parametrize("at_rest", [True, False])
def test_a_file_of_version_1_never_proves_that_no_run_was_cut_off(at_rest):
    retained = decode(checked_file.encode(1, {**VERSION_1, "trips": [], "laid_up": False, "clean_stop": at_rest}))
    plant = Plant(retained=retained)
    plant.tick()
    assert "restart_not_acknowledged" in plant.refused("start")
    assert plant.core.plant.retained.flush_owed is not at_rest
    assert plant.core.plant.motor.worked_s == (1200.0 if at_rest else 1500.0)


def test_an_alarm_out_of_service_that_this_program_does_not_know_is_in_service():
    retained = RetainedState(out_of_service=(OutOfService("of another version", "ann", "why"),))
    plant = Plant(retained=retained)
    plant.tick()
    assert plant.core.plant.retained.out_of_service == ()


def test_unknown_time_off_counts_as_due():
    core = Core(QUICK, RetainedState(idle_s=900.0), 1000.0, off_s=None)
    assert core.plant.rest.idle_s(1000.0) > 7 * 86400


def test_pump_starts_of_the_last_hour_survive_a_restart():
    core = Core(QUICK, RetainedState(pump_starts_ago_s=(1200.0, 60.0)), 1000.0, off_s=600.0)
    assert core.plant.motor.starts_ago_s(1000.0) == (1800.0, 660.0)


def test_a_file_that_is_gone_is_no_new_boat(tmp_path):
    path = tmp_path / "latch"
    checked_file.write(path, encode(RetainedState(laid_up=True)))
    path.unlink()
    assert read(path) == WORST
    checked_file.write(path, encode(RetainedState()))
    assert read(path) == RetainedState()


def test_calibrations_that_are_gone_are_not_taken_for_none(tmp_path):
    path = tmp_path / "calibrations"
    assert calibration_file.read(path) == calibration_file.NONE
    checked_file.write(path, calibration_file.encode(calibration_file.NONE))
    path.unlink()
    assert calibration_file.read(path).unreadable


def test_the_mark_beside_a_file_is_made_once_and_leads_nowhere(tmp_path):
    path, elsewhere = tmp_path / "latch", tmp_path / "elsewhere"
    (tmp_path / "latch.written").symlink_to(elsewhere)
    checked_file.write(path, encode(RetainedState()))
    assert not elsewhere.exists()
    (tmp_path / "latch.written").unlink()
    checked_file.write(path, encode(RetainedState()))
    made = (tmp_path / "latch.written").stat().st_mtime_ns
    checked_file.write(path, encode(RetainedState()))
    assert (tmp_path / "latch.written").stat().st_mtime_ns == made
