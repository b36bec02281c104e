"""Every alarm says which sensor, what value, what limit, since when, and what to look at next; and says only what is
true of a pump that has a switch of its own."""

import pytest

from halocline.control.alarm_conditions import CONDITIONS
from halocline.control.alarm_conditions.condition import Level
from halocline.link.snapshot import completed
from halocline.plant import words
from halocline.plant.alarms import ROWS, Effect
from halocline.plant.settings import UnitSettings
from halocline.plant.words.alarm_names import ALARM_TEXTS
from halocline.plant.words.filling import keys_of
from halocline.report.public import Frame, snapshot

MEASURED = [row for row in ROWS if isinstance(CONDITIONS[row.id], Level)]
OF_A_MODEL = {
    "product_flow_low": {"flow_l_h", "expected_l_h"},
    "product_flow_high": {"flow_l_h", "expected_l_h"},
    "product_salt_high": {"tds_mg_l", "expected_mg_l"},
    "product_flow_jumped": {"flow_l_h", "usual_l_h"},
    "product_salt_jumped": {"tds_mg_l", "usual_mg_l"},
}
"""Rows that are judged as a share: people read the two it is the share of."""

COUNTED = {
    "vessel_pressure_not_reached": {"pressure_bar", "limit_bar", "seconds"},
    "feed_pressure_not_reached": {"pressure_bar", "limit_bar", "seconds"},
    "feed_pressure_unsteady": {"span_bar", "limit_bar"},
    "feed_pressure_wavering": {"span_bar", "limit_bar"},
    "product_salt_noisy": {"noise_mg_l", "limit_mg_l"},
    "scan_overrun": {"missed", "limit"},
    "adc_lost": {"address"},
    "output_disagrees": {"contact"},
    "quality_not_reached": {"seconds", "tds_mg_l", "limit_mg_l"},
    "quality_returns_repeatedly": {"times"},
    "quality_lost": {"tds_mg_l", "limit_mg_l"},
    "tank_full": {"percent", "limit_percent"},
    "battery_low": {"volts", "limit_v", "percent", "limit_percent"},
    "run_limit": {"seconds"},
    "motor_must_rest": {"seconds", "limit_s"},
    "motor_overworked": {"seconds", "limit_s"},
    "unattended": {"seconds", "limit_s"},
    "attendance_due": {"seconds"},
    "flush_failed": {"why_said"},
    "automatic_flush_ended": {"why_said"},
    "flush_due": {"hours", "limit_hours"},
    "preservative_due": {"days", "limit_days"},
}
"""Rows judged otherwise, and what they count."""

NAMES_ITSELF = {
    "stop_button",
    "bilge_wet",
    "pressure_switch",
    "restarted_unexpectedly",
    "clock_unset",
    "supply_voltage_low",
    "interlock_not_armed",
    "calibrations_unreadable",
    "calibrations_outdated",
}
"""Contacts and flags: the title names what has opened, there is no number to it."""


def test_every_row_is_looked_at_here():
    sensors = {row.id for row in ROWS if row.id.startswith("sensor_fault_")}
    known = {row.id for row in MEASURED} | set(COUNTED) | NAMES_ITSELF | sensors
    assert {row.id for row in ROWS} <= known


@pytest.mark.parametrize("row", MEASURED, ids=lambda row: row.id)
def test_a_measured_row_says_value_and_limit(row):
    said = set(keys_of(ALARM_TEXTS[row.id].brief))
    assert OF_A_MODEL.get(row.id, set(CONDITIONS[row.id].keys)) <= said


@pytest.mark.parametrize("cause", COUNTED)
def test_a_counted_row_says_what_it_counted(cause):
    assert COUNTED[cause] <= set(keys_of(ALARM_TEXTS[cause].brief))


@pytest.mark.parametrize("row", [row for row in ROWS if row.id.startswith("sensor_fault_")], ids=lambda row: row.id)
def test_a_failing_sensor_says_which_what_is_wrong_and_its_raw_signal(row):
    means, _, do = words.alarm_texts(row.id, {"quality": "open", "raw": 0.02})
    assert words.channel_name(row.id.removeprefix("sensor_fault_")) in means
    assert "no signal, wire or supply open" in means
    assert "The raw signal is " in means
    assert "Check plug" in do


def public_alarm(cause, pump="relay", **values):
    raised = {"state": "unacknowledged", "priority": "high", "since_s": 90.0, "under": None}
    now = {
        "state": "tripped",
        "wall_s": 1_800_000_000.0,
        "drive": {"pump": pump, "regulator": "hand_each_run"},
        "alarms": [{**raised, "id": cause, "values": values}],
    }
    (alarm,) = snapshot(completed(now), 0.1, Frame("Cagarra", UnitSettings()))["alarms"]
    return alarm


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_every_alarm_says_since_when_and_what_to_look_at(row):
    alarm = public_alarm(row.id)
    assert alarm["since"] == "2027-01-15T07:58:30.000Z"
    assert alarm["since_s"] == 90.0
    assert alarm["do"]
    assert ALARM_TEXTS[row.id].look.endswith(".")


ACTING = [row for row in ROWS if row.effect in (Effect.TRIP, Effect.STOP)]


@pytest.mark.parametrize("row", ACTING, ids=lambda row: row.id)
def test_a_pump_that_nothing_here_switches_has_to_be_switched_off_by_hand(row):
    do = public_alarm(row.id, pump="watch_only")["do"]
    assert "at its own switch first" in do or "breaker now" in do.lower()
    assert "own switch" not in public_alarm(row.id)["do"]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_no_alarm_says_that_everything_is_off(row):
    told = " ".join(words.alarm_texts(row.id, {}, pump="watch_only")).lower()
    for untrue in ("everything is", "everything was", "plant stays off", "stops itself", "was switched off"):
        assert untrue not in told
