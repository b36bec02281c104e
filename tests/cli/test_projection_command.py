"""`halocline projection`: one point, a table, JSON, a picture, and refusals of one line."""

from __future__ import annotations

import argparse
import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from halocline.cli import projection
from halocline.cli.line_plot import Line, Panel, plot
from halocline.physics.membrane import Caution, Membrane, project
from halocline.plant.svg import ticks


def run(*arguments: str) -> int:
    parser = argparse.ArgumentParser()
    projection.add_parser(parser.add_subparsers())
    args = parser.parse_args(["projection", *arguments])
    return int(args.handler(args))


def test_without_options_the_demo_plant_is_described(capsys: pytest.CaptureFixture[str]) -> None:
    assert run() == 0
    text = capsys.readouterr().out
    assert text.startswith("The demonstration's plant with a new element; give your own membrane and feed by options.")
    assert "Membrane: A 1.6 L/m²/h/bar, B 0.192 L/m²/h at 25 °C, 2.6 m²; feed 340 L/h" in text
    assert "Sea: 38 g/kg at 24 °C, osmotic pressure 28.0 bar; 55 bar at the membrane" in text
    assert "Product         69.5 L/h" in text
    assert "Salt             357 mg/L (734 µS/cm at 25 °C; taste: good)" in text
    assert "Recovery       20.5%" in text
    assert "it says nothing about germs, boron or oil" in text
    assert "Warning" not in text


def test_figures_of_ones_own_membrane_are_not_said_to_be_the_demonstrations(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--area", "7.4", "--nameplate-flow", "6") == 0
    assert capsys.readouterr().out.startswith("Membrane: ")


def test_one_point_warns_in_sentences(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--pressure", "3") == 0
    text = capsys.readouterr().out
    assert (
        "Warning: 3 bar looks like the pressure at the pump's inlet: enter the pressure at the membrane's inlet" in text
    )
    assert "taste" in text


def test_a_table_has_a_row_for_each_point_and_notes_for_warnings(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--temperature", "18,24", "--pressure", "20,50:60:5", "--salinity", "36,38") == 0
    lines = capsys.readouterr().out.splitlines()
    rows = [line for line in lines if line[:2] in {"18", "24"}]
    assert len(rows) == 16
    found = project(Membrane.from_nameplate(2.4, 0.994, 2.6), 36.0, 18.0, 50.0, 340.0)
    flow, salt = f"{found.product_flow_l_h:.1f}", f"{found.product_tds_mg_l:.0f}"
    assert rows[1].split()[:6] == ["18", "50", "36", flow, salt, f"{found.recovery:.1%}"]
    assert rows[0].split()[-2:] == ["a", "b"]
    notes = "\n".join(lines[-3:])
    assert "  a  20 bar does not overcome the osmotic pressure of this feed, 25.9 bar: hardly any water" in notes
    assert "  b  Salt 9265 mg/L is above the accept limit of 500: this water would go overboard." in notes
    assert "  c  Recovery 25.4% is above 25.0%: the membrane scales and fouls quickly." in notes


def test_json_carries_every_number_the_text_rounds(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--json", "--pressure", "55,65", "--area", "2.6") == 0
    said = json.loads(capsys.readouterr().out)
    membrane = Membrane(**said["membrane"])
    first, second = said["points"]
    expected = project(membrane, 38.0, 24.0, 55.0, 340.0)
    assert first["product_flow_l_h"] == expected.product_flow_l_h
    assert first["product_tds_mg_l"] == expected.product_tds_mg_l
    assert first["warnings"] == []
    assert [w["id"] for w in second["warnings"]] == ["recovery_high"]
    assert second["warnings"][0]["text"].startswith("Recovery 27.")
    assert second["warnings"][0]["limit"] == 0.25


def test_a_membrane_may_be_given_by_its_permeabilities_and_age(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["--json", "--water-permeability", "1.6", "--salt-permeability", "0.2", "--water-factor", "0.8"]
    assert run(*arguments, "--salt-factor", "1.5", "--elements", "2", "--feed-flow", "600") == 0
    said = json.loads(capsys.readouterr().out)
    assert said["membrane"]["water_permeability_lmh_bar"] == pytest.approx(1.28)
    assert said["membrane"]["salt_permeability_lmh"] == pytest.approx(0.3)
    assert said["elements"] == 2


@pytest.mark.parametrize("option", [["--film", "3e-5"], ["--polarisation-factor", "1"], ["--pressure-drop", "0.5"]])
def test_outside_cases_can_be_replayed(option: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--json") == 0
    own = json.loads(capsys.readouterr().out)["points"][0]
    assert run("--json", *option) == 0
    given = json.loads(capsys.readouterr().out)["points"][0]
    assert given["product_flow_l_h"] != own["product_flow_l_h"]


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["--temperature", "60"], "water temperature is 60 °C; allowed is -2 to 45 °C: check the sensor"),
        (["--salinity", "salty"], "--salinity: 'salty' is not a number; write it like 38.5"),
        (["--salinity", "nan"], "--salinity: 'nan' is not a finite number"),
        (["--salinity", "38,"], "--salinity: '' is not a number"),
        (["--pressure", "50:60"], "--pressure '50:60': a range is written first:last:step, for example 45:60:5"),
        (["--pressure", "60:50:1"], "the step must be above 0 and the last value not below the first"),
        (["--pressure", "50:60:0"], "the step must be above 0"),
        (["--pressure", "0:100:0.001"], "that is more than 5000 values; take a larger step"),
        (["--pressure", "1:60:1", "--temperature", "1:40:0.2"], "the table would have 11760 points; 5000 is the most"),
        (["--feed-flow", "-1"], "feed flow is -1 L/h; allowed is 0 to 50000 L/h"),
        (["--rejection", "99.4"], "nameplate salt rejection is 99.4; allowed is 0.5 to 0.99999"),
        (["--water-permeability", "1.6"], "--water-permeability and --salt-permeability belong together"),
        (["--film", "3e-5", "--polarisation-factor", "1.1"], "--film and --polarisation-factor exclude each other"),
        (["--elements", "1.5"], "--elements: '1.5' must be a whole number from 1 to 20"),
        (["--plot", "picture.png"], "--plot 'picture.png': the picture is written as SVG; end the name in .svg"),
        (["--plot", "/nowhere/at/all/picture.svg"], "No such file or directory: '/nowhere/at/all/picture.svg'"),
        (["--plot", "x.svg", "--temperature", "1:20:1", "--pressure", "50,60"], "20 lines would be a tangle; 14 is"),
    ],
)
def test_unusable_input_is_one_line_and_status_2(
    arguments: list[str], line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(*arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert err.startswith("halocline projection: ")
    assert line in err


def test_a_table_becomes_a_picture_with_a_line_for_each_sea(tmp_path: Path) -> None:
    file = tmp_path / "table.svg"
    assert run("--temperature", "18,24,30", "--pressure", "45:60:5", "--plot", str(file)) == 0
    tree = ET.parse(file)
    texts = [element.text for element in tree.iter() if element.tag.endswith("text")]
    assert {"18 °C, 38 g/kg", "24 °C, 38 g/kg", "30 °C, 38 g/kg", "Product, L/h"} <= set(texts)
    assert texts.count("membrane inlet pressure, bar") == 2


def test_the_picture_of_temperatures_has_them_along_its_axis(tmp_path: Path) -> None:
    file = tmp_path / "warmth.svg"
    assert run("--temperature", "10:30:5", "--plot", str(file)) == 0
    assert "water temperature, °C" in file.read_text(encoding="utf-8")


def test_one_point_is_a_dot_on_the_curve_of_pressures(tmp_path: Path) -> None:
    file = tmp_path / "point.svg"
    assert run("--plot", str(file)) == 0
    text = file.read_text(encoding="utf-8")
    assert text.count("<circle") == 2
    assert "at 55 bar" in text


def test_every_warning_has_its_sentence() -> None:
    sources = Path(projection.__file__).parents[1] / "physics" / "projection.py"
    in_code = set(re.findall(r'\("([a-z_]+)", (?:result|chain|driving|0\.0)', sources.read_text(encoding="utf-8")))
    assert in_code == set(projection._CAUTIONS)
    for name in projection._CAUTIONS:
        assert "{" not in projection.caution_text(Caution(name, 0.3, 0.25, ""))


def test_labels_in_a_picture_are_escaped() -> None:
    picture = plot("a < b & c", [Panel("p", "x", (Line("<l>", ((0.0, 1.0), (1.0, 2.0))),))])
    ET.fromstring(picture)
    assert "a &lt; b &amp; c" in picture


@pytest.mark.parametrize(("low", "high"), [(0.0, 1.0), (40.0, 65.0), (0.0, 733.0), (5.0, 5.0), (0.0, 1e-9)])
def test_ticks_are_round_few_and_cover_the_values(low: float, high: float) -> None:
    found = ticks(low, high, 6)
    assert 2 <= len(found) <= 10
    assert found[0] <= low
    assert found[-1] >= high
