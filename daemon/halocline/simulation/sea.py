"""The simulated sea and boat as the electronics meet them: levels in, volts, contacts and pulses out."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from random import Random
from typing import Any

from halocline.physics.conductivity import conductivity_25c_us_cm, temperature_ratio
from halocline.plant.sensors import AnalogueInput, Pulses, Ratiometric
from halocline.plant.settings import Settings
from halocline.simulation.faults import ActiveFaults, Fitted, Request, Value, parse
from halocline.simulation.instruments import AnalogueSensor, Meter
from halocline.simulation.offer import offered, standing
from halocline.simulation.parameters import PlantParameters
from halocline.simulation.plant import Plant
from halocline.simulation.truth import Truth
from halocline.simulation.voltages import lsb_v

LONGEST_REAL_STEP_S = 0.05
"""Under a real clock, time beyond this between two looks is lost to the plant rather than caught up."""

UNWIRED_V = 0.0
FLOW_SWITCH_L_H = 5.0
AT_END = 0.02
CLOCK_TOLERANCE_S = 1e-9

ChipFault = Callable[[str, int, bool], None]


def _conductivity_us_cm(plant: Plant, compensated: bool, _ahead_s: float) -> float:
    at_25c = conductivity_25c_us_cm(min(80_000.0, 1000.0 * plant.product.probe_g_l))
    return at_25c if compensated else at_25c * temperature_ratio(plant.temperature_c, "nacl")


VALUES: dict[str, Callable[[Plant, float], float]] = {
    "vessel_pressure": Plant.pressure_after,
    "feed_pressure": lambda plant, _ahead_s: plant.feed.pressure_bar,
    "sea_temperature": lambda plant, _ahead_s: plant.temperature_c,
    "filter_inlet_pressure": lambda plant, _ahead_s: plant.feed.filter_inlet_bar,
    "brine_pressure": lambda plant, ahead_s: max(0.0, plant.pressure_after(ahead_s) - plant.element.drop_bar),
    "product_pressure": lambda plant, _ahead_s: plant.product.back_bar,
    "battery_voltage": lambda plant, _ahead_s: plant.power.volts,
    "battery_current": lambda plant, _ahead_s: plant.power.current_a,
    "battery_charge_percent": lambda plant, _ahead_s: plant.power.charge_percent,
    "motor_current": lambda plant, _ahead_s: plant.power.motor_w / plant.parameters.motor_voltage_v,
    "pump_motor_temperature": lambda plant, _ahead_s: plant.power.motor_c,
    "tank_fill": lambda plant, _ahead_s: plant.tank.percent,
    "product_flow": lambda plant, _ahead_s: plant.cell_l_h,
    "brine_flow": lambda plant, _ahead_s: 0.0 if plant.upsets.hoses_swapped else plant.pressure.brine_l_h,
    "flush_flow": lambda plant, _ahead_s: plant.feed.flush_flow_l_h,
}
"""The true value of each channel, `ahead_s` after the state the plant has reached."""

ACTIVE: dict[str, Callable[[Plant], bool]] = {
    "stop_button": lambda plant: plant.upsets.stop_button,
    "bilge_wet": lambda plant: plant.upsets.bilge_wet,
    "pressure_switch": lambda plant: plant.switch_open or plant.interlock_open,
    "diverter_at_tank": lambda plant: plant.diverter.position >= 1.0 - AT_END,
    "diverter_overboard": lambda plant: plant.diverter.position <= AT_END,
    "flow_at_tank": lambda plant: plant.tank_l_h > FLOW_SWITCH_L_H,
    "tank_float": lambda plant: plant.tank.float_up,
}
"""When each contact is active, which is when its circuit is open."""


def what_is_fitted(settings: Settings) -> Fitted:
    """What the boat of these settings has that a fault can strike."""
    analogue = {name: sensor for name, sensor in settings.inputs.items() if not isinstance(sensor, Pulses)}
    supplies = [
        sensor.supply_address
        for sensor in analogue.values()
        if isinstance(sensor, Ratiometric) and sensor.supply_mux is not None and sensor.supply_address is not None
    ]
    own: set[int] = set() if settings.interlock is None else {settings.interlock.address}
    return Fitted(
        outputs=tuple(settings.outputs),
        analogue=tuple(analogue),
        pulses=tuple(name for name in settings.inputs if name not in analogue),
        addresses=tuple(sorted({sensor.address for sensor in analogue.values()} | set(supplies) | own)),
    )


class Sea:
    """One simulated boat. All `now` are seconds on the caller's clock and never go back.

    With `slip` (a real clock) a computer that falls behind makes simulated time slip by what exceeds 50 ms;
    without it every instant is played, however long the caller was away. `on_chip_fault(name, address,
    clear)` is called for faults of the electronics, which the simulated chips have to play.
    """

    def __init__(
        self,
        settings: Settings,
        parameters: PlantParameters,
        seed: int,
        now: float,
        *,
        slip: bool = False,
        on_chip_fault: ChipFault | None = None,
    ) -> None:
        self.settings = settings
        self.chip_faults: dict[int, set[str]] = {}
        self._slip, self._slipped_s, self._clock_s = slip, 0.0, now
        self._on_chip_fault = on_chip_fault
        self._plant = Plant(settings, parameters, seed, now)
        self._faults = ActiveFaults()
        self._pressed_until_s = now
        self._due_s = -math.inf  # when the plant's next step is over; never: something has just changed
        self._fit_sensors(seed)
        # The plant's own button is pressed by a person, not by anything of the plant.
        self._contacts = tuple((line, ACTIVE.get(line)) for line in settings.contacts)

    def _fit_sensors(self, seed: int) -> None:
        p = self._plant.parameters
        self._noise = Random(f"{seed} unwired")
        self._analogue: dict[tuple[int, int], AnalogueSensor] = {}
        self._supplies: dict[tuple[int, int], float] = {}
        self._meters: dict[str, Meter] = {}
        for channel, sensor in self.settings.inputs.items():
            random = Random(f"{seed} {channel}")
            value = self._value(channel, sensor)
            if isinstance(sensor, Pulses):
                self._meters[channel] = Meter(channel, sensor, value, p.meter_threshold, random)
            else:
                key = (sensor.address, sensor.mux)
                self._analogue[key] = AnalogueSensor(
                    channel,
                    sensor,
                    value,
                    noise_lsb=p.noise_lsb,
                    supply_factor=p.sensor_supply_v,
                    random=random,
                )
            if isinstance(sensor, Ratiometric) and sensor.supply_mux is not None:
                address = sensor.address if sensor.supply_address is None else sensor.supply_address
                supply_v = sensor.supply_v * p.sensor_supply_v / sensor.divider
                self._supplies[address, sensor.supply_mux] = supply_v
        interlock = self.settings.interlock
        pressure = self.settings.inputs.get("vessel_pressure")
        if interlock is not None and isinstance(pressure, AnalogueInput):
            # One more chip on the same wire: whatever befalls the sensor, both see it.
            self._analogue[interlock.address, interlock.mux] = self._analogue[pressure.address, pressure.mux]
        self._fitted = what_is_fitted(self.settings)

    def _value(self, channel: str, sensor: AnalogueInput | Pulses) -> Callable[[float], float]:
        if channel == "product_conductivity":
            compensated = isinstance(sensor, AnalogueInput) and sensor.compensation == "done"
            return partial(_conductivity_us_cm, self._plant, compensated)
        return partial(VALUES[channel], self._plant)

    # ---- time ---------------------------------------------------------------------------------

    def advance(self, now: float) -> None:
        """Let the plant live until `now`."""
        self._live_until(self._own_time(now))

    @property
    def pressure_rate_bar_s(self) -> float:
        """How fast membrane pressure changes at this moment, bar/s."""
        return self._plant.pressure.rate_bar_s

    def _own_time(self, now: float) -> float:
        """The plant's own time, and remember that the caller was here."""
        if now > self._clock_s:
            away_s = now - self._clock_s
            if self._slip and away_s > LONGEST_REAL_STEP_S:
                self._slipped_s += away_s - LONGEST_REAL_STEP_S
            self._clock_s = now
        return self._clock_s - self._slipped_s

    def _live_until(self, own_s: float) -> None:
        plant, until_s = self._plant, own_s + CLOCK_TOLERANCE_S
        while self._due_s <= until_s:
            step_s = plant.longest_step_s()
            self._due_s = plant.time_s + step_s
            if self._due_s <= until_s:
                self._step(step_s)

    def _live_exactly_until(self, now: float) -> float:
        """Catch up to the instant, because something changes at it."""
        own_s = self._own_time(now)
        self._live_until(own_s)
        left_s = own_s - self._plant.time_s
        if left_s > 0.0:
            self._step(left_s)
        self._due_s = -math.inf
        return own_s

    def _step(self, seconds: float) -> None:
        plant = self._plant
        plant.step(seconds)
        own_s = plant.time_s
        for meter in self._meters.values():
            meter.step(own_s, seconds)
            if meter.ill:
                meter.note(own_s)
            meter.refresh(own_s)
        for sensor in self._analogue.values():
            if sensor.ill:
                sensor.note(own_s)

    # ---- what the board does ------------------------------------------------------------------

    def set_output(self, line: str, on: bool, now: float) -> None:
        """Drive an output line. Raises ValueError for a line the boat does not have."""
        pins = self._plant.coils.pins
        if line not in pins:
            raise ValueError(f"no output is called {line!r}; there are {', '.join(pins)}")
        if pins[line] is bool(on):
            return
        if line == "heartbeat":
            self._beat(on, now)
            return
        self._live_exactly_until(now)
        pins[line] = bool(on)
        self._changed()

    def _beat(self, on: bool, now: float) -> None:
        coils = self._plant.coils
        coils.pins["heartbeat"] = on
        if coils.relay.closed:
            # Nothing but the relay's deadline depends on an edge, so the plant need not be caught up.
            own_s = self._own_time(now)
            self._live_until(own_s)
            coils.relay.edge(own_s)
        else:
            coils.relay.edge(self._live_exactly_until(now))
            self._plant.switch()

    def set_interlock(self, is_open: bool, now: float) -> None:
        """The comparator interlock's relay falls off, or takes again. No program is in that path."""
        if self._plant.interlock_open is is_open:
            return
        self._live_exactly_until(now)
        self._plant.interlock_open = is_open
        self._changed()

    def volts(self, address: int, mux: int, now: float) -> float:
        """What this input of this chip sees, V, noise included; an input with nothing on it sees 0."""
        own_s = self._own_time(now)
        self._live_until(own_s)
        sensor = self._analogue.get((address, mux))
        if sensor is not None:
            return sensor.volts(own_s, own_s - self._plant.time_s)
        noise_v = self._plant.parameters.noise_lsb * lsb_v(4.096)
        return self._supplies.get((address, mux), UNWIRED_V) + self._noise.gauss(0.0, noise_v)

    def contact_closed(self, line: str, now: float) -> bool:
        """Whether the contact's circuit is closed, which is inactive. Raises ValueError for another line."""
        own_s = self._own_time(now)
        self._live_until(own_s)
        if line == "plant_button":
            return own_s >= self._pressed_until_s
        active = ACTIVE.get(line)
        if active is None:
            raise ValueError(f"no contact is called {line!r}; there are {', '.join(ACTIVE)}, plant_button")
        return not active(self._plant)

    def contacts(self, now: float) -> dict[str, bool]:
        """Every fitted contact, and whether its circuit is closed."""
        own_s = self._own_time(now)
        self._live_until(own_s)
        plant, pressed = self._plant, own_s < self._pressed_until_s
        return {line: not (pressed if is_active is None else is_active(plant)) for line, is_active in self._contacts}

    def edges(self, line: str, now: float) -> tuple[int, float]:
        """Pulses of a meter until now, and when the last one came. Raises ValueError for another line."""
        own_s = self._own_time(now)
        self._live_until(own_s)
        meter = self._meters.get(line)
        if meter is None:
            raise ValueError(f"no meter is called {line!r}; there are {', '.join(self._meters)}")
        count, last_s = meter.edges(own_s, own_s - self._plant.time_s)
        return count, last_s + self._slipped_s

    def effective_outputs(self, now: float) -> dict[str, bool]:
        """Which outputs are really energised: the pin, and for actuators the coil supply as well."""
        self.advance(now)
        coils, own_s = self._plant.coils, self._plant.time_s
        return {output: coils.energised(output, own_s) for output in coils.pins}

    # ---- what people do -----------------------------------------------------------------------

    def ask(self, ask: str | None, now: float) -> None:
        """What the page asks a person to do now. Raises ValueError for something nobody could do."""
        if ask == self._plant.hand.ask:
            return
        self._live_exactly_until(now)
        self._plant.hand.listen(ask)

    def press_plant_button(self, now: float, seconds: float = 0.5) -> None:
        """A person presses the button at the plant."""
        self._pressed_until_s = self._live_exactly_until(now) + seconds

    def inject(self, fault: str, now: float, *, clear: bool = False, **arguments: Value) -> None:
        """Begin a fault, replace its arguments, or end it.

        Raises ValueError with one line for an unknown fault, argument, target or range.
        """
        request = parse(fault, arguments, self._fitted, clear=clear)
        own_s = self._live_exactly_until(now)
        touched = self._faults.clear(request) if clear else self._begin(request)
        if request.fault.kind == "electronics":
            for each in touched:
                self._tell_chip(each, clear)
        elif request.fault.kind == "sensor":
            for each in touched:
                self._afflict(str(each.target), own_s, fault)
        else:
            self._plant.apply(self._faults.upsets())
            self._strike(request, clear)
            self._changed()

    def faults(self) -> dict[str, Any]:
        """The faults this boat can have, and those that stand, as plain values."""
        return {"offered": offered(self._fitted), "standing": standing(self._faults.standing())}

    def _begin(self, request: Request) -> list[Request]:
        name = request.fault.name
        if name == "hand_stop" and self._faults.stands("hand_start"):
            # A person ran the pump by hand, and now a person ends it: the relay decides again.
            return self._faults.clear(parse("hand_start", {}, self._fitted, clear=True))
        if name == "hand_start":
            self._faults.clear(parse("hand_stop", {}, self._fitted, clear=True))
        self._faults.set(request)
        return [request]

    def _strike(self, request: Request, clear: bool) -> None:
        """What a fault does once, at the moment it begins or ends."""
        plant, name = self._plant, request.fault.name
        if name == "regulator_left_at" and not clear:
            plant.stand_regulator(request.values["bar"])
        elif name in ("regulator_left_at", "regulator_drift") and clear and not plant.pump_motor.speed:
            plant.rest_regulator()

    def _tell_chip(self, request: Request, clear: bool) -> None:
        name, address = request.fault.name, int(request.target or 0)
        faults = self.chip_faults.setdefault(address, set())
        if clear:
            faults.discard(name)
        else:
            faults.add(name)
        if self._on_chip_fault is not None:
            self._on_chip_fault(name, address, clear)

    def _afflict(self, channel: str, own_s: float, fault: str) -> None:
        struck = self._meters.get(channel) or next(
            sensor for sensor in self._analogue.values() if sensor.channel == channel
        )
        struck.afflict(self._faults.of_channel(channel), own_s)
        struck.illness.restart(fault, own_s)
        if isinstance(struck, Meter):
            struck.refresh(own_s)

    def _changed(self) -> None:
        """Let a change at this instant act on coils, flows and meters."""
        plant = self._plant
        plant.switch()
        plant.refresh(0.0)
        for meter in self._meters.values():
            meter.refresh(plant.time_s)

    # ---- what is true -------------------------------------------------------------------------

    def truth(self, now: float) -> Truth:
        """Everything that is true now; asking changes nothing, so all but pressure may be 50 ms old."""
        own_s = self._own_time(now)
        self._live_until(own_s)
        plant = self._plant
        bar = plant.pressure_after(own_s - plant.time_s)
        worst = plant.worst_g_l
        return Truth(
            time_s=own_s,
            vessel_pressure_bar=bar,
            pressure_rate_bar_s=plant.pressure.rate_bar_s,
            feed_pressure_bar=plant.feed.pressure_bar,
            filter_inlet_pressure_bar=plant.feed.filter_inlet_bar,
            brine_pressure_bar=max(0.0, bar - plant.element.drop_bar),
            product_pressure_bar=plant.product.back_bar,
            feed_flow_l_h=plant.feed.flow_l_h,
            product_flow_l_h=plant.made_l_h,
            brine_flow_l_h=plant.pressure.brine_l_h + plant.pressure.release_l_h,
            relief_flow_l_h=plant.pressure.relief_l_h,
            flush_flow_l_h=plant.feed.flush_flow_l_h,
            element_salinity_g_kg=plant.salinity_g_kg,
            brine_salinity_g_kg=plant.element.brine_g_kg,
            product_tds_mg_l=1000.0 * plant.product.cell_g_l,
            sea_temperature_c=plant.temperature_c,
            diverter_position=plant.diverter.position,
            regulator_open=plant.regulator.conductance / plant.regulator.open_conductance,
            tank_litres=plant.tank.litres,
            battery_v=plant.power.volts,
            battery_current_a=plant.power.current_a,
            battery_charge_percent=plant.power.charge_percent,
            pumps_w=plant.power.pumps_w,
            pump_motor_temperature_c=plant.power.motor_c,
            high_pressure_pump_speed=plant.pump_motor.speed,
            feed_pump_speed=plant.feed_motor.speed,
            flush_valve_open=plant.flush_open,
            relay_closed=plant.coils.relay.closed,
            effective_outputs=self.effective_outputs(now),
            faults=self._faults.names(),
            peak_vessel_pressure_bar=max(bar, plant.pressure.peak_bar),
            relief_lifted=plant.pressure.relief_lifted,
            tank_added_l=plant.tank.added_l,
            tank_worst_tds_mg_l=None if worst is None else 1000.0 * worst,
            overboard_l=plant.overboard_l,
            flush_l=plant.flush_l,
            energy_wh=plant.power.energy_wh,
            hp_pump_dry_s=plant.dry_s,
        )
