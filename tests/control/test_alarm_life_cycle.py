"""The life of an alarm (IEC 62682), and that people's handling of it never touches what it does to the plant."""

import pytest
from hand_driven_plant import Plant
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.control.alarm_conditions import CONDITIONS
from halocline.control.alarm_conditions.condition import Notes
from halocline.control.annunciator import PATTERNS, Annunciator, alarm_message
from halocline.control.inputs import Command
from halocline.control.permissives import CHECKS
from halocline.control.situation import Clocks, Departure, Observer, Situation
from halocline.plant.alarms import DEFINITIONS, ROWS, AlarmState, Effect, Priority
from halocline.plant.settings import LimitSettings
from halocline.plant.vocabulary import State

STEP_S = 0.05


class Desk:
    """An annunciator alone, in one state of the sequence, with contacts and flags to set."""

    def __init__(self, state="standby"):
        self.plant = Plant()
        self.state = State(state)
        self.notes = Notes()
        self.annunciator = Annunciator(LimitSettings())
        self.observer = Observer(self.plant.settings)
        self.holding = []

    def judge(self, seconds=STEP_S, **extra):
        for _ in range(max(1, round(seconds / STEP_S))):
            self.plant.now_s += STEP_S
            self.plant.extra = extra
            seen = self.observer.observe(self.plant.inputs(), self.state, 100.0)
            now = Situation.of(seen, Clocks(), Departure())
            self.holding = [cause.id for cause in self.annunciator.judge(now, self.notes)]
        return self

    def state_of(self, cause):
        alarm = self.annunciator.get(cause)
        return None if alarm is None else alarm.state.value

    def sounds(self, seconds=60.0):
        """The share of the time that the buzzer sounds."""
        steps = round(seconds / 0.05)
        return sum(self.annunciator.buzzer(self.plant.now_s + n * 0.05) for n in range(steps)) / steps


@pytest.fixture
def desk():
    return Desk()


def test_an_alarm_that_nobody_saw_returns_and_waits_to_be_seen(desk):
    desk.judge(supply_voltage_low=True)
    assert desk.state_of("supply_voltage_low") is None
    desk.judge(2.1, supply_voltage_low=True)
    assert desk.state_of("supply_voltage_low") == "unacknowledged"
    desk.judge(59)
    assert desk.state_of("supply_voltage_low") == "unacknowledged"
    desk.judge(2)
    assert desk.state_of("supply_voltage_low") == "returned-unacknowledged"
    desk.annunciator.acknowledge(None)
    assert desk.state_of("supply_voltage_low") is None


def test_an_alarm_that_was_seen_goes_with_its_cause(desk):
    desk.judge(2.1, supply_voltage_low=True)
    assert desk.annunciator.acknowledge("supply_voltage_low") == ["supply_voltage_low"]
    assert desk.state_of("supply_voltage_low") == "acknowledged"
    desk.judge(62)
    assert desk.state_of("supply_voltage_low") is None


def test_a_trip_stays_latched_after_its_cause_has_gone_and_it_was_seen(desk):
    desk.plant.press("stop_button")
    desk.judge()
    desk.annunciator.acknowledge(None)
    desk.plant.press("stop_button", active=False)
    desk.judge(1.2)
    assert desk.state_of("stop_button") == "latched"
    desk.annunciator.reset()
    assert desk.state_of("stop_button") is None


def test_a_trip_whose_cause_went_unseen_is_latched_once_seen(desk):
    desk.plant.press("stop_button")
    desk.judge()
    desk.plant.press("stop_button", active=False)
    desk.judge(1.2)
    assert desk.state_of("stop_button") == "returned-unacknowledged"
    desk.annunciator.reset()
    assert desk.state_of("stop_button") == "returned-unacknowledged"
    desk.annunciator.acknowledge(None)
    assert desk.state_of("stop_button") == "latched"


def test_a_latched_trip_whose_cause_comes_back_is_new_again(desk):
    desk.state = State.TRIPPED
    for contact in ("stop_button", "bilge_wet"):
        desk.plant.press(contact)
    desk.judge(1)
    desk.annunciator.acknowledge(None)
    desk.plant.pinned_contacts.clear()
    desk.judge(1.2)
    assert desk.state_of("bilge_wet") == "latched"
    desk.plant.press("bilge_wet")
    desk.judge(0.6)
    assert desk.state_of("bilge_wet") == "unacknowledged"


@pytest.mark.parametrize(
    ("cause", "disturb"),
    [
        ("pressure_switch", lambda plant: plant.press("pressure_switch")),
        ("vessel_pressure_high_high", lambda plant: plant.read("vessel_pressure", 70.0)),
        ("sensor_fault_vessel_pressure", lambda plant: plant.lose("vessel_pressure")),
    ],
)
def test_a_cause_that_comes_back_after_a_trip_refuses_the_reset(cause, disturb):
    plant = Plant().brought_to("producing")
    disturb(plant)
    plant.tick()
    assert plant.core.first_out == cause
    plant.mend()
    plant.pinned_contacts.clear()
    plant.wait(6)
    plant.give("acknowledge")
    assert plant.alarm(cause) == "latched"
    disturb(plant)
    plant.tick()
    assert plant.alarm(cause) == "unacknowledged"
    assert plant.give("reset")[:2] == ["trips_not_acknowledged", "cause_still_there"]


def test_only_what_warns_can_be_shelved():
    plant = Plant().brought_to("producing")
    plant.extra["supply_voltage_low"] = True
    plant.wait(2.1)
    assert plant.give("shelve", alarm="supply_voltage_low", minutes=5) == []
    plant.tds_mg_l = 1500.0
    plant.wait(0.2)
    assert plant.give("shelve", alarm="quality_lost", minutes=5) == ["never_shelved"]
    plant.press("stop_button")
    plant.tick()
    assert plant.give("shelve", alarm="stop_button", minutes=5) == ["never_shelved"]


@pytest.mark.parametrize("effect", [Effect.TRIP, Effect.STOP, Effect.DIVERT])
def test_no_row_with_an_effect_is_ever_taken_as_one_that_can_be_shelved(effect):
    plant = Plant()
    plant.tick()
    for row in ROWS:
        if row.effect is not effect:
            continue
        plant.core.plant.alarms.restore(row.id, plant.now_s)
        at = plant.core.decisions.context(Command("shelve", {"alarm": row.id}), plant.core.last)
        assert CHECKS["shelve"][0](at).id == "never_shelved"


def test_a_shelved_alarm_comes_back_when_its_time_is_over(desk):
    desk.judge(2.1, supply_voltage_low=True)
    desk.annunciator.shelve("supply_voltage_low", desk.plant.now_s, 10.0)
    desk.judge(9, supply_voltage_low=True)
    assert desk.state_of("supply_voltage_low") == "shelved"
    assert desk.sounds(8) == 0
    desk.judge(2, supply_voltage_low=True)
    assert desk.state_of("supply_voltage_low") == "unacknowledged"


def test_a_shelved_alarm_whose_cause_has_gone_is_normal_afterwards(desk):
    desk.judge(2.1, supply_voltage_low=True)
    desk.annunciator.shelve("supply_voltage_low", desk.plant.now_s, 10.0)
    desk.judge(11)
    assert desk.state_of("supply_voltage_low") is None


def test_a_shelf_is_not_for_ever(desk):
    desk.judge(2.1, supply_voltage_low=True)
    desk.annunciator.shelve("supply_voltage_low", desk.plant.now_s, 1e9)
    assert desk.annunciator.get("supply_voltage_low").shelved_until_s <= desk.plant.now_s + 24 * 3600


def test_handling_an_alarm_never_ends_what_it_does(desk):
    desk.state = State.PRODUCING
    desk.notes.set("quality_lost")
    desk.plant.press("tank_float")
    desk.judge()
    for handle in (
        lambda: desk.annunciator.acknowledge(None),
        desk.annunciator.silence,
        desk.annunciator.reset,
        lambda: desk.annunciator.shelve("tank_full", desk.plant.now_s, 100.0),
        lambda: desk.annunciator.shelve("quality_lost", desk.plant.now_s, 100.0),
    ):
        handle()
        desk.judge(2)
        assert {"tank_full", "quality_lost"} <= set(desk.holding)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["acknowledge", "silence", "reset", "shelve", "wait"]),
            st.booleans(),
            st.integers(1, 40),
        ),
        max_size=20,
    )
)
def test_an_effect_follows_its_cause_alone_whatever_people_do(deeds):
    handled, left_alone = Desk("diverting"), Desk("diverting")
    for deed, full, ticks in deeds:
        for desk in (handled, left_alone):
            desk.plant.press("tank_float", active=full)
        if deed == "shelve" and handled.annunciator.get("tank_full"):
            handled.annunciator.shelve("tank_full", handled.plant.now_s, 5.0)
        elif deed == "acknowledge":
            handled.annunciator.acknowledge(None)
        elif deed in ("silence", "reset"):
            getattr(handled.annunciator, deed)()
        for _ in range(ticks):
            handled.judge()
            left_alone.judge()
            assert ("tank_full" in handled.holding) is ("tank_full" in left_alone.holding) is full


def test_a_cause_must_outlast_its_delay_on_balance(desk):
    for _ in range(20):
        desk.judge(0.9, supply_voltage_low=True)
        desk.judge(1.0)
    assert desk.state_of("supply_voltage_low") is None
    assert desk.annunciator.changes == []


def test_what_breaks_a_cause_for_a_moment_does_not_put_it_off_for_ever(desk):
    for _ in range(5):
        desk.judge(0.6, supply_voltage_low=True)
        desk.judge(0.05)
    assert desk.state_of("supply_voltage_low") == "unacknowledged"


def test_a_cause_that_flickers_does_not_chatter():
    desk = Desk("producing")
    for _ in range(100):
        desk.plant.read("vessel_pressure", 60.5)
        desk.judge(0.6)
        desk.plant.read("vessel_pressure", 59.5)
        desk.judge(0.6)
    changes = [change for change in desk.annunciator.changes if change.id == "vessel_pressure_high"]
    assert [change.to for change in changes] == [AlarmState.UNACKNOWLEDGED]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_every_row_has_a_condition_a_time_to_clear_and_says_so_under_its_id(row):
    assert row.id in CONDITIONS
    assert row.clear_s > 0 or row.id == "quality_lost"
    assert row.armed


def test_the_feed_warning_keeps_quiet_while_the_pump_starts():
    plant = Plant().brought_to("priming")
    plant.read("feed_pressure", 0.2)
    plant.wait(20)
    assert plant.alarm("feed_pressure_low") is None


def test_silence_quiets_what_sounds_and_the_next_alarm_sounds_again(desk):
    desk.judge(2.1, supply_voltage_low=True)
    assert desk.sounds() > 0
    desk.annunciator.silence()
    assert desk.sounds() == 0
    assert desk.state_of("supply_voltage_low") == "unacknowledged"
    desk.notes.set("flush_failed")
    desk.judge(supply_voltage_low=True)
    assert desk.sounds() > 0


def test_an_alarm_that_comes_anew_sounds_anew(desk):
    desk.notes.set("flush_failed")
    desk.judge()
    desk.annunciator.silence()
    desk.annunciator.acknowledge(None)
    desk.notes.clear("flush_failed")
    desk.judge(2)
    desk.notes.set("flush_failed")
    desk.judge()
    assert desk.sounds() > 0


def test_an_acknowledged_alarm_is_quiet_and_keeps_the_beacon_lit(desk):
    desk.notes.set("flush_failed")
    desk.judge()
    desk.annunciator.acknowledge(None)
    assert desk.sounds() == 0
    assert all(desk.annunciator.beacon(n * 0.05) for n in range(200))


def bursts(priority, seconds):
    desk = Annunciator(LimitSettings())
    cause = next(row for row in ROWS if row.priority is priority)
    desk.restore(cause.id, 0.0)
    sound = [desk.buzzer(n * 0.01) for n in range(round(seconds * 100))]
    return sum(1 for before, now in zip([False, *sound], sound, strict=False) if now and not before)


@pytest.mark.parametrize(
    ("priority", "a_minute"), [(Priority.URGENT, 180), (Priority.HIGH, 30), (Priority.LOW, 1), (Priority.LOG, 0)]
)
def test_each_priority_sounds_in_its_own_way(priority, a_minute):
    assert bursts(priority, 60.0) == a_minute


def test_the_most_pressing_alarm_sets_the_sound_and_comes_first():
    annunciator = Annunciator(LimitSettings())
    for cause in ("clock_unset", "flush_due", "flush_failed", "stop_button"):
        annunciator.restore(cause, 0.0)
    assert next(alarm.cause.id for alarm in annunciator.alarms) == "stop_button"
    period_s, spans = PATTERNS[Priority.URGENT]
    assert annunciator.buzzer(period_s + spans[1][0] + 0.01)
    assert not annunciator.buzzer(period_s + spans[1][1] + 0.01)


def test_a_trip_taken_up_from_a_file_waits_to_be_seen_and_then_for_its_reset():
    annunciator = Annunciator(LimitSettings())
    annunciator.restore("latch_unreadable", 5.0)
    (alarm,) = annunciator.trips
    assert alarm.state is AlarmState.RETURNED
    annunciator.acknowledge(None)
    assert alarm.state is AlarmState.LATCHED
    assert alarm_message(alarm, 65.0)["since_s"] == 60.0


def test_the_same_trip_taken_up_again_and_again_is_told_once():
    annunciator = Annunciator(LimitSettings())
    for second in range(100):
        annunciator.restore("control_failed", float(second))
    assert len(annunciator.changes) == 1


def test_an_acknowledgement_of_one_alarm_leaves_the_others(desk):
    desk.notes.set("flush_failed")
    desk.notes.set("restarted_unexpectedly")
    desk.judge()
    desk.annunciator.acknowledge("flush_failed")
    assert desk.state_of("flush_failed") == "acknowledged"
    assert desk.state_of("restarted_unexpectedly") == "unacknowledged"


def test_every_change_is_told_once_with_its_numbers():
    plant = Plant().brought_to("producing")
    plant.read("vessel_pressure", 60.5)
    plant.wait(1)
    (event,) = [e for e in plant.events if e["kind"] == "alarm"]
    assert event == {
        "kind": "alarm",
        "id": "vessel_pressure_high",
        "to": "unacknowledged",
        "priority": "high",
        "values": {"pressure_bar": 60.5, "limit_bar": 60.0},
        "under": None,
    }


def test_a_row_outside_its_states_is_not_judged():
    plant = Plant()
    plant.read("feed_pressure", 0.0)
    plant.lose("vessel_pressure")
    plant.wait(10)
    assert plant.state == "standby"
    assert plant.alarms == set()
    assert DEFINITIONS["feed_pressure_low_low"].armed.isdisjoint({State.STANDBY, State.LAID_UP})


def test_a_warning_of_low_supply_voltage_refuses_a_start(plant):
    plant.extra["supply_voltage_low"] = True
    plant.wait(2.2)
    assert plant.alarm("supply_voltage_low") == "unacknowledged"
    assert plant.give("start") == ["supply_is_low"]
    plant.extra.clear()
    assert plant.give("start") == []
