"""What people read beside the sensors: which entries of the log carry it, and what health makes of it."""

import importlib.util
import json
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from halocline.physics.conductivity import at_temperature
from halocline.plant import words
from halocline.plant.readings import ALL, NEEDED, READINGS, UNITS
from halocline.plant.vocabulary import LOG_KINDS
from halocline.report.database_open import connect_to_write
from halocline.report.health.answer import answer
from halocline.report.health.seen import seen
from halocline.report.health.signals import hand_us_cm

_spec = importlib.util.spec_from_file_location("aged_plant", Path(__file__).with_name("aged_plant.py"))
aged = importlib.util.module_from_spec(_spec)
sys.modules["aged_plant"] = aged
_spec.loader.exec_module(aged)


def test_every_reading_belongs_to_a_kind_of_entry_and_has_a_unit():
    assert set(READINGS) <= set(LOG_KINDS)
    assert set(ALL) == set(UNITS)
    assert all(set(needed) <= set(READINGS[kind]) for kind, needed in NEEDED.items())


def test_a_meter_that_leaves_the_temperature_to_the_person_is_brought_to_25_degrees():
    assert hand_us_cm({"us_cm": 412.0}) == 412.0
    assert hand_us_cm({"us_cm": at_temperature(412.0, 18.0), "sample_c": 18.0}) == pytest.approx(412.0)
    assert hand_us_cm({"us_cm": "wet"}) is None


@pytest.mark.parametrize(("cause", "name"), [("meter", "flow_meter_drift"), ("water", "fouling")])
def test_two_buckets_tell_a_drifted_meter_from_a_fouled_membrane(cause, name):
    """Without a bucket, less water and no other sign is either."""
    has = aged.plant(full=False, **{cause: lambda h: 1.0 - 0.10 * max(h - 40.0, 0.0) / 80.0})
    read = []
    for i in (5, 10, 50, 58):
        period = has.kept[i].period
        shown = period.product_flow_l_h
        true = shown / (1.0 - 0.10 * max(2.0 * (i + 0.8) - 40.0, 0.0) / 80.0) if cause == "meter" else shown
        read.append((period.at_s, "bucket_test", {"litres": 10.0, "seconds": 36000.0 / true}))
    said = answer(replace(has, readings=read))
    assert said["patterns"][0]["name"] == name
    assert any("bucket" in each["text"] for each in said["patterns"][0]["evidence"])


def test_the_record_keeps_readings_as_numbers(tmp_path):
    path = tmp_path / "record.sqlite3"
    body = {"what": "hand_meter", "note": "", "readings": {"us_cm": 412.0, "sample_c": 21.0}}
    connection = connect_to_write(path)
    connection.execute(
        "INSERT INTO events (boot, seq, mono_s, wall_s, kind, body) VALUES (1, 5, 10.0, 1.8e9, 'log', ?)",
        (json.dumps(body),),
    )
    connection.execute("INSERT INTO work (boot, seq, wall_s, kind, note) VALUES (1, 5, 1.8e9, 'hand_meter', '')")
    assert seen(connection, None).readings == [(1.8e9, "hand_meter", body["readings"])]
    assert seen(connection, 1.7e9).readings == []
    connection.close()


def test_an_entry_tells_its_readings_in_words():
    event = {"kind": "log", "what": "bucket_test", "readings": {"litres": 10.0, "seconds": 610.0}, "note": "calm"}
    text = words.event_text(event)
    assert "10 L" in text
    assert text.endswith("calm")
