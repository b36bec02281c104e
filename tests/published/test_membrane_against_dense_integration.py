"""The membrane model against the differential equation solved by scipy with TEOS-10 osmotic pressure."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

from halocline.physics.membrane import Membrane, lumped, project, project_series

_SPEC = importlib.util.spec_from_file_location("dense_element", Path(__file__).parent / "dense_element.py")
assert _SPEC is not None
assert _SPEC.loader is not None
dense = importlib.util.module_from_spec(_SPEC)
sys.modules["dense_element"] = dense
_SPEC.loader.exec_module(dense)

OURS = Membrane(1.60227, 0.192033, 2.6)
THEIRS = dense.Element(1.60227, 0.192033, 2.6)
POINTS = [
    # salinity g/kg, °C, bar, feed L/h
    (38.0, 24.0, 55.0, 340.0),
    (38.0, 5.0, 60.0, 340.0),
    (41.0, 32.0, 50.0, 340.0),
    (35.0, 15.0, 65.0, 900.0),
    (36.5, 28.0, 58.0, 250.0),
    (20.0, 24.0, 40.0, 340.0),
    (8.0, 20.0, 20.0, 500.0),
]


@pytest.mark.parametrize(("salinity", "t", "bar", "feed"), POINTS)
def test_projection_is_the_solution_of_the_equations(salinity: float, t: float, bar: float, feed: float) -> None:
    expected = dense.DenseElement(THEIRS, t).solve(salinity, bar, feed, 0.3)
    found = project(OURS, salinity, t, bar, feed, product_pressure_bar=0.3)
    assert found.product_flow_l_h == pytest.approx(expected.product_l_h, rel=4e-3)
    assert found.product_tds_mg_l == pytest.approx(expected.product_mg_l, rel=4e-3)
    assert found.brine_concentration_g_l == pytest.approx(expected.brine_g_l, rel=2e-3)
    assert found.pressure_drop_bar == pytest.approx(expected.drop_bar, rel=1.5e-2)
    assert found.polarisation_inlet == pytest.approx(expected.polarisation_inlet, abs=2e-3)


def test_two_elements_in_series_are_one_fed_with_the_brine_of_the_other() -> None:
    solver = dense.DenseElement(THEIRS, 24.0)
    first = solver.solve(38.0, 55.0, 600.0)
    brine = project(OURS, 38.0, 24.0, 55.0, 600.0)
    second = solver.solve(brine.brine_salinity_g_kg, 55.0 - first.drop_bar, 600.0 - first.product_l_h)
    found = project_series((OURS, OURS), 38.0, 24.0, 55.0, 600.0)
    assert found.product_flow_l_h == pytest.approx(first.product_l_h + second.product_l_h, rel=4e-3)
    assert found.pressure_drop_bar == pytest.approx(first.drop_bar + second.drop_bar, rel=1.5e-2)


@pytest.mark.parametrize(("salinity", "t", "bar", "feed"), POINTS[:4])
def test_one_node_is_close_enough_to_be_a_plant(salinity: float, t: float, bar: float, feed: float) -> None:
    expected = dense.DenseElement(THEIRS, t).solve(salinity, bar, feed)
    found = lumped(OURS, salinity, t, bar, feed)
    assert found.product_flow_l_h == pytest.approx(expected.product_l_h, rel=0.015)
    assert found.product_tds_mg_l == pytest.approx(expected.product_mg_l, rel=0.025)
