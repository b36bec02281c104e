"""Each command reaches control as it was typed, and the answer comes back with every reason."""

import json

import pytest

from halocline.app.paths import control_sockets
from halocline.config import demo_text

ALWAYS = {"origin": "cli"}


@pytest.mark.parametrize(
    ("typed", "command", "arguments"),
    [
        (("start",), "start", {}),
        (("start", "--litres", "40"), "start", {"litres": 40.0}),
        (("start", "--litres", "2,5"), "start", {"litres": 2.5}),
        (("start", "--minutes", "30"), "start", {"minutes": 30.0}),
        (("start", "--until", "18:30"), "start", {"until": "18:30"}),
        (("stop",), "stop", {}),
        (("flush", "--litres", "12"), "flush", {"litres": 12.0}),
        (("acknowledge",), "acknowledge", {}),
        (("acknowledge", "flush_due"), "acknowledge", {"alarm": "flush_due"}),
        (("reset",), "reset", {}),
        (("silence",), "silence", {}),
        (("shelve", "flush_due", "--minutes", "90"), "shelve", {"alarm": "flush_due", "minutes": 90.0}),
        (("recommission",), "recommission", {}),
        (
            ("log", "add", "purge_confirmed", "--confirmed", "ph_strip"),
            "log",
            {"kind": "purge_confirmed", "note": "", "confirmed": ["ph_strip"]},
        ),
        (("bench", "beacon", "--seconds", "2"), "bench", {"output": "beacon", "seconds": 2.0}),
        (("service-lock", "Anna", "filter open"), "service_lock", {"name": "Anna", "reason": "filter open"}),
        (("service-unlock",), "service_unlock", {}),
        (
            ("calibrate", "feed_pressure", "--now", "0", "--initials", "MB"),
            "calibrate",
            {"channel": "feed_pressure", "points": [[None, 0.0]], "initials": "MB"},
        ),
        (
            ("calibrate", "battery-voltage", "--point", "12", "12.2", "--point", "14", "14,4", "--initials", "MB"),
            "calibrate",
            {"channel": "battery_voltage", "points": [[12.0, 12.2], [14.0, 14.4]], "initials": "MB"},
        ),
        (("calibrate", "membrane", "--initials", "MB"), "calibrate", {"channel": "membrane", "initials": "MB"}),
        (
            ("calibrate", "all", "--configured", "--initials", "MB"),
            "calibrate",
            {"channel": "all", "configured": True, "initials": "MB"},
        ),
        (("fault", "adc_hang", "address=0x48"), "fault", {"fault": "adc_hang", "address": 0x48}),
        (
            ("fault", "sensor_offset", "channel=tank_fill", "value=-2.5", "--clear"),
            "fault",
            {"fault": "sensor_offset", "channel": "tank_fill", "value": -2.5, "clear": True},
        ),
    ],
)
def test_a_command_arrives_as_it_was_typed(type_in, control, typed, command, arguments):
    status, out, err = type_in(*typed, "--data", control.folder)
    heard = control.heard.get(timeout=1.0)
    assert (status, err) == (0, [])
    assert heard.pop("id")
    assert heard.pop("who")
    assert heard == {"command": command, "origin": "cli", **arguments}
    assert out[0].endswith(": accepted")
    assert out[1].startswith("At rest")


def test_an_accepted_command_as_json(type_in, control):
    status, out, err = type_in("stop", "--json", "--data", control.folder)
    assert (status, err) == (0, [])
    assert json.loads("\n".join(out)) == {"accepted": True, "reasons": []}


def test_a_refusal_lists_every_reason_with_its_remedy(type_in, control):
    control.accepted = False
    control.reasons = [
        {"id": "flushing_now", "values": {}},
        {"id": "locked", "values": {"name": "Anna", "reason": "filter open"}},
    ]
    status, out, err = type_in("start", "--data", control.folder)
    assert (status, err) == (1, [])
    assert out[0] == "start: refused"
    assert len(out) == 3
    assert out[1].startswith("  - ")
    assert "Anna" in out[2]
    status, out, _ = type_in("start", "--json", "--data", control.folder)
    answer = json.loads("\n".join(out))
    assert (status, answer["accepted"], len(answer["reasons"])) == (1, False, 2)


@pytest.mark.parametrize("typed", [("start",), ("wait", "--allowed", "start", "--minutes", "0.01")])
def test_reasons_and_state_come_in_the_units_of_the_boat(type_in, control, tmp_path, typed):
    own = tmp_path / "own.toml"
    own.write_text(demo_text().replace("[units]", '[units]\npressure = "psi"'), "utf-8")
    against = {"id": "pressure_present", "values": {"pressure_bar": 20.0, "limit_bar": 5.0}}
    control.accepted, control.reasons = False, [against]
    control.now = {**control.now, "refused": {"start": [against]}}
    _, out, err = type_in(*typed, "--config", str(own), "--data", control.folder)
    assert err == []
    assert any("290 psi" in line for line in out), out  # 20 bar; 1 bar is 14.504 psi (NIST SP 811)


def test_a_fault_without_an_equals_sign_is_not_understood(type_in, control):
    assert type_in("fault", "prefilter_clogged", "severity", "--data", control.folder) == (
        2,
        [],
        ["halocline fault: severity: write KEY=VALUE, such as severity=0.8"],
    )
    assert control.heard.empty()


def test_a_fault_keeps_a_number_that_json_cannot_carry_as_text(type_in, control):
    type_in("fault", "sensor_offset", "value=nan", "--data", control.folder)
    assert control.heard.get(timeout=1.0)["value"] == "nan"


def test_status_tells_boat_sentence_readings_and_doubt(type_in, control):
    status, out, err = type_in("status", "--data", control.folder)
    assert (status, err) == (0, [])
    assert out[0] == "Cagarra, SIMULATED"
    assert out[1].startswith("At rest")
    assert "  membrane pressure      0.2 bar" in out
    assert any(line.startswith("  tank level") and line.endswith(")") for line in out)


FLOW = {"value": 58.0, "raw": 100.0, "unit": "L/h", "quality": "good", "age_s": 0.1}


@pytest.mark.parametrize(
    ("flow", "doubt"),
    [
        (FLOW, ""),
        ({**FLOW, "value": 0.0}, "  (no product flows: what stands at the probe, or a dry probe)"),
        ({**FLOW, "quality": "stale"}, "  (whether product flows is not known)"),
        ({**FLOW, "value": None, "quality": "open"}, "  (whether product flows is not known)"),
        (None, "  (whether product flows is not known)"),
    ],
)
def test_status_says_whether_the_salt_is_that_of_flowing_product(type_in, control, flow, doubt):
    control.now["derived"] = {"product_tds_mg_l": 149.0}
    others = {name: reading for name, reading in control.now["readings"].items() if name != "product_flow"}
    control.now["readings"] = others if flow is None else {**others, "product_flow": flow}
    _, out, _ = type_in("status", "--data", control.folder)
    assert f"  salt in product        149 mg/L{doubt}" in out


def test_status_of_an_unknown_salt_says_nothing_of_flow(type_in, control):
    control.now["derived"] = {"product_tds_mg_l": None}
    _, out, _ = type_in("status", "--data", control.folder)
    assert "  salt in product        unknown" in out


def purging(left_s, confirm, tests):
    of = {"of": "preservative", "also": [], "rinsed_l": 1.0, "rinse_l": 4.0}
    return {**of, "left_s": left_s, "confirm": confirm, "tests": tests, "not_now": []}


def test_status_says_that_the_first_water_is_not_drunk_while_a_purge_is_owed(type_in, control):
    purge = purging(180.0, False, [])
    control.now["owed"] = {"flush": False, "chlorine": False, "purge": purge}
    _, out, _ = type_in("status", "--data", control.folder)
    assert "  owed                   the first water goes overboard: it may carry preservative, nobody drinks it" in out


def test_status_names_the_end_tests_and_how_they_are_confirmed(type_in, control):
    tests = ["sulphite_strip", "no_smell", "no_taste"]
    purge = purging(0.0, True, tests)
    control.now["owed"] = {"flush": False, "chlorine": False, "purge": purge}
    _, out, _ = type_in("status", "--data", control.folder)
    told = "\n".join(out)
    assert "sulphite_strip: Sulphite strip in the flowing product: it reads nil." in told
    assert "Nobody with asthma tastes" in told
    assert "halocline log add purge_confirmed --confirmed sulphite_strip no_smell no_taste" in told


def test_status_does_not_ask_twice_for_what_the_sentence_asks(type_in, control):
    control.now |= {"sentence": {"id": "standby_owed", "values": {}}, "ask": "rearm_relay"}
    control.now["owed"] = {"flush": True, "chlorine": False, "purge": None}
    _, out, _ = type_in("status", "--data", control.folder)
    assert out[1] == (
        "At rest. A fresh-water flush is owed: sea water stands in the membrane. Re-arm the relays at the plant by "
        "hand if they have dropped out; until then nothing runs."
    )
    assert not any(line.startswith("→") for line in out)


def test_an_alarm_that_comes_with_another_leaves_what_to_do_to_it(type_in, control):
    raised = {"priority": "high", "since_s": 5.0, "under": None, "values": {}}
    control.now["alarms"] = [
        {**raised, "id": "feed_pressure_low_low", "state": "unacknowledged"},
        {**raised, "id": "feed_pressure_low", "state": "suppressed", "under": "feed_pressure_low_low"},
    ]
    _, out, _ = type_in("status", "--data", control.folder)
    first, second = [line for line in out if line.startswith("! ")]
    assert ", raised): In this order: the intake seacock" in first
    assert second == "! Sea water supply weak (high priority, caused by the alarm above)"


def test_a_calibration_is_listed_in_plain_numbers(type_in, control):
    control.calibrations = [
        {
            "channel": "feed_pressure",
            "date": "2026-03-02",
            "initials": "RM",
            "before": [0.12],
            "after": [1.3e-07],
            "zero": -0.12,
            "span": 1.0,
            "pulses_per_l": None,
        }
    ]
    _, out, _ = type_in("calibrate", "--list", "--data", control.folder)
    assert out == ["pump inlet pressure: zero -0.12 bar, slope 1.0000 (0.12 bar → 0 bar)", "    2026-03-02, RM"]


def test_calibrations_are_listed_as_json_when_asked(type_in, control):
    control.calibrations = [{"channel": "product_flow", "pulses_per_l": 2112.0, "date": None, "initials": "RM"}]
    _, out, _ = type_in("calibrate", "--list", "--json", "--data", control.folder)
    assert json.loads("\n".join(out)) == {"calibrations": control.calibrations, "unreadable": False}


def test_status_tells_what_is_asked_the_alarms_and_the_run(type_in, control):
    due = {"id": "flush_due", "under": None}
    control.now |= {
        "state": "producing",
        "sentence": {"id": "stopping", "values": {}},
        "ask": "open_regulator",
        "alarms": [{**due, "state": "unacknowledged", "priority": "low", "since_s": 5.0, "values": {}}],
        "run": {"id": "b1-1", "litres": 1.5, "target_l": 40.0, "seconds": 9, "energy_wh": 3, "remaining_s": 60},
    }
    status, out, err = type_in("status", "--data", control.folder)
    assert (status, err) == (0, [])
    assert out[2].startswith("→ Open the regulator")
    assert any(line.startswith("! ") for line in out)
    assert out[-1] == "  this run               1.5 L of 40 L"


def test_status_as_json_is_the_public_snapshot(type_in, control):
    status, out, err = type_in("status", "--json", "--data", control.folder)
    assert (status, err) == (0, [])
    public = json.loads("\n".join(out))
    assert public["boat"] == "Cagarra"
    assert public["state"] == "standby"
    assert public["readings"]["tank_fill"]["value"] is None
    assert public["refused"]["reset"] == [public["refused"]["reset"][0]]


def test_check_tells_what_a_running_control_measures_and_what_to_put_right(type_in, control):
    status, out, err = type_in("check", "--simulated", "--data", control.folder)
    assert (status, err) == (1, [])
    assert out[0].startswith("SIMULATED: ")
    assert out[1] == "OK        Configuration: The configuration can be used."
    assert "            membrane pressure: 0.2 bar (measured 0.610 V)" in out
    assert "            tank level: no signal, wire or supply open (measured 0.000 V)" in out
    (told,) = (line for line in out if line.startswith("problem"))
    assert told.startswith("problem   Sensors: Tank level: more resistance than the sender has.")


def test_check_tells_how_often_a_chip_had_to_be_asked_again(type_in, control):
    control.now["retries"] = {"0x48": 0, "0x49": 3}
    _, out, _ = type_in("check", "--simulated", "--data", control.folder)
    told = [line for line in out if "asked again" in line]
    assert told == ["            chip 0x49: had to be asked again 3 times; that is noise or a loose plug"]


def test_check_of_a_running_plant_judges_no_zeros_and_says_so(type_in, control):
    readings = dict(control.now["readings"])
    readings["vessel_pressure"] = {"value": 55.0, "raw": 1.92, "unit": "bar", "quality": "good", "age_s": 0.1}
    control.now |= {"state": "producing", "contacts": {"stop_button": True}, "readings": readings}
    status, out, _ = type_in("check", "--simulated", "--data", control.folder)
    assert status == 1
    assert (
        "OK        Sensors: The plant is running: zeros, contacts and exchanged wires are judged at rest only." in out
    )
    assert [line[19:29] for line in out if line.startswith("problem")] == ["Tank level"]


def of_the_sensors(out):
    return [line for line in out if " Sensors: " in line]


def test_check_never_takes_a_simulated_boats_sensors_for_the_files(type_in, control):
    mine = control.folder / "mine.toml"
    mine.write_text(demo_text(), encoding="utf-8")  # the very same boat, but with wires of its own
    status, out, err = type_in("check", "--config", mine, "--data", control.folder)
    assert (status, err) == (0, [])
    (told,) = of_the_sensors(out)
    assert told.startswith("not seen  Sensors: The wiring was not looked at: the control that runs in ")
    assert "is a simulated boat's (Cagarra)" in told
    assert not any("membrane pressure" in line or "SIMULATED" in line for line in out)


def test_check_of_a_simulated_boat_never_takes_a_real_ones_sensors_for_it(type_in, control):
    control.hello = {"simulated": False}
    _, out, _ = type_in("check", "--simulated", "--data", control.folder)
    (told,) = of_the_sensors(out)
    assert "is a real boat's (Cagarra)" in told
    assert not any("membrane pressure" in line for line in out)


@pytest.mark.parametrize("other", [{"boat": "Painho"}, {"wiring": "00000000"}, {"wiring": None}])
def test_check_judges_no_readings_that_another_file_made(other, type_in, control):
    control.hello = other
    status, out, _ = type_in("check", "--simulated", "--data", control.folder)
    (told,) = of_the_sensors(out)
    assert (status, "measures by another wiring" in told) == (0, True)
    assert not any("membrane pressure" in line for line in out)


def test_check_says_when_another_version_still_runs(type_in, control):
    control.hello = {"version": "0.0.9"}
    _, out, _ = type_in("check", "--simulated", "--data", control.folder)
    assert any(line.startswith("warning   Version: ") and "still runs 0.0.9" in line for line in out)


def test_check_as_json_says_the_same(type_in, control):
    status, out, err = type_in("check", "--simulated", "--json", "--data", control.folder)
    told = json.loads("\n".join(out))
    assert (status, err, told["simulated"]) == (1, [], True)
    by_id = {line["id"]: line for line in told["lines"]}
    assert by_id["wiring_finding"]["found"].startswith("Tank level: more resistance")
    assert told["problems"] == 1
    assert "membrane pressure: 0.2 bar (measured 0.610 V)" in by_id["wiring_heard"]["more"]


def test_check_with_its_hands_off_does_not_take_controls_place(type_in, folder):
    status, out, _ = type_in("check", "--simulated", "--hands-off", "--data", folder)
    (told,) = of_the_sensors(out)
    assert (status, "no control runs" in told) == (0, True)
    assert not (folder / "control.lock").exists()


def test_only_controls_of_the_kind_asked_for_are_looked_for():
    real, simulated, either = (control_sockets(None, simulated=kind) for kind in (False, True, None))
    assert not set(real) & set(simulated)
    assert set(real) | set(simulated) == set(either)


def test_check_says_when_it_could_not_look_at_the_wiring(type_in, folder):
    status, out, err = type_in("check", "--simulated", "--data", folder)
    assert (status, err) == (0, [])
    said = f"not seen  Sensors: The wiring was not looked at: no simulated boat runs at {folder}; start one with "
    assert any(line.startswith(said) for line in out)


def test_the_faults_of_a_simulated_boat_are_listed_as_they_are_typed(type_in, folder, demo_boat):
    demo_boat.answer({"fault": {"fault": "sensor_offset", "channel": "feed_pressure", "value": -0.3}})
    status, out, err = type_in("fault", "--data", folder)
    assert (status, err) == (0, [])
    assert {
        "prefilter_clogged severity=0.8",
        "bilge_wet",
        "sensor_offset channel=vessel_pressure value=NUMBER",
        "valve_stuck output=product_to_tank position=on|off",
        "brine_blocked [rate_bar_per_ms=0.1]",
        "adc_hang address=0x48",
        "    address: 0x48, 0x49",
    } <= set(out)
    assert out[-2:] == ["Standing now:", "  sensor_offset feed_pressure value=-0.3"]
    demo_boat.answer({"fault": {"fault": "sensor_offset", "clear": True}})
    assert type_in("fault", "--data", folder)[1][-1] == "  nothing"


def test_without_a_simulated_boat_there_are_no_faults_to_list(type_in, folder):
    assert type_in("fault", "--data", folder) == (
        1,
        [],
        ["halocline fault: no simulated boat answers; start one (halocline run --simulated)"],
    )


def test_to_end_a_fault_it_has_to_be_named_and_those_that_stand_are_said(type_in, folder, demo_boat):
    demo_boat.answer({"fault": {"fault": "prefilter_clogged", "severity": 0.8}})
    assert type_in("fault", "--clear", "--data", folder) == (
        2,
        [],
        ["halocline fault: name the fault to end: halocline fault prefilter_clogged --clear"],
    )
    demo_boat.answer({"fault": {"fault": "prefilter_clogged", "clear": True}})
    assert type_in("fault", "--clear", "--data", folder)[2] == [
        "halocline fault: name the fault to end: none stands now"
    ]


@pytest.mark.parametrize("changed", [False, True])
def test_check_says_where_the_configuration_is_still_the_invented_boats(type_in, control, tmp_path, changed):
    text = demo_text()
    if changed:
        text = text.replace("tank_capacity_l = 300", "tank_capacity_l = 310").replace("area_m2 = 2.6", "area_m2 = 2.5")
    own = tmp_path / "own.toml"
    own.write_text(text)
    own.chmod(0o640)
    _, out, _ = type_in("check", "--config", own, "--data", control.folder)
    told = [line for line in out if "that boat is invented" in line.lower()]
    assert bool(told) is not changed
    assert all(line.startswith("warning") and "[plant], [membrane]" in line for line in told)
