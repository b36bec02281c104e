"""A plant that nobody flushed reminds, and does nothing by itself."""

from hand_driven_plant import QUICK, Plant

from halocline.control.retained.retained_state import RetainedState


def test_days_without_a_flush_remind_and_switch_nothing():
    plant = Plant(QUICK, RetainedState(idle_s=5.5 * 86400.0, flush_owed=True))
    plant.temperature_c = 20.0
    plant.wait(6.0)
    assert plant.alarm("flush_due") == "unacknowledged"
    plant.wait(6 * 3600.0, dt=30.0)
    assert plant.states == ["standby"]
    assert plant.on == set()
    assert plant.give("flush") == []
    plant.until("standby")
    plant.wait(2.0)
    assert "flush_due" not in {alarm for alarm in plant.alarms if plant.alarm(alarm) == "unacknowledged"}
