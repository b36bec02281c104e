"""What is wrong with a scenario file is said in one line a problem, all of them at once, before anything is played."""

import tomllib

import pytest

from halocline.config import ConfigError
from halocline.rehearsal.scenario import from_document, load

FAULT = '[[step]]\nat = "1s"\nfault = '
COMMAND = '[[step]]\nat = "1s"\ncommand = '
EXPECT = "[[expect]]\nalways = true\n"
A_TIME = 'allowed: a time such as "90s" or "12min", at most 31d; write a number and its unit'
CHANNELS = (
    "vessel_pressure, feed_pressure, product_conductivity, sea_temperature, filter_inlet_pressure, "
    "battery_voltage, battery_current, tank_fill, product_flow, flush_flow"
)
CONDITIONS = (
    "state, first_out, alarm, says, output, value, tank_litres_min, tank_litres_max, tank_tds_max, peak_pressure_max"
)

BROKEN = {
    "a misspelt key of the file": (
        'titel = "x"',
        "titel: found an unknown key; allowed: a known key; did you mean title?",
    ),
    "a key unlike any": (
        "colour = 3",
        "colour: found an unknown key; allowed: a known key; "
        "one of title, duration, stood, plant, settings, step, expect",
    ),
    "a title that is no text": ("title = 3", "title: found 3; allowed: text; write it in quotes"),
    "steps that are no tables": (
        "step = 3",
        "step: found 3; allowed: tables written as [[step]]; write [[step]] above each",
    ),
    "a step with two things to do": (
        COMMAND + '"start"\nfault = "bilge_wet"',
        "step 1: found both; allowed: a command or a fault; name one of the two",
    ),
    "a step with nothing to do": (
        '[[step]]\nat = "1s"',
        "step 1: found neither; allowed: a command or a fault; name one of the two",
    ),
    "a step without a time": ('[[step]]\ncommand = "stop"', f"step 1.at: found nothing; {A_TIME}"),
    "a step before the beginning": ('[[step]]\nat = "-3s"\ncommand = "stop"', f'step 1.at: found "-3s"; {A_TIME}'),
    "a misspelt command": (
        COMMAND + '"strat"',
        'step 1.command: found "strat"; allowed: a known name; did you mean start?',
    ),
    "a command that is a list": (
        COMMAND + '["start"]',
        "step 1.command: found a list of 1; allowed: a known name; did you mean start?",
    ),
    "a misspelt argument of a command": (
        COMMAND + '"start"\nliters = 4',
        'step 1.command: found "start"; allowed: what that command takes; “liters” is not known here. '
        "Known: litres, minutes, until, confirmed.",
    ),
    "an argument of the wrong type": (
        COMMAND + '"start"\nlitres = "4"',
        'step 1.command: found "start"; allowed: what that command takes; “litres” should be a number. '
        "Correct it and try again.",
    ),
    "an argument that is not a number": (
        COMMAND + '"start"\nlitres = nan',
        'step 1.command: found "start"; allowed: what that command takes; “litres” should be a number. '
        "Correct it and try again.",
    ),
    "a misspelt alarm": (
        COMMAND + '"acknowledge"\nalarm = "bilge_wett"',
        'step 1.alarm: found "bilge_wett"; allowed: a known name; did you mean bilge_wet?',
    ),
    "a misspelt fault": (
        FAULT + '"prefilter_cloged"\nseverity = 1',
        'step 1.fault: found "prefilter_cloged"; allowed: a known name; did you mean prefilter_clogged?',
    ),
    "a misspelt argument of a fault": (
        FAULT + '"prefilter_clogged"\nseverty = 1',
        'step 1.fault: found "prefilter_clogged"; allowed: what that fault takes; '
        "fault prefilter_clogged has no argument 'severty'; it takes severity",
    ),
    "a fault without its argument": (
        FAULT + '"prefilter_clogged"',
        'step 1.fault: found "prefilter_clogged"; allowed: what that fault takes; '
        "fault prefilter_clogged needs severity, a number from 0 to 1",
    ),
    "a severity that is not a number": (
        FAULT + '"prefilter_clogged"\nseverity = nan',
        'step 1.fault: found "prefilter_clogged"; allowed: what that fault takes; '
        "fault prefilter_clogged: severity is nan; give a number from 0 to 1",
    ),
    "a severity in words": (
        FAULT + '"prefilter_clogged"\nseverity = "much"',
        'step 1.fault: found "prefilter_clogged"; allowed: what that fault takes; '
        "fault prefilter_clogged: severity is 'much'; give a number from 0 to 1",
    ),
    "a channel the boat does not have": (
        FAULT + '"sensor_open"\nchannel = "feed_presure"',
        'step 1.fault: found "sensor_open"; allowed: what that fault takes; '
        f"fault sensor_open: channel 'feed_presure' is none of {CHANNELS}; did you mean feed_pressure?",
    ),
    "a chip the boat does not have": (
        FAULT + '"adc_missing"\naddress = 0x4b',
        'step 1.fault: found "adc_missing"; allowed: what that fault takes; '
        "fault adc_missing: address 0x4b is none of 0x48, 0x49",
    ),
    "a command that is to be cleared": (
        COMMAND + '"stop"\nclear = true',
        "step 1.clear: found true; allowed: true beside a fault; remove it or write clear = true",
    ),
    "an expectation of nothing": (
        EXPECT,
        f"expect 1: found nothing; allowed: one of {CONDITIONS}; say what is expected",
    ),
    "a misspelt condition": (
        EXPECT + 'state = "tripped"\nfirstout = "bilge_wet"',
        "expect 1.firstout: found an unknown key; allowed: a known key; did you mean first_out?",
    ),
    "a state that does not exist": (
        EXPECT + 'state = "triped"',
        'expect 1.state: found "triped"; allowed: a known name; did you mean tripped?',
    ),
    "a state that is a list": (
        EXPECT + 'state = ["tripped"]',
        "expect 1.state: found a list of 1; allowed: a known name; did you mean tripped?",
    ),
    "two times": (
        '[[expect]]\nby = "1s"\nat = "1s"\nstate = "tripped"',
        "expect 1: found at and by; allowed: one of at, by, always, never; keep one",
    ),
    "never set to false": (
        '[[expect]]\nnever = false\nstate = "tripped"',
        "expect 1.never: found false; allowed: true; write never = true",
    ),
    "a limit that is not a number": (
        EXPECT + "tank_tds_max = nan",
        "expect 1.tank_tds_max: found nan; allowed: a finite number; write a finite number",
    ),
    "an output without its value": (
        EXPECT + 'output = "feed_pump"',
        "expect 1: found one of output and value; allowed: both together; write both",
    ),
    "an output's value as a number": (
        EXPECT + 'output = "feed_pump"\nvalue = 1',
        "expect 1.value: found 1; allowed: true or false; write true or false",
    ),
    "a misspelt key of the plant": (
        "[plant]\nsalinty_g_kg = 3",
        "plant.salinty_g_kg: found an unknown key; allowed: the keys of [plant]; did you mean salinity_g_kg?",
    ),
    "a sea that does not exist": (
        "[plant]\nsalinity_g_kg = 300",
        "plant.salinity_g_kg: found 300 g/kg; allowed: 1 to 45 g/kg; check the number and its unit (g/kg)",
    ),
    "a tank that overflows": (
        "[plant]\ntank_litres = 500",
        "plant.tank_litres: found 500 L; allowed: at most the tank's 300 L; give less",
    ),
    "a plant that is no table": (
        "plant = 3",
        "plant: found 3; allowed: a table; write [plant] on a line of its own and its keys below",
    ),
    "settings that are no table": (
        "settings = 3",
        "settings: found 3; allowed: a table; write [settings.limits] and so on",
    ),
}


def problems_of(text: str) -> list[str]:
    with pytest.raises(ConfigError) as raised:
        from_document(tomllib.loads(text), "filters.toml")
    return [str(problem) for problem in raised.value.problems]


@pytest.mark.parametrize(("text", "problem"), BROKEN.values(), ids=BROKEN)
def test_a_broken_scenario_is_told_in_one_line(text, problem):
    assert problems_of(f'duration = "10s"\n{text}') == [f"filters.toml: {problem}"]


@pytest.mark.parametrize(
    ("text", "found"),
    [("", "nothing"), ("duration = 5", "5"), ('duration = "-5s"', '"-5s"'), ("duration = nan", "nan")],
)
def test_a_scenario_needs_a_length(text, found):
    assert problems_of(text) == [f"filters.toml: duration: found {found}; {A_TIME}"]


def test_settings_are_judged_like_a_configuration():
    assert problems_of('duration = "1s"\n[settings.limits]\nvessel_pressure_high_high_bar = 50') == [
        "filters.toml: [settings]: limits.vessel_pressure_high_bar: found 60 bar; allowed: below "
        "limits.vessel_pressure_high_high_bar (50 bar); lower it: each protection must act before the next"
    ]


def test_all_problems_are_told_at_once():
    text = 'titel = "x"\n[plant]\nsalinity_g_kg = 300\n' + COMMAND + '"strat"\n' + EXPECT + 'state = "triped"'
    told = problems_of(text)
    assert len(told) == 5
    assert all(line.startswith("filters.toml: ") for line in told)


def test_a_file_that_is_no_toml_is_told_with_its_line(tmp_path):
    path = tmp_path / "torn.toml"
    path.write_text('title = "x\nduration = "1s"\n')
    with pytest.raises(ConfigError, match=r"torn\.toml, line 1: ") as raised:
        load(path)
    assert len(raised.value.problems) == 1


def test_a_file_that_is_not_there_is_told(tmp_path):
    with pytest.raises(ConfigError, match=r"missing\.toml"):
        load(tmp_path / "missing.toml")


def test_what_a_scenario_leaves_out_is_the_demonstration_boat():
    scenario = from_document(tomllib.loads('duration = "90s"'), "calm.toml")
    assert scenario.title == "calm"
    assert scenario.duration_s == 90.0
    assert scenario.settings.boat.name == "Cagarra"
    assert scenario.settings.drive.pump == "relay"
    assert scenario.settings.drive.regulator == "hand_each_run"
    assert not scenario.settings.sequence.attendance
    assert not scenario.settings.sequence.start_questions
    assert scenario.settings.sequence.run_limit_s >= 2 * 3600
    parameters = scenario.parameters
    assert parameters.tank_capacity_l - parameters.tank_litres == pytest.approx(200.0)
    assert parameters.relief_bar == 69.0
    assert parameters.noise_lsb >= 2.0
    assert parameters.diverter_travel_s <= 1.0
    assert parameters.probe_lag_s <= 10.0
    assert (scenario.steps, scenario.expectations) == ((), ())


def test_the_plant_follows_the_settings_and_what_is_written_comes_last():
    text = (
        'duration = "1s"\n[settings.plant]\nsea_salinity_g_kg = 20\ntank_capacity_l = 400\n[plant]\ntemperature_c = 9\n'
    )
    parameters = from_document(tomllib.loads(text), "x.toml").parameters
    assert (parameters.salinity_g_kg, parameters.tank_capacity_l, parameters.temperature_c) == (20.0, 400.0, 9.0)


def test_steps_are_taken_in_the_order_of_their_times():
    text = 'duration = "9s"\n' + "".join(f'[[step]]\nat = "{at}"\ncommand = "stop"\n' for at in ("3s", "1s", "2s"))
    assert [step.at_s for step in from_document(tomllib.loads(text), "x.toml").steps] == [1.0, 2.0, 3.0]


def test_a_fault_is_cleared_without_its_arguments():
    text = 'duration = "9s"\n' + FAULT + '"prefilter_clogged"\nclear = true'
    (step,) = from_document(tomllib.loads(text), "x.toml").steps
    assert (step.fault, step.clear, dict(step.arguments)) == ("prefilter_clogged", True, {})
