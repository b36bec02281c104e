"""The file of calibrations: exactly what was written, or told to be damaged; on the card before it counts."""

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.config import load_demo
from halocline.control.calibration.calibration_store import (
    Calibrations,
    MembraneCalibration,
    decode,
    encode,
    listed,
    read,
)
from halocline.control.retained import checked_file
from halocline.control.retained.checked_file import Unreadable
from halocline.signals.calibration import Calibration

SETTINGS = load_demo()[0]
FULL = (
    Calibrations()
    .with_channel(
        "feed_pressure",
        Calibration(zero=0.05, date="2026-03-21", initials="MB", points=((0.05, 0.0),), before=(0.05,), after=(0.0,)),
        SETTINGS.inputs["feed_pressure"],
    )
    .with_membrane(
        MembraneCalibration(
            water_permeability_lmh_bar=1.25,
            salt_permeability_lmh=0.19,
            point=(55.0, 24.0, 60.0, 396.0),
            before=(70.0, 350.0),
            date="2026-03-21",
            initials="MB",
        ),
        SETTINGS.membrane,
    )
)


@settings(deadline=None)
@given(st.floats(-1, 1), st.floats(0.5, 2.0), st.text(max_size=16))
def test_what_was_written_is_what_is_read(zero, span, initials):
    made = Calibration(zero=zero, span=span, initials=initials)
    book = FULL.with_channel("tank_fill", made, SETTINGS.inputs["tank_fill"])
    assert decode(encode(book)) == book


def test_without_a_file_there_is_no_calibration_and_no_trouble(tmp_path):
    assert read(tmp_path / "calibrations") == Calibrations()


@pytest.mark.parametrize("length", range(len(encode(FULL))))
def test_a_file_cut_short_anywhere_is_never_taken_for_none(tmp_path, length):
    path = tmp_path / "calibrations"
    path.write_bytes(encode(FULL)[:length])
    assert read(path) == Calibrations(unreadable=True)


def test_a_single_bit_that_flipped_anywhere_is_never_taken_for_a_calibration():
    whole = encode(FULL)
    for position in range(len(whole)):
        for bit in range(8):
            broken = bytearray(whole)
            broken[position] ^= 1 << bit
            with pytest.raises(Unreadable):
                decode(bytes(broken))


def test_a_file_that_cannot_be_read_is_told(tmp_path):
    (tmp_path / "calibrations").mkdir()
    assert read(tmp_path / "calibrations").unreadable


@pytest.mark.parametrize("broken", [{"water_permeability_lmh_bar": float("nan")}, {"salt_permeability_lmh": 0.0}])
def test_no_membrane_has_such_permeabilities(broken):
    with pytest.raises(ValueError, match=r"permeabilities|finite"):
        dataclasses.replace(FULL.membrane, **broken)


def test_what_was_made_for_another_sensor_is_outdated():
    assert FULL.outdated(SETTINGS) == ()
    moved = dataclasses.replace(SETTINGS.inputs["feed_pressure"], mux=3)
    plate = dataclasses.replace(SETTINGS.membrane, area_m2=1.2)
    other = dataclasses.replace(SETTINGS, inputs={**SETTINGS.inputs, "feed_pressure": moved}, membrane=plate)
    assert FULL.outdated(other) == ("feed_pressure", "membrane")


def test_the_list_names_each_with_its_numbers_date_and_initials():
    channel, membrane = listed(FULL)
    assert channel.items() >= {"channel": "feed_pressure", "zero": 0.05, "date": "2026-03-21", "initials": "MB"}.items()
    assert membrane.items() >= {"channel": "membrane", "water_permeability_lmh_bar": 1.25}.items()


def of_version(version, names):
    """A file as that version wrote it, with a calibration of the tank's sensor under each name."""
    made = Calibration(zero=0.5, span=1.25, initials="MB").to_dict()
    document = {"channels": dict.fromkeys(names, made), "membrane": None, "made_for": dict.fromkeys(names, "12ab34cd")}
    return checked_file.encode(version, document)


@pytest.mark.parametrize(
    ("former", "present"),
    [
        ("membrane_pressure", "vessel_pressure"),
        ("motor_temperature", "pump_motor_temperature"),
        ("water_temperature", "sea_temperature"),
        ("tank_level", "tank_fill"),
        ("feed_pressure", "feed_pressure"),
        ("pump_motor_temperature", "pump_motor_temperature"),
    ],
)
def test_a_calibration_under_a_former_name_stays_with_its_channel(tmp_path, caplog, former, present):
    path = tmp_path / "calibrations"
    path.write_bytes(of_version(1, [former]))
    book = read(path)
    assert (set(book.channels), set(book.made_for)) == ({present}, {present})
    assert book.channels[present].zero == 0.5
    assert (former in caplog.text) is (former != present)
    assert decode(encode(book)) == book


@pytest.mark.parametrize(
    ("version", "names"),
    [
        (1, ["tank_level", "tank_fill"]),
        (1, ["bilge_level"]),
        (2, ["tank_level"]),
        (3, ["tank_fill"]),
    ],
)
def test_a_calibration_of_nobody_knows_what_is_never_dropped_in_silence(version, names):
    with pytest.raises(Unreadable):
        decode(of_version(version, names))
