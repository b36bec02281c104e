"""Free chlorine destroys the membrane: after doubtful water nothing is flushed until a strip reads zero."""

import pytest

from halocline.control.commands import CHLORINE
from halocline.control.latch import WORST


@pytest.mark.parametrize("kind", ["tank_chlorinated", "shore_water_taken"])
def test_doubtful_water_blocks_every_flush_until_a_strip_reads_zero(plant, kind):
    assert plant.give("log", kind=kind) == []
    assert "chlorine_suspected" in plant.give("flush")
    assert plant.give("log", kind="chlorine_strip_zero") == []
    assert "chlorine_suspected" not in plant.give("flush")


def test_a_latch_that_cannot_be_read_suspects_chlorine():
    assert WORST.chlorine_suspected
    assert set(CHLORINE.values()) == {True, False}
