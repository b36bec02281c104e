"""The quick profile: fewer litres and seconds, the same protections."""

import pytest

from halocline.config import consistency_problems, load_demo, quick


def test_quick_multiplies_only_what_has_a_factor() -> None:
    settings, _ = load_demo()
    fast, _ = load_demo(quick=True)
    assert fast.sequence.quality_hold_s == pytest.approx(settings.sequence.quality_hold_s * 0.1)
    assert fast.plant.product_side_volume_l == 0.06
    assert fast.drive.raise_bar_s == settings.drive.raise_bar_s * 20
    assert fast.limits.vessel_pressure_high_high_bar == settings.limits.vessel_pressure_high_high_bar
    assert fast.limits.feed_pressure_low_low_s == settings.limits.feed_pressure_low_low_s
    assert fast.inputs == settings.inputs
    assert fast.sequence.attendance is settings.sequence.attendance


def test_quick_settings_fit_together() -> None:
    settings, report = load_demo(quick=True)
    assert consistency_problems(settings, "demo.toml", simulated=True) == []
    assert report == load_demo()[1]


def test_quick_twice_is_a_hundredth() -> None:
    settings, _ = load_demo()
    assert quick(quick(settings)).sequence.flush_l == 0.12


def test_what_no_longer_fits_is_found_in_settings_made_otherwise() -> None:
    settings, _ = load_demo()
    object.__setattr__(settings.sequence, "flush_l", 1.0)
    assert [str(problem) for problem in consistency_problems(settings, "made", simulated=True)] == [
        "made: sequence.flush_l: found 1 L; allowed: 12 L or more, three times plant.wetted_volume_l; raise it"
    ]
