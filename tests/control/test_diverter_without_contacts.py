"""A boat without position contacts at its diverter learns of one that does not obey from the salt alone."""

from dataclasses import replace

import pytest
from hand_driven_plant import FULL, Plant


@pytest.fixture
def blind():
    """A plant making water, full size, with nothing that tells where its diverter stands."""
    contacts = {name: pin for name, pin in FULL.contacts.items() if not name.startswith("diverter")}
    plant = Plant(replace(FULL, contacts=contacts))
    for contact in ("diverter_at_tank", "diverter_overboard"):
        plant.active.pop(contact, None)
    move = plant._move

    def without_contacts(dt):
        move(dt)
        plant.active.pop("diverter_at_tank", None)
        plant.active.pop("diverter_overboard", None)

    plant._move = without_contacts
    assert plant.give("start") == []
    plant.until("producing", within_s=600.0, dt=0.2)
    return plant


def test_salt_a_minute_after_diverting_ends_the_run_where_no_contact_tells(blind):
    blind.tds_mg_l = 1500.0
    blind.until("diverting", within_s=5.0)
    assert 59.0 <= blind.until("stopping", within_s=70.0) <= 61.0
    assert blind.core.first_out == "quality_not_reached"
    assert blind.event("state")["why"]["values"]["seconds"] == 60.0


def test_salt_that_falls_again_within_the_minute_does_not(blind):
    blind.tds_mg_l = 1500.0
    blind.until("diverting", within_s=5.0)
    blind.wait(30.0, dt=0.2)
    blind.tds_mg_l = 330.0
    blind.wait(45.0, dt=0.2)
    assert blind.state == "diverting"


def test_first_water_may_take_its_whole_time(blind):
    blind.give("stop")
    blind.until("standby", within_s=900.0, dt=0.2)
    blind.core.plant.motor.worked_s = 0.0
    blind.wait(30.0, dt=0.2)
    assert blind.give("start") == []
    blind.tds_mg_l = 700.0
    blind.until("diverting", within_s=600.0, dt=0.2)
    blind.wait(120.0, dt=0.2)
    assert blind.state == "diverting"
