"""Free chlorine destroys the membrane: after doubtful water nothing is flushed until a strip reads zero."""

import pytest

from halocline.control.commands import CHLORINE
from halocline.control.retained.retained_state import WORST


@pytest.mark.parametrize("kind", ["tank_chlorinated", "shore_water_taken"])
def test_doubtful_water_blocks_every_flush_until_a_strip_reads_zero(plant, kind):
    assert plant.give("log", kind=kind) == []
    assert "chlorine_suspected" in plant.give("flush")
    assert plant.give("log", kind="chlorine_strip_zero") == []
    assert "chlorine_suspected" not in plant.give("flush")


def test_a_latch_that_cannot_be_read_suspects_chlorine():
    assert WORST.chlorine_suspected
    assert set(CHLORINE.values()) == {True, False}


def test_a_flush_that_goes_on_ends_when_somebody_notes_chlorine(plant):
    flushing = plant.brought_to("flushing").wait(0.5)
    assert "flush_valve" in flushing.on
    assert flushing.give("log", kind="tank_chlorinated") == []
    assert flushing.state == "standby"
    assert flushing.on == set()
    assert flushing.event("flush_ended")["complete"] is False
    flushing.tick()
    assert flushing.alarm("flush_failed") == "unacknowledged"


def test_a_flush_valve_that_is_tried_shuts_when_somebody_notes_chlorine(plant):
    plant.tick()
    assert plant.give("bench", output="flush_valve", seconds=10.0) == []
    plant.wait(0.5)
    assert "flush_valve" in plant.on
    assert plant.give("log", kind="shore_water_taken") == []
    assert plant.on == set()
