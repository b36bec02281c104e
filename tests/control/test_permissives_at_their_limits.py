"""Each permissive at its limit: it refuses just beyond, and lets pass just inside, with the numbers a person needs."""

from dataclasses import replace

import pytest
from hand_driven_plant import QUICK, Plant, reading

from halocline.control.inputs import Command
from halocline.control.permissives import reasons_against
from halocline.plant import motor
from halocline.plant.vocabulary import Quality, State

LIMITS, SEQUENCE = QUICK.limits, QUICK.sequence
AT_REST = Plant().wait(30)
"""Longer than the 20 s after which zeros and meters are judged."""


def refused(name, arguments=None, *, readings=None, levels=None, clocks=None, inputs=None, context=None, **fields):
    """Ids and numbers of the reasons against a command at rest, but for what the caller says."""
    last = AT_REST.core.last
    read = {
        channel: reading(channel, *(value if isinstance(value, tuple) else (value,)))
        for channel, value in (readings or {}).items()
    }
    now = last._replace(
        inputs=last.inputs._replace(readings={**last.inputs.readings, **read}, **(inputs or {})),
        clocks=last.clocks._replace(**(clocks or {})),
        levels={**last.levels, **(levels or {})},
        **fields,
    )
    at = AT_REST.core.decisions.context(Command(name, arguments or {}), now)
    return {reason.id: reason.values for reason in reasons_against(replace(at, **(context or {})))}


WORKED_OUT_S = motor.work_s(QUICK)
REST_S = QUICK.drive.motor_rest_s
WINDOW_S, STARTS = SEQUENCE.motor_starts_window_s, SEQUENCE.motor_starts
TRY = {"output": "beacon"}
JOG = {"output": "high_pressure_pump"}

AT_LIMITS = [
    # reason, command, just inside, just beyond
    ("tank_is_full", "start", {"readings": {"tank_fill": 50.0}}, {"readings": {"tank_fill": LIMITS.tank_full_percent}}),
    (
        "battery_too_low",
        "start",
        {"levels": {"battery_voltage": LIMITS.battery_start_v}},
        {"levels": {"battery_voltage": LIMITS.battery_start_v - 0.01}},
    ),
    (
        "battery_charge_too_low",
        "start",
        {"levels": {"battery_charge_percent": LIMITS.battery_start_percent, "battery_voltage": 1.0}},
        {"levels": {"battery_charge_percent": LIMITS.battery_start_percent - 0.1, "battery_voltage": 15.0}},
    ),
    (
        "water_is_too_warm",
        "start",
        {"levels": {"sea_temperature": LIMITS.water_too_warm_c - 0.1}},
        {"levels": {"sea_temperature": LIMITS.water_too_warm_c}},
    ),
    ("pressure_present", "start", {"pressure_bar": 5.0}, {"pressure_bar": 5.1}),
    ("pressure_present", "flush", {"pressure_bar": 2.9}, {"pressure_bar": 3.0}),
    ("flow_at_rest", "start", {"flow_l_h": None}, {"flow_l_h": 60.0}),
    ("flow_at_rest", "start", {"flow_l_h": 60.0, "in_state_s": 20.0}, {"flow_l_h": 60.0, "in_state_s": 20.1}),
    (
        "flow_at_rest",
        "start",
        {"flow_l_h": 60.0, "clocks": {"pump_off_s": 20.0}},
        {"flow_l_h": 60.0, "clocks": {"pump_off_s": 20.1}},
    ),
    ("bench_too_long", "bench", {"arguments": {**TRY, "seconds": 120.0}}, {"arguments": {**TRY, "seconds": 120.1}}),
    ("bench_too_long", "bench", {"arguments": {**JOG, "seconds": 2.0}}, {"arguments": {**JOG, "seconds": 2.1}}),
    (
        "until_too_far",
        "start",
        {"arguments": {"until_s": SEQUENCE.run_limit_s}},
        {"arguments": {"until_s": SEQUENCE.run_limit_s + 1}},
    ),
    (
        "several_needs",
        "start",
        {"arguments": {"litres": 1.0}},
        {"arguments": {"litres": 1.0, "minutes": 5.0}},
    ),
    (
        "too_many_starts",
        "start",
        {"context": {"starts_ago_s": tuple(range(1, STARTS))}},
        {"context": {"starts_ago_s": tuple(range(1, STARTS + 1))}},
    ),
    (
        "motor_needs_rest",
        "start",
        {"context": {"motor_worked_s": WORKED_OUT_S, "rested_s": REST_S}},
        {"context": {"motor_worked_s": WORKED_OUT_S, "rested_s": REST_S - 1}},
    ),
    ("motor_needs_rest", "start", {"context": {"motor_hot_s": 1800.0}}, {"context": {"motor_hot_s": 1799.0}}),
    ("diverter_not_overboard", "start", {"inputs": {"active": {}}}, {"inputs": {"active": {"diverter_at_tank": True}}}),
    (
        "diverter_not_overboard",
        "start",
        {"inputs": {"active": {"diverter_overboard": True}}},
        {"inputs": {"active": {"diverter_overboard": False}}},
    ),
    ("is_standby", "reset", {"state": State.TRIPPED}, {}),
]


@pytest.mark.parametrize(("reason", "command", "inside", "beyond"), AT_LIMITS, ids=[row[0] for row in AT_LIMITS])
def test_a_command_is_refused_beyond_the_limit_and_not_inside(reason, command, inside, beyond):
    assert reason not in refused(command, **inside)
    assert reason in refused(command, **beyond)


def test_what_is_not_known_refuses_a_flush_but_is_left_to_other_checks_at_a_start():
    assert "pressure_present" in refused("flush", pressure_bar=None)
    assert "pressure_present" not in refused("start", pressure_bar=None)


def test_a_channel_has_three_seconds_to_have_its_first_turn():
    unread = {"readings": {"product_flow": (None, Quality.MISSING)}}
    assert "sensor_not_read_yet" in refused("start", **unread, clocks={"since_up_s": 2.9})
    told = refused("start", **unread, clocks={"since_up_s": 3.0})
    assert "sensor_not_read_yet" not in told
    assert told["sensor_not_good"] == {"channel": "product_flow", "quality": "missing"}


def test_a_refusal_says_how_long_to_wait_and_until_when():
    clocked = {"wall_s": 1_800_000_000.0}
    told = refused("start", inputs=clocked, context={"starts_ago_s": (10.0, 20.0, 30.0, 40.0, 50.0)[:STARTS]})
    seconds = WINDOW_S - 10.0 * STARTS
    assert told["too_many_starts"]["seconds"] == seconds
    assert told["too_many_starts"]["until_wall_s"] == round(1_800_000_000.0 + seconds)
    told = refused("start", context={"motor_worked_s": WORKED_OUT_S, "rested_s": REST_S - 7})
    assert told["motor_needs_rest"]["seconds"] == pytest.approx(7)
    told = refused("start", context={"motor_hot_s": 1700.0})
    assert told["motor_needs_rest"]["seconds"] == pytest.approx(100)
