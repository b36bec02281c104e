"""Noise about a limit gives one alarm: every measured row has a dead band in its value, and a delay or a time to clear.

Dead band and delay are the means of IEC 62682 against chattering; a chattering alarm is one that comes and goes more
than three times a minute (EEMUA 191).
"""

from dataclasses import replace

import pytest
from hand_driven_plant import Plant
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.control import annunciator
from halocline.control.alarm_conditions import CONDITIONS
from halocline.control.alarm_conditions.condition import Level, Notes
from halocline.control.situation import Clocks, Departure, Observer, Situation
from halocline.plant.alarms import DEFINITIONS, ROWS, AlarmState
from halocline.plant.settings import LimitSettings

MEASURED = [row for row in ROWS if isinstance(CONDITIONS[row.id], Level)]
ELSEWHERE = {
    "feed_pressure_unsteady": "noted above 0.35 bar, over below 0.2 bar",
    "feed_pressure_wavering": "noted above 0.35 bar, over below 0.2 bar",
    "product_salt_noisy": "noisy above its limit, over below 80 % of it",
    "quality_lost": "lost above the reject limit, proven below the accept limit",
    "tank_full": "its note is over 2 % below the limit",
    "vessel_pressure_not_reached": "judged once, at the end of a time",
    "feed_pressure_not_reached": "judged once, at the end of a time",
}
"""Rows of a measured value whose band does not stand in the table."""

NO_VALUE = {
    "stop_button",
    "bilge_wet",
    "pressure_switch",
    "scan_overrun",
    "adc_lost",
    "output_disagrees",
    "quality_not_reached",
    "quality_returns_repeatedly",
    "run_limit",
    "motor_must_rest",
    "motor_overworked",
    "unattended",
    "attendance_due",
    "flush_failed",
    "automatic_flush_ended",
    "flush_due",
    "preservative_due",
    "restarted_unexpectedly",
    "clock_unset",
    "supply_voltage_low",
    "interlock_not_armed",
    "calibrations_unreadable",
    "calibrations_outdated",
}
"""Rows of contacts, flags, counts and clocks, none of which wavers."""


def test_every_measured_row_has_a_dead_band():
    assert [row.id for row in MEASURED if row.dead_band <= 0] == []
    without = {row.id for row in ROWS if row.dead_band == 0 and not row.id.startswith("sensor_fault_")}
    assert without <= set(ELSEWHERE) | NO_VALUE


@pytest.mark.parametrize("row", [row for row in ROWS if row.id.startswith("sensor_fault_")], ids=lambda row: row.id)
def test_a_loose_wire_has_to_be_good_for_a_while(row):
    assert row.clear_s >= 5.0


class Wavering:
    """An annunciator whose one row's condition looks at a made-up value with the row's own limit and dead band."""

    def __init__(self, row, monkeypatch):
        self.level = replace(
            CONDITIONS[row.id],
            value=lambda _now: self.value,
            limit=lambda _now: 0.0,
            when=lambda _now, _notes: True,
            more=lambda _now, _notes: {},
        )
        monkeypatch.setattr(annunciator, "CONDITIONS", {**CONDITIONS, row.id: self.level})
        self.value = 0.0
        self.row = row
        self.delay_s = row.delay_under(LimitSettings())
        self.annunciator = annunciator.Annunciator(LimitSettings())
        self.plant = Plant()
        self.observer = Observer(self.plant.settings)
        self.state = sorted(row.armed)[0]
        self.holding = False

    def judge(self, value, seconds=0.05):
        self.value = value
        self.plant.now_s += seconds
        seen = self.observer.observe(self.plant.inputs(), self.state, 100.0)
        now = Situation.of(seen, Clocks(), Departure())
        self.holding = self.row.id in {cause.id for cause in self.annunciator.judge(now, Notes())}

    def raised(self):
        changes = [change.to for change in self.annunciator.changes if change.id == self.row.id]
        return changes.count(AlarmState.UNACKNOWLEDGED)

    @property
    def outwards(self):
        return 1.0 if self.level.above else -1.0


@pytest.mark.parametrize("row", MEASURED, ids=lambda row: row.id)
@settings(max_examples=10)
@given(noise=st.lists(st.floats(-0.45, 0.45), min_size=20, max_size=60))
def test_noise_about_a_limit_gives_one_alarm_at_most(row, noise):
    with pytest.MonkeyPatch.context() as monkeypatch:
        desk = Wavering(row, monkeypatch)
        for step in noise:
            desk.judge(step * row.dead_band, seconds=desk.delay_s / 4 + 0.3)
        assert desk.raised() <= 1


@pytest.mark.parametrize("row", MEASURED, ids=lambda row: row.id)
def test_a_cause_is_over_only_beyond_its_dead_band_and_for_its_time(row):
    with pytest.MonkeyPatch.context() as monkeypatch:
        desk = Wavering(row, monkeypatch)
        desk.judge(0.2 * row.dead_band * desk.outwards)
        desk.judge(0.2 * row.dead_band * desk.outwards, seconds=desk.delay_s + 0.01)
        assert desk.holding
        for _ in range(5):
            desk.judge(-0.8 * row.dead_band * desk.outwards, seconds=row.clear_s + 1)
            assert desk.holding, "inside the dead band it still holds"
        desk.judge(-1.5 * row.dead_band * desk.outwards)
        desk.judge(-1.5 * row.dead_band * desk.outwards, seconds=row.clear_s + 0.01)
        desk.judge(-1.5 * row.dead_band * desk.outwards)
        assert not desk.holding
        desk.judge(-0.5 * row.dead_band * desk.outwards, seconds=desk.delay_s + 1)
        desk.judge(-0.5 * row.dead_band * desk.outwards, seconds=desk.delay_s + 1)
        assert not desk.holding, "and from below the limit counts"


def test_a_real_value_that_wavers_about_its_limit_is_one_alarm():
    plant = Plant().brought_to("producing")
    for step in range(400):
        plant.read("vessel_pressure", 60.2 if step % 20 < 14 else 59.7)
        plant.tick()
    told = [event["to"] for event in plant.events if event["kind"] == "alarm" and event["id"].endswith("sure_high")]
    assert told == ["unacknowledged"]


def test_no_dead_band_reaches_into_the_next_rung_of_its_ladder():
    limits = Plant().settings.limits
    high = limits.vessel_pressure_high_bar - DEFINITIONS["vessel_pressure_high"].dead_band
    assert limits.working_pressure_max_bar < high
    assert (
        limits.feed_pressure_low_low_bar + DEFINITIONS["feed_pressure_low_low"].dead_band < limits.feed_pressure_low_bar
    )
    assert limits.feed_pressure_low_bar + DEFINITIONS["feed_pressure_low"].dead_band < limits.feed_pressure_start_bar
    assert limits.water_warm_c < limits.water_too_warm_c - DEFINITIONS["water_too_warm"].dead_band
    assert limits.recovery_warn < limits.recovery_stop - DEFINITIONS["recovery_high"].dead_band
