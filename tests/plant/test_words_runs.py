"""What a run gave is told as a number, or with the reason why there is none."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.plant import words
from halocline.plant.settings import UnitSettings
from halocline.plant.words.run_texts import FIGURES
from halocline.report.schema import RUN_FIGURES

NOTHING: dict[str, float | None] = dict.fromkeys(RUN_FIGURES)


def test_every_figure_of_the_record_can_be_told() -> None:
    assert set(FIGURES) == set(RUN_FIGURES)


@pytest.mark.parametrize("name", RUN_FIGURES)
def test_no_missing_figure_reads_unknown_or_is_invented(name: str) -> None:
    for going_on in (False, True):
        text = words.run_figure(name, NOTHING, going_on=going_on)
        assert "unknown" not in text
        assert not any(sign.isdigit() for sign in text)


def test_a_figure_is_told_in_the_units_of_the_boat() -> None:
    figures = {**NOTHING, "flush_l": 12.0}
    assert words.run_figure("flush_l", figures) == "12 L"
    assert words.run_figure("flush_l", figures, UnitSettings(volume="gal")) == "3.2 gal"


def test_a_run_that_was_not_flushed_says_so() -> None:
    assert words.run_figure("flush_l", NOTHING) == "no flush on record"
    assert words.run_figure("flush_l", NOTHING, going_on=True) == "told when the run has ended"


def test_the_salt_of_no_water_is_not_called_unmeasured() -> None:
    assert words.run_figure("tds_mean_mg_l", {**NOTHING, "litres": 0.0}) == "no water went to the tank"
    assert words.run_figure("tds_mean_mg_l", {**NOTHING, "litres": 3.0}) == "not measured"


@pytest.mark.parametrize(
    ("figure", "value", "text"),
    [
        ("seconds", 28.7, "at least 28 s"),
        ("seconds", 599.9, "at least 9 min 59 s"),
        ("seconds", 3599.0, "at least 59 min"),
        ("litres", 0.999, "at least 0.99 L"),
        ("litres", 12.0, "at least 12 L"),
        ("litres", 0.29, "at least 0.29 L"),
        ("peak_pressure_bar", 56.58, "at least 56.5 bar"),
        ("tds_worst_mg_l", 419.9, "at least 419 mg/L"),
        ("energy_wh", 0.0, "none on record"),
        ("litres", 0.0, "none on record"),
        ("litres", 1e-9, "none on record"),
        ("tds_worst_mg_l", None, "no water to the tank is on record"),
        ("overboard_l", None, "not on record"),
        ("flush_l", None, "no flush on record"),
        ("tds_mean_mg_l", 419.9, "420 mg/L"),
    ],
)
def test_what_a_run_had_at_least_is_never_rounded_up(figure: str, value: float | None, text: str) -> None:
    assert words.run_figure(figure, {**NOTHING, figure: value}, cut_off=True) == text


@pytest.mark.parametrize("producing_s", [0.0, 2.5])
@pytest.mark.parametrize("litres", [None, 0.0])
def test_of_a_run_cut_off_with_the_tank_open_it_is_never_said_that_nothing_went_in(
    producing_s: float, litres: float | None
) -> None:
    figures = {**NOTHING, "producing_s": producing_s, "litres": litres, "energy_wh": 0.0}
    of_the_tank = ("litres", "producing_s", "tds_mean_mg_l", "tds_worst_mg_l")
    told = {name: words.run_figure(name, figures, cut_off=True) for name in of_the_tank}
    assert not any(text.startswith(("at least 0", "no water", "none")) for text in told.values()), told
    assert told["litres"] == "the tank was open; how much it got is not on record"
    assert told["tds_worst_mg_l"] == "not on record"


@given(st.floats(0.0, 1e6), st.sampled_from([figure.unit for figure in FIGURES.values()]))
def test_rounded_down_is_never_more_and_hardly_less(value: float, unit: str) -> None:
    down, near = (words.quantity(value, unit, down=down) for down in (True, False))
    if unit != "s":
        shown = float(down.split()[0])
        assert shown <= value * (1 + 1e-9)
        assert abs(float(near.split()[0]) - shown) <= max(1.0, value / 50)


def test_a_wait_until_a_minute_is_over_when_that_minute_comes() -> None:
    def until(wall_s: float) -> str:
        return words.reason({"id": "motor_needs_rest", "values": {"seconds": 600.0, "until_wall_s": wall_s}})

    assert until(1_800_000_001.0) == until(1_800_000_060.0) != until(1_800_000_000.0)
