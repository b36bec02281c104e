"""The boat around the plant: battery, drinking-water tank, and the motor's warmth."""

from __future__ import annotations

import math

from halocline.simulation.parameters import PlantParameters


class Power:
    """What the pumps take, what the battery gives, and how warm the motor gets."""

    __slots__ = (
        "_idle_w",
        "_parameters",
        "_per_bar_l_h",
        "charge_ah",
        "current_a",
        "energy_wh",
        "motor_c",
        "motor_w",
        "pumps_w",
        "volts",
    )

    def __init__(self, parameters: PlantParameters, working_bar: float) -> None:
        self._parameters = parameters
        working_w = max(0.0, parameters.pump_power_w - parameters.feed_pump_power_w)
        self._idle_w = working_w * parameters.idle_power_share
        self._per_bar_l_h = (working_w - self._idle_w) / (working_bar * parameters.feed_flow_l_h)
        self.charge_ah = parameters.battery_ah * parameters.battery_charge_percent / 100.0
        self.motor_c = parameters.air_c
        self.motor_w = self.pumps_w = self.energy_wh = self.current_a = 0.0
        self.volts = parameters.battery_v

    @property
    def charge_percent(self) -> float:
        """Charge of the battery, %."""
        return 100.0 * self.charge_ah / self._parameters.battery_ah

    def refresh(self, feed_speed: float, pump_speed: float, bar: float, flow_l_h: float, sag_v: float) -> None:
        """Find power, current (positive: into the battery) and voltage now."""
        p = self._parameters
        self.motor_w = pump_speed * (self._idle_w + self._per_bar_l_h * bar * flow_l_h)
        self.pumps_w = self.motor_w + p.feed_pump_power_w * feed_speed
        rest_v = p.battery_empty_v + (p.battery_v - p.battery_empty_v) * self.charge_ah / p.battery_ah
        drawn_w = self.pumps_w + p.boat_power_w - p.charging_w
        drawn_a = drawn_w / max(1.0, self.volts + sag_v)
        self.current_a = -drawn_a
        self.volts = max(0.0, rest_v - p.battery_ohm * drawn_a - sag_v)

    def step(self, seconds: float) -> None:
        """Use the energy, warm the motor."""
        p = self._parameters
        self.energy_wh += self.pumps_w * seconds / 3600.0
        self.charge_ah = min(p.battery_ah, max(0.0, self.charge_ah + self.current_a * seconds / 3600.0))
        warm_c = p.air_c + p.motor_rise_k * self.motor_w / max(1.0, p.pump_power_w)
        self.motor_c += (warm_c - self.motor_c) * -math.expm1(-seconds / p.motor_warm_s)


class Tank:
    """The drinking-water tank; flush water comes out of it, and what the crew takes."""

    __slots__ = ("_capacity_l", "_crew_l_h", "_float_percent", "_given_l", "added_l", "litres")

    def __init__(self, parameters: PlantParameters) -> None:
        self._capacity_l = parameters.tank_capacity_l
        self._crew_l_h = parameters.crew_use_l_h
        self._float_percent = parameters.tank_float_percent
        self.litres = min(parameters.tank_litres, parameters.tank_capacity_l)
        self.added_l = self._given_l = 0.0

    @property
    def percent(self) -> float:
        """Level, %."""
        return 100.0 * self.litres / self._capacity_l

    @property
    def float_up(self) -> bool:
        """Whether the float switch says full."""
        return self.percent >= self._float_percent

    def put_at(self, percent: float | None) -> None:
        """Fill or empty it to this level from outside; None takes that back."""
        undisturbed = self.litres - self._given_l
        self._given_l = 0.0 if percent is None else percent / 100.0 * self._capacity_l - undisturbed
        self._set(undisturbed + self._given_l)

    def step(self, seconds: float, in_l_h: float, out_l_h: float) -> None:
        """Let water in and out; what does not fit overflows."""
        out_l_h += self._crew_l_h
        if in_l_h or out_l_h:
            self.added_l += in_l_h * seconds / 3600.0
            self._set(self.litres + (in_l_h - out_l_h) * seconds / 3600.0)

    def _set(self, litres: float) -> None:
        self.litres = min(self._capacity_l, max(0.0, litres))
