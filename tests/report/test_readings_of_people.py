"""What people read beside the sensors: which entries of the log carry it, and what health makes of it."""

import importlib.util
import json
import math
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from halocline.physics.conductivity import at_temperature
from halocline.plant import words
from halocline.plant.readings import ALL, NEEDED, READINGS, SALINITY_WAYS, UNITS
from halocline.plant.vocabulary import LOG_KINDS
from halocline.report.database_open import connect_to_write
from halocline.report.health.answer import answer
from halocline.report.health.seen import seen
from halocline.report.health.signals import SEA_READ_G_KG, hand_us_cm

_spec = importlib.util.spec_from_file_location("aged_plant", Path(__file__).with_name("aged_plant.py"))
aged = importlib.util.module_from_spec(_spec)
sys.modules["aged_plant"] = aged
_spec.loader.exec_module(aged)


def test_every_reading_belongs_to_a_kind_of_entry_and_has_a_unit_or_is_the_way_it_was_got():
    assert set(READINGS) <= set(LOG_KINDS)
    assert set(ALL) == {*UNITS, "by"}
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


def read_of_the_sea(has, by_run, by="hydrometer"):
    """The plant with what people read of the sea: place of the run → g/kg over the settings."""
    period = has.kept[0].period
    read = [
        (has.kept[i].period.at_s, "sea_salinity", {"g_kg": period.sea_salinity_g_kg + over, "by": by})
        for i, over in by_run.items()
    ]
    return replace(has, readings=read)


def likely(said, name):
    return {each["name"]: each["confidence"] for each in said["patterns"]}.get(name, 0.0)


def width(said, name):
    low, high = said["quantities"][name]["change"]["i80"]
    return high - low


def test_every_way_to_get_a_salinity_has_its_doubt():
    assert set(SEA_READ_G_KG) == set(SALINITY_WAYS)


def test_a_salinity_that_was_read_tells_another_sea_from_a_loss():
    """A saltier sea looks like a little scale: less water, more salt. A reading as entered speaks against the sea."""
    has = aged.plant(full=False, sea=lambda h: 2.2 if h > 70.0 else 0.0)
    unread = likely(answer(has), "sea_salinity")
    saltier = answer(read_of_the_sea(has, {10: 0.0, 45: 2.2}))
    as_entered = answer(read_of_the_sea(has, {10: 0.0, 45: 0.0}))
    assert likely(as_entered, "sea_salinity") < unread < likely(saltier, "sea_salinity")
    assert saltier["patterns"][0]["name"] == "sea_salinity"
    assert any("salinity" in each["text"] for each in saltier["patterns"][0]["evidence"])


def test_readings_of_a_wandering_sea_narrow_what_flow_and_salt_have_become_and_move_it_to_the_truth():
    """Of a sound element in a sea that changes slowly: without readings part of it may be a loss."""

    def slowly(h):
        return 1.2 * math.sin(h / 40.0)

    has = aged.plant(runs=30, noise=2.0, full=False, sea=slowly)
    blind = answer(has)
    seeing = answer(read_of_the_sea(has, {i: slowly(2.0 * (i + 0.8)) for i in range(30)}))
    assert width(seeing, "flow") < 0.5 * width(blind, "flow")
    assert width(seeing, "salt_passage") < 0.9 * width(blind, "salt_passage")
    of_flow = [abs(said["quantities"]["flow"]["change"]["estimate"]) for said in (blind, seeing)]
    assert of_flow[1] < of_flow[0]


def test_a_slip_of_the_pen_moves_nothing():
    has = aged.plant()
    slip = answer(read_of_the_sea(has, {30: -32.7}))
    assert slip["patterns"][0]["name"] == "nothing"
    flow = answer(has)["quantities"]["flow"]["change"]["estimate"]
    assert slip["quantities"]["flow"]["change"]["estimate"] == pytest.approx(flow, abs=0.002)


@pytest.mark.parametrize("read", [{}, {"g_kg": "salty", "by": "hydrometer"}, {"g_kg": 38.0}, {"g_kg": 38.0, "by": []}])
def test_a_salinity_that_is_damaged_on_record_is_left_out(read):
    has = aged.plant(runs=12)
    assert answer(replace(has, readings=[(has.kept[5].period.at_s, "sea_salinity", read)])) == answer(has)


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


def test_an_entry_tells_how_a_salinity_was_got():
    event = {"kind": "log", "what": "sea_salinity", "readings": {"g_kg": 38.2, "by": "refractometer"}, "note": ""}
    assert words.event_text(event) == "Salinity of the sea: 38.2 g/kg, by refractometer."
