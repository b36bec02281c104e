"""The ten steady minutes of a run: what is kept for ever, and why a run has none. All numbers are invented."""

import contextlib
import sqlite3

import pytest

from halocline.report.database_open import reading
from halocline.report.health.periods import periods
from halocline.report.health.steady import Moments, period_of
from halocline.report.salvage import salvage
from halocline.report.store import Entry, Store

WALL_S = 1_790_000_000.0 - 1_790_000_000.0 % 60
SETTINGS = {"plant": {"sea_salinity_g_kg": 36.3, "feed_flow_l_h": 340.0}}


def minutes(making=40, before=5, **channels):
    """A run whose pump goes on at minute 0; `channels`: name → value at this minute."""
    values = {
        "vessel_pressure": lambda m: 55.0 if m >= 0 else 0.4,
        "product_flow": lambda m: 60.0 + 2.0 * 0.8**m if m >= 0 else 0.0,
        "product_conductivity": lambda m: 700.0 + 900.0 * 0.7**m if m >= 0 else 400.0,
        "sea_temperature": lambda m: 21.0,
        "filter_inlet_pressure": lambda m: 1.5,
        "feed_pressure": lambda m: 1.4,
        **channels,
    }
    return [
        {"start_s": WALL_S + 60.0 * m, **{name: value(m) for name, value in values.items()}}
        for m in range(-before, making)
    ]


def run(making=40):
    return Moments(WALL_S, WALL_S + 60.0 * making, ((WALL_S + 240.0, WALL_S + 60.0 * making),))


def period(making=40, **channels):
    return period_of(run(making), minutes(making, **channels), SETTINGS)


def test_the_last_ten_minutes_are_kept_with_what_was_in_force_and_the_zero_before_the_start():
    found = period()
    assert found.unfit is None
    assert found.at_s == WALL_S + 35 * 60.0
    assert (found.into_s, found.pump_s) == (35 * 60.0, 40 * 60.0)
    assert found.product_flow_l_h == pytest.approx(60.0, abs=0.01)
    assert found.product_conductivity_us_cm == pytest.approx(700.0, abs=0.1)
    assert found.rest_vessel_pressure_bar == 0.4
    assert (found.sea_salinity_g_kg, found.feed_flow_l_h) == (36.3, 340.0)
    assert found.brine_flow_l_h is None


def test_a_regulator_that_is_moved_late_leaves_the_minutes_before_it():
    found = period(vessel_pressure=lambda m: 0.4 if m < 0 else 55.0 if m < 33 else 52.0)
    assert found.unfit is None
    assert found.at_s < WALL_S + 33 * 60.0
    assert found.vessel_pressure_bar == 55.0


@pytest.mark.parametrize(
    ("unfit", "making", "channels"),
    [
        ("too_short", 15, {}),
        ("sensor_missing", 40, {"product_flow": lambda m: None}),
        ("sensor_missing", 40, {"sea_temperature": lambda m: None if m % 7 == 0 else 21.0}),
        ("air", 40, {"product_flow": lambda m: 60.0 + (6.0 if m % 2 else -6.0)}),
        ("pressure_moved", 40, {"vessel_pressure": lambda m: 50.0 + 0.2 * m}),
        ("not_settled", 40, {"product_conductivity": lambda m: 400.0 * 1.04**m}),
    ],
)
def test_what_makes_a_run_unfit_is_kept_as_its_reason(unfit, making, channels):
    found = period(making, **channels)
    assert found.unfit == unfit
    assert found.pump_s == 60.0 * making


def test_a_run_that_never_produced_has_no_minutes_and_still_its_hours():
    found = period_of(Moments(WALL_S, WALL_S + 900.0, ()), minutes(), SETTINGS)
    assert (found.unfit, found.pump_s) == ("no_minutes", 900.0)


def test_pressure_that_still_falls_before_a_start_is_no_zero():
    assert period(vessel_pressure=lambda m: 55.0 if m >= 0 else 0.4 - m).rest_vessel_pressure_bar is None


def test_the_tank_is_compared_with_the_meter_only_below_where_its_sender_stands_still():
    found = period(tank_fill=lambda m: min(60.0 + m, 97.0))
    assert found.tank_rise_percent == pytest.approx(27.0, abs=1.0)
    assert found.metered_l == pytest.approx(27.0, abs=1.0)


# ---- in the record --------------------------------------------------------------------------------


def told(boot="b1"):
    """A run of 32 minutes as the link tells it, a row in ten seconds, and rest long enough to be rolled up."""
    entries = [
        Entry("hello", boot, {"boot": boot, "host_boot": "hb", "version": "0.1.0", "simulated": False}),
        Entry("configuration", boot, SETTINGS),
    ]
    seq, mono_s = 0, 0.0

    def event(kind, content):
        nonlocal seq
        seq += 1
        at = {"seq": seq, "mono_s": mono_s, "wall_s": WALL_S + mono_s, "kind": kind}
        entries.append(Entry("event", boot, {**at, **content}))

    def rows(state, seconds, bar):
        nonlocal seq, mono_s
        making = state in ("diverting", "producing")
        for _ in range(0, seconds, 5):
            seq, mono_s = seq + 1, mono_s + 5.0
            ch = {"vessel_pressure": [bar, bar - 0.1, bar + 0.1, 2.2, "good"]}
            if making:
                ch["product_flow"] = [60.0, 59.0, 61.0, 40.0, "good"]
                ch["product_conductivity"] = [700.0, 690.0, 710.0, 1.0, "good"]
                ch["sea_temperature"] = [21.0, 21.0, 21.0, 1.0, "good"]
            entries.append(
                Entry(
                    "row",
                    boot,
                    {
                        "seq": seq,
                        "mono_s": mono_s,
                        "wall_s": WALL_S + mono_s,
                        "state": state,
                        "ch": ch,
                        "d": {},
                        "out": ["high_pressure_pump"] if making else [],
                        "run": {"id": f"{boot}-1", "litres": 0.0} if making else None,
                    },
                )
            )

    rows("standby", 300, 0.3)
    event("run_started", {"run": {"id": f"{boot}-1", "why": {}, "target_l": None}})
    for state, seconds in (("pressurising", 60), ("diverting", 120), ("producing", 1800)):
        event("state", {"from": "", "to": state, "why": {"id": "done", "values": {}}})
        rows(state, seconds, 55.0)
    event("state", {"from": "", "to": "stopping", "why": {"id": "done", "values": {}}})
    event("run_ended", {"run": {"id": f"{boot}-1", "why": {"id": "command_stop", "values": {}}, "litres": 30.0}})
    rows("standby", 3300, 0.3)
    return entries


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "record.sqlite3"
    with contextlib.closing(Store(path)) as store:
        entries = told()
        for start in range(0, len(entries), 200):
            store.write(entries[start : start + 200])
        while store.backlog:
            store.write([])
    return path


def on_file(path):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute("SELECT run, unfit, pump_s, vessel_pressure_bar FROM steady_periods").fetchall()


def test_it_is_written_as_the_record_is_written(record):
    assert on_file(record) == [("b1-1", None, 1980.0, 55.0)]


def test_it_stays_when_its_minutes_are_given_up(record):
    with contextlib.closing(sqlite3.connect(record)) as connection:
        connection.execute("DELETE FROM rollup_60s")
        connection.commit()
    with reading(record) as connection:
        (kept,) = periods(connection)
    assert kept.period.rest_vessel_pressure_bar == pytest.approx(0.3)
    assert kept.period.product_flow_l_h == 60.0


def test_a_record_made_before_gets_them_of_the_minutes_it_has(record):
    with contextlib.closing(sqlite3.connect(record)) as connection:
        connection.execute("DROP TABLE steady_periods")
        connection.execute("DELETE FROM _sqlite_migrations WHERE name = 'steady_periods'")
        connection.commit()
    with contextlib.closing(Store(record)) as store:
        while store.backlog:
            store.write([])
    assert on_file(record) == [("b1-1", None, 1980.0, 55.0)]


def test_a_reader_need_not_wait_for_the_recorder(record):
    with contextlib.closing(sqlite3.connect(record)) as connection:
        connection.execute("DELETE FROM steady_periods")
        connection.commit()
    with reading(record) as connection:
        (kept,) = periods(connection)
    assert kept.period.unfit is None
    assert on_file(record) == []


def test_salvage_saves_them(record, tmp_path):
    target = tmp_path / "saved.sqlite3"
    salvage([record], target)
    assert on_file(target) == on_file(record)
