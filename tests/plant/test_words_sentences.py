"""What the one sentence says: what the plant does and why, and what it waits for."""

import itertools
from typing import Any

import pytest

from halocline.plant import words
from halocline.plant.settings import UnitSettings
from halocline.plant.words.alarm_names import ALARM_TEXTS

IMPERIAL = UnitSettings(pressure="psi", volume="gal", temperature="F", salt="uS/cm")


def said(identifier: str, values: dict[str, Any] | None = None, **now: Any) -> str:
    return words.sentence({"state": "standby", "sentence": {"id": identifier, "values": values or {}}, **now})


def test_making_water_tells_how_much_and_how_long_still() -> None:
    values = {"litres": 41.2, "target_l": 60.0, "remaining_s": 1229.0, "tds_mg_l": 312.0}
    assert said("producing", values, limits={"accept_tds_mg_l": 500.0}) == (
        "Making water into the tank: 41 L of 60 L, about 20 min left. Salt is 312 mg/L, within the limit."
    )


def test_making_water_until_the_tank_is_full_names_no_target() -> None:
    values = {"litres": 41.2, "target_l": None, "remaining_s": None, "tds_mg_l": 312.0}
    assert said("producing", values) == "Making water into the tank: 41 L. Salt is 312 mg/L."


def test_salt_between_the_two_limits_is_not_called_within() -> None:
    values = {"litres": 41.2, "target_l": None, "remaining_s": None, "tds_mg_l": 550.0}
    assert said("producing", values, limits={"accept_tds_mg_l": 500.0}).endswith(
        "Salt is 550 mg/L, a little over 500 mg/L."
    )


def test_product_overboard_says_what_opens_the_tank() -> None:
    values = {"tds_mg_l": 612.0, "limit_mg_l": 500.0, "seconds": 60.0}
    assert said("diverting_tds_above_accept", values) == (
        "Product goes overboard: salt is 612 mg/L. The tank opens at 500 mg/L or less, held for 60 s."
    )


def test_a_value_and_its_limit_never_look_alike_while_they_differ() -> None:
    values = {"tds_mg_l": 500.3, "limit_mg_l": 500.0, "seconds": 60.0}
    assert "salt is 500.3 mg/L. The tank opens at 500 mg/L" in said("diverting_tds_above_accept", values)
    refusal = words.reason({"id": "battery_too_low", "values": {"volts": 12.38, "limit_v": 12.4}})
    assert refusal == "Battery voltage is 12.38 V, a start needs 12.4 V. Charge or run the engine first."


@pytest.mark.parametrize(
    ("litres", "tail"),
    [(1.4, "the first litres are not judged; 1.4 L more must pass."), (0.0, "the first litres are not judged.")],
)
def test_first_water_says_how_much_more_has_to_go(litres: float, tail: str) -> None:
    assert said("diverting_first_water", {"litres": litres}).endswith(tail)


def test_preservative_being_washed_out_carries_its_caution() -> None:
    assert said("diverting_purge_running", {"of": "preservative", "seconds": 1500.0}) == (
        "Product goes overboard: preservative is being washed out, 25 min to go. Do not drink this water."
    )


def test_raising_by_hand_says_how_fast_and_how_far_in_the_owners_units() -> None:
    now = {
        "sentence": {"id": "raise_pressure", "values": {"rate_bar_s": 0.5, "target_bar": 55.0, "pressure_bar": 12.0}}
    }
    assert words.sentence(now) == "Close the regulator slowly, 0.5 bar/s, to 55 bar. Now 12 bar."
    assert words.sentence(now, IMPERIAL) == "Close the regulator slowly, 7.3 psi/s, to 798 psi. Now 174 psi."


def test_stopping_says_why_the_run_ends() -> None:
    values = {"why": "battery_low", "volts": 11.5, "limit_v": 11.6, "membrane_bar": 43.0}
    assert said("stopping_open_regulator", values) == (
        "Stopping: the battery ran low (11.5 V under load, limit 11.6 V). Open the regulator fully, then the pump "
        "stops; now 43 bar."
    )


def test_a_pump_on_its_own_switch_is_asked_for_while_stopping() -> None:
    values = {"why": "stop_command", "who": "Ana", "membrane_bar": 4.0}
    assert said("stopping", values, ask="switch_pump_off") == (
        "Stopping: a stop was ordered by Ana. Product goes overboard, the pressure is going, now 4 bar. Switch the "
        "high-pressure pump off now, at its own switch."
    )


def test_at_rest_the_end_of_the_last_run_is_told() -> None:
    assert said("standby_ready", {"why": "flush_complete"}) == "At rest, ready to start. The flush is done."
    assert said("standby_owed", {"why": "depressurised"}, first_out="battery_low", owed={"flush": True}) == (
        "At rest. A fresh-water flush is owed: sea water stands in the membrane. The last run was stopped: battery low."
    )
    alarm = {"id": "battery_low", "values": {"volts": 11.5, "limit_v": 11.6}}
    assert said("standby_ready", {"why": "flush_complete"}, first_out="battery_low", alarms=[alarm]).endswith(
        "The last run was stopped: the battery ran low (11.5 V under load, limit 11.6 V)."
    )


@pytest.mark.parametrize(
    ("more", "tail"),
    [(0, "Use some water first."), (1, "One more thing to put right."), (3, "3 more things to put right.")],
)
def test_a_start_refused_at_rest_gives_the_first_reason_and_counts_the_others(more: int, tail: str) -> None:
    text = said("standby_refused", {"reason": "tank_is_full", "percent": 97.0, "limit_percent": 95.0, "more": more})
    assert text.startswith("At rest. Cannot start: The tank is full: 97 %, limit 95 %. Use some water")
    assert text.endswith(tail)


def test_a_trip_tells_cause_numbers_where_to_look_and_what_comes_next() -> None:
    values = {"cause": "feed_pressure_low_low", "pressure_bar": 0.11, "limit_bar": 0.15, "membrane_bar": 3.0}
    assert said("tripped", values) == (
        "Safety stop: pump inlet pressure fell to 0.11 bar, limit 0.15 bar. Check seacock, strainer, pump, filters. "
        "Then acknowledge and reset."
    )
    assert said("tripped", values, allowed=["reset"]).endswith("Check seacock, strainer, pump, filters. Then reset.")
    holding = {"reset": [{"id": "trips_not_acknowledged", "values": {}}, {"id": "cause_still_there", "values": {}}]}
    assert said("tripped", values, refused=holding).endswith("The cause is still there.")


def test_a_trip_under_pressure_asks_for_the_regulator_after_what_comes_first() -> None:
    values = {"cause": "bilge_wet", "membrane_bar": 43.0}
    text = said("tripped", values)
    assert text.index("breaker now") < text.index("Still 43 bar at the membrane: open the regulator.")


def test_after_a_restart_the_trip_that_stands_is_named() -> None:
    alarms = [{"id": "clock_unset", "values": {}}, {"id": "latch_unreadable", "values": {}}]
    assert said("tripped", {"cause": "tripped_before_restart"}, alarms=alarms).startswith(
        "Safety stop: what the plant remembers across a restart cannot be read."
    )
    assert said("tripped", {"cause": "tripped_before_restart"}).startswith(
        "Safety stop: a safety stop from before the restart is not reset. Look at the alarms."
    )


@pytest.mark.parametrize(
    ("measured", "text"),
    [
        (True, "Flushing with fresh water: 4 L of 12 L. Open the regulator fully."),
        (False, "Flushing with fresh water: about 4 L of 12 L, not measured. Open the regulator fully."),
    ],
)
def test_a_flush_that_nobody_measures_says_so(measured: bool, text: str) -> None:
    values = {"litres": 4.0, "target_l": 12.0, "measured": measured}
    assert said("flushing", values, ask="open_regulator") == text


def test_an_unknown_sentence_falls_back_to_the_state() -> None:
    assert said("singing") == "At rest."
    assert words.sentence({"state": "producing"}) == "Making water into the tank."
    assert words.sentence({}) == "What the plant is doing is not known. Look at the plant and its gauge."


def test_an_alarm_says_what_was_measured_the_limit_and_since_when() -> None:
    means, ignored, do = words.alarm_texts(
        "feed_pressure_low_low", {"pressure_bar": 0.11, "limit_bar": 0.15, "since_s": 200.0}
    )
    assert means == (
        "Pump inlet pressure fell to 0.11 bar, limit 0.15 bar. The high-pressure pump got too little sea water, or "
        "none. Noticed 3 min 20 s ago."
    )
    assert ignored == "A dry pump is ruined within minutes."
    assert do.startswith("In this order: the intake seacock is open")


def test_a_failing_sensor_is_named_with_what_is_wrong_and_its_raw_signal() -> None:
    means, ignored, _ = words.alarm_texts(
        "sensor_fault_product_conductivity", {"channel": "product_conductivity", "quality": "open", "raw": 0.021}
    )
    assert means == (
        "The sensor for product conductivity is not good: no signal, wire or supply open. Without it the salt is "
        "not known, so the product goes overboard. The raw signal is 0.02 V."
    )
    assert ignored == "No water reaches the tank."


def test_a_failing_flow_meter_tells_its_pulses() -> None:
    means, _, _ = words.alarm_texts(
        "sensor_fault_brine_flow", {"channel": "brine_flow", "quality": "stale", "raw": 3.2}
    )
    assert means.endswith("The raw signal is 3.2 Hz.")


def test_a_flush_that_failed_says_why() -> None:
    values = {"why": "flush_no_supply", "pressure_bar": 0.1, "limit_bar": 0.3}
    assert words.alarm_texts("flush_failed", values)[0].startswith(
        "The fresh-water flush did not succeed: no fresh water came: pump inlet pressure 0.1 bar, needed 0.3 bar."
    )


def test_an_alarm_without_words_is_passed_on_honestly() -> None:
    means, ignored, do = words.alarm_texts("whale_{alongside}", {})
    assert words.alarm_name("whale_{alongside}") == "Whale (alongside)"
    assert means.startswith("The plant reports “whale (alongside)”.")
    assert ignored == "It is not known what happens if this is ignored."
    assert do.startswith("Look at the plant, its gauge and the log.")


@pytest.mark.parametrize(
    ("identifier", "values", "text"),
    [
        (
            "sensor_not_good",
            {"channel": "feed_pressure", "quality": "open"},
            "The sensor for pump inlet pressure is not good: no signal, wire or supply open. Check its plug, cable and "
            "supply.",
        ),
        (
            "tank_has_no_room",
            {"litres": 120.0, "limit_l": 84.0},
            "120 L do not fit into the tank, at most 84 L. Ask for less.",
        ),
        ("adc_lost", {"address": 0x48}, "The sensor board at address 0x48 does not answer."),
        ("locked", {"name": "Ana", "reason": "changing filters"}, "Locked by Ana: changing filters."),
        (
            "questions_open",
            {"questions": "seacocks_open, sea_clean"},
            "Not confirmed yet: seacocks open, sea clean. Go and look, then confirm.",
        ),
        (
            "cause_still_there",
            {"causes": "bilge_wet, adc_lost, stop_button, pressure_switch"},
            "Still there: Water under the plant, Sensor board lost, Stop button pressed, Pressure switch opened.",
        ),
        ("argument_unknown", {"argument": "liters", "known": "litres, until_s"}, "“liters” is not known here. Known: "),
        ("need_too_small", {"key": "until_s", "value": -5.0}, "-5 is too little for “until”."),
        (
            "zero_off",
            {"channel": "brine_pressure", "value": 2.4, "low": -1, "high": 1},
            "The sensor for brine pressure ",
        ),
        ("target_litres", {"litres": 60.0}, "60 L went to the tank, as asked."),
        ("pressure_not_set", {"seconds": 600.0}, "The pressure was not raised within 10 min."),
        (
            "run_limit",
            {"seconds": 4 * 3600.0},
            "The run lasted 4 h, the longest allowed. Start again if more is needed.",
        ),
        ("stop_command", {"who": ""}, "A stop was ordered."),
    ],
)
def test_reasons_say_what_is_wrong_and_what_helps(identifier: str, values: dict[str, Any], text: str) -> None:
    assert words.reason({"id": identifier, "values": values}).startswith(text)


def test_a_trip_whose_pressure_nobody_knows_sends_people_to_the_gauge() -> None:
    values = {"cause": "vessel_pressure_high_high", "pressure_bar": 71.0, "limit_bar": 64.0, "membrane_bar": None}
    assert "The pressure at the membrane is not known: read the gauge." in said("tripped", values)


def test_a_trip_tells_what_still_stands_and_what_to_do_about_that_whatever_came_first() -> None:
    values = {"cause": "feed_pressure_low_low", "pressure_bar": 0.06, "limit_bar": 0.15, "membrane_bar": 0.0}
    against = [{"id": "cause_still_there", "values": {"causes": "bilge_wet"}}]
    text = said("tripped", values, refused={"reset": against})
    assert text.startswith(
        "Safety stop: pump inlet pressure fell to 0.06 bar, limit 0.15 bar. Still there: Water under"
    )
    assert "breaker" in text.lower()
    assert "strainer" not in text
    alone = said(
        "tripped", values, refused={"reset": [{"id": "cause_still_there", "values": {"causes": values["cause"]}}]}
    )
    assert alone.endswith("Check seacock, strainer, pump, filters. The cause is still there.")


def test_nobody_is_told_to_turn_the_regulator_while_the_sentence_says_hands_off() -> None:
    settling = {"state": "pressurising", "ask": "raise_pressure", "sentence": {"id": "pressure_settling", "values": {}}}
    assert words.asked(settling) is None
    raising = {**settling, "sentence": {"id": "raise_pressure", "values": {}}}
    assert words.asked(raising) == "raise_pressure"
    assert words.asked({**settling, "ask": None}) is None


@pytest.mark.parametrize(
    ("days", "text"),
    [
        (0.0, "Laid up with propylene glycol. It will not run until it is recommissioned."),
        (3.0, "Laid up with propylene glycol for 3 days. It will not run until it is recommissioned."),
    ],
)
def test_no_time_of_nothing_is_told(days: float, text: str) -> None:
    assert said("laid_up", {"of": "glycol", "days": days}) == text
    means, _, _ = words.alarm_texts("bilge_wet", {"since_s": days * 86400.0})
    assert ("Noticed" in means) == (days > 0.0)


@pytest.mark.parametrize("alarm", sorted(ALARM_TEXTS))
def test_the_last_step_of_an_alarm_follows_no_other_then(alarm: str) -> None:
    _, _, do = words.alarm_texts(alarm, {})
    steps = [step.startswith("Then") for step in do.split(". ")]
    assert not any(one and other for one, other in itertools.pairwise(steps)), do


def test_a_memory_that_cannot_be_read_asks_in_the_order_of_the_steps() -> None:
    _, _, do = words.alarm_texts("latch_unreadable", {})
    assert do == (
        "Check the computer's memory card. Remember yourself: was it laid up, is a housing open? The first water has "
        "to go overboard. Then acknowledge and reset."
    )
