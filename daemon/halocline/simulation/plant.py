"""The simulated plant: all its parts, stepped through time together.

Each step lets the present flows act for a while, moves what moves, and then balances all flows anew for the
state reached. How long a step may be follows from how fast pressure changes, not from who is looking.
"""

from __future__ import annotations

import math
from random import Random

from halocline.physics.membrane import lumped_element
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import Ask
from halocline.simulation.coils import Coils
from halocline.simulation.element import Element
from halocline.simulation.faults import Upsets
from halocline.simulation.feed import FeedSide, Motor, Suction
from halocline.simulation.hand import Hand
from halocline.simulation.parameters import PlantParameters
from halocline.simulation.pressure import PressureSide, Regulator, orifice
from halocline.simulation.product import Diverter, ProductSide
from halocline.simulation.supply import Power, Tank

LONGEST_S = 0.05
LONGEST_AT_REST_S = 0.25
LONGEST_SWITCHING_S = 0.01
SHORTEST_S = 0.00025
BAR_A_STEP = 0.15
"""Pressure moves by about this much in a step while it moves fast."""

SWITCH_RECLOSES = 0.9
"""Share of its setting below which the pressure switch closes again (common practice)."""

TURNING = 0.05
FLOWING_L_H = 0.5


class Plant:
    """Everything that is true aboard. Times are seconds on the simulation's own clock."""

    def __init__(self, settings: Settings, parameters: PlantParameters, seed: int, now_s: float) -> None:
        if parameters.tank_litres > parameters.tank_capacity_l:
            raise ValueError(
                f"tank_litres is {parameters.tank_litres:g} L, but the tank holds "
                f"{parameters.tank_capacity_l:g} L: give less, or a larger tank_capacity_l"
            )
        p = self.parameters = parameters
        self._drive = settings.drive
        self._outputs = tuple(settings.outputs)
        self.time_s = now_s
        self.upsets = Upsets()
        self.coils = Coils(self._outputs)
        self.suction = Suction(Random(f"{seed} air"))
        self.feed = FeedSide(p)
        self.feed_motor = Motor(p.contactor_s, p.pump_run_up_s, p.pump_run_down_s)
        self.pump_motor = Motor(p.contactor_s, p.pump_run_up_s, p.pump_run_down_s)
        self.regulator = Regulator(settings.drive.regulator_kind, p.feed_flow_l_h, p.regulator_open_bar)
        self.pressure = PressureSide(p.compliance_ml_bar, p.relief_bar)
        self.element = Element(p.membrane(), p.feed_flow_l_h)
        self.product = ProductSide(p)
        self.diverter = Diverter(p.diverter_travel_s)
        self.power = Power(p, settings.drive.working_pressure_bar)
        self.tank = Tank(p)
        self.hand = Hand(p, settings.drive.working_pressure_bar)
        self.temperature_c = p.temperature_c
        rested = p.rested_feed_g_kg
        self.salinity_g_kg = p.fresh_salinity_g_kg if rested is None else rested
        self.diverting = self.flush_open = self.release_open = False
        self.switch_open = False
        self.interlock_open = False
        self.made_l_h = self.cell_l_h = self.tank_l_h = self.overboard_l_h = 0.0
        self.overboard_l = self.flush_l = self.dry_s = 0.0
        self.worst_g_l: float | None = None
        self._release_due_s: float | None = None
        self.rest_regulator()
        self.switch()
        self.refresh(0.0)

    # ---- what comes from outside --------------------------------------------------------------

    def rest_regulator(self) -> None:
        """Put the regulator where it rests between runs."""
        if self._drive.regulator == "left_set":
            self.stand_regulator(self._drive.working_pressure_bar)
        else:
            self.regulator.turn_open(1.0, self._drive.working_pressure_bar + 100.0)

    def stand_regulator(self, bar: float) -> None:
        """Put the regulator where this pressure comes from, with the pump on and today's sea."""
        p = self.parameters
        membrane = p.membrane(self.upsets.water_factor, self.upsets.salt_factor)
        lumped = lumped_element(membrane, round(self.temperature_c, 1))
        product_l_h = lumped.at(p.salinity_g_kg, bar, p.feed_flow_l_h).product_flow_l_h
        self.regulator.stand_for(bar, p.feed_flow_l_h - product_l_h)

    def apply(self, upsets: Upsets) -> None:
        """Take over what is wrong from now on; `switch` and `refresh` then let it act."""
        before, self.upsets = self.upsets, upsets
        self.coils.welded = frozenset(upsets.welded)
        if (upsets.water_factor, upsets.salt_factor) != (before.water_factor, before.salt_factor):
            self.element.fit(self.parameters.membrane(upsets.water_factor, upsets.salt_factor))
        if upsets.tank_percent != before.tank_percent:
            self.tank.put_at(upsets.tank_percent)
        if (upsets.brine_blocked, upsets.blocked_rate_bar_ms) != (
            before.brine_blocked,
            before.blocked_rate_bar_ms,
        ):
            self.pressure.set_compliance(self._compliance_ml_bar())
        self._watch_pressure_switch()

    def switch(self) -> None:
        """Let every coil, contact and hand-operated switch take effect."""
        relay = self.coils.relay
        relay.check(self.time_s, self.contacts_closed)
        self._release_due_s = None if relay.closed else self.coils.deadline_s(self.time_s)
        self.feed_motor.command(self._closed("feed_pump") and not self.upsets.feed_pump_dead)
        self.pump_motor.command(self._pump_supplied())
        self.diverting = self._valve("product_to_tank")
        self.flush_open = self._valve("flush_valve")
        self.release_open = "pressure_release" in self.coils.pins and not self._valve("pressure_release")

    @property
    def contacts_closed(self) -> bool:
        """Whether stop button, pressure switch and interlock let the relay's coil have its supply."""
        return not (self.upsets.stop_button or self.switch_open or self.interlock_open)

    def _closed(self, output: str) -> bool:
        return self.coils.closed(output, self.time_s)

    def _valve(self, output: str) -> bool:
        stuck = self.upsets.stuck.get(output)
        return self._closed(output) if stuck is None else stuck

    def _pump_supplied(self) -> bool:
        upsets, kind = self.upsets, self._drive.pump
        if "inverter_enable" in self.coils.pins and not self._closed("inverter_enable"):
            return False
        relay = kind == "watch_only" or self._closed("high_pressure_pump")
        by_hand = kind == "relay" or self.hand.pump_switch
        running = (relay and by_hand) or upsets.hand_start
        return running and not upsets.hand_stop and not upsets.hp_pump_dead

    def _compliance_ml_bar(self) -> float:
        rate = self.upsets.blocked_rate_bar_ms
        if not self.upsets.brine_blocked or rate is None:
            return self.parameters.compliance_ml_bar
        left_l_h = self.parameters.feed_flow_l_h * self.upsets.hp_pump_factor - self.made_l_h
        return max(1.0, left_l_h) / 3.6 / (1000.0 * rate)

    # ---- time ---------------------------------------------------------------------------------

    def longest_step_s(self) -> float:
        """How far the next step may go."""
        rate = abs(self.pressure.rate_bar_s)
        if rate > BAR_A_STEP / LONGEST_S:
            longest = max(SHORTEST_S, BAR_A_STEP / rate)
        else:
            longest = LONGEST_AT_REST_S if self._at_rest() else LONGEST_S
        if (self.pump_motor.moving or self.feed_motor.moving) and longest > LONGEST_SWITCHING_S:
            longest = LONGEST_SWITCHING_S
        due_s = self._release_due_s or self.coils.relay.deadline_s()
        if due_s is not None and self.time_s < due_s < self.time_s + longest:
            return due_s - self.time_s
        return longest

    def _at_rest(self) -> bool:
        return (
            self.pressure.pressure_bar < 0.01
            and self.feed.flow_l_h == 0.0
            and not (self.feed_motor.speed or self.pump_motor.speed)
            and self.hand.ask is None
            and self.coils.relay.ready_since_s is None
            and self.diverter.position == float(self.diverting)
        )

    def step(self, seconds: float) -> None:
        """Let time pass; not longer than `longest_step_s`."""
        self._account(seconds)
        self._wash(seconds)
        self.time_s += seconds
        self._move(seconds)
        self._watch()
        self.refresh(seconds)

    def pressure_after(self, seconds: float) -> float:
        """Membrane pressure a little later than the state reached, bar."""
        return self.pressure.after(seconds)

    def _account(self, seconds: float) -> None:
        self.power.step(seconds)
        self.tank.step(seconds, self.tank_l_h, self.feed.flush_flow_l_h if self.feed.fresh else 0.0)
        self.overboard_l += self.overboard_l_h * seconds / 3600.0
        if self.feed.fresh:
            self.flush_l += self.feed.flush_flow_l_h * seconds / 3600.0
        if self.tank_l_h > FLOWING_L_H:
            self.worst_g_l = max(self.worst_g_l or 0.0, self.product.cell_g_l)
        if self.pump_motor.speed > TURNING and self.feed.pressure_bar < 0.0:
            self.dry_s += seconds

    def _wash(self, seconds: float) -> None:
        p = self.parameters
        entering = p.fresh_salinity_g_kg if self.feed.fresh else p.salinity_g_kg
        flow = self.feed.flow_l_h
        if flow > 0.0 and self.salinity_g_kg != entering:
            share = math.exp(-flow * seconds / (3600.0 * p.feed_side_volume_l))
            self.salinity_g_kg = entering + (self.salinity_g_kg - entering) * share
        brine_g_l = None
        if self.upsets.hoses_swapped:
            brine_g_l = self.element.feed_g_l * self.element.brine_g_kg / max(0.01, self.salinity_g_kg)
        self.product.step(seconds, self.element, self.made_l_h, self.cell_l_h, brine_g_l)

    def _move(self, seconds: float) -> None:
        self.pressure.step(seconds)
        self.feed_motor.step(seconds)
        self.pump_motor.step(seconds)
        self.feed.settle(seconds)
        self.diverter.step(seconds, self.diverting)
        self.product.press(seconds, self.made_l_h, self._product_shut)
        self._turn_regulator(seconds)
        if self.hand.switch(seconds) or self.hand.rearm(seconds, self.coils.relay):
            self.switch()
        sea_c = self.upsets.sea_temperature_c
        target_c = self.parameters.temperature_c if sea_c is None else sea_c
        if self.temperature_c != target_c:
            gap = target_c - self.temperature_c
            self.temperature_c += gap * -math.expm1(-seconds / self.parameters.water_settle_s)
            if abs(gap) < 0.005:
                self.temperature_c = target_c

    def _turn_regulator(self, seconds: float) -> None:
        upsets, bar = self.upsets, self.pressure.pressure_bar
        if self.hand.ask == Ask.RAISE_PRESSURE:
            brine = (self.feed.flow_l_h - self.made_l_h, self.element.product_slope)
            self.hand.raise_pressure(seconds, self.regulator, bar, self.pump_motor.speed, brine)
            return
        if self.hand.ask == Ask.OPEN_REGULATOR and upsets.regulator_left_at_bar is None:
            self.hand.open(seconds, self.regulator)
        elif upsets.regulator_drift_bar_s:
            change_bar = upsets.regulator_drift_bar_s * seconds
            self.regulator.creep(bar, change_bar, self.element.product_slope)

    def _watch(self) -> None:
        relay = self.coils.relay
        was_closed, contacts_were = relay.closed, self.switch_open
        self._watch_pressure_switch()
        relay.check(self.time_s, self.contacts_closed)
        due_s = self._release_due_s
        if (
            relay.closed is not was_closed
            or self.switch_open is not contacts_were
            or (due_s is not None and self.time_s >= due_s)
        ):
            self.switch()

    def _watch_pressure_switch(self) -> None:
        setting, bar = self.parameters.pressure_switch_bar, self.pressure.pressure_bar
        above = bar > (SWITCH_RECLOSES * setting if self.switch_open else setting)
        self.switch_open = above or self.upsets.pressure_switch

    # ---- flows of the present state -----------------------------------------------------------

    @property
    def _product_shut(self) -> bool:
        return self.upsets.product_line_closed and not self.upsets.hoses_swapped

    @property
    def _brine_shut(self) -> bool:
        upsets = self.upsets
        return upsets.brine_blocked or (upsets.product_line_closed and upsets.hoses_swapped)

    def refresh(self, seconds: float) -> None:
        """Balance all flows for the state reached; `seconds` since the last time."""
        bar = self.pressure.pressure_bar
        self._refresh_feed(bar)
        element, product = self.element, self.product
        element.refresh(
            bar,
            product.back_bar,
            feed_g_kg=self.salinity_g_kg,
            temperature_c=self.temperature_c,
            feed_l_h=self.feed.flow_l_h,
            seconds=seconds,
        )
        self.made_l_h = element.product_at(bar)
        product.refresh(element, bar, self.made_l_h)
        brine, release = (0.0, 0.0), (0.0, 0.0)
        if not self._brine_shut:
            brine = self.regulator.flow(bar)
            if self.release_open:
                release = orifice(self.regulator.open_conductance, bar)
        self.pressure.refresh(
            self.feed.flow_l_h,
            self.feed.flow_slope,
            brine=brine,
            release=release,
            through_l_h=self.made_l_h - product.reverse_l_h,
            through_slope=element.product_slope + product.reverse_slope,
        )
        self._refresh_product()
        self.power.refresh(
            self.feed_motor.speed, self.pump_motor.speed, bar, self.feed.flow_l_h, self.upsets.battery_sag_v
        )

    def _refresh_feed(self, bar: float) -> None:
        self.suction.refresh(self.time_s, self.upsets.air_severity)
        dry = self.upsets.flush_supply_empty or self.tank.litres <= 0.0
        self.feed.refresh(
            self.upsets,
            feed_speed=self.feed_motor.speed,
            pump_speed=self.pump_motor.speed,
            air=self.suction.air,
            flush_open=self.flush_open,
            supply_bar=0.0 if dry else self.parameters.flush_supply_bar,
            membrane_bar=bar,
        )

    def _refresh_product(self) -> None:
        past_cell = 0.0
        out = max(0.0, self.made_l_h - self.product.reverse_l_h)
        if self._product_shut:
            self.cell_l_h, past_cell = 0.0, self.product.relieved_l_h()
        elif self.upsets.hoses_swapped:
            self.cell_l_h, past_cell = self.pressure.brine_l_h, out
        else:
            self.cell_l_h = out
        self.tank_l_h = self.cell_l_h * self.diverter.position
        self.overboard_l_h = self.cell_l_h - self.tank_l_h + past_cell
