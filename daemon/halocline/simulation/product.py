"""The product side: salt washed through two stirred volumes, suck-back, the cell, and the diverter behind it.

There is no dead volume between cell and diverter: what the cell sees is what the valve passes on.
Source of the washout: first-order mass balance, exact over each step.
"""

from __future__ import annotations

import math

from halocline.simulation.element import Element
from halocline.simulation.parameters import PlantParameters

LINE_BAR = 0.1
"""Back pressure of the product line at working flow, about 60 L/h."""

LINE_ML_BAR = 2.0
"""Water that one bar squeezes into a shut product line."""

RELIEF_L_H_BAR = 200.0
RECOVER_S = 20.0
"""How quickly flow restores what suck-back can draw on."""


class Diverter:
    """A three-way valve: at 0 all goes overboard, at 1 all to the tank, and never is the line shut."""

    __slots__ = ("_per_s", "position")

    def __init__(self, travel_s: float) -> None:
        self.position = 0.0
        self._per_s = 1.0 / travel_s

    def step(self, seconds: float, energised: bool) -> None:
        """Let it travel."""
        if energised and self.position < 1.0:
            self.position = min(1.0, self.position + seconds * self._per_s)
        elif not energised and self.position > 0.0:
            self.position = max(0.0, self.position - seconds * self._per_s)


class ProductSide:
    """Concentrations (g/L) in the element's product side and at the cell, and the flow through the meter."""

    __slots__ = (
        "_element_l",
        "_line_l",
        "_probe_lag_s",
        "_relief_bar",
        "_suck_back_l",
        "_sucked",
        "back_bar",
        "cell_g_l",
        "element_g_l",
        "probe_g_l",
        "reverse_l_h",
        "reverse_slope",
    )

    def __init__(self, parameters: PlantParameters) -> None:
        volume_l = parameters.product_side_volume_l
        self._element_l = volume_l * parameters.product_in_element
        self._line_l = volume_l - self._element_l
        self._suck_back_l = parameters.suck_back_l
        self._probe_lag_s = parameters.probe_lag_s
        self._relief_bar = parameters.product_relief_bar
        rested = parameters.rested_product_g_l
        self.element_g_l = self.cell_g_l = self.probe_g_l = rested
        self.back_bar = 0.0
        self._sucked = 0.0
        self.reverse_l_h = self.reverse_slope = 0.0

    def refresh(self, element: Element, bar: float, made_l_h: float) -> None:
        """Find how much osmosis draws back now."""
        short_bar = element.osmotic_bar - bar
        if self._suck_back_l <= 0.0 or short_bar <= 0.0 or made_l_h > 5.0:
            self.reverse_l_h = self.reverse_slope = 0.0
            return
        self.reverse_slope = element.suction_l_h_bar * (1.0 - self._sucked)
        self.reverse_l_h = self.reverse_slope * short_bar

    def relieved_l_h(self) -> float:
        """What leaves by the product line's own relief valve."""
        return max(0.0, RELIEF_L_H_BAR * (self.back_bar - self._relief_bar))

    def step(self, seconds: float, element: Element, made_l_h: float, cell_l_h: float, line_g_l: float | None) -> None:
        """Wash through; `line_g_l` is what enters the line when it is not the element's own product."""
        if made_l_h > 0.5:
            share = math.exp(-made_l_h * seconds / (3600.0 * self._element_l))
            self.element_g_l = element.product_g_l + (self.element_g_l - element.product_g_l) * share
        else:
            share = math.exp(-element.seeping_l_h * seconds / (3600.0 * self._element_l))
            self.element_g_l = element.feed_g_l + (self.element_g_l - element.feed_g_l) * share
        if cell_l_h > 0.0:
            entering = self.element_g_l if line_g_l is None else line_g_l
            share = math.exp(-cell_l_h * seconds / (3600.0 * self._line_l))
            self.cell_g_l = entering + (self.cell_g_l - entering) * share
        self.probe_g_l += (self.cell_g_l - self.probe_g_l) * -math.expm1(-seconds / self._probe_lag_s)
        self._restore(seconds, made_l_h)

    def _restore(self, seconds: float, made_l_h: float) -> None:
        if self.reverse_l_h > 0.0:
            drawn = self.reverse_l_h * seconds / (3600.0 * self._suck_back_l)
            self._sucked = 1.0 - (1.0 - self._sucked) * math.exp(-drawn / max(1e-9, 1.0 - self._sucked))
        elif made_l_h > 5.0 and self._sucked > 0.0:
            self._sucked *= math.exp(-seconds / RECOVER_S)

    def press(self, seconds: float, made_l_h: float, shut: bool) -> None:
        """Let the product's back pressure follow; a shut line fills until its relief valve opens."""
        if not shut:
            target = LINE_BAR * (made_l_h / 60.0) ** 2
            self.back_bar += (target - self.back_bar) * -math.expm1(-seconds / 0.05)
            return
        squeezed = max(0.0, made_l_h) / (LINE_ML_BAR * 3.6)
        stiffness = RELIEF_L_H_BAR / (LINE_ML_BAR * 3.6)
        reached = self.back_bar + squeezed * seconds
        if reached > self._relief_bar:
            settled = self._relief_bar + squeezed / stiffness
            reached = min(reached, settled) if self.back_bar <= settled else settled
        self.back_bar = reached
