import contextlib
import json
import sqlite3

import pytest

from halocline.cli.main import main


def test_as_json_it_is_one_object_that_says_what_is_missing(evening, capsys):
    assert main(["health", "--data", str(evening.parent), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["schema"] == 1
    assert set(said["quantities"]) == {"flow", "salt_passage", "pressure_drop", "filter_drop"}
    assert all(not told["enough"] and told["why"] for told in said["quantities"].values())


def test_for_people_it_is_a_page_of_text(evening, capsys):
    assert main(["health", "--data", str(evening.parent)]) == 0
    text = capsys.readouterr().out
    assert text.startswith("The record does not tell yet how the plant is.")
    assert "Product flow: not known yet" in text
    assert max(map(len, text.splitlines())) < 130


def test_before_the_first_run_there_is_an_answer_too(evening, capsys):
    assert main(["health", "--data", str(evening.parent), "--at", "2020-01-01", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["running_hours"] == 0.0


def test_a_folder_without_a_record_is_one_line(tmp_path, capsys):
    assert main(["health", "--data", str(tmp_path)]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "there is no record in" in line


def test_a_time_that_is_none_is_one_line(tmp_path, capsys):
    with pytest.raises(SystemExit):
        main(["health", "--data", str(tmp_path), "--at", "yesterday"])
    assert "yesterday is no time" in capsys.readouterr().err


@pytest.mark.parametrize(("at", "fitted"), [([], True), (["--at", "2020-01-01"], False)])
def test_of_a_moment_before_the_first_steady_run_no_later_settings_are_told(evening, capsys, at, fitted):
    with contextlib.closing(sqlite3.connect(evening)) as connection:
        connection.execute("UPDATE boots SET configuration = ?", ['{"inputs": {"filter_inlet_pressure": {}}}'])
        connection.execute("DELETE FROM steady_periods")
        connection.commit()
    main(["health", "--data", str(evening.parent), "--json", *at])
    assert json.loads(capsys.readouterr().out)["quantities"]["filter_drop"]["measured"] is fitted
