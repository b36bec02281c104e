"""The rehearsal itself: real control on emulated chips, on a clock that only the rehearsal moves."""

import json
import tomllib
from pathlib import Path
from xml.etree import ElementTree

import pytest

from halocline.config import ConfigError
from halocline.control.inputs import Command
from halocline.plant import words
from halocline.rehearsal.picture import as_svg
from halocline.rehearsal.scenario import from_document, load
from halocline.rehearsal.scenario_runner import ScenarioRunner, rehearse
from halocline.rehearsal.timeline import as_text, clock_text, write_folder

FOLDER = Path(__file__).parents[1] / "rehearsals"
QUICK = (FOLDER / "stop_while_producing.toml").read_text()


def stage_of(text: str, seed: int = 1, **options) -> ScenarioRunner:
    return ScenarioRunner(from_document(tomllib.loads(text), "play.toml"), seed, **options)


def played(text: str, seed: int = 1) -> dict:
    return stage_of(text, seed).play()


def without_wall(result: dict) -> str:
    return json.dumps({key: value for key, value in result.items() if key != "wall_s"}, ensure_ascii=False)


def at_rest(duration: str, *tables: str) -> str:
    return f'duration = "{duration}"\n' + "\n".join(tables)


def expect(**conditions) -> str:
    return "[[expect]]\n" + "".join(f"{key} = {json.dumps(value)}\n" for key, value in conditions.items())


def step(**what) -> str:
    return "[[step]]\n" + "".join(f"{key} = {json.dumps(value)}\n" for key, value in what.items())


@pytest.mark.parametrize("name", ["a_little_air_in_the_suction", "vessel_pressure_sensor_loose", "bus_held_low"])
def test_the_same_file_and_seed_give_the_same_result_to_the_byte(name):
    scenario = load(FOLDER / f"{name}.toml")
    assert without_wall(rehearse(scenario, 5)) == without_wall(rehearse(scenario, 5))


def test_another_seed_gives_other_noise_and_the_same_story():
    first, second = stage_of(QUICK, 1, keep_samples=True), stage_of(QUICK, 2, keep_samples=True)
    told = [[state["state"] for state in stage.play()["states"]] for stage in (first, second)]
    assert told[0] == told[1]
    assert [sample["vessel_pressure"] for sample in first.played.samples] != [
        sample["vessel_pressure"] for sample in second.played.samples
    ]


def test_the_result_has_all_that_was_promised_and_is_plain_json():
    result = played(QUICK)
    assert list(result) == [
        "title",
        "ok",
        "duration_s",
        "wall_s",
        "expectations",
        "states",
        "alarms",
        "commands",
        "first_out",
        "final_state",
        "outputs",
        "truth",
    ]
    assert json.loads(json.dumps(result, allow_nan=False)) == result
    assert result["states"][0] == {"t": 0.0, "state": "standby", "why": "control_started"}
    assert result["final_state"] == result["states"][-1]["state"]
    assert set(result["truth"]) == {
        "peak_vessel_pressure_bar",
        "relief_lifted",
        "tank_added_l",
        "tank_worst_tds_mg_l",
        "overboard_l",
        "flush_l",
        "energy_wh",
        "hp_pump_dry_s",
    }
    assert all(set(expectation) == {"ok", "expected", "seen", "seen_at_s"} for expectation in result["expectations"])
    assert {"feed_pump", "high_pressure_pump", "product_to_tank", "flush_valve", "heartbeat"} <= set(result["outputs"])


def test_commands_and_alarms_carry_their_times_and_reasons():
    text = at_rest("6s", step(at="1s", fault="stop_button"), step(at="3s", command="start", litres=3))
    result = played(text)
    (start,) = result["commands"]
    assert start["t"] == pytest.approx(3.0, abs=0.1)
    assert (start["command"], start["accepted"]) == ("start", False)
    assert start["reasons"][0] == "A safety stop stands. Find its cause, acknowledge it and reset."
    (alarm,) = result["alarms"]
    assert alarm == {
        "t": pytest.approx(1.1, abs=0.15),
        "id": "stop_button",
        "to": "unacknowledged",
        "priority": "urgent",
    }
    assert result["first_out"] == "stop_button"


def test_the_truth_is_the_plants_and_not_the_sensors():
    drifting = QUICK + step(at="20s", fault="sensor_offset", channel="vessel_pressure", value=-2.0)
    assert played(drifting)["truth"]["peak_vessel_pressure_bar"] > 54.0
    told = stage_of(drifting, keep_samples=True)
    told.play()
    late = [sample["vessel_pressure"] for sample in told.played.samples if 22.0 < sample["t"] < 39.0]
    assert 52.5 < min(late) <= max(late) < 53.5


def test_no_expectation_means_that_all_is_well():
    assert played(at_rest("1s"))["ok"] is True


def test_expectations_are_held_against_their_times():
    trip = step(at="2s", fault="stop_button")
    met = [
        expect(at="1s", state="standby"),
        expect(by="3s", state="tripped", first_out="stop_button"),
        expect(never=True, output="high_pressure_pump", value=True),
        expect(always=True, tank_litres_max=0, peak_pressure_max=1),
        expect(alarm="stop_button"),
    ]
    missed = [
        expect(at="3s", state="standby"),
        expect(by="1s", state="tripped"),
        expect(never=True, state="tripped"),
        expect(always=True, state="standby"),
        expect(state="standby"),
        expect(tank_litres_min=1),
        expect(output="heartbeat", value=True),
    ]
    result = played(at_rest("4s", trip, *met, *missed))
    assert [expectation["ok"] for expectation in result["expectations"]] == [True] * len(met) + [False] * len(missed)
    assert result["ok"] is False
    by_1s = result["expectations"][len(met) + 1]
    assert by_1s["seen"] == {"state": "standby"}
    assert by_1s["seen_at_s"] == pytest.approx(1.0, abs=0.1)


def test_water_that_never_flowed_to_the_tank_is_not_bad_water():
    result = played(at_rest("1s", expect(always=True, tank_tds_max=1)))
    assert result["ok"]
    assert result["truth"]["tank_worst_tds_mg_l"] is None


def test_a_time_of_day_counts_from_the_rehearsals_own_noon():
    states = rehearse(load(FOLDER / "run_until_a_time.toml"))["states"]
    (stopping,) = [state["t"] for state in states if state["state"] == "stopping"]
    assert stopping == pytest.approx(60.0, abs=0.15)


def test_pressure_is_looked_at_every_few_milliseconds_while_it_moves_fast():
    stage = ScenarioRunner(load(FOLDER / "brine_blocked_at_1_0_bar_a_millisecond.toml"), 1)
    result = stage.play()
    tripped_s = next(state["t"] for state in result["states"] if state["state"] == "tripped")
    assert 35.0 < tripped_s < 35.03, "sooner than the next tick"


def test_a_bus_held_low_ends_and_is_no_overrun():
    stage = stage_of(at_rest("3s", step(at="1s", fault="i2c_stuck")))
    result = stage.play()
    assert stage.core.last is not None
    assert stage.core.last.inputs.lost_chips == (0x48, 0x49)
    assert result["alarms"] == []


def test_a_fault_by_command_is_played_like_one_by_the_file():
    stage = stage_of(at_rest("2s"))
    stage.give(Command("fault", {"fault": "stop_button"}))
    assert stage.play()["first_out"] == "stop_button"


def test_a_wiring_no_board_can_have_is_told_before_anything_is_played():
    with pytest.raises(ConfigError) as raised:
        stage_of(at_rest("1s", "[settings.outputs.pressure_release]\npin = 7"))
    assert [str(problem) for problem in raised.value.problems] == [
        "play.toml: settings: found pressure_release: GPIO 7 is pulled up while the computer starts, which could "
        "close the relay; use GPIO 9 to 27; allowed: a wiring that can be; choose other pins"
    ]


def test_a_timeline_tells_the_story_in_order():
    stage = stage_of(QUICK + step(at="36s", fault="battery_sag", volts=0.5))
    text = as_text(stage.play(), stage.played)
    lines = text.splitlines()
    assert lines[0] == "Stop in the middle of a run"
    story = [line for line in lines if line[:10].strip().count(":") == 2]
    assert [line[:10] for line in story] == sorted(line[:10] for line in story)
    assert any("> start: accepted" in line for line in story)
    assert any(line.endswith("* Battery sags (battery_sag volts=0.5)") for line in story)
    assert "as expected" in text
    assert "NOT AS EXPECTED" not in text
    assert clock_text(3725.25) == "1:02:05.2"


def test_a_folder_holds_timeline_samples_and_result(tmp_path):
    stage = stage_of(QUICK, keep_samples=True)
    result = stage.play()
    write_folder(tmp_path / "played", result, stage.played)
    assert json.loads((tmp_path / "played/result.json").read_text()) == result
    assert (tmp_path / "played/timeline.txt").read_text() == as_text(result, stage.played) + "\n"
    rows = (tmp_path / "played/samples.csv").read_text().splitlines()
    assert {"t", "state", "vessel_pressure", "true_vessel_pressure_bar"} <= set(rows[0].split(","))
    assert len(rows) == len(stage.played.samples) + 1 >= 60


def test_a_reason_in_the_timeline_has_its_numbers():
    stage = ScenarioRunner(load(FOLDER / "regulator_left_half_open.toml"), 1)
    assert "unknown" not in as_text(stage.play(), stage.played)


def test_the_picture_is_sound_and_shows_every_state_and_alarm():
    stage = ScenarioRunner(load(FOLDER / "prefilter_clogs.toml"), 1, keep_samples=True)
    picture = as_svg(stage.play(), stage.played.samples)
    root = ElementTree.fromstring(picture)
    told = {title.text for title in root.iter("{http://www.w3.org/2000/svg}title")}
    assert {words.state_name(state["state"]) for state in stage.played.states} <= told
    assert {words.alarm_name("feed_pressure_low"), words.alarm_name("feed_pressure_low_low")} <= told
    curves = [path for path in root.iter("{http://www.w3.org/2000/svg}path") if path.get("stroke-width") == "1.5"]
    assert len(curves) >= 6


def test_a_title_cannot_break_the_picture():
    stage = stage_of('title = "<b> & \\u0022"\nduration = "2s"', keep_samples=True)
    root = ElementTree.fromstring(as_svg(stage.play(), stage.played.samples))
    assert '<b> & "' in {text.text for text in root.iter("{http://www.w3.org/2000/svg}text")}
