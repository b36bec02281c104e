"""`halocline rehearse`: exit status 0 as expected, 1 not as expected, 2 unusable."""

import json

import pytest

from halocline.cli.main import main

CALM = 'title = "Nothing happens"\nduration = "2s"\n[[expect]]\nalways = true\nstate = "{state}"\n'


@pytest.fixture
def scenario(tmp_path):
    def write(text: str) -> str:
        path = tmp_path / "scenario.toml"
        path.write_text(text)
        return str(path)

    return write


def status_of(*arguments: str) -> int:
    with pytest.raises(SystemExit) as ended:
        raise SystemExit(main(["rehearse", *arguments]))
    return int(ended.value.code or 0)


def test_what_comes_true_ends_with_0(scenario, capsys):
    assert status_of(scenario(CALM.format(state="standby"))) == 0
    told = capsys.readouterr().out
    assert told.startswith("Nothing happens\n===============\n")
    assert "as expected: always = true, state = standby" in told


def test_what_does_not_come_true_ends_with_1(scenario, capsys):
    assert status_of(scenario(CALM.format(state="producing"))) == 1
    assert (
        "NOT AS EXPECTED: always = true, state = producing; seen state = standby at 0:00:0" in capsys.readouterr().out
    )


def test_json_is_one_object_on_standard_output(scenario, capsys):
    assert status_of(scenario(CALM.format(state="producing")), "--json", "--seed", "7") == 1
    printed = capsys.readouterr()
    assert json.loads(printed.out)["ok"] is False
    assert printed.err == ""


def test_a_broken_file_ends_with_2_and_one_line_a_problem(scenario, capsys):
    path = scenario('titel = "x"\nduration = "soon"\n')
    assert status_of(path, "--json") == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.splitlines() == [
        f"halocline rehearse: {path}: titel: found an unknown key; allowed: a known key; did you mean title?",
        f'halocline rehearse: {path}: duration: found "soon"; allowed: a time such as "90s" or "12min", at most 31d; '
        "write a number and its unit",
    ]


def test_a_missing_file_ends_with_2_and_one_line(tmp_path, capsys):
    assert status_of(str(tmp_path / "nowhere.toml")) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "nowhere.toml" in line


def test_a_folder_that_cannot_be_written_ends_with_2(scenario, tmp_path, capsys):
    in_the_way = tmp_path / "taken"
    in_the_way.write_text("a file")
    assert status_of(scenario(CALM.format(state="standby")), "--out", str(in_the_way)) == 2
    assert capsys.readouterr().err.startswith(f"halocline rehearse: {in_the_way}: cannot be written: ")


def test_a_folder_gets_everything(scenario, tmp_path):
    assert status_of(scenario(CALM.format(state="standby")), "--out", str(tmp_path / "out")) == 0
    names = sorted(path.name for path in (tmp_path / "out").iterdir())
    assert names == ["result.json", "samples.csv", "timeline.svg", "timeline.txt"]
