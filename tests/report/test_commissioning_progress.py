"""A commissioning's place is in the record alone: it goes on after a restart of control and of report."""

import pytest

from halocline.plant.settings import RecordSettings, UnitSettings
from halocline.report.commissioning import seen_texts
from halocline.report.feed import Feed
from halocline.report.journal import Happened

SEEN = {"vessel_pressure_bar": 55.1, "product_tds_mg_l": 301.0, "fresh_s": 12.0}


def sign(plant, step, **more):
    plant.event("log", what="commissioned", step=step, note=more.pop("note", ""), who="Ana", seen=SEEN, **more)


def read(ship, path="/api/v1/commissioning"):
    return ship.client.get(path)


def signed(ship):
    return [step["id"] for step in read(ship).json()["steps"] if step["signed"] is not None]


def test_steps_are_those_of_the_plant_with_its_outputs(ready, until):
    ship, plant = ready
    plant.now(outputs={"feed_pump": False, "flush_valve": False, "heartbeat": True})
    until(lambda: "output_flush_valve" in [step["id"] for step in read(ship).json()["steps"]])
    told = read(ship).json()
    ids = [step["id"] for step in told["steps"]]
    assert ids[:3] == ["begun", "safety", "chain"]
    assert "output_high_pressure_pump" not in ids
    assert ids[-1] == "closed"
    assert not told["begun"]
    assert {point["id"] for point in told["safety"]} >= {"two_people", "relief_valve_set"}
    assert {step["id"] for step in told["steps"] if step["measured"]} >= {"hoses", "hoses_at_rest", "air", "zeros"}


def test_what_is_signed_stands_there_with_who_and_what_was_measured(ready, until):
    ship, plant = ready
    sign(plant, "begun")
    sign(plant, "hoses", note="hand meter 480")
    until(lambda: signed(ship) == ["begun", "hoses"])
    told = read(ship).json()
    (hoses,) = (step for step in told["steps"] if step["id"] == "hoses")
    assert hoses["signed"]["who"] == "Ana"
    assert hoses["signed"]["note"] == "hand meter 480"
    assert hoses["signed"]["seen"] == [
        "membrane pressure 55.1 bar",
        "product salt 301 mg/L",
        "fresh product under pressure 12 s",
    ]


def test_another_start_of_control_and_of_report_goes_on_where_it_was(ready, control, frame, link_path, tmp_path, until):
    ship, plant = ready
    sign(plant, "begun")
    sign(plant, "safety")
    until(lambda: len(signed(ship)) == 2)
    plant.stop()
    again = control(boot="b2")
    until(lambda: ship.context.feed.connected)
    sign(again, "chain")
    until(lambda: len(signed(ship)) == 3)
    ship.context.feed.stop()  # and report: what it knew is in the record
    later = Feed(link_path, tmp_path / "data", frame, RecordSettings(), batch_s=0.05)
    later.start()
    try:
        until(lambda: later.connected)
        object.__setattr__(ship.context, "feed", later)
        assert signed(ship) == ["begun", "safety", "chain"]
    finally:
        later.stop()


def test_beginning_anew_opens_every_step(ready, until):
    ship, plant = ready
    for step in ("begun", "safety", "chain"):
        sign(plant, step)
    until(lambda: len(signed(ship)) == 3)
    sign(plant, "begun", note="rebuilt")
    until(lambda: signed(ship) == ["begun"])


def test_the_report_to_keep_says_what_is_open_and_escapes_what_was_typed(ready, until):
    ship, plant = ready
    sign(plant, "begun")
    sign(plant, "hoses", note="<script>alert(1)</script>")
    until(lambda: len(signed(ship)) == 2)
    sheet = read(ship, "/api/v1/commissioning?format=html")
    assert "default-src 'none'" in sheet.headers["content-security-policy"]
    assert "Commissioning, Cagarra" in sheet.text
    assert "Left open: " in sheet.text
    assert "membrane pressure 55.1 bar" in sheet.text
    assert "&lt;script&gt;" in sheet.text
    assert "<script>" not in sheet.text


def test_the_log_and_the_events_name_the_step(ready, until):
    ship, plant = ready
    sign(plant, "hoses", note="fresh")
    until(lambda: ship.client.get("/api/v1/work").json()["work"])
    (work,) = ship.client.get("/api/v1/work").json()["work"]
    assert (work["kind"], work["note"]) == (
        "commissioned",
        "Under pressure what runs in the product's hose is fresh: fresh",
    )
    (event,) = (one for one in ship.client.get("/api/v1/events").json()["events"] if one["kind"] == "log")
    assert event["text"].startswith("Commissioning: Under pressure what runs in the product's hose is fresh")


@pytest.mark.parametrize("units", [UnitSettings(), UnitSettings(pressure="psi", volume="gal")])
def test_what_was_measured_is_told_in_the_boats_units(units):
    (first, *_) = seen_texts(Happened("b", 1, 1.0, None, "log", {"seen": SEEN}), units)
    assert ("psi" in first) == (units.pressure == "psi")
