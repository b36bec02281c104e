"""`halocline rehearse`: exit status, timeline, JSON, files."""

import json

import pytest

START = 'title = "A start"\nduration = "20s"\n[[step]]\nat = "5s"\ncommand = "start"\nlitres = 5\n'
MET = '[[expect]]\nby = "10s"\nstate = "priming"\n'
NOT_MET = '[[expect]]\nby = "10s"\nstate = "producing"\n'
KEYS = {
    *("title", "ok", "duration_s", "wall_s", "expectations", "states", "alarms", "commands"),
    *("first_out", "final_state", "outputs", "truth"),
}


@pytest.fixture
def scenario(tmp_path):
    def write(text):
        path = tmp_path / "scenario.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_what_was_expected_came(type_in, scenario):
    status, out, err = type_in("rehearse", scenario(START + MET))
    assert (status, err) == (0, [])
    assert any("A start" in line for line in out)


def test_an_expectation_that_is_not_met_ends_with_status_1(type_in, scenario):
    status, out, err = type_in("rehearse", scenario(START + NOT_MET), "--json")
    assert (status, err) == (1, [])
    result = json.loads("\n".join(out))
    assert result["ok"] is False
    assert [expectation["ok"] for expectation in result["expectations"]] == [False]


def test_json_is_one_object_with_every_promised_key_and_the_same_twice(type_in, scenario):
    path = scenario(START)
    first, second = (json.loads("\n".join(type_in("rehearse", path, "--json", "--seed", "7")[1])) for _ in range(2))
    assert KEYS - set(first) == set()
    assert {**first, "wall_s": 0} == {**second, "wall_s": 0}


def test_a_folder_gets_timeline_samples_and_result(type_in, scenario, tmp_path):
    status, _, err = type_in("rehearse", scenario(START), "--out", tmp_path / "out")
    assert (status, err) == (0, [])
    assert len(list((tmp_path / "out").iterdir())) >= 3


def test_a_scenario_that_cannot_be_read_names_every_problem(type_in, scenario):
    path = scenario('title = 5\nduration = "soon"\n[[step]]\nat = "5s"\ncommand = "strat"\n')
    status, out, err = type_in("rehearse", path)
    assert (status, out) == (2, [])
    assert len(err) == 3
    assert all(line.startswith(f"halocline rehearse: {path}") for line in err)


def test_a_folder_that_cannot_be_written_is_named(type_in, scenario, tmp_path):
    path = scenario(START)
    status, _, err = type_in("rehearse", path, "--out", path / "out")
    assert status == 2
    assert err == [f"halocline rehearse: {path}/out: cannot be written: Not a directory"]


def test_a_scenario_that_is_not_there_is_called_what_it_is(type_in, folder):
    status, _, err = type_in("rehearse", folder / "nope.toml")
    assert status == 2
    (line,) = err
    assert "found no such file; allowed: a scenario file" in line


def test_a_scenario_far_too_large_is_not_looked_at_as_a_configuration(type_in, scenario):
    (line,) = type_in("rehearse", scenario("#" * 300_000))[2]
    assert line.endswith("found a file too large; allowed: up to 256 KiB; check that this is a scenario file")
