"""The membrane element as the simulation uses it: steady states found now and then, straight lines between."""

from __future__ import annotations

from halocline.physics import seawater
from halocline.physics.membrane import LumpedElement, Membrane, lumped_element

NEAR_BAR = 0.3
NEAR_SHARE = 0.01
LONGEST_S = 0.5
"""A steady state serves within these distances of where it was found, and for this long."""

LEAST_FEED = 0.3
"""Share of working flow taken for the film when less flows: a dead-ended element still passes water."""


class Element:
    """Water and salt through the membrane at the present pressure, and salt seeping at standstill."""

    __slots__ = (
        "_age_s",
        "_area_m2",
        "_at",
        "_lumped",
        "_membrane",
        "_temperature_c",
        "_working_flow_l_h",
        "brine_g_kg",
        "drop_bar",
        "feed_g_l",
        "osmotic_bar",
        "product_g_l",
        "product_l_h",
        "product_slope",
    )

    def __init__(self, membrane: Membrane, working_flow_l_h: float) -> None:
        self._working_flow_l_h = working_flow_l_h
        self.product_l_h = self.product_slope = self.product_g_l = self.drop_bar = 0.0
        self.osmotic_bar = self.brine_g_kg = self.feed_g_l = 0.0
        self._temperature_c = 20.0
        self.fit(membrane)

    def fit(self, membrane: Membrane) -> None:
        """Change the element, or what has become of it."""
        self._membrane = membrane
        self._area_m2 = membrane.area_m2
        self._lumped: LumpedElement = lumped_element(membrane, self._temperature_c)
        self._at = (-1.0, 0.0, 0.0, 0.0)
        self._age_s = LONGEST_S

    @property
    def seeping_l_h(self) -> float:
        """B times area, L/h: how fast salt seeps through without flow."""
        return self._lumped.salt_lmh * self._area_m2

    @property
    def suction_l_h_bar(self) -> float:
        """A times area, L/h/bar: how strongly osmosis draws water back."""
        return self._lumped.water_lmh_bar * self._area_m2

    def refresh(
        self,
        bar: float,
        back_bar: float,
        *,
        feed_g_kg: float,
        temperature_c: float,
        feed_l_h: float,
        seconds: float,
    ) -> None:
        """Make sure that the steady state in use is near enough; `seconds` since the last call."""
        self._age_s += seconds
        at_bar, at_salinity, at_feed, at_back = self._at
        if (
            self._age_s < LONGEST_S
            and abs(bar - at_bar) < NEAR_BAR
            and abs(feed_g_kg - at_salinity) < NEAR_SHARE * (at_salinity + 0.1)
            and abs(feed_l_h - at_feed) < NEAR_SHARE * self._working_flow_l_h
            and abs(back_bar - at_back) < NEAR_BAR
        ):
            return
        self._age_s = 0.0
        self._at = (bar, feed_g_kg, feed_l_h, back_bar)
        self._take_temperature(temperature_c)
        self._evaluate(bar, back_bar, min(feed_g_kg, 75.0), feed_l_h)

    def _take_temperature(self, temperature_c: float) -> None:
        rounded = round(temperature_c, 1)
        if rounded != self._temperature_c:
            self._temperature_c = rounded
            self._lumped = lumped_element(self._membrane, rounded)

    def _evaluate(self, bar: float, back_bar: float, feed_g_kg: float, feed_l_h: float) -> None:
        water = seawater.at_temperature(self._temperature_c)
        self.feed_g_l = water.concentration_g_l(feed_g_kg)
        self.osmotic_bar = water.osmotic_pressure_bar(feed_g_kg)
        flow = max(feed_l_h, LEAST_FEED * self._working_flow_l_h)
        inlet_bar = min(bar, 149.0)
        here = self._lumped.at(feed_g_kg, inlet_bar, flow, back_bar)
        above = self._lumped.at(feed_g_kg, inlet_bar + 0.5, flow, back_bar)
        self.product_l_h = here.product_flow_l_h
        self.product_slope = max(0.0, 2.0 * (above.product_flow_l_h - here.product_flow_l_h))
        self.product_g_l = here.product_tds_mg_l / 1000.0
        self.brine_g_kg = here.brine_salinity_g_kg if feed_l_h > 0.0 else feed_g_kg
        self.drop_bar = here.pressure_drop_bar if feed_l_h > 0.0 else 0.0

    def product_at(self, bar: float) -> float:
        """Product at a pressure near the one last refreshed for, L/h."""
        return max(0.0, self.product_l_h + self.product_slope * (bar - self._at[0]))
