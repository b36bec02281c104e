"""The whole core under random readings, contacts and commands: what must hold in every tick, whatever happens.

A random story begins in any state, brought about in the ordinary way, and then disturbs the plant at random. Every
tick is watched by the `Watch` of `safety_invariants`, which keeps its own account and shares none of the core's memory.
"""

import math

import pytest
from cloning import clone
from hand_driven_plant import QUICK, Plant, quick_settings, reading
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from halocline.control.inputs import Command
from halocline.physics.conductivity import conductivity_25c_us_cm
from halocline.plant.alarms import DEFINITIONS
from halocline.plant.command_definitions import COMMANDS
from halocline.plant.vocabulary import CHANNELS, CONTACTS, Origin, Quality, State
from safety_invariants import FEED, FLUSH, HP, TANK, Watch

# ---- stories --------------------------------------------------------------------------------------

SPANS = {
    "vessel_pressure": st.one_of(st.floats(-1, 110), st.sampled_from([0.0, 2.9, 3.1, 4.9, 5.1, 9.9, 10.1, 55.0, 64.1])),
    "feed_pressure": st.one_of(st.floats(-1, 4), st.sampled_from([0.0, 0.14, 0.16, 0.5, 1.5])),
    "product_conductivity": st.one_of(
        st.floats(0, 45000), st.sampled_from([conductivity_25c_us_cm(mg) for mg in (1.0, 330.0, 499.0, 550.0, 999.0)])
    ),
    "sea_temperature": st.one_of(st.floats(-2, 50), st.just(20.0)),
    "product_flow": st.one_of(st.floats(0, 300), st.sampled_from([0.0, 7.0, 9.0, 60.0])),
    "tank_fill": st.floats(0, 100),
    "battery_voltage": st.floats(8, 15),
    "filter_inlet_pressure": st.floats(-1, 4),
    "flush_flow": st.floats(0, 400),
}
HOPELESS = st.sampled_from([math.nan, math.inf, -math.inf, 1e300, -1e300, None])
QUALITIES = st.sampled_from(list(Quality))


@st.composite
def readings(draw):
    channel = draw(st.sampled_from(sorted(SPANS)))
    kind = draw(st.integers(0, 9))
    if kind == 0:
        return channel, reading(channel, draw(HOPELESS), draw(QUALITIES), raw=draw(HOPELESS))
    if kind <= 3:
        quality = draw(QUALITIES)
        valued = quality in (Quality.GOOD, Quality.UNDER, Quality.OVER)
        return channel, reading(channel, draw(SPANS[channel]) if valued else None, quality)
    return channel, reading(channel, draw(SPANS[channel]))


ARGUMENTS = st.fixed_dictionaries(
    {},
    optional={
        "litres": st.one_of(st.floats(), st.none(), st.text(max_size=3), st.integers(-5, 50)),
        "minutes": st.one_of(st.floats(), st.none()),
        "seconds": st.one_of(st.floats(), st.none(), st.just(1.0)),
        "alarm": st.one_of(st.sampled_from(sorted(DEFINITIONS)), st.none(), st.integers()),
        "output": st.one_of(st.sampled_from([HP, FEED, TANK, FLUSH, "buzzer", "heartbeat", "keel"]), st.none()),
        "preservative": st.one_of(st.sampled_from(["glycol", "soap"]), st.none()),
        "confirmed": st.one_of(st.none(), st.lists(st.text(max_size=3)), st.integers()),
        "kind": st.one_of(st.sampled_from(["note", "element_changed", "cleaned", "purge_confirmed"]), st.none()),
        "until": st.one_of(st.text(max_size=6), st.none()),
        "until_s": st.one_of(st.floats(), st.none()),
        "name": st.one_of(st.text(max_size=3), st.none()),
        "reason": st.text(max_size=3),
        "sails": st.integers(),
    },
)
GARBLED = st.builds(
    Command,
    st.sampled_from([*COMMANDS, "dance"]),
    ARGUMENTS,
    st.sampled_from(list(Origin)),
    st.just("bob"),
    st.just("1:a"),
)
PROPER = st.sampled_from(
    [
        Command("start"),
        Command("start", {"litres": 0.1}),
        Command("stop", origin=Origin.MQTT),
        Command("flush"),
        Command("acknowledge"),
        Command("reset"),
        Command("silence"),
        Command("lay_up"),
        Command("recommission"),
        Command("bench", {"output": HP, "seconds": 2.0}),
        Command("bench", {"output": TANK, "seconds": 5.0}),
        Command("service_lock", {"name": "ann", "reason": "filter"}),
        Command("service_unlock"),
        Command("log", {"kind": "cleaned"}),
    ]
)
MOVES = st.one_of(
    st.tuples(st.just("read"), readings()),
    st.tuples(st.just("mend"), st.just(None)),
    st.tuples(st.just("contact"), st.tuples(st.sampled_from(CONTACTS), st.booleans())),
    st.tuples(st.just("give"), PROPER),
    st.tuples(st.just("give"), GARBLED),
    st.tuples(st.just("hand"), st.booleans()),
    st.tuples(st.just("weld"), st.booleans()),
    st.tuples(st.just("salt"), st.sampled_from([5.0, 330.0, 590.0, 700.0, 1500.0, 30000.0])),
    st.tuples(
        st.just("extra"),
        st.fixed_dictionaries(
            {},
            optional={
                "overpressure_bar": st.sampled_from([65.0, 80.0]),
                "lost_chips": st.sampled_from([(0x48,), (0x49,), (0x48, 0x49)]),
                "missed_ticks": st.integers(0, 30),
                "clock_set": st.booleans(),
                "supply_voltage_low": st.booleans(),
                "latch_writable": st.booleans(),
            },
        ),
    ),
)
STORY = st.lists(
    st.tuples(MOVES, st.sampled_from([1, 1, 2, 5, 20, 60]), st.sampled_from([0.05, 0.05, 0.2])), max_size=25
)


def watched(plant):
    """The plant, each of its ticks judged by the list of invariants."""
    Watch(plant.core)
    return plant


def play(plant, move, ticks, dt):
    kind, what = move
    commands, extra = [], {}
    if kind == "read":
        plant.pinned[what[0]] = what[1]
    elif kind == "mend":
        plant.mend()
        plant.pinned_contacts.clear()
    elif kind == "contact":
        plant.press(*what)
    elif kind == "give":
        commands = [what]
    elif kind == "hand":
        plant.hand_switch = what
    elif kind == "weld":
        plant.relay_welded = what
    elif kind == "salt":
        plant.tds_mg_l = what
    else:
        extra = what
    for number in range(ticks):
        outcome = plant.tick(*commands, dt=dt, **(extra if number == 0 else {}))
        commands = [command for command, _ in outcome.persist]


BEGINNINGS = {state: Plant().brought_to(state) for state in State}


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(list(State)), STORY)
def test_no_story_breaks_a_rule_or_makes_the_core_stumble(beginning, story):
    plant = watched(clone(BEGINNINGS[beginning]))
    for move, ticks, dt in story:
        play(plant, move, ticks, dt)


DRIVES = {
    (pump, regulator): Plant(quick_settings(drive={"pump": pump, "regulator": regulator}))
    for pump in ("relay", "permissive", "watch_only")
    for regulator in ("hand_each_run", "left_set")
}


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(sorted(DRIVES)), st.booleans(), STORY)
def test_no_story_breaks_a_rule_with_another_drive(drive, switched, story):
    plant = clone(DRIVES[drive])
    plant.give("start")
    plant.hand_switch = switched
    watched(plant)
    for _ in range(150):
        plant.tick(dt=0.2)
    for move, ticks, dt in story:
        play(plant, move, ticks, dt)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(["priming", "pressurising", "diverting", "producing"]), STORY)
def test_whatever_the_instruments_say_a_stop_ends_with_the_pump_off(beginning, story):
    plant = watched(clone(BEGINNINGS[State(beginning)]))
    for move, ticks, dt in story[:5]:
        if move[0] != "give":
            play(plant, move, ticks, dt)
    plant.tick(Command("stop"))
    for _ in range(int((QUICK.sequence.stop_open_s + 1.0) / 0.05)):
        plant.tick()
    assert HP not in plant.on
    assert plant.state not in ("priming", "pressurising", "diverting", "producing")


EVERY_READING = st.fixed_dictionaries(
    {},
    optional={
        channel: st.builds(
            reading,
            st.just(channel),
            st.one_of(st.floats(), HOPELESS),
            QUALITIES,
            raw=st.one_of(st.floats(), HOPELESS),
            age_s=st.one_of(st.floats(), st.none()),
        )
        for channel in CHANNELS
    },
)


@settings(max_examples=100, deadline=None)
@given(
    st.sampled_from(list(State)),
    st.lists(st.tuples(EVERY_READING, st.floats(), st.one_of(st.none(), st.floats()), GARBLED), max_size=6),
)
def test_no_reading_at_all_makes_the_core_raise(beginning, ticks):
    plant = clone(BEGINNINGS[beginning])
    for given_readings, product_l, flush_l, command in ticks:
        plant.pinned.update(given_readings)
        outcome = plant.tick(command, product_total_l=product_l, flush_total_l=flush_l)
        assert set(outcome.outputs) <= set(plant.settings.outputs)


@settings(max_examples=80, deadline=None)
@given(
    st.sampled_from(["product_conductivity", "sea_temperature", "product_flow"]),
    st.one_of(HOPELESS, st.floats(0, 40)),
    QUALITIES,
)
def test_a_reading_that_is_not_good_and_finite_closes_the_tank_in_the_same_tick(channel, value, quality):
    plant = clone(BEGINNINGS[State.PRODUCING])
    plant.read(channel, value, quality)
    plant.tick()
    sound = quality is Quality.GOOD and value is not None and math.isfinite(value)
    if not sound:
        assert plant.state == "diverting"
    if TANK in plant.on:
        assert sound


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, None])
@pytest.mark.parametrize("channel", ["vessel_pressure", "feed_pressure"])
def test_a_pressure_that_is_no_number_trips_in_the_same_tick(channel, value):
    plant = clone(BEGINNINGS[State.PRODUCING])
    plant.read(channel, value)
    plant.tick()
    assert plant.state == "tripped"
    assert plant.on == set()
    assert plant.core.first_out == f"sensor_fault_{channel}"


@settings(max_examples=30, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from([330.0, 330.0, 330.0, 495.0, 550.0, 700.0, 1200.0]),
            st.sampled_from([None, None, None, None, "product_flow", "sea_temperature"]),
            st.floats(0.1, 2.5 * QUICK.sequence.quality_hold_s),
        ),
        max_size=9,
    )
)
def test_water_that_is_good_by_turns_reaches_the_tank_only_after_a_whole_hold(turns):
    plant = watched(clone(BEGINNINGS[State.DIVERTING]))
    for salt_mg_l, lost, seconds in turns:
        plant.tds_mg_l = salt_mg_l
        plant.mend()
        if lost:
            plant.lose(lost)
        for _ in range(round(seconds / 0.1)):
            plant.tick(dt=0.1)


HANDLING = st.sampled_from(["acknowledge", "reset", "silence", "stop", "start", "flush", "wait"])
CAUSES_AT_HAND = st.sampled_from(["stop_button", "bilge_wet", "pressure_switch", "diverter_at_tank", "pressure"])


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(HANDLING, CAUSES_AT_HAND, st.booleans(), st.integers(1, 30)), max_size=20))
def test_out_of_a_trip_leads_only_a_reset_once_all_is_seen_and_gone(deeds):
    plant = watched(clone(BEGINNINGS[State.TRIPPED]))
    for deed, cause, there, ticks in deeds:
        if cause != "pressure":
            plant.press(cause, active=there)
        elif there:
            plant.read("vessel_pressure", 66.0)
        else:
            plant.mend()
        for number in range(ticks):
            commands = [Command(deed)] if number == ticks // 2 and deed != "wait" else []
            plant.tick(*commands)
