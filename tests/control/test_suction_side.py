"""Two senders about the filters tell a shut seacock from dirty cartridges, and both from air."""

import pytest
from hand_driven_plant import QUICK, Plant
from hypothesis import given
from hypothesis import strategies as st

from halocline.control.suction import LOW_TEXTS, SuctionWatch, told_apart
from halocline.plant import words
from halocline.plant.words.alarm_names import SUCTION_TEXTS

LIMITS = QUICK.limits
BAR = st.floats(-0.5, 4.0)


def weak(inlet_bar, feed_bar):
    """A plant that made water until the feed failed, with these two pressures at the end."""
    plant = Plant().brought_to("producing")
    plant.read("feed_pressure", feed_bar)
    if inlet_bar is None:
        plant.lose("filter_inlet_pressure")
    else:
        plant.read("filter_inlet_pressure", inlet_bar)
    plant.until("tripped", within_s=20)
    return plant


def trip(plant):
    return plant.core.plant.alarms.get("feed_pressure_low_low").values


@pytest.mark.parametrize(
    ("inlet_bar", "suction", "looks", "not_at"),
    [
        (1.9, "filters", "cartridges", "seacock"),
        (0.05, "supply", "seacock", "cartridges"),
        (0.35, None, "seacock", "cartridges are"),
        (None, None, "seacock", "cartridges are"),
    ],
)
def test_the_alarm_says_where_the_water_is_held_up(inlet_bar, suction, looks, not_at):
    plant = weak(inlet_bar, 0.06)
    assert trip(plant).get("suction") == suction
    alarm = next(a for a in plant.snapshot()["alarms"] if a["id"] == "feed_pressure_low_low")
    means, _, remedy = words.alarm_texts(alarm["id"], alarm["values"])
    said = words.sentence(plant.snapshot())
    assert looks in remedy.lower()
    assert not_at not in remedy.lower()
    assert "0.06 bar" in means
    assert "0.06 bar" in said
    if inlet_bar is not None:
        assert words.quantity(inlet_bar, "bar") in means
        assert words.quantity(inlet_bar, "bar") in said


def test_low_and_unsteady_is_air_whether_one_sender_is_fitted_or_two():
    for lost in ((), ("filter_inlet_pressure",)):
        plant = Plant().brought_to("producing")
        for channel in lost:
            plant.lose(channel)
        for tick in range(200):
            plant.read("feed_pressure", 0.02 if tick // 6 % 2 else 0.28)
            if "filter_inlet_pressure" not in lost:
                plant.read("filter_inlet_pressure", 0.08 if tick // 6 % 2 else 0.34)
            plant.tick()
            if plant.core.plant.alarms.get("feed_pressure_low"):
                break
        warned = plant.core.plant.alarms.get("feed_pressure_low")
        assert warned.values["suction"] == "air"
        assert "clamps" in words.alarm_texts("feed_pressure_low", warned.values)[2]


def test_priming_that_fails_says_where_too():
    plant = Plant()
    plant.give("start", litres=0.2)
    plant.read("feed_pressure", 0.1)
    plant.read("filter_inlet_pressure", 1.8)
    plant.until("tripped", within_s=100)
    assert plant.core.plant.alarms.get("feed_pressure_not_reached").values["suction"] == "filters"


@given(inlet=st.one_of(st.none(), BAR), feed=BAR, highest=BAR)
def test_nobody_is_sent_to_the_filters_while_no_water_reaches_them(inlet, feed, highest):
    place = told_apart(LIMITS, inlet, feed, highest)
    if place == "filters":
        assert inlet is not None
        assert inlet >= LIMITS.feed_pressure_start_bar
        assert inlet - feed > feed
    if place == "supply":
        assert inlet is not None
        assert inlet < LIMITS.feed_pressure_start_bar
    if inlet is None:
        assert place is None


@given(st.lists(st.floats(0.0, 1.0), min_size=2, max_size=60))
def test_a_pressure_that_only_falls_is_not_air(falls):
    watch, bar = SuctionWatch(), 2.0
    for number, fall in enumerate(falls):
        bar -= fall
        watch.see(number * 0.05, None, bar)
    assert watch.dip_bar() == 0.0


def test_every_place_has_its_words_for_every_alarm_of_a_weak_supply():
    assert set(SUCTION_TEXTS) == set(LOW_TEXTS)
    for texts in SUCTION_TEXTS.values():
        assert set(texts) == {"filters", "supply", "air"}
        assert len({text.do for text in texts.values()}) == 3


@pytest.mark.parametrize(("limit_apart", "asked"), [(-0.01, False), (0.01, True)])
def test_nobody_is_asked_to_raise_a_pressure_that_falls_for_want_of_feed(limit_apart, asked):
    plant = Plant().brought_to("pressurising")
    while plant.core.ask() != "raise_pressure":
        plant.tick()
    plant.read("feed_pressure", LIMITS.feed_pressure_low_low_bar + limit_apart)
    plant.tick()
    assert plant.state == "pressurising"
    assert (plant.core.ask() == "raise_pressure") is asked
