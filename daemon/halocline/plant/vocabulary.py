"""The words every part of Halocline shares: channels, contacts, outputs, states, qualities."""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple


class Quality(StrEnum):
    """What a reading is worth. Only ``good`` is ever good news."""

    GOOD = "good"
    UNDER = "under"
    OVER = "over"
    OPEN = "open"
    SHORT = "short"
    STALE = "stale"
    STUCK = "stuck"
    IMPLAUSIBLE = "implausible"
    MISSING = "missing"


GOOD = Quality.GOOD
"""Asked for in every reading, and a name of its own is found in a fifth of the time that a member takes."""
VALUED_QUALITIES = frozenset({Quality.GOOD, Quality.UNDER, Quality.OVER})


class Reading(NamedTuple):
    """One channel as it is known now: `value` in the channel's unit (None unless the quality carries one),
    `raw` as measured (V for analogue inputs, Hz for pulses), `age_s` since it was measured."""

    value: float | None
    raw: float | None
    unit: str
    quality: Quality
    age_s: float | None

    @property
    def good(self) -> float | None:
        """The value if its quality is good, else None."""
        return self.value if self.quality is GOOD else None


class Part(StrEnum):
    """The parts of the plant as its drawing shows them: where an alarm is marked."""

    SEA = "sea"
    FILTERS = "filters"
    PUMP_INLET = "pump_inlet"
    PRESSURE_PUMP = "pressure_pump"
    MEMBRANE = "membrane"
    PRODUCT = "product"
    TANK = "tank"
    FLUSH = "flush"


@dataclass(frozen=True, slots=True)
class Channel:
    """A measured quantity: its id, its unit in every interface, the least and the most that any sensor for it spans
    (what the medium or the machine can ever be, generously), whether the plant can run without it, and the part of the
    plant that it looks at."""

    id: str
    unit: str
    least: float
    most: float
    needed: bool
    part: Part | None = None


CHANNELS: dict[str, Channel] = {
    channel.id: channel
    for channel in (
        Channel("vessel_pressure", "bar", -1, 250, needed=True, part=Part.MEMBRANE),
        Channel("feed_pressure", "bar", -1, 25, needed=True, part=Part.PUMP_INLET),
        Channel("product_conductivity", "µS/cm", 0, 200000, needed=True, part=Part.PRODUCT),
        Channel("sea_temperature", "°C", -20, 100, needed=True, part=Part.SEA),
        Channel("product_flow", "L/h", 0, 6000, needed=True, part=Part.PRODUCT),
        Channel("filter_inlet_pressure", "bar", -1, 25, needed=False, part=Part.FILTERS),
        Channel("brine_pressure", "bar", -1, 250, needed=False, part=Part.MEMBRANE),
        Channel("brine_flow", "L/h", 0, 6000, needed=False, part=Part.MEMBRANE),
        Channel("flush_flow", "L/h", 0, 6000, needed=False, part=Part.FLUSH),
        Channel("product_pressure", "bar", -1, 25, needed=False, part=Part.PRODUCT),
        Channel("battery_voltage", "V", 0, 100, needed=False),
        Channel("battery_current", "A", -2000, 2000, needed=False),
        Channel("battery_charge_percent", "%", 0, 100, needed=False),
        Channel("motor_current", "A", -500, 500, needed=False, part=Part.PRESSURE_PUMP),
        Channel("pump_motor_temperature", "°C", -50, 250, needed=False, part=Part.PRESSURE_PUMP),
        Channel("tank_fill", "%", 0, 100, needed=False, part=Part.TANK),
    )
}

NEEDED_CHANNELS = tuple(channel.id for channel in CHANNELS.values() if channel.needed)

FLOW_CHANNELS = frozenset(channel.id for channel in CHANNELS.values() if channel.unit == "L/h")

CONTACTS = (
    "stop_button",
    "bilge_wet",
    "pressure_switch",
    "diverter_at_tank",
    "diverter_overboard",
    "flow_at_tank",
    "tank_float",
    "plant_button",
)
"""Normally closed: an open circuit, a broken wire included, reads as active."""

ACTUATORS = ("feed_pump", "high_pressure_pump", "product_to_tank", "flush_valve")
OPTIONAL_OUTPUTS = ("pressure_release", "inverter_enable", "buzzer", "beacon")
OUTPUTS = (*ACTUATORS, *OPTIONAL_OUTPUTS, "heartbeat")
"""De-energised is the safe side of each."""

DERIVED: dict[str, str] = {
    "product_tds_mg_l": "mg/L",
    "filter_drop_bar": "bar",
    "recovery": "1",
    "specific_energy_wh_l": "Wh/L",
    "pressure_rate_bar_s": "bar/s",
    "expected_flow_l_h": "L/h",
    "expected_tds_mg_l": "mg/L",
    "target_pressure_bar": "bar",
}


class State(StrEnum):
    """The states of the sequence."""

    STANDBY = "standby"
    PRIMING = "priming"
    PRESSURISING = "pressurising"
    DIVERTING = "diverting"
    PRODUCING = "producing"
    STOPPING = "stopping"
    FLUSHING = "flushing"
    TRIPPED = "tripped"
    LAID_UP = "laid_up"
    HAND_RUN = "hand_run"
    BENCH = "bench"


PUMPING = frozenset({State.PRESSURISING, State.DIVERTING, State.PRODUCING})
"""The high-pressure pump is on, or permitted."""
RUNNING = PUMPING | {State.PRIMING}
"""A run goes on."""
MAKING_WATER = frozenset({State.DIVERTING, State.PRODUCING})
"""The membrane works."""
AT_REST = frozenset({State.STANDBY, State.TRIPPED, State.LAID_UP})
"""Nothing is under way."""


class Origin(StrEnum):
    """Where a command came from."""

    PAGE = "page"
    CLI = "cli"
    MQTT = "mqtt"
    PLANT = "plant"


PURGES = ("preservative", "glycol", "new_element", "cleaning")
"""What first water has to be purged of."""


LOG_KINDS = (
    "filter_changed",
    "strainer_cleaned",
    "oil_changed",
    "hand_meter",
    "bucket_test",
    "gauge_read",
    "sea_salinity",
    "finding_aside",
    "cleaned",
    "element_changed",
    "circuit_opened",
    "purge_confirmed",
    "tank_chlorinated",
    "shore_water_taken",
    "chlorine_strip_zero",
    "chlorine_read",
    "duty_done",
    "stores_counted",
    "at_the_plant",
    "alarm_out_of_service",
    "alarm_in_service",
    "commissioned",
    "note",
)
"""Work done by hand that can be put on record."""


FINDINGS = (
    "fouling",
    "scaling",
    "membrane_damage",
    "worn_pump",
    "conductivity_drift",
    "pressure_drift",
    "flow_meter_drift",
    "prefilter",
    "sea_salinity",
)
"""What the record may say of how the plant ages, and a person can put aside."""


class Ask(StrEnum):
    """What only a person can do, when it is due."""

    OPEN_REGULATOR = "open_regulator"
    RAISE_PRESSURE = "raise_pressure"
    SWITCH_PUMP_ON = "switch_pump_on"
    SWITCH_PUMP_OFF = "switch_pump_off"
    REARM_RELAY = "rearm_relay"
    STILL_THERE = "still_there"
