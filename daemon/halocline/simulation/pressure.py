"""The high-pressure side: regulator, relief valve, and the few drops that make the difference of a bar.

Pressure follows from dP/dt = (inflow - brine - product - relief) / compliance, linearised in P and solved
exactly over each step, so that a step of any length is stable and a steady state is met exactly.
"""

from __future__ import annotations

import math
from typing import Literal

RELIEF_L_H_BAR = 120.0
"""How far the relief valve opens above its setting: full pump flow within some 3 bar (common practice)."""

SMOOTH_BAR = 0.05
"""Below this an orifice is treated as linear, so that the last bit of pressure leaves smoothly."""

SPRING_BAND_BAR = 2.0
"""Pressure above its setting at which a spring regulator stands fully open."""

SPRING_LEAK = 0.01
"""Share of the open regulator's passage that a shut spring regulator still leaks."""


def orifice(conductance: float, bar: float) -> tuple[float, float]:
    """Flow (L/h) and its slope (L/h/bar) through an orifice: conductance · √pressure, smooth at zero."""
    if bar <= 0.0:
        return 0.0, conductance / math.sqrt(SMOOTH_BAR)
    root = math.sqrt(bar + SMOOTH_BAR)
    return conductance * bar / root, conductance * (0.5 * bar + SMOOTH_BAR) / (root * root * root)


class Regulator:
    """The valve a person turns: a needle passes less the further it is shut, a spring holds its setting."""

    __slots__ = ("conductance", "kind", "open_conductance", "set_bar")

    def __init__(self, kind: Literal["needle", "spring"], flow_l_h: float, open_bar: float) -> None:
        self.kind = kind
        self.open_conductance = self.conductance = flow_l_h / orifice(1.0, open_bar)[0]
        self.set_bar = 0.0

    def flow(self, bar: float) -> tuple[float, float]:
        """Brine (L/h) and its slope (L/h/bar) at this pressure."""
        if self.kind == "needle":
            return orifice(self.conductance, bar)
        full, full_slope = orifice(self.open_conductance, bar)
        lift = (bar - self.set_bar) / SPRING_BAND_BAR
        if lift >= 1.0:
            return full, full_slope
        if lift <= SPRING_LEAK:
            return SPRING_LEAK * full, SPRING_LEAK * full_slope
        return lift * full, lift * full_slope + full / SPRING_BAND_BAR

    def stand_for(self, bar: float, brine_l_h: float) -> None:
        """Put it where this much brine leaves at this pressure."""
        full = orifice(self.open_conductance, max(bar, SMOOTH_BAR))[0]
        opening = min(1.0, max(0.0, brine_l_h / full))
        self.conductance = opening * self.open_conductance
        self.set_bar = max(0.0, bar - opening * SPRING_BAND_BAR)

    def turn_open(self, share: float, from_bar: float) -> bool:
        """Open it by this share of its travel; True once fully open. `from_bar` is a spring's full travel."""
        self.conductance = min(self.open_conductance, self.conductance + share * self.open_conductance)
        self.set_bar = max(0.0, self.set_bar - share * from_bar)
        return self.fully_open

    @property
    def fully_open(self) -> bool:
        """Whether it stands fully open."""
        return self.set_bar == 0.0 if self.kind == "spring" else self.conductance == self.open_conductance

    def creep(self, bar: float, change_bar: float, other_slope: float) -> None:
        """Move it as much as changes a steady pressure by `change_bar`; `other_slope` is the membrane's."""
        self.set_bar = max(0.0, self.set_bar + change_bar)
        if bar > 1.0:
            flow, slope = self.flow(bar)
            if flow > 0.0 and self.kind == "needle":
                share = (slope + other_slope) * change_bar / flow
                self.conductance = min(self.open_conductance, max(0.0, self.conductance * (1.0 - share)))


class PressureSide:
    """Pressure at the membrane's inlet, and where the water goes that the pump delivers."""

    __slots__ = (
        "_compliance",
        "_relief_bar",
        "_towards_bar",
        "brine_l_h",
        "brine_slope",
        "peak_bar",
        "pressure_bar",
        "rate_bar_s",
        "release_l_h",
        "relief_l_h",
        "relief_lifted",
        "tau_s",
    )

    def __init__(self, compliance_ml_bar: float, relief_bar: float) -> None:
        self._compliance = compliance_ml_bar * 3.6
        self._relief_bar = relief_bar
        self._towards_bar = self.rate_bar_s = 0.0
        self.tau_s = 1.0
        self.pressure_bar = self.peak_bar = 0.0
        self.brine_l_h = self.brine_slope = self.release_l_h = self.relief_l_h = 0.0
        self.relief_lifted = False

    def set_compliance(self, ml_bar: float) -> None:
        """How much water one bar squeezes in, mL/bar."""
        self._compliance = ml_bar * 3.6

    def refresh(
        self,
        inflow_l_h: float,
        inflow_slope: float,
        *,
        brine: tuple[float, float],
        release: tuple[float, float],
        through_l_h: float,
        through_slope: float,
    ) -> None:
        """Balance the flows at the present pressure; `through` is what crosses the membrane (L/h, L/h/bar)."""
        relief_slope = 0.0
        self.relief_l_h = 0.0
        if self.pressure_bar > self._relief_bar:
            self.relief_lifted = True
            relief_slope = RELIEF_L_H_BAR
            self.relief_l_h = relief_slope * (self.pressure_bar - self._relief_bar)
        self.brine_l_h, self.brine_slope = brine
        self.release_l_h, release_slope = release
        surplus = inflow_l_h - self.brine_l_h - self.release_l_h - self.relief_l_h - through_l_h
        stiffness = self.brine_slope + release_slope + relief_slope + through_slope - inflow_slope
        stiffness = max(stiffness, 1e-3)
        self._towards_bar = surplus / stiffness
        self.tau_s = self._compliance / stiffness
        self.rate_bar_s = surplus / self._compliance

    def after(self, seconds: float) -> float:
        """Pressure this much later if nothing else changes."""
        later = self.pressure_bar - self._towards_bar * math.expm1(-seconds / self.tau_s)
        return later if later > 0.0 else 0.0

    def step(self, seconds: float) -> None:
        """Let time pass."""
        self.pressure_bar = self.after(seconds)
        self.peak_bar = max(self.peak_bar, self.pressure_bar)
