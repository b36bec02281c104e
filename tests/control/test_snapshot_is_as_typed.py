"""What control says is what `link/snapshot.py` says it is: no key more, none less, each of its type, in every state."""

import json

import pytest
from hand_driven_plant import QUICK, Plant

from halocline.control.retained.retained_state import Lock, OutOfService, RetainedState, new_purge
from halocline.link.snapshot import SnapshotNow
from halocline.plant.vocabulary import Quality
from halocline.report.http.shapes import model_of

OWING = RetainedState(
    flush_owed=True,
    chlorine_suspected=True,
    purge=new_purge(QUICK, "glycol", None),
    lock=Lock("Ana", "filters"),
    out_of_service=(OutOfService("flush_due", "Ana", "for a while", 1_800_000_000.0),),
)


def at_rest():
    return Plant()


def owing():
    return Plant(retained=OWING)


def making_water():
    plant = Plant()
    assert plant.give("start", litres=5.0) == []
    plant.until("producing")
    return plant


def tripped():
    plant = making_water()
    plant.lose("vessel_pressure", Quality.OPEN)
    plant.until("tripped")
    return plant


@pytest.mark.parametrize("story", [at_rest, owing, making_water, tripped])
def test_a_snapshot_is_as_its_type_says(story):
    plant = story()
    plant.wait(1)
    said = json.loads(json.dumps(plant.snapshot()))
    assert model_of(SnapshotNow).model_validate(said, strict=False).model_dump(mode="json", by_alias=True) == said
