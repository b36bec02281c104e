"""The membrane model's public face: what an element is, what it will do, and its fast one-node stand-in."""

from __future__ import annotations

from halocline.physics.element import Membrane
from halocline.physics.lumped import LumpedElement, LumpedPoint, fit_lumped, lumped, lumped_element
from halocline.physics.projection import (
    Caution,
    PolarisationChoice,
    Projection,
    fit_membrane,
    pressure_for_product_bar,
    project,
    project_series,
)
from halocline.physics.transport import activation_energy_kj_mol, temperature_factor

__all__ = [
    "Caution",
    "LumpedElement",
    "LumpedPoint",
    "Membrane",
    "PolarisationChoice",
    "Projection",
    "activation_energy_kj_mol",
    "fit_lumped",
    "fit_membrane",
    "lumped",
    "lumped_element",
    "pressure_for_product_bar",
    "project",
    "project_series",
    "temperature_factor",
]
