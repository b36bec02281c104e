"""What a run gave is told as a number, or with the reason why there is none."""

import pytest

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
