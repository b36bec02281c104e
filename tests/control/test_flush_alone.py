"""A flush that nobody orders: under a person's consent only, announced, once a day, given up after two that failed."""

from dataclasses import replace

import pytest
from hand_driven_plant import QUICK, Plant, quick_settings

from halocline.control.core import Core
from halocline.control.inputs import Command
from halocline.control.retained.retained_state import CutOff, Purge, RetainedState, Trip, decode, encode
from halocline.plant.command_definitions import NEVER_FROM_MQTT
from halocline.plant.vocabulary import Origin, Quality

DAY_S, QUIET_S, NOTICE_S = 86400.0, 600.0, 60.0
"""Once a day, ten minutes without a person, a minute of buzzer: written out here on purpose."""
SETTINGS = quick_settings(sequence={"automatic_flush": True, "flush_shut_off": "valve"})
FLUSH_L = SETTINGS.sequence.flush_l
STOOD = RetainedState(idle_s=8 * DAY_S, way_out_open=True)
"""Long enough in any water, and the last flush flowed freely."""


class Away(Plant):
    """A plant on a boat with a clock, whose tank holds enough."""

    def __init__(self, retained=STOOD, settings=SETTINGS, now_s=1000.0):
        super().__init__(settings, retained, now_s=now_s)
        self.read("tank_fill", 60.0)
        self.clock = True
        self.away_s = 0.0

    @property
    def wall_s(self):
        return 1_800_000_000.0 + self.now_s + self.away_s if self.clock else None

    def inputs(self, **extra):
        return super().inputs(**{"wall_s": self.wall_s, "clock_set": self.clock, **extra})

    def consent(self, **arguments):
        given = {"name": "ann", "days": 7.0, **arguments}
        self.tick(Command("consent_flush", given, Origin.CLI, "ann", "1:x", wall_s=self.wall_s))
        return self.answers_after_persisting()

    def left_alone(self):
        """The consent is given and whoever gave it has gone: the next tick may announce a flush."""
        self.tick()
        assert self.consent() == []
        return self.wait(QUIET_S + 1.0, dt=1.0)

    def flushing_alone(self):
        self.left_alone().until("flushing", within_s=NOTICE_S + 2.0, dt=1.0)
        return self.wait(1.0)

    def days(self, days):
        return self.wait(days * DAY_S, dt=120.0)

    def restarted(self, off_s=5.0):
        """Killed, and started again from what was on file."""
        latch = decode(encode(self.latches[-1]))
        again = Away(latch, self.settings, now_s=self.now_s + off_s)
        again.core = Core(self.settings, latch, again.now_s, boot="b", simulated=True, off_s=off_s)
        again.pinned, again.pinned_contacts = dict(self.pinned), dict(self.pinned_contacts)
        again.pressure_bar = self.pressure_bar
        return again

    @property
    def on_file(self):
        return self.core.plant.retained.flush_consent

    @property
    def flushes(self):
        return [event for event in self.events if event["kind"] == "flush_ended"]

    def told(self):
        return [event["what"] for event in self.events if event["kind"] == "automatic_flush"]

    def against(self):
        return {reason["id"] for reason in self.snapshot()["flush_alone"]["not_now"]}


@pytest.fixture
def away():
    return Away()


def test_it_is_off_by_default():
    assert not QUICK.sequence.automatic_flush
    plant = Away(settings=QUICK)
    plant.tick()
    assert "automatic_flush_off" in plant.consent()
    assert plant.snapshot()["flush_alone"] is None


def test_without_consent_nothing_flushes(away):
    away.days(20)
    assert away.states == ["standby"]


def test_a_broker_never_gives_consent():
    assert "consent_flush" in NEVER_FROM_MQTT


def test_it_flushes_when_it_is_due_and_says_so_a_minute_before(away):
    away.left_alone()
    assert away.told() == ["announced"]
    assert {"buzzer", "beacon"} <= set(away.outcome.outputs)
    assert away.on == set()
    assert away.core.plant.position.state == "standby"
    assert away.snapshot()["sentence"]["id"] == "standby_flush_coming"
    took_s = away.until("flushing", within_s=NOTICE_S + 2.0, dt=1.0)
    assert took_s >= NOTICE_S - 2.0
    assert away.snapshot()["sentence"]["id"] == "flushing_alone"
    away.until("standby")
    (flush,) = away.flushes
    assert (flush["complete"], flush["alone"]) == (True, True)
    assert flush["litres"] >= FLUSH_L
    assert away.core.plant.rest.idle_s(away.now_s) < 5.0


def test_it_is_not_done_before_it_is_due():
    plant = Away(replace(STOOD, idle_s=2 * DAY_S))
    plant.left_alone()
    assert plant.told() == []
    assert plant.against() == {"flush_not_due"}
    plant.days(2.9)
    assert plant.told() == []
    plant.days(0.2)
    assert plant.flushes[-1]["alone"]


def test_an_owed_flush_is_due_at_once():
    plant = Away(RetainedState(idle_s=0.0, flush_owed=True, way_out_open=True)).flushing_alone()
    assert plant.core.plant.flush.alone


def test_it_comes_once_a_day_at_most(away):
    away.flushing_alone().until("standby")
    away.core.plant.persistence.retained = replace(away.core.plant.retained, flush_owed=True)
    away.days(0.95)
    assert len(away.flushes) == 1
    away.days(0.1)
    assert len(away.flushes) == 2


def test_a_new_consent_does_not_make_it_come_sooner(away):
    away.flushing_alone().until("standby")
    assert away.consent() == []
    away.core.plant.persistence.retained = replace(away.core.plant.retained, flush_owed=True)
    away.days(0.9)
    assert len(away.flushes) == 1


NOT_NOW = {
    "tank low": (lambda plant: plant.read("tank_fill", 30.0), "tank_too_low_to_flush"),
    "tank not known": (lambda plant: plant.lose("tank_fill"), "sensor_not_good"),
    "flush meter not known": (lambda plant: plant.lose("flush_flow"), "sensor_not_good"),
    "clock set back beyond any consent": (lambda plant: setattr(plant, "away_s", -365 * DAY_S), "consent_wants_clock"),
    "clock not known": (lambda plant: setattr(plant, "clock", False), "consent_wants_clock"),
    "card does not write": (lambda plant: plant.extra.update(latch_writable=False), "latch_not_writable"),
    "chip lost": (lambda plant: plant.extra.update(lost_chips=(0x49,)), "adc_lost"),
    "supply low": (lambda plant: plant.extra.update(supply_voltage_low=True), "supply_is_low"),
    "pressure": (lambda plant: setattr(plant, "hold_bar", 4.0), "pressure_present"),
}


@pytest.mark.parametrize("name", [name for name in NOT_NOW if name != "pressure"])
def test_it_is_not_announced_while_something_speaks_against_it(away, name):
    spoil, reason = NOT_NOW[name]
    away.tick()
    assert away.consent() == []
    spoil(away)
    away.wait(QUIET_S + 120.0, dt=1.0)
    assert away.told() == []
    assert away.states == ["standby"]
    assert reason in away.against()


LATCHED = {
    "way_out_not_proven": {"way_out_open": False},
    "restart_not_acknowledged": {"cut_off": CutOff("producing")},
    "purge_is_owed": {"purge": Purge("cleaning")},
    "circuit_was_opened": {"circuit_opened": True},
    "flushed_alone_lately": {"flush_tried_ago_s": DAY_S / 2},
}


@pytest.mark.parametrize("reason", LATCHED)
def test_it_is_not_announced_over_what_waits_for_a_person(reason):
    plant = Away(replace(STOOD, **LATCHED[reason])).left_alone()
    plant.wait(120.0, dt=1.0)
    assert plant.told() == []
    assert reason in plant.against()


@pytest.mark.parametrize("retained", [{"lock": {}}, {"chlorine_suspected": True}])
def test_no_consent_is_taken_over_a_lock_or_chlorine(away, retained):
    away.tick()
    if "lock" in retained:
        assert away.give("service_lock", name="ben", reason="filter") == []
        assert "locked" in away.consent()
    else:
        assert away.give("log", kind="tank_chlorinated") == []
        assert "chlorine_suspected" in away.consent()


def test_a_service_lock_holds_it_off_for_as_long_as_it_stands(away):
    away.tick()
    assert away.consent() == []
    assert away.give("service_lock", name="ben", reason="filter") == []
    away.days(2)
    assert away.told() == []
    assert "locked" in away.against()
    assert away.give("service_unlock") == []
    away.wait(QUIET_S + 2.0, dt=1.0)
    assert away.told() == ["announced"]


HANDS = {
    "a stop from anywhere": lambda plant: plant.give("stop", origin=Origin.MQTT),
    "the button at the plant": lambda plant: plant.press("plant_button"),
    "a service lock": lambda plant: plant.give("service_lock", name="ben", reason="filter"),
    "a log entry": lambda plant: plant.give("log", kind="note", note="back aboard"),
    "the consent taken back": lambda plant: plant.give("withdraw_flush_consent"),
}


@pytest.mark.parametrize("hands", HANDS)
@pytest.mark.parametrize("when", ["announced", "flushing"])
def test_a_person_ends_it_and_that_is_no_failure(hands, when):
    settings = replace(SETTINGS, contacts={**SETTINGS.contacts, "plant_button": SETTINGS.contacts["bilge_wet"]})
    plant = Away(settings=settings)
    plant.left_alone() if when == "announced" else plant.flushing_alone()
    HANDS[hands](plant)
    plant.tick()
    assert plant.state == "standby"
    assert plant.on == set()
    assert plant.on_file is None or plant.on_file.failures == 0
    plant.wait(300.0, dt=1.0)
    assert plant.states.count("flushing") == (0 if when == "announced" else 1)
    assert "flush_failed" not in plant.alarms


def test_a_flush_ordered_over_a_broker_takes_the_place_of_the_one_announced(away):
    away.left_alone()
    assert away.give("flush", origin=Origin.MQTT) == []
    assert "called_off" in away.told()
    assert (away.on_file.failures, away.on_file.left_l) == (0, pytest.approx(STOOD_LEFT_L))
    assert not away.core.plant.alone.announced


def test_a_consent_given_anew_while_one_is_announced_is_for_no_more_than_it_says(away):
    away.left_alone()
    assert away.consent() == []
    away.tick()
    assert (away.on_file.failures, away.on_file.left_l) == (0, pytest.approx(STOOD_LEFT_L))


def test_a_broker_that_acknowledges_is_no_person(away):
    away.left_alone()
    away.give("silence", origin=Origin.MQTT)
    assert away.core.plant.alone.announced


def test_it_takes_eight_minutes_and_its_litres_at_most():
    slow = quick_settings(SETTINGS, sequence={"flush_l": 15.0, "flush_limit_s": 900.0})
    plant = Away(settings=slow).flushing_alone()
    plant.read("flush_flow", 100.0)
    plant.__class__ = Trickling
    took_s = plant.until("standby", within_s=500.0, dt=0.5)
    assert 470.0 <= took_s <= 482.0
    assert plant.event("flush_ended")["complete"] is False
    assert plant.on_file.failures == 1


class Trickling(Away):
    flush_l_h = 100.0


BROKEN_OFF = {
    "tank": lambda plant: plant.read("tank_fill", 20.0),
    "tank not known": lambda plant: plant.lose("tank_fill"),
    "clock": lambda plant: setattr(plant, "clock", False),
    "no water": lambda plant: plant.read("flush_flow", 0.0),
    "meter": lambda plant: plant.lose("flush_flow", Quality.STUCK),
}


@pytest.mark.parametrize("what", BROKEN_OFF)
def test_what_it_needs_and_loses_breaks_it_off_as_a_failure(what):
    plant = Away(settings=quick_settings(SETTINGS, sequence={"flush_l": 6.0})).flushing_alone()
    BROKEN_OFF[what](plant)
    plant.until("standby", within_s=20.0)
    plant.tick()
    assert plant.on_file.failures == 1
    assert plant.alarm("flush_failed") == "unacknowledged"


def fail_once(plant):
    plant.until("flushing", within_s=2 * DAY_S, dt=60.0)
    plant.read("flush_flow", 0.0)
    plant.until("standby", within_s=60.0)
    plant.mend("flush_flow")


def test_two_failures_in_a_row_end_the_consent_and_a_person_is_told(away):
    away = Away(settings=quick_settings(SETTINGS, sequence={"flush_l": 6.0}))
    away.left_alone()
    fail_once(away)
    assert (away.on_file.failures, away.on_file.ended) == (1, None)
    fail_once(away)
    away.tick()
    assert away.on_file.ended == "consent_failed_twice"
    assert away.alarm("automatic_flush_ended") == "unacknowledged"
    tries = len(away.flushes)
    away.days(10)
    assert len(away.flushes) == tries == 2
    assert away.snapshot()["flush_alone"]["consent"] is None
    away.give("acknowledge", alarm="automatic_flush_ended")
    away.wait(10.0)
    assert away.on_file is None
    assert "automatic_flush_ended" not in away.alarms


def test_one_that_works_forgives_the_failure_before_it():
    plant = Away(settings=quick_settings(SETTINGS, sequence={"flush_l": 6.0}))
    plant.left_alone()
    fail_once(plant)
    plant.until("flushing", within_s=2 * DAY_S, dt=60.0)
    plant.until("standby")
    assert plant.on_file.failures == 0


def test_consent_and_the_days_pause_survive_a_restart(away):
    away.flushing_alone().until("standby")
    again = away.restarted()
    again.tick()
    assert again.on_file == away.on_file
    assert again.core.plant.alone.tried_ago_s(again.now_s) < 120.0
    again.core.plant.persistence.retained = replace(again.core.plant.retained, flush_owed=True)
    again.days(0.95)
    assert again.told() == []
    again.days(0.1)
    assert again.flushes[-1]["alone"]


def test_the_failures_survive_a_restart(away):
    away = Away(settings=quick_settings(SETTINGS, sequence={"flush_l": 6.0}))
    away.left_alone()
    fail_once(away)
    away.wait(1.0)
    again = away.restarted()
    again.tick()
    fail_once(again)
    assert again.on_file.ended == "consent_failed_twice"


@pytest.mark.parametrize("kills", [1, 2])
def test_a_restart_in_the_middle_counts_as_a_failure(kills):
    plant = Away()
    plant.left_alone()
    for _ in range(kills):
        plant.until("flushing", within_s=QUIET_S + NOTICE_S + 10.0, dt=1.0)
        plant.wait(0.2)
        plant = plant.restarted(off_s=1.01 * DAY_S)
        plant.tick()
        assert plant.give("acknowledge") == []
    plant.wait(1.0)
    assert plant.on_file.failures == kills
    assert (plant.on_file.ended == "consent_failed_twice") is (kills == 2)
    assert plant.on_file.left_l < STOOD_LEFT_L


STOOD_LEFT_L = FLUSH_L * 3
"""Seven days in warm water make three flushes fall due: now, after three days and after six."""


def test_what_is_charged_is_what_went_by(away):
    away.tick()
    away.consent()
    assert away.on_file.left_l == pytest.approx(STOOD_LEFT_L)
    away.wait(QUIET_S + NOTICE_S + 2.0, dt=1.0)
    assert away.on_file.left_l == pytest.approx(STOOD_LEFT_L - FLUSH_L)
    away.until("standby")
    assert away.on_file.left_l == pytest.approx(STOOD_LEFT_L - away.flushes[-1]["litres"], abs=0.01)


def test_it_ends_with_its_litres(away):
    away.tick()
    assert away.consent(litres=FLUSH_L) == []
    away.wait(QUIET_S + NOTICE_S + 2.0, dt=1.0).until("standby")
    away.wait(1.0)
    assert away.on_file.ended == "consent_used_up"


def test_it_ends_by_the_calendar():
    plant = Away(replace(STOOD, idle_s=0.0))
    plant.tick()
    plant.consent(days=2.0)
    plant.days(2.1)
    assert plant.told() == ["consent_ended"]
    assert plant.on_file.ended == "consent_run_out"


@pytest.mark.parametrize("how", ["a safety stop at rest", "a safety stop in the flush", "a lay-up"])
def test_a_safety_stop_and_a_lay_up_end_it(away, how):
    if how == "a safety stop in the flush":
        away.flushing_alone()
    else:
        away.left_alone()
    if how == "a lay-up":
        assert away.give("lay_up") == []
    else:
        away.press("bilge_wet")
        away.tick()
        assert away.on == set()
        away.until("tripped", within_s=10.0)
    assert away.on_file.ended == ("consent_laid_up" if how == "a lay-up" else "consent_tripped")


def test_a_trip_on_file_ends_it_too():
    plant = Away(replace(STOOD, trips=(Trip("bilge_wet"),)))
    plant.days(3)
    assert plant.states == ["tripped"]


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [({"days": 31.0}, "consent_days"), ({"days": 0.5}, "consent_days"), ({"litres": 0.5}, "consent_litres")],
)
def test_a_consent_is_for_a_time_and_an_amount_that_make_sense(away, arguments, reason):
    away.tick()
    assert away.consent(**arguments) == [reason]


def test_without_a_clock_no_consent_is_taken(away):
    away.clock = False
    away.tick()
    assert "consent_wants_clock" in away.consent()


# ---- the way out -------------------------------------------------------------------------------------


def test_a_flush_that_flows_freely_proves_the_way_out_and_pressure_unproves_it():
    plant = Away(replace(STOOD, way_out_open=False))
    plant.tick()
    assert plant.give("flush") == []
    plant.until("standby")
    assert plant.core.plant.retained.way_out_open
    assert plant.give("start") == []
    plant.until("producing")
    assert not plant.core.plant.retained.way_out_open


@pytest.mark.parametrize("before", [False, True])
def test_a_flush_that_trickles_proves_nothing_and_unproves_what_was_proven(before):
    plant = Trickling(replace(STOOD, way_out_open=before))
    plant.tick()
    plant.give("flush")
    plant.until("standby")
    assert plant.flushes[-1]["complete"]
    assert not plant.core.plant.retained.way_out_open


# ---- what a person is told ------------------------------------------------------------------------------


def test_the_snapshot_says_what_it_takes_and_when(away):
    away.tick()
    told = away.snapshot()["flush_alone"]
    assert (told["consent"], told["next_s"], told["flush_l"]) == (None, None, FLUSH_L)
    away.consent()
    told = away.snapshot()["flush_alone"]
    assert told["consent"]["name"] == "ann"
    assert told["consent"]["until_wall_s"] == pytest.approx(away.wall_s + 7 * DAY_S, abs=1.0)
    assert 0 < told["next_s"] <= QUIET_S
