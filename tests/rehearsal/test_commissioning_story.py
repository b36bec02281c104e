"""A commissioning as it is played at the plant: what can be measured is not taken on a signature.

Nothing passes a membrane below the sea's osmotic pressure, some 28 bar at 35 g/kg and 25 °C
(tests/published/test_seawater.py): what runs in the product's hose with the feed pump alone is brine.
"""

import tomllib

from halocline.plant.commissioning import SAFETY_LIST
from halocline.rehearsal.scenario import from_document
from halocline.rehearsal.scenario_runner import ScenarioRunner

SHORT = """
title = "Commissioning"
duration = "{duration}"
[plant]
diverter_travel_s = "200ms"
probe_lag_s = "500ms"
hand_open_s = "500ms"
[settings.drive]
raise_bar_s = 5
[settings.limits]
pressure_rise_warn_bar_s = 10
pressure_rise_trip_bar_s = 30
[settings.plant]
feed_side_volume_l = 0.15
product_side_volume_l = 0.06
wetted_volume_l = 0.4
[settings.sequence]
prime_s = "1s"
prime_after_opening_s = "20s"
regulator_check_s = "1500ms"
settle_s = "2s"
quality_hold_s = "6s"
first_product_l = 0.2
flush_l = 1.2
"""


FEED = {"command": "bench", "output": "feed_pump", "seconds": 12}
RUN_ENDS_S = 80


def sign(step, **more):
    return {"command": "log", "kind": "commissioned", "step": step, **more}


def play(*steps, duration="120s"):
    """Plays (seconds, table) on the simulated boat: what became of each command in order, the stage, the result."""
    document = tomllib.loads(SHORT.format(duration=duration))
    document["step"] = [{"at": f"{at_s}s", **table} for at_s, table in steps]
    stage = ScenarioRunner(from_document(document, "story"), 1)
    result = stage.play()
    return [(one["accepted"], " ".join(one["reasons"])) for one in result["commands"]], stage, result


def test_what_was_not_seen_cannot_be_signed():
    wanted = {
        "air": "Let it run 20 s more",
        "low_pressure": "Let it run 20 s more",
        "hoses_at_rest": "meter was not seen standing still",
        "hoses": "Fresh product was not seen under pressure",
        "first_water": "Fresh product was not seen under pressure",
        "flush": "No flush was finished",
        "baseline": "The membrane has no baseline",
        "output_feed_pump": "The feed pump was not tried",
        "safety": "The safety list is not complete",
        "nonsense": "Unknown step",
    }
    outcomes, _, _ = play(*((3 + n, sign(step)) for n, step in enumerate(wanted)), duration="20s")
    for (step, reason), (accepted, said) in zip(wanted.items(), outcomes, strict=True):
        assert not accepted, step
        assert reason in said


def test_a_plant_in_order_is_commissioned_step_by_step():
    listed = [
        (2, sign("begun")),
        (3, sign("safety", confirmed=list(SAFETY_LIST))),
        (4, sign("chain", note="four contacts")),
        (5, FEED),
        (18, FEED),
        (31, sign("output_feed_pump")),
        (32, sign("zeros")),
        (33, sign("air")),
        (34, sign("low_pressure")),
        (35, sign("hoses_at_rest")),
        (40, {"command": "start", "litres": 0.2}),
        (RUN_ENDS_S, sign("hoses")),
        (RUN_ENDS_S + 1, sign("high_pressure")),
        (RUN_ENDS_S + 2, sign("first_water")),
        (RUN_ENDS_S + 3, {"command": "stop"}),
        (115, sign("flush")),
    ]
    outcomes, stage, result = play(*listed, duration="118s")
    assert [said for accepted, said in outcomes if not accepted] == []
    signed = [event for event in stage.played.events if event["kind"] == "log"]
    assert len(signed) == len([table for _, table in listed if table["command"] == "log"])
    hoses = next(event for event in signed if event["step"] == "hoses")
    assert hoses["seen"]["product_tds_mg_l"] < 1500
    assert hoses["seen"]["vessel_pressure_bar"] > 20
    assert result["truth"]["tank_worst_tds_mg_l"] is None or result["truth"]["tank_worst_tds_mg_l"] < 500


def test_exchanged_hoses_are_found_before_the_tank_can_ever_open():
    outcomes, _, result = play(
        (1, {"fault": "hoses_swapped"}),
        (5, FEED),
        (18, FEED),
        (31, sign("hoses_at_rest")),
        (40, {"command": "start", "litres": 0.2}),
        (RUN_ENDS_S, sign("hoses")),
        (RUN_ENDS_S + 1, sign("first_water")),
        duration="100s",
    )
    *_, (at_rest, said), (started, why), (pressed, _), (first, _) = outcomes
    assert (at_rest, started, pressed, first) == (False, False, False, False)
    assert "runs through the product's meter" in said
    assert "exchange the two hoses" in said
    assert "product conductivity is not good: above its range" in why  # brine stands in the product's cell
    assert result["truth"]["tank_added_l"] == 0


def test_exchanged_hoses_that_nobody_looked_for_stop_the_first_run():
    outcomes, _, result = play(
        (2, {"command": "start", "litres": 0.2}),
        (2.5, {"fault": "hoses_swapped"}),
        (40, sign("hoses")),
        duration="45s",
    )
    assert outcomes[0][0]
    assert not outcomes[-1][0]
    assert result["first_out"] == "product_salty_at_once"
    assert result["truth"]["tank_added_l"] == 0


def test_a_meter_that_gives_no_pulses_proves_nothing_of_the_hoses_under_pressure():
    outcomes, _, _ = play(
        (1, {"fault": "pulses_lost", "channel": "product_flow"}),
        (40, {"command": "start", "litres": 0.2}),
        (RUN_ENDS_S, sign("hoses")),
        duration="90s",
    )
    assert not outcomes[-1][0]
    assert "Fresh product was not seen under pressure" in outcomes[-1][1]


def test_what_was_seen_and_not_signed_is_seen_again_after_a_restart_of_control():
    """Memory only: a proof never outlives the control that saw it."""
    outcomes, stage, _ = play((5, FEED), (18, sign("output_feed_pump")), duration="20s")
    assert outcomes[-1][0]
    again, _, _ = play((5, sign("output_feed_pump")), duration="8s")
    assert not again[-1][0]
    assert "output_feed_pump" in {event.get("step") for event in stage.played.events}
