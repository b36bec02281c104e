"""Which command is refused and why: every reason at once, each by its own id."""

from dataclasses import replace

import pytest
from hand_driven_plant import QUICK, Plant, quick_settings, reading

from halocline.control.commands import argument_problems
from halocline.control.core import Core
from halocline.control.inputs import Command
from halocline.control.permissives import START
from halocline.control.permissives.people import ALL_QUESTIONS, QUESTIONS, questions
from halocline.control.retained.retained_state import CutOff, Lock, RetainedState, Trip
from halocline.plant import words
from halocline.plant.command_definitions import COMMANDS, NEVER_FROM_MQTT
from halocline.plant.vocabulary import NEEDED_CHANNELS, Origin, Quality


def read(channel, value, quality=Quality.GOOD):
    return lambda plant: plant.read(channel, value, quality)


def press(contact):
    return lambda plant: plant.press(contact)


def extra(**values):
    return lambda plant: plant.extra.update(values)


def latched(**values):
    def disturb(plant):
        plant.core.plant.persistence.carry_out(lambda retained: replace(retained, **values))

    return disturb


def many_starts(plant):
    for _ in range(4):
        plant.core.plant.motor.switched_on(plant.now_s)


def long_run(plant):
    plant.core.plant.motor.worked_s = 180 * 60.0
    plant.core.plant.motor.rests_since_s = plant.now_s - 60.0


SEEN_S = 12.0
"""Longer than the mean of what moves slowly."""

START_CHECKS = {
    "a lock": (latched(lock=Lock("ann", "filter")), "locked"),
    "no card": (extra(latch_writable=False), "latch_not_writable"),
    "a lost chip": (extra(lost_chips=(0x49,)), "adc_lost"),
    "no membrane pressure": (read("vessel_pressure", None, Quality.OPEN), "sensor_not_good"),
    "no feed pressure": (read("feed_pressure", None, Quality.SHORT), "sensor_not_good"),
    "a feed pressure at its end": (read("feed_pressure", 4.0, Quality.OVER), "sensor_not_good"),
    "no conductivity": (read("product_conductivity", None, Quality.STALE), "sensor_not_good"),
    "no temperature": (read("sea_temperature", None, Quality.STUCK), "sensor_not_good"),
    "no flow meter": (read("product_flow", None, Quality.MISSING), "sensor_not_good"),
    "the stop button": (press("stop_button"), "stop_button_active"),
    "a wet bilge": (press("bilge_wet"), "bilge_wet_active"),
    "the pressure switch": (press("pressure_switch"), "pressure_switch_active"),
    "pressure": (read("vessel_pressure", 6.0), "pressure_present"),
    "a diverter that is not overboard": (
        lambda plant: plant.pinned_contacts.update(diverter_overboard=False),
        "diverter_not_overboard",
    ),
    "a diverter at the tank": (press("diverter_at_tank"), "diverter_not_overboard"),
    "a full tank": (read("tank_fill", 95.0), "tank_is_full"),
    "a floating float": (press("tank_float"), "tank_float_active"),
    "a low battery": (read("battery_voltage", 12.3), "battery_too_low"),
    "water too warm": (read("sea_temperature", 42.0), "water_is_too_warm"),
    "too many starts": (many_starts, "too_many_starts"),
    "a motor that has to rest": (long_run, "motor_needs_rest"),
}


@pytest.mark.parametrize("name", START_CHECKS)
def test_each_check_refuses_a_start_by_its_own_reason_before_anyone_asks(name):
    disturb, reason = START_CHECKS[name]
    plant = Plant()
    plant.wait(0.1)
    assert plant.refused("start") == []
    disturb(plant)
    plant.core.plant.alarms._rows = dict.fromkeys(plant.core.plant.alarms._rows, ())
    plant.wait(SEEN_S)
    assert reason in plant.refused("start")
    assert reason in plant.give("start")
    assert plant.state == "standby"


def test_all_that_speaks_against_a_start_is_said_at_once():
    plant = Plant(quick_settings(sequence={"attendance": True, "start_questions": True}))
    plant.tick()
    plant.core.plant.alarms._rows = dict.fromkeys(plant.core.plant.alarms._rows, ())
    for disturb, _ in START_CHECKS.values():
        disturb(plant)
    plant.extra["lost_chips"] = (0x48, 0x49)
    plant.read("vessel_pressure", 6.0)
    plant.read("sea_temperature", 42.0)
    plant.wait(SEEN_S)
    reasons = plant.give("start", litres=1000.0, minutes=5.0)
    expected = {reason for _, reason in START_CHECKS.values()} | {
        "tank_has_no_room",
        "nobody_at_the_plant",
        "questions_open",
        "several_needs",
    }
    expected -= {"tank_is_full"}  # the float comes first
    assert set(reasons) == expected
    assert reasons.count("sensor_not_good") == 3
    assert reasons.count("adc_lost") == 2


@pytest.mark.parametrize("channel", sorted(QUICK.inputs))
def test_what_was_not_read_yet_is_not_called_broken_and_lets_no_start_through(channel):
    plant = Plant()
    plant.read(channel, None, Quality.MISSING)
    plant.wait(1.0)
    for command in ("start", "flush"):
        reasons = {reason.id: reason for reason in plant.core.decisions.refused(command, plant.core.last)}
        if command == "start" or channel in ("vessel_pressure", "feed_pressure"):
            assert reasons["sensor_not_read_yet"].values == {"channel": channel}
            assert "sensor_not_good" not in reasons
    plant.wait(3.0)
    assert "sensor_not_read_yet" not in plant.refused("start")
    assert ("sensor_not_good" in plant.refused("start")) == (channel in NEEDED_CHANNELS)


def test_there_are_more_than_twenty_named_checks_before_a_start():
    assert len(START) >= 20


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        ({"litres": 0.01}, "need_too_small"),
        ({"litres": -5}, "need_too_small"),
        ({"minutes": 0.0}, "need_too_small"),
        ({"litres": 10, "minutes": 10}, "several_needs"),
        ({"litres": 1000}, "tank_has_no_room"),
        ({"litres": "ten"}, "argument_wrong"),
        ({"litres": True}, "argument_wrong"),
        ({"litres": float("nan")}, "argument_wrong"),
        ({"litres": float("inf")}, "argument_wrong"),
        ({"gallons": 3}, "argument_unknown"),
        ({"confirmed": "all"}, "argument_wrong"),
        ({"until": "18:30", "until_unknown": True}, "clock_not_set"),
        ({"until": "half past six"}, "argument_wrong"),
        ({"until": "18:30", "until_s": -5.0}, "need_too_small"),
    ],
)
def test_a_start_that_was_not_said_clearly_is_refused(plant, arguments, reason):
    assert plant.give("start", **arguments) == [reason]
    assert plant.state == "standby"


@pytest.mark.parametrize("arguments", [{"litres": None}, {"minutes": None, "confirmed": None}, {"until": None}])
def test_an_argument_without_a_value_is_none(plant, arguments):
    assert plant.give("start", **arguments) == []


def test_every_argument_that_is_wrong_is_named():
    problems = argument_problems(Command("start", {"litres": "x", "sails": 2, "minutes": []}))
    assert [(p.id, p.values["argument"]) for p in problems] == [
        ("argument_wrong", "litres"),
        ("argument_unknown", "sails"),
        ("argument_wrong", "minutes"),
    ]


def test_what_only_eyes_can_see_is_asked_before_a_start():
    plant = Plant(quick_settings(sequence={"start_questions": True}))
    assert plant.give("start") == ["questions_open"]
    assert plant.give("start", confirmed=None) == ["questions_open"]
    assert plant.give("start", confirmed=list(ALL_QUESTIONS[1:])) == ["questions_open"]
    assert plant.give("start", confirmed=list(QUESTIONS)) == ["questions_open"]
    assert plant.give("start", confirmed=list(ALL_QUESTIONS)) == []


NOW_S, DAY_S = 1_790_000_000.0, 86400.0


def noted(plant, wall_s, **entry):
    """An entry of the log at a time of day."""
    plant.tick(Command("log", entry, Origin.CLI, "ann", "1:x", wall_s=wall_s), wall_s=wall_s)
    return plant.answers_after_persisting()


def test_a_proof_of_the_trips_is_asked_about_once_it_is_overdue_and_only_a_passed_one_counts():
    plant = Plant(quick_settings(sequence={"start_questions": True}))
    proof = {"kind": "duty_done", "duty": "prove_trips"}
    assert noted(plant, NOW_S, **proof) == ["duty_not_measured"]
    assert noted(plant, NOW_S, **proof, measured=1.6) == []
    assert plant.core.plant.retained.trips_proved_wall_s is None
    assert noted(plant, NOW_S, **proof, measured=0.4) == []
    assert plant.core.plant.retained.trips_proved_wall_s == NOW_S
    assert noted(plant, NOW_S + 60.0, **proof, measured=1.6, expected=9.0) == []
    assert plant.core.plant.retained.trips_proved_wall_s is None, "trips that were seen to fail are not proved"
    assert noted(plant, NOW_S + 120.0, **proof, measured=0.4) == []
    plant.tick(wall_s=NOW_S)
    assert plant.give("start", confirmed=list(QUESTIONS)) == ["questions_open"], "without a clock nobody can tell"


@pytest.mark.parametrize(
    ("proved_s", "now_s", "asked"),
    [
        (None, NOW_S, True),
        (NOW_S, None, True),
        (NOW_S, NOW_S + 199 * DAY_S, False),
        (NOW_S, NOW_S + 201 * DAY_S, True),
        (NOW_S, NOW_S - DAY_S, True),
    ],
)
def test_what_cannot_be_told_of_the_proof_counts_as_overdue(proved_s, now_s, asked):
    assert questions(proved_s, now_s) == (ALL_QUESTIONS if asked else QUESTIONS)


def test_free_chlorine_that_was_read_blocks_the_flush_until_a_strip_reads_zero(plant):
    assert noted(plant, NOW_S, kind="chlorine_read", mg_l=0.04) == []
    assert plant.refused("flush") == []
    assert noted(plant, NOW_S, kind="chlorine_read", mg_l=0.3) == []
    assert plant.refused("flush") == ["chlorine_suspected"]
    assert noted(plant, NOW_S, kind="chlorine_read", mg_l=0.0) == []
    assert plant.refused("flush") == ["chlorine_suspected"], "at a tap is not at the flush valve"
    assert noted(plant, NOW_S, kind="chlorine_strip_zero") == []
    assert plant.refused("flush") == []


@pytest.mark.parametrize(
    ("entry", "why"),
    [
        ({"kind": "duty_done"}, "duty_unknown"),
        ({"kind": "duty_done", "duty": "varnish"}, "duty_unknown"),
        ({"kind": "note", "duty": "seacocks"}, "reading_misplaced"),
        ({"kind": "stores_counted", "aboard": 1.0}, "part_unknown"),
        ({"kind": "stores_counted", "part": "fine_cartridge"}, "reading_missing"),
        ({"kind": "note", "part": "fine_cartridge"}, "reading_misplaced"),
        ({"kind": "chlorine_read"}, "reading_missing"),
    ],
)
def test_an_entry_that_says_too_little_or_belongs_elsewhere_is_refused(plant, entry, why):
    assert plant.give("log", **entry) == [why]


def test_wires_on_the_wrong_inputs_are_all_named(plant):
    plant.wait(30)
    assert plant.refused("start") == []
    plant.pinned["vessel_pressure"] = reading("vessel_pressure", 4.0, raw=0.7)
    plant.pinned["feed_pressure"] = reading("feed_pressure", 0.9, raw=1.5)
    plant.tick()
    assert plant.refused("start").count("zero_off") == 2


def test_a_meter_that_turns_by_itself_vouches_for_no_water(plant):
    plant.wait(30)
    plant.read("product_flow", 7.9)
    plant.tick()
    assert plant.refused("start") == []
    plant.read("product_flow", 30.0)
    plant.tick()
    assert plant.refused("start") == ["flow_at_rest"]


def test_a_meter_that_runs_down_after_a_run_is_no_noise():
    plant = Plant().brought_to("producing")
    plant.give("stop")
    plant.until("standby")
    plant.read("product_flow", 30.0)
    plant.tick()
    assert "flow_at_rest" not in plant.refused("start")


@pytest.mark.parametrize("state", ["priming", "producing", "stopping", "flushing", "hand_run", "bench", "tripped"])
def test_a_start_is_refused_in_every_other_state_by_its_name(state):
    plant = Plant().brought_to(state)
    assert f"is_{state}" in plant.give("start")
    assert "is_laid_up" in Plant().brought_to("laid_up").give("start")


@pytest.mark.parametrize("command", ["flush", "bench", "lay_up", "recommission", "reset"])
def test_a_run_is_not_disturbed_by_what_belongs_to_rest(producing, command):
    assert "is_producing" in producing.give(command, **({"output": "buzzer"} if command == "bench" else {}))
    assert producing.state == "producing"


# ---- stop ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("origin", list(Origin))
@pytest.mark.parametrize("state", ["standby", "producing", "tripped", "laid_up", "hand_run"])
def test_a_stop_is_never_refused(state, origin):
    plant = Plant().brought_to(state)
    assert plant.give("stop", origin=origin) == []
    assert plant.refused("stop") == []


def test_a_stop_is_taken_whatever_else_it_says(producing):
    assert producing.give("stop", sails=3, why=None, litres="x") == []
    assert producing.state == "stopping"


@pytest.mark.parametrize("order", [("stop", "start"), ("start", "stop")])
def test_a_stop_wins_over_a_start_of_the_same_moment(plant, order):
    plant.tick(*[Command(name, who="ann" if name == "stop" else "bob", token=f"1:{name}") for name in order])
    assert plant.state == "standby"
    answers = {token: [reason.id for reason in reasons] for token, _, reasons in plant.outcome.answers}
    assert answers == {"1:stop": [], "1:start": ["stop_command"]}


@pytest.mark.parametrize("other", [Command("flush"), Command("bench", {"output": "feed_pump", "seconds": 5.0})])
def test_a_stop_wins_over_everything_that_would_switch_something_on(plant, other):
    plant.tick(other, Command("stop"))
    assert plant.state == "standby"
    assert plant.on == set()


def test_a_stop_is_told_with_who_gave_it(producing):
    producing.tick(Command("stop", who="ann"), Command("silence", who="bob"))
    assert producing.core.why.values == {"who": "ann"}


# ---- where it comes from --------------------------------------------------------------------------------


@pytest.mark.parametrize("command", sorted(NEVER_FROM_MQTT))
def test_what_is_never_taken_from_mqtt_is_refused_whatever_the_owner_added(plant, command):
    assert plant.give(command, origin=Origin.MQTT) == ["never_from_mqtt"]


def test_the_list_of_what_is_never_taken_from_mqtt():
    assert {"start", "reset", "recommission", "bench", "calibrate", "service_unlock"} <= NEVER_FROM_MQTT
    assert set(COMMANDS) >= NEVER_FROM_MQTT
    assert not NEVER_FROM_MQTT & {"stop", "silence", "acknowledge"}


def test_faults_are_for_simulated_boats():
    real = Plant(simulated=False)
    assert real.give("fault", fault="bilge_wet") == ["only_simulated"]
    assert "fault" not in real.core.decisions.overview(real.core.last)[0]
    simulated = Plant()
    assert simulated.give("fault", fault="bilge_wet") == []
    assert simulated.outcome.simulate[0].arguments == {"fault": "bilge_wet"}


def test_an_unknown_command_is_refused(plant):
    assert plant.give("dance") == ["command_unknown"]


def test_what_is_allowed_and_what_is_refused_together_name_every_command(plant):
    plant.tick()
    allowed, refused = plant.core.decisions.overview(plant.core.last)
    assert set(allowed) | set(refused) == set(COMMANDS)
    assert not set(allowed) & set(refused)


# ---- reset ------------------------------------------------------------------------------------------------


def test_a_reset_wants_the_cause_gone_and_every_trip_seen():
    plant = Plant().brought_to("producing")
    plant.press("stop_button")
    plant.tick()
    assert plant.give("reset") == ["trips_not_acknowledged", "cause_still_there", "pressure_present"]
    plant.give("acknowledge")
    assert plant.give("reset") == ["cause_still_there", "pressure_present"]
    plant.press("stop_button", active=False)
    plant.wait(10)
    assert plant.give("reset") == []
    assert plant.state == "standby"
    assert plant.on == set()


def test_a_cause_that_is_just_gone_is_waited_for_and_nobody_is_sent_to_mend_it():
    plant = Plant().brought_to("producing")
    plant.press("stop_button")
    plant.wait(10)
    plant.give("acknowledge")
    assert plant.give("reset") == ["cause_still_there"]
    plant.press("stop_button", active=False)
    plant.tick()
    (reason,) = plant.core.decisions.refused("reset", plant.core.last)
    assert (reason.id, reason.values["causes"]) == ("cause_just_gone", "stop_button")
    assert "Put it right" not in words.reason(reason.as_message())
    plant.wait(reason.values["seconds"] + 0.1)
    assert plant.give("reset") == []


def test_after_a_reset_nothing_runs_until_somebody_starts():
    plant = Plant().brought_to("tripped")
    plant.wait(2)
    plant.give("acknowledge")
    plant.give("reset")
    plant.wait(30)
    assert plant.states[-1] == "standby"


@pytest.mark.parametrize("alarm", ["no such", "stop_button"])
def test_what_is_not_there_cannot_be_acknowledged(plant, alarm):
    assert "no_such_alarm" in plant.give("acknowledge", alarm=alarm)
    assert plant.give("acknowledge") == ["nothing_to_acknowledge"]


@pytest.mark.parametrize("arguments", [{}, {"alarm": None}, {"alarm": "no such"}, {"alarm": "clock_unset"}])
def test_what_is_not_there_cannot_be_shelved(plant, arguments):
    assert plant.give("shelve", **arguments) == ["no_such_alarm"]


@pytest.mark.parametrize("minutes", [0, -5])
def test_a_shelf_wants_a_time(plant, minutes):
    plant.extra["clock_set"] = False
    plant.wait(61, dt=0.5)
    assert plant.give("shelve", alarm="clock_unset", minutes=minutes) == ["need_too_small"]
    assert plant.give("shelve", alarm="clock_unset", minutes=None) == []


# ---- bench ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        ({}, "output_unknown"),
        ({"output": None}, "output_unknown"),
        ({"output": "heartbeat"}, "output_unknown"),
        ({"output": "pressure_release"}, "output_unknown"),
        ({"output": "high_pressure_pump", "seconds": 2.1}, "bench_too_long"),
        ({"output": "feed_pump", "seconds": 121.0}, "bench_too_long"),
        ({"output": "feed_pump", "seconds": 0}, "need_too_small"),
        ({"output": "feed_pump", "seconds": "long"}, "argument_wrong"),
    ],
)
def test_a_bench_wants_an_output_that_is_fitted_and_a_short_time(plant, arguments, reason):
    assert plant.give("bench", **arguments) == [reason]


def test_a_bench_without_a_time_is_a_second(plant):
    assert plant.give("bench", output="buzzer", seconds=None) == []
    assert plant.until("standby") == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize(
    ("disturb", "reason"),
    [
        (latched(lock=Lock("ann", "filter")), "locked"),
        (read("vessel_pressure", 6.0), "pressure_present"),
        (read("vessel_pressure", None, Quality.OPEN), "sensor_not_good"),
        (extra(lost_chips=(0x48,)), "adc_lost"),
    ],
)
def test_a_bench_is_refused_where_it_could_hurt(plant, disturb, reason):
    plant.tick()
    disturb(plant)
    plant.tick()
    assert plant.give("bench", output="feed_pump", seconds=1.0) == [reason]


def test_the_flush_valve_is_tried_below_three_bar_only(plant):
    plant.read("vessel_pressure", 4.0)
    assert plant.give("bench", output="flush_valve", seconds=1.0) == ["pressure_present"]
    assert plant.give("bench", output="product_to_tank", seconds=1.0) == []


def test_a_jog_wants_its_feed_pressure_to_be_known(plant):
    plant.lose("feed_pressure")
    assert plant.give("bench", output="high_pressure_pump", seconds=1.0) == ["sensor_not_good"]


# ---- what has to be on file first --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("state", "command", "arguments", "field"),
    [
        ("standby", "lay_up", {"preservative": "glycol"}, "laid_up"),
        ("laid_up", "recommission", {}, "laid_up"),
        ("standby", "service_lock", {"name": "ann", "reason": "filter"}, "lock"),
    ],
)
def test_a_change_that_must_survive_is_accepted_only_once_it_is_on_file(state, command, arguments, field):
    plant = Plant().brought_to(state)
    before = getattr(plant.core.plant.retained, field)
    plant.tick(Command(command, arguments, token="1:a"))
    assert plant.outcome.answers == []
    assert getattr(plant.core.plant.retained, field) == before
    ((again, on_file),) = plant.outcome.persist
    assert getattr(on_file, field) != before
    plant.tick(again)
    assert plant.outcome.answers == [("1:a", True, [])]
    assert getattr(plant.core.plant.retained, field) == getattr(on_file, field)


def test_a_refused_change_never_goes_on_file(producing):
    assert producing.give("lay_up") == ["is_producing", "pressure_present"]
    assert producing.outcome.persist == []


def test_what_went_on_file_but_was_refused_after_all_is_put_right_on_file(plant):
    plant.tick(Command("lay_up", token="1:a"))
    ((again, on_file),) = plant.outcome.persist
    assert on_file.laid_up
    plant.give("start")
    plant.tick()
    assert plant.outcome.retained is None
    plant.tick(again)
    assert [reason.id for reason in plant.outcome.answers[0][2]] == ["is_priming"]
    assert plant.outcome.retained is not None
    assert plant.outcome.retained.laid_up is False
    assert plant.state == "priming"


def test_two_changes_of_the_same_moment_are_both_on_file_before_either_is_accepted(plant):
    lock = Command("service_lock", {"name": "ann", "reason": "filter"}, token="1:a")
    plant.tick(lock, Command("lay_up", token="1:b"))
    last = plant.outcome.persist[-1][1]
    assert last.lock == Lock("ann", "filter")
    assert last.laid_up is True


@pytest.mark.parametrize("command", ["lay_up", "recommission", "service_lock", "service_unlock", "start"])
def test_a_card_that_takes_no_writing_refuses_what_must_be_remembered(plant, command):
    plant.extra["latch_writable"] = False
    assert "latch_not_writable" in plant.give(command)


@pytest.mark.parametrize("command", ["start", "flush", "bench", "lay_up"])
def test_a_service_lock_refuses_everything_that_moves_water(plant, command):
    plant.give("service_lock", name="ann", reason="filter open")
    assert "locked" in plant.give(command)
    assert plant.give("service_unlock") == []
    assert "locked" not in plant.refused(command)


def test_nobody_takes_over_another_ones_lock(plant):
    plant.give("service_lock", name="ann", reason="filter open")
    assert plant.give("service_lock", name="bob", reason="leak") == ["locked"]
    assert plant.core.plant.retained.lock == Lock("ann", "filter open")


def test_a_lock_keeps_an_owed_flush_from_beginning_by_itself():
    plant = Plant().brought_to("stopping")
    plant.core.plant.persistence.carry_out(lambda retained: replace(retained, lock=Lock("ann", "filter")))
    plant.until("standby", within_s=60)
    assert "flushing" not in plant.states
    assert plant.core.plant.retained.flush_owed


@pytest.mark.parametrize("arguments", [{}, {"name": "ann"}, {"reason": "x"}, {"name": "", "reason": ""}])
def test_a_lock_wants_a_name_and_a_reason(plant, arguments):
    assert plant.give("service_lock", **arguments) == ["lock_wants_name_and_reason"]
    assert plant.give("service_unlock") == ["not_locked"]


def test_a_run_cannot_be_locked(producing):
    assert producing.give("service_lock", name="ann", reason="x") == ["is_producing"]


# ---- lay-up and log ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("of", "seconds"),
    [("preservative", QUICK.sequence.purge_preservative_s), ("glycol", QUICK.sequence.purge_s)],
)
def test_a_laid_up_plant_owes_a_purge_when_it_is_recommissioned(plant, of, seconds):
    assert plant.give("lay_up", preservative=of) == []
    assert plant.state == "laid_up"
    assert plant.give("start") == ["is_laid_up"]
    assert plant.give("recommission") == []
    assert plant.state == "standby"
    assert (plant.core.plant.retained.purge.of, plant.core.plant.retained.purge.left_s) == (of, seconds)
    assert plant.core.plant.retained.circuit_opened


def test_nobody_lays_up_with_soap(plant):
    assert plant.give("lay_up", preservative="soap") == ["preservative_unknown"]


@pytest.mark.parametrize(
    ("kind", "purge"), [("filter_changed", None), ("element_changed", "new_element"), ("cleaned", "cleaning")]
)
def test_the_log_makes_owed_what_follows_from_it(plant, kind, purge):
    assert plant.give("log", kind=kind, note="as planned") == []
    assert plant.core.plant.retained.circuit_opened
    assert (plant.core.plant.retained.purge.of if plant.core.plant.retained.purge else None) == purge
    assert plant.event("log") == {"kind": "log", "what": kind, "note": "as planned", "who": "ann"}


@pytest.mark.parametrize("kind", ["filter_changed", "element_changed", "cleaned", "circuit_opened"])
def test_nobody_has_opened_a_circuit_in_the_middle_of_a_run(producing, kind):
    assert producing.give("log", kind=kind) == ["opened_while_running"]
    assert producing.give("log", kind="note", note="dolphins") == []


def test_every_command_is_recorded_with_who_and_what(plant):
    plant.give("start", who="ann", litres=1000)
    event = plant.event("command")
    assert event["who"] == "ann"
    assert event["accepted"] is False
    assert event["reasons"][0]["id"] == "tank_has_no_room"
    assert event["arguments"] == {"litres": 1000}


# ---- after a restart -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("retained", "state"),
    [
        (RetainedState(), "standby"),
        (RetainedState(under_way="producing", flush_owed=True, run_number=7), "standby"),
        (RetainedState(laid_up=True, laid_up_with="glycol"), "laid_up"),
        (RetainedState(trips=(Trip("stop_button"),), first_out="stop_button"), "tripped"),
        (RetainedState(trips=(Trip("adc_lost"),), laid_up=True), "tripped"),
        (RetainedState(trips=(Trip("a trip of another version"),)), "tripped"),
    ],
)
def test_control_comes_up_at_rest_and_stays_there(retained, state):
    plant = Plant(retained=retained)
    assert plant.state == state
    plant.wait(30)
    assert plant.state == state
    assert plant.on == set()


def test_a_restart_in_the_middle_of_a_run_is_told_until_somebody_has_seen_it():
    plant = Plant(retained=RetainedState(closed=False, under_way="producing"))
    plant.wait(0.2)
    assert plant.alarm("restarted_unexpectedly") == "unacknowledged"
    assert plant.latches[0].under_way is None
    assert plant.latches[0].cut_off == CutOff("producing")
    assert plant.core.ask() == "open_regulator"
    assert plant.give("start") == ["restart_not_acknowledged"]
    assert plant.give("shelve", alarm="restarted_unexpectedly") == ["never_shelved"]
    plant.give("acknowledge")
    plant.wait(2)
    assert plant.alarm("restarted_unexpectedly") is None
    assert plant.give("start") == []


def test_the_relays_are_asked_for_until_water_has_moved_or_ten_minutes_have_passed():
    plant = Plant()
    plant.wait(30)
    assert plant.core.ask() == "rearm_relay"
    plant.brought_to("flushing")
    plant.give("stop")
    plant.until("standby")
    assert plant.core.ask() == "rearm_relay"
    plant.give("flush")
    plant.until("standby", within_s=300)
    assert plant.core.ask() is None
    idle = Plant()
    idle.wait(601)
    assert idle.core.ask() is None


def refusals(plant):
    return {reason["id"] for reasons in plant.snapshot()["refused"].values() for reason in reasons}


@pytest.mark.parametrize("contact", ["stop_button", "bilge_wet"])
def test_what_is_said_and_offered_belongs_to_the_state_that_is_shown(contact):
    """At the very change, a screen reader is told the sentence of the new state: it must not be of the old one."""
    plant = Plant().brought_to("flushing")
    plant.give("stop")
    plant.until("standby")
    assert "is_flushing" not in refusals(plant)
    assert plant.snapshot()["sentence"]["id"] != "standby_refused"
    plant.press(contact)
    plant.until("tripped")
    assert "is_tripped" in refusals(plant)
    assert "is_standby" not in refusals(plant)


def test_a_plant_laid_up_when_it_tripped_is_laid_up_again_by_its_reset():
    plant = Plant(retained=RetainedState(trips=(Trip("control_failed"),), laid_up=True, laid_up_with="preservative"))
    plant.tick()
    plant.give("acknowledge")
    assert plant.give("reset") == []
    assert plant.state == "laid_up"
    assert plant.alarms == set()
    assert plant.core.plant.retained.trips == ()


def test_a_lock_survives_a_restart():
    plant = Plant(retained=RetainedState(lock=Lock("ann", "filter")))
    assert plant.give("start") == ["locked"]


def test_the_time_the_plant_stood_is_noted_every_quarter_of_an_hour():
    plant = Plant()
    plant.wait(1000, dt=1.0)
    assert [retained.idle_s for retained in plant.latches] == pytest.approx([0, 900], abs=2)
    later = Plant(retained=plant.core.plant.retained)
    later.tick()
    assert later.core.clocks.idle_s == pytest.approx(1000, abs=2)


@pytest.mark.parametrize("contact", ["stop_button", "pressure_switch", "bilge_wet"])
def test_a_reset_in_the_very_tick_in_which_another_cause_begins_is_refused(plant, contact):
    tripped = plant.brought_to("tripped").wait(2.0)
    assert tripped.give("acknowledge") == []
    tripped.wait(20.0)
    tripped.press(contact)
    assert tripped.give("reset") == ["cause_still_there"]
    assert tripped.state == "tripped"


def test_a_jog_is_a_start_of_the_motor_like_any_other(plant):
    plant.tick()
    plant.core.plant.motor.worked_s, plant.core.plant.motor.rests_since_s = 3 * 3600.0, plant.now_s - 60.0
    plant.tick()
    assert plant.give("bench", output="high_pressure_pump", seconds=2.0) == ["motor_needs_rest"]
    assert plant.give("bench", output="feed_pump", seconds=2.0) == []


def test_the_motors_work_is_not_forgotten_by_a_restart():
    plant = Plant().brought_to("producing")
    plant.core.plant.motor.worked_s = 3 * 3600.0
    plant.wait(0.1)
    plant.give("stop")
    plant.until("standby")
    retained = plant.latches[-1]
    assert retained.motor_worked_s >= 3 * 3600.0
    for off_s, refused in ((5.0, True), (None, True), (1000.0, False)):
        core = Core(plant.settings, retained, 5000.0, off_s=off_s)
        plant.now_s = 5000.0
        core.tick(plant.inputs(now_s=5000.0))
        reasons = {reason.id for reason in core.decisions.refused("start", core.last)}
        assert ("motor_needs_rest" in reasons) is refused


def test_the_days_laid_up_count_from_the_moment_it_was_said():
    plant = Plant()
    plant.wait(600)
    plant.give("lay_up")
    plant.until("laid_up", within_s=5)
    assert plant.snapshot()["sentence"]["values"]["days"] == 0.0


# ---- readings of people ---------------------------------------------------------------------------


def test_a_reading_goes_on_record_with_what_it_was_read_with():
    plant = Plant()
    assert plant.give("log", kind="hand_meter", us_cm=412.0, sample_c=21.0) == []
    assert plant.event("log")["readings"] == {"us_cm": 412.0, "sample_c": 21.0}
    assert plant.give("log", kind="sea_salinity", g_kg=38.2, by="published", note="regional atlas") == []
    assert plant.event("log")["readings"] == {"g_kg": 38.2, "by": "published"}
    assert plant.give("log", kind="finding_aside", finding="fouling", note="cleaning in March") == []
    assert plant.event("log")["finding"] == "fouling"
    assert plant.give("log", kind="note", note="calm") == []
    assert "readings" not in plant.event("log")


@pytest.mark.parametrize(
    ("arguments", "refused"),
    [
        ({"kind": "bucket_test", "litres": 10.0}, ["reading_missing"]),
        ({"kind": "bucket_test"}, ["reading_missing", "reading_missing"]),
        ({"kind": "gauge_read", "bar": 54.0, "litres": 10.0}, ["reading_misplaced"]),
        ({"kind": "note", "bar": 54.0}, ["reading_misplaced"]),
        ({"kind": "finding_aside", "note": "later"}, ["finding_unknown"]),
        ({"kind": "finding_aside", "finding": "rust", "note": "later"}, ["finding_unknown"]),
        ({"kind": "finding_aside", "finding": "fouling"}, ["aside_without_reason"]),
        ({"kind": "finding_aside", "finding": "fouling", "note": " "}, ["aside_without_reason"]),
        ({"kind": "sea_salinity", "g_kg": 38.0}, ["reading_missing"]),
        ({"kind": "sea_salinity", "g_kg": 38.0, "by": "taste"}, ["salinity_way_unknown"]),
        ({"kind": "sea_salinity", "g_kg": 38.0, "by": "published"}, ["source_missing"]),
        ({"kind": "sea_salinity", "g_kg": 38.0, "by": "published", "note": " "}, ["source_missing"]),
    ],
)
def test_a_reading_that_says_nothing_is_refused(arguments, refused):
    assert Plant().give("log", **arguments) == refused
