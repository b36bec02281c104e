"""The tables for the documents: signals agree with what the sensors' conversion makes of them, and a person's own
boat comes out with its own numbers."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.config import load_example, wiring_table
from halocline.config.signal_levels import loop_ma, sender_ohm, signal_text, signal_volts, thermistor_ohm
from halocline.control.situation import product_cap_l_h
from halocline.plant.sensors import AnalogueInput, CurrentLoop, Ratiometric, ResistiveSender, Thermistor, Voltage
from halocline.plant.vocabulary import Quality
from halocline.signals.conversion import converter_for
from halocline_hw.wiring import PULLED_UP_AT_POWER_ON

DEMO = load_example()
DEMO_FILE = Path(wiring_table.__file__).with_name("demo.toml")

COMMON_TABLE = (1.1252567e-3, 2.3472045e-4, 8.5630527e-8)
"""Steinhart-Hart through 0 °C 32650 Ω, 25 °C 10000 Ω, 50 °C 3603 Ω (a common table of 10 kΩ thermistors)."""

PLACE: Any = {"address": 0x48, "mux": 0, "error": 0.1}
SENSORS = (
    CurrentLoop(**PLACE, low=-1.0, high=4.0),
    Ratiometric(**PLACE, low=0.0, high=100.0, divider=5.0 / 3.0),
    Voltage(**PLACE, low=-200.0, high=200.0, volts_low=0.5, volts_high=4.5, divider=1.5),
    Thermistor(**PLACE, low=-2.0, high=50.0),
    Thermistor(**PLACE, low=-2.0, high=50.0, steinhart_hart=COMMON_TABLE),
    ResistiveSender(**PLACE, low=0.0, high=100.0, empty_ohm=10.0, full_ohm=180.0),
    ResistiveSender(**PLACE, low=0.0, high=100.0, empty_ohm=240.0, full_ohm=33.0),
)


@pytest.mark.parametrize("sensor", SENSORS, ids=lambda sensor: sensor.kind)
@given(part=st.floats(0.001, 0.999))
def test_the_signal_of_a_value_is_read_as_that_value(sensor: AnalogueInput, part: float) -> None:
    value = sensor.low + part * (sensor.high - sensor.low)
    supply_v = sensor.supply_v / sensor.divider if isinstance(sensor, Ratiometric) else None
    read, quality = converter_for(sensor)(  # type: ignore[arg-type]
        signal_volts(sensor, value), supply_v
    )
    assert quality is Quality.GOOD
    assert read == pytest.approx(value, abs=1e-6 * (sensor.high - sensor.low))


def test_signals_of_published_points() -> None:
    # IEC 60381-1: 4 mA at the low end, 20 mA at the high end.
    loop = CurrentLoop(**PLACE, low=0.0, high=100.0)
    assert [loop_ma(loop, value) for value in (0.0, 50.0, 100.0)] == pytest.approx([4.0, 12.0, 20.0])
    # 10 kΩ thermistor with beta 3950, computed separately: 0 °C 33 621 Ω, 50 °C 3588 Ω.
    beta = Thermistor(**PLACE, low=-2.0, high=50.0)
    assert thermistor_ohm(beta, 0.0) == pytest.approx(33_621, abs=1)
    assert thermistor_ohm(beta, 50.0) == pytest.approx(3_588, abs=1)
    # The table the coefficients were made from.
    table = Thermistor(**PLACE, low=-2.0, high=50.0, steinhart_hart=COMMON_TABLE)
    assert thermistor_ohm(table, 0.0) == pytest.approx(32_650, rel=1e-4)
    assert thermistor_ohm(table, 50.0) == pytest.approx(3_603, rel=1e-4)
    # European tank sender, common practice: 10 Ω empty, 180 Ω full.
    sender = ResistiveSender(**PLACE, low=0.0, high=100.0, empty_ohm=10.0, full_ohm=180.0)
    assert sender_ohm(sender, 50.0) == pytest.approx(95.0)


def test_a_signal_is_written_as_an_instrument_shows_it() -> None:
    assert signal_text(DEMO.inputs["vessel_pressure"], 64.0) == "14.24 mA = 2.136 V"  # type: ignore[arg-type]
    assert signal_text(DEMO.inputs["battery_voltage"], 12.5) == "2.500 V"  # type: ignore[arg-type]


def test_the_card_and_control_agree_on_the_most_product() -> None:
    for feed_l_h in (100.0, 340.0, 1000.0):
        settings = replace(DEMO, plant=replace(DEMO.plant, feed_flow_l_h=feed_l_h))
        assert wiring_table.product_cap_l_h(settings) == pytest.approx(product_cap_l_h(settings))


def test_the_card_follows_the_owners_limits() -> None:
    limits = replace(DEMO.limits, working_pressure_max_bar=56.0, accept_tds_mg_l=400.0)
    card = wiring_table.card(replace(DEMO, limits=limits))
    assert "| Never above | 56 bar |" in card
    assert "(400 mg/L)" in card


def test_no_output_is_offered_a_pin_that_wakes_pulled_up() -> None:
    assert wiring_table.PULLED_UP_AT_POWER_ON == PULLED_UP_AT_POWER_ON
    anything, inputs_only = wiring_table.free_pins(DEMO).split(". ", 1)
    assert anything == "Free for anything: GPIO 9, 10, 11, 14, 15"
    assert inputs_only == "Free for contacts and pulses only: GPIO 4, 7, 8.\n"


def test_a_measured_supply_has_a_row_of_its_own() -> None:
    sensor = Ratiometric(**{**PLACE, "mux": 1}, low=0.0, high=4.0, divider=2.0, supply_mux=2)
    rows = wiring_table.converter_inputs(replace(DEMO, inputs={"feed_pressure": sensor}))
    assert "| 0x48 | 2 | supply of `feed_pressure` |" in rows


def test_a_mark_nobody_knows_is_refused() -> None:
    with pytest.raises(ValueError, match="no table is called pinmap; there are boat, header-pins"):
        wiring_table.filled("<!-- generated: pinmap -->\n<!-- end -->", DEMO)


def test_an_owner_gets_complete_documents_of_the_own_boat(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "own.toml"
    own.write_text(DEMO_FILE.read_text(encoding="utf-8").replace('name = "Cagarra"', 'name = "Alfa"'), encoding="utf-8")
    papers = tmp_path / "papers"
    assert wiring_table.main(["--config", str(own), "--into", str(papers)]) == 0
    assert "| Alfa, by hand | your number |" in (papers / "by-hand.md").read_text(encoding="utf-8")
    assert str(papers / "pin-map.md") in capsys.readouterr().out.splitlines()


def test_the_documents_of_the_project_stay_the_demonstration_boats(capsys: pytest.CaptureFixture[str]) -> None:
    assert wiring_table.main(["--config", str(DEMO_FILE), "--write"]) == 2
    assert "with --config use --into FOLDER" in capsys.readouterr().err


def test_a_configuration_that_cannot_be_used_is_told_in_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert wiring_table.main(["--config", "nowhere.toml"]) == 2
    assert capsys.readouterr().err.startswith("nowhere.toml: found no such file")


def test_an_installation_without_the_source_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(wiring_table, "DOCUMENTS", tmp_path / "hw")
    assert wiring_table.main(["--into", str(tmp_path / "papers")]) == 2
    assert "the documents come with the source" in capsys.readouterr().err
