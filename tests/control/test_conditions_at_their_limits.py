"""Each condition of an alarm at its limit: it holds just beyond, and not just inside.

The numbers are written out here: those of THRESHOLDS.md, and for the settings those of the quick demonstration boat.
"""

import math

import pytest
from hand_driven_plant import QUICK, Plant, quick_settings, reading

from halocline.control.alarm_conditions import CONDITIONS
from halocline.control.alarm_conditions.condition import Notes
from halocline.plant import motor
from halocline.plant.vocabulary import NEEDED_CHANNELS, Quality, State

DAY_S = 86_400.0
LIMITS, SEQUENCE = QUICK.limits, QUICK.sequence
RATED_S = motor.rated_run_s(QUICK.drive)
FEED_L_H = QUICK.plant.feed_flow_l_h
HOLDS_S = 10 * SEQUENCE.quality_hold_s
MAKING = Plant().brought_to("producing").core.last


def holds(name, *, readings=None, clocks=None, inputs=None, expected=None, departure=None, noted=(), **fields):
    """Whether the condition holds while water is made, but for what the caller says."""
    read = {channel: reading(channel, *valued(value)) for channel, value in (readings or {}).items()}
    given = MAKING.inputs._replace(readings={**MAKING.inputs.readings, **read}, **(inputs or {}))
    now = MAKING._replace(
        inputs=given,
        clocks=MAKING.clocks._replace(**(clocks or {})),
        expectation=MAKING.expectation._replace(**(expected or {})),
        departure=MAKING.departure._replace(**(departure or {})),
        **fields,
    )
    return CONDITIONS[name](now, Notes({cause: {} for cause in noted})) is not None


def valued(value):
    """Value and quality."""
    return value if isinstance(value, tuple) else (value, Quality.GOOD)


def read(channel, value):
    return {"readings": {channel: value}}


def lasted(**clocks):
    return {"clocks": clocks}


def laid(temperature_c, **clocks):
    return {"state": State.STANDBY, "temperature_c": temperature_c, "clocks": clocks}


def salty(tds_mg_l, **clocks):
    return {"tds_mg_l": tds_mg_l, "clocks": clocks}


SALT, REACHED = LIMITS.product_salty_mg_l, {"working_product_l": 3.0, "working_s": 180.0}
RUSH = {"tds_mg_l": LIMITS.product_salty_at_once_mg_l + 1, "expected": {"flow_l_h": 60.0}}
SHARES = {"expected": {"flow_l_h": 60.0, "tds_mg_l": 200.0}}
BAD = LIMITS.accept_tds_mg_l + 1
CONTACTS = {"inputs": {"active": {"diverter_at_tank": False}}}
NO_CONTACTS = {"inputs": {"active": {}}}
CHECK_S = SEQUENCE.regulator_check_s
ASKED_S, ANSWER_S = SEQUENCE.attendance_ask_s, SEQUENCE.attendance_answer_s
ASKED = {"settings": quick_settings(sequence={"attendance": True})}

AT_LIMITS = [
    # name, just inside, just beyond
    ("frost_risk", read("sea_temperature", 2.0), read("sea_temperature", 1.9)),
    ("flush_valve_leaking", read("flush_flow", 2.0), read("flush_flow", 2.1)),
    ("flush_backflow", read("flush_flow", 2.0), read("flush_flow", 2.1)),
    ("flush_due", laid(25.1, idle_s=3 * DAY_S), laid(25.1, idle_s=3 * DAY_S + 1)),
    ("flush_due", laid(None, idle_s=3 * DAY_S), laid(None, idle_s=3 * DAY_S + 1)),
    ("flush_due", laid(25.0, idle_s=5 * DAY_S), laid(25.0, idle_s=5 * DAY_S + 1)),
    ("flush_due", laid(15.0, idle_s=5 * DAY_S), laid(15.0, idle_s=5 * DAY_S + 1)),
    ("flush_due", laid(14.9, idle_s=7 * DAY_S), laid(14.9, idle_s=7 * DAY_S + 1)),
    ("preservative_due", laid(28.1, idle_s=7 * DAY_S), laid(28.1, idle_s=7 * DAY_S + 1)),
    ("preservative_due", laid(None, idle_s=7 * DAY_S), laid(None, idle_s=7 * DAY_S + 1)),
    ("preservative_due", laid(28.0, idle_s=14 * DAY_S), laid(28.0, idle_s=14 * DAY_S + 1)),
    (
        "preservative_due",
        {"state": State.LAID_UP, **lasted(laid_up_s=30 * DAY_S, idle_s=90 * DAY_S)},
        {"state": State.LAID_UP, **lasted(laid_up_s=30 * DAY_S + 1)},
    ),
    ("quality_returns_repeatedly", lasted(quality_breaks=2), lasted(quality_breaks=3)),
    ("product_salty", salty(SALT, **REACHED), salty(SALT + 1, **REACHED)),
    ("product_salty", salty(SALT + 1, working_product_l=2.9, working_s=180.0), salty(SALT + 1, **REACHED)),
    ("product_salty", salty(SALT + 1, working_product_l=3.0, working_s=179.0), salty(SALT + 1, **REACHED)),
    ("product_salty", {**salty(SALT + 1, **REACHED), "noted": ["tds_falling"]}, salty(SALT + 1, **REACHED)),
    ("product_salty_at_once", {**RUSH, **read("product_flow", 90.0)}, {**RUSH, **read("product_flow", 90.1)}),
    (
        "product_salty_at_once",
        {**RUSH, **read("product_flow", 90.1), "tds_mg_l": LIMITS.product_salty_at_once_mg_l},
        {**RUSH, **read("product_flow", (90.1, Quality.OVER))},
    ),
    ("product_salty_at_once", {**RUSH, **read("product_flow", None)}, {**RUSH, **read("product_flow", 90.1)}),
    ("product_salt_high", {**SHARES, **salty(350.0, working_s=HOLDS_S)}, {**SHARES, **salty(351.0, working_s=HOLDS_S)}),
    (
        "product_salt_high",
        {**SHARES, **salty(351.0, working_s=HOLDS_S - 0.1)},
        {**SHARES, **salty(351.0, working_s=HOLDS_S)},
    ),
    ("product_flow_low", {**SHARES, "flow_l_h": 45.0}, {**SHARES, "flow_l_h": 44.9}),
    ("product_flow_high", {**SHARES, "flow_l_h": 75.0}, {**SHARES, "flow_l_h": 75.1}),
    ("product_flow_jumped", {"departure": {"flow": 0.15}}, {"departure": {"flow": 0.151}}),
    ("product_flow_jumped", {"departure": {"flow": None}}, {"departure": {"flow": -0.151}}),
    ("product_salt_jumped", {"departure": {"salt": -0.35}}, {"departure": {"salt": -0.351}}),
    (
        "water_unaccounted",
        {**read("brine_flow", 0.91 * FEED_L_H - 60.0), "flow_l_h": 60.0},
        {**read("brine_flow", 0.89 * FEED_L_H - 60.0), "flow_l_h": 60.0},
    ),
    (
        "water_lost",
        {**read("brine_flow", 0.71 * FEED_L_H - 60.0), "flow_l_h": 60.0},
        {**read("brine_flow", 0.69 * FEED_L_H - 60.0), "flow_l_h": 60.0},
    ),
    (
        "quality_not_reached",
        {**CONTACTS, **salty(BAD, diverting_s=SEQUENCE.divert_limit_s - 0.1, quality_breaks=1)},
        {**CONTACTS, **salty(BAD, diverting_s=SEQUENCE.divert_limit_s, quality_breaks=1)},
    ),
    ("motor_too_warm", read("pump_motor_temperature", 90.0), read("pump_motor_temperature", 90.1)),
    ("scan_overrun", {"inputs": {"missed_ticks": 9}}, {"inputs": {"missed_ticks": 10}}),
    (
        "battery_low",
        {**read("battery_voltage", LIMITS.battery_stop_v - 0.1), **lasted(pump_on_s=0.0)},
        {**read("battery_voltage", LIMITS.battery_stop_v - 0.1), **lasted(pump_on_s=-1.0)},
    ),
    (
        "battery_low",
        {**read("battery_voltage", LIMITS.battery_stop_v - 0.1), **lasted(pump_on_s=4.9)},
        {**read("battery_voltage", LIMITS.battery_stop_v - 0.1), **lasted(pump_on_s=5.0)},
    ),
    (
        "battery_low",
        {"readings": {"battery_voltage": 5.0, "battery_charge_percent": LIMITS.battery_stop_percent}},
        {"readings": {"battery_voltage": 15.0, "battery_charge_percent": LIMITS.battery_stop_percent - 0.1}},
    ),
    ("run_limit", lasted(run_s=SEQUENCE.run_limit_s - 0.1), lasted(run_s=SEQUENCE.run_limit_s)),
    ("attendance_due", {**ASKED, **lasted(unattended_s=ASKED_S - 0.1)}, {**ASKED, **lasted(unattended_s=ASKED_S)}),
    (
        "unattended",
        {**ASKED, **lasted(unattended_s=ASKED_S + ANSWER_S)},
        {**ASKED, **lasted(unattended_s=ASKED_S + ANSWER_S + 0.1)},
    ),
    (
        "regulator_closed",
        {"pressure_bar": LIMITS.regulator_closed_bar + 1, **lasted(turning_s=CHECK_S + 0.1)},
        {"pressure_bar": LIMITS.regulator_closed_bar + 1, **lasted(turning_s=CHECK_S)},
    ),
    (
        "regulator_closed",
        {"pressure_bar": LIMITS.regulator_closed_bar + 1, **lasted(turning_s=-0.1)},
        {"pressure_bar": LIMITS.regulator_closed_bar + 1, **lasted(turning_s=0.0)},
    ),
    (
        "vessel_pressure_not_reached",
        {"pressure_bar": 0.0, **lasted(pump_on_s=SEQUENCE.pressure_limit_s - 0.1, peak_since_pump_bar=0.0)},
        {"pressure_bar": 0.0, **lasted(pump_on_s=SEQUENCE.pressure_limit_s + 0.1, peak_since_pump_bar=0.0)},
    ),
    (
        "feed_lost_while_stopping",
        {**read("feed_pressure", 0.0), **lasted(feed_pump_on_s=2.9)},
        {**read("feed_pressure", 0.0), **lasted(feed_pump_on_s=3.0)},
    ),
    (
        "motor_overworked",
        lasted(motor_worked_s=RATED_S, motor_rested_s=0.5),
        lasted(motor_worked_s=RATED_S, motor_rested_s=0.0),
    ),
    ("motor_overworked", lasted(motor_worked_s=RATED_S - 1), lasted(motor_worked_s=RATED_S)),
    ("vessel_pressure_high_high", {"pressure_bar": 54.0}, {"pressure_bar": 54.0, "inputs": {"overpressure_bar": 99.0}}),
    ("vessel_pressure_high_high", {"pressure_bar": 54.0}, {"pressure_bar": 99.0, "inputs": {"overpressure_bar": 54.0}}),
    ("vessel_pressure_high_high", {"pressure_bar": None}, {"pressure_bar": None, "inputs": {"overpressure_bar": 99.0}}),
]


@pytest.mark.parametrize(
    ("name", "inside", "beyond"), AT_LIMITS, ids=lambda what: what if isinstance(what, str) else ""
)
def test_a_condition_holds_beyond_its_limit_and_not_inside(name, inside, beyond):
    assert not holds(name, **inside)
    assert holds(name, **beyond)


def test_a_diverter_that_nobody_sees_shortens_the_wait_for_good_water():
    settings = quick_settings(sequence={"divert_limit_s": 600.0})
    for breaks, active, tds_mg_l, seconds, over in (
        (1, {}, BAD, 60.0, True),
        (1, {}, None, 60.0, True),
        (1, {}, BAD, 59.9, False),
        (0, {}, BAD, 60.0, False),
        (1, {}, LIMITS.accept_tds_mg_l, 60.0, False),
        (1, {"diverter_overboard": True}, BAD, 60.0, False),
        (0, {}, BAD, 600.0, True),
    ):
        seen = {"settings": settings, "inputs": {"active": active}, "tds_mg_l": tds_mg_l}
        clocks = {"diverting_s": seconds, "quality_breaks": breaks}
        assert holds("quality_not_reached", clocks=clocks, **seen) is over, (breaks, active, tds_mg_l, seconds)


def test_no_membrane_is_judged_by_what_is_not_known():
    assert not holds("product_flow_low", expected={"flow_l_h": None}, flow_l_h=1.0)
    assert not holds("product_flow_low", expected={"flow_l_h": 60.0}, flow_l_h=None)
    assert not holds("product_salt_high", expected={"tds_mg_l": None}, **salty(9000.0, working_s=HOLDS_S))
    assert not holds("product_salt_high", expected={"tds_mg_l": 200.0}, **salty(None, working_s=HOLDS_S))
    lost = read("product_conductivity", (None, Quality.OPEN))
    assert not holds("product_salt_high", expected={"tds_mg_l": 200.0}, **lost, **salty(9000.0, working_s=HOLDS_S))
    assert not holds("water_unaccounted", flow_l_h=None, **read("brine_flow", 1.0))
    assert not holds("water_unaccounted", flow_l_h=1.0)


def test_where_the_membrane_tells_nothing_a_rush_is_judged_by_the_nameplate():
    flow_l_h = 1.5 * min(QUICK.membrane.nameplate_flow_m3_d * 1000 / 24, 0.25 * FEED_L_H)
    unknown = {**RUSH, "expected": {"flow_l_h": None}}
    assert not holds("product_salty_at_once", **unknown, **read("product_flow", math.floor(flow_l_h)))
    assert holds("product_salty_at_once", **unknown, **read("product_flow", math.ceil(flow_l_h + 0.1)))


@pytest.mark.parametrize(
    ("to_tank", "at_tank", "overboard", "wrong"),
    [
        (True, True, False, None),
        (False, False, True, None),
        (True, False, False, "diverter_at_tank"),
        (True, True, True, "diverter_overboard"),
        (False, True, True, "diverter_at_tank"),
        (False, False, False, "diverter_overboard"),
        (True, None, None, None),
    ],
)
def test_position_contacts_are_compared_with_what_was_ordered(to_tank, at_tank, overboard, wrong):
    active = {"diverter_at_tank": at_tank, "diverter_overboard": overboard}
    inputs = MAKING.inputs._replace(active={name: is_on for name, is_on in active.items() if is_on is not None})
    now = MAKING._replace(inputs=inputs, clocks=MAKING.clocks._replace(to_tank=to_tank))
    told = CONDITIONS["output_disagrees"](now, Notes())
    assert (told and told["contact"]) == wrong


def test_a_converter_that_is_lost_is_told_once():
    by_address = {}
    for channel, wired in QUICK.inputs.items():
        if (address := getattr(wired, "address", None)) is not None:
            by_address.setdefault(address, []).append(channel)
    assert len(by_address) > 1
    for address, channels in by_address.items():
        lost = dict.fromkeys(channels, (None, Quality.MISSING))
        seen = {"readings": lost, "inputs": {"lost_chips": (address,)}}
        told = [name for name in ("adc_lost", *(f"sensor_fault_{each}" for each in channels)) if _tells(name, seen)]
        needed = set(channels) & set(NEEDED_CHANNELS)
        assert told == (["adc_lost"] if needed else [f"sensor_fault_{channels[0]}"])


def _tells(name, seen):
    return name in CONDITIONS and holds(name, **seen)
