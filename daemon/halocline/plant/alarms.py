"""The table of causes and effects: what can be wrong, when it is judged, and what happens then.

One row a cause. `armed` are the states in which the condition is judged, `delay_s` how long it must
hold, `clear_s` how long it must be gone, `dead_band` how far a measured value must have come back inside its limit for
that, in the value's own unit; a trip that `holds_in_trip` is judged on while tripped and cannot be reset before its
cause is gone. A stop keeps the high-pressure pump on while a hand opens the regulator, unless `pump_suffers`; such a
row is judged while stopping as well, for it may come after the stop. Where `feed_is_dry`, there is nothing to feed
even a pump that does not obey. `follows` are the causes that bring this one with them: while one of them stands, this
one is listed under it and calls nobody. Conditions themselves stand in `control.conditions` under the same ids,
sentences in `plant.words`. Delays and dead bands without another note are common practice.
"""

from dataclasses import dataclass
from enum import StrEnum

from halocline.plant.vocabulary import AT_REST, CHANNELS, PUMPING, RUNNING, State

S = State


class Effect(StrEnum):
    """What a cause does to the plant. An effect is never suppressed by acknowledging or shelving."""

    TRIP = "trip"
    STOP = "stop"
    DIVERT = "divert"
    WARN = "warn"


class Stop(StrEnum):
    """How a cause that ends a run lets the high-pressure pump end."""

    ORDERLY = "orderly"
    """The pump stays on for a little while a hand opens the regulator: pressure goes with the flow."""
    AT_ONCE = "at once"
    """The pump itself suffers from every further second; the regulator is opened without it."""


class Priority(StrEnum):
    """How soon a person must act (IEC 62682)."""

    URGENT = "urgent"
    HIGH = "high"
    LOW = "low"
    LOG = "log"


class AlarmState(StrEnum):
    """The life cycle of an alarm (IEC 62682)."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned-unacknowledged"
    LATCHED = "latched"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed"
    OUT_OF_SERVICE = "out-of-service"


NEVER_SET_ASIDE = frozenset({"attendance_due", "restarted_unexpectedly"})
"""What waits for somebody is answered or acknowledged, not put out of sight."""

EFFECT_ORDER = (Effect.TRIP, Effect.STOP, Effect.DIVERT, Effect.WARN)
PRIORITY_ORDER = (Priority.URGENT, Priority.HIGH, Priority.LOW, Priority.LOG)


@dataclass(frozen=True, slots=True)
class Cause:
    """One row of the table."""

    id: str
    effect: Effect
    priority: Priority
    armed: frozenset[State]
    delay_s: float = 0.0
    clear_s: float = 1.0
    holds_in_trip: bool = False
    dead_band: float = 0.0
    follows: tuple[str, ...] = ()
    pump_suffers: bool = False
    feed_is_dry: bool = False

    @property
    def stop(self) -> Stop:
        """How the pump ends: a trip switches everything off, a stop only what would suffer from being kept on."""
        return Stop.AT_ONCE if self.effect is Effect.TRIP or self.pump_suffers else Stop.ORDERLY

    @property
    def latched(self) -> bool:
        """Trips stay until acknowledged and reset; all else returns by itself."""
        return self.effect is Effect.TRIP

    @property
    def may_be_set_aside(self) -> bool:
        """Whether people may shelve it or take it out of service: only what merely tells, and can wait."""
        return self.effect is Effect.WARN and self.priority is not Priority.URGENT and self.id not in NEVER_SET_ASIDE


ALWAYS = frozenset(State)
WATER = frozenset({S.DIVERTING, S.PRODUCING})
PRESSURE = PUMPING | {S.HAND_RUN}
AWAKE = frozenset(State) - {S.TRIPPED, S.LAID_UP}
IDLE = AT_REST | {S.BENCH}
FEEDING = frozenset({S.PRIMING, *PRESSURE, S.STOPPING})

T, HALT, D, W = Effect.TRIP, Effect.STOP, Effect.DIVERT, Effect.WARN
URGENT, HIGH, LOW, LOG = Priority.URGENT, Priority.HIGH, Priority.LOW, Priority.LOG

FEED_FAILED = ("feed_pressure_low_low", "feed_pressure_unsteady")
SALT_IN_THE_PRODUCT = ("product_salty", "product_salty_at_once", "quality_not_reached", "quality_returns_repeatedly")

ROWS: tuple[Cause, ...] = (
    Cause("stop_button", T, URGENT, ALWAYS - {S.LAID_UP}, holds_in_trip=True),
    Cause("bilge_wet", T, URGENT, ALWAYS - {S.LAID_UP}, delay_s=0.5, holds_in_trip=True),
    Cause("pressure_switch", T, URGENT, AWAKE, holds_in_trip=True, follows=("vessel_pressure_high_high",)),
    Cause(
        "vessel_pressure_high_high",
        T,
        URGENT,
        AWAKE,
        holds_in_trip=True,
        dead_band=1.0,
        follows=("pressure_switch",),
    ),
    Cause("regulator_closed", T, HIGH, frozenset({S.PRESSURISING}), dead_band=1.0),
    Cause("pressure_rise_too_fast", T, HIGH, frozenset({S.PRESSURISING}), delay_s=2.0, dead_band=0.3),
    Cause("vessel_pressure_not_reached", T, HIGH, frozenset({S.PRESSURISING})),
    Cause("vessel_pressure_lost", T, HIGH, WATER, delay_s=2.0, dead_band=1.0, follows=("feed_pressure_low_low",)),
    Cause("pressure_not_released", T, URGENT, frozenset({S.STOPPING, S.BENCH}), holds_in_trip=True, dead_band=0.5),
    Cause("feed_pressure_not_reached", T, HIGH, frozenset({S.PRIMING}), feed_is_dry=True),
    Cause("feed_pressure_low_low", T, HIGH, PRESSURE, dead_band=0.05, feed_is_dry=True),
    # Before those that judge old readings: after a halt all of them are old, and the halt is why.
    Cause("scan_overrun", T, HIGH, AWAKE - {S.STANDBY}),
    Cause("adc_lost", T, HIGH, AWAKE - {S.STANDBY}, holds_in_trip=True, follows=("scan_overrun",)),
    Cause(
        "sensor_fault_vessel_pressure",
        T,
        HIGH,
        # After a trip it is what tells when the pressure is gone: losing it then is told as well.
        AWAKE - {S.STANDBY} | {S.TRIPPED},
        clear_s=5.0,
        holds_in_trip=True,
        follows=("scan_overrun", "adc_lost"),
    ),
    Cause(
        "sensor_fault_feed_pressure",
        T,
        HIGH,
        frozenset({S.PRIMING, S.FLUSHING, S.STOPPING, *PRESSURE}),
        clear_s=5.0,
        holds_in_trip=True,
        follows=("scan_overrun", "adc_lost"),
    ),
    Cause("output_disagrees", T, HIGH, AWAKE - {S.STANDBY}, delay_s=3.0, holds_in_trip=True),
    Cause("product_pressure_high", T, URGENT, AWAKE, delay_s=2.0, holds_in_trip=True, dead_band=0.1),
    Cause("product_salty_at_once", T, HIGH, PUMPING, delay_s=2.0, dead_band=500.0),
    Cause("water_lost", T, HIGH, WATER, delay_s=10.0, dead_band=5.0, follows=("vessel_pressure_lost",)),
    Cause("quality_not_reached", HALT, HIGH, frozenset({S.DIVERTING})),
    Cause("quality_returns_repeatedly", HALT, HIGH, WATER),
    Cause("product_salty", HALT, HIGH, WATER, delay_s=10.0, dead_band=250.0, follows=("product_salty_at_once",)),
    Cause(
        "feed_pressure_unsteady",
        HALT,
        HIGH,
        PUMPING | {S.STOPPING},
        delay_s=10.0,
        follows=("feed_pressure_low_low",),
        pump_suffers=True,
    ),
    Cause(
        "feed_lost_while_stopping",
        HALT,
        HIGH,
        frozenset({S.STOPPING}),
        dead_band=0.05,
        follows=FEED_FAILED,
        pump_suffers=True,
        feed_is_dry=True,
    ),
    Cause(
        "product_flow_too_high",
        HALT,
        HIGH,
        WATER,
        delay_s=10.0,
        dead_band=2.0,
        follows=("product_salty_at_once", "product_salty"),
    ),
    Cause("recovery_high", HALT, HIGH, WATER, delay_s=30.0, dead_band=0.01, follows=("product_flow_too_high",)),
    Cause("motor_too_warm", HALT, HIGH, PUMPING | {S.STOPPING}, delay_s=5.0, dead_band=5.0, pump_suffers=True),
    Cause("water_too_warm", HALT, HIGH, RUNNING, delay_s=60.0, dead_band=1.0),
    Cause("tank_full", HALT, LOG, RUNNING),
    Cause("battery_low", HALT, LOW, RUNNING, delay_s=30.0, dead_band=0.3),
    Cause("run_limit", HALT, LOG, RUNNING),
    Cause("motor_must_rest", HALT, LOG, RUNNING),
    Cause("unattended", HALT, LOW, RUNNING),
    Cause(
        "quality_lost",
        D,
        HIGH,
        frozenset({S.PRODUCING, S.DIVERTING}),
        clear_s=0.0,
        follows=(*SALT_IN_THE_PRODUCT, *FEED_FAILED, "vessel_pressure_lost", "product_salt_noisy"),
    ),
    Cause(
        "product_salt_noisy",
        D,
        HIGH,
        frozenset({S.PRODUCING, S.DIVERTING}),
        clear_s=5.0,
        follows=("sensor_fault_product_conductivity", "adc_lost"),
    ),
    Cause("sensor_fault_product_conductivity", D, HIGH, RUNNING, delay_s=0.5, clear_s=5.0, follows=("adc_lost",)),
    Cause("sensor_fault_sea_temperature", D, HIGH, RUNNING, delay_s=0.5, clear_s=5.0, follows=("adc_lost",)),
    Cause(
        "product_flow_missing",
        D,
        HIGH,
        WATER,
        delay_s=5.0,
        dead_band=0.5,
        follows=(*FEED_FAILED, "vessel_pressure_lost", "product_pressure_high"),
    ),
    Cause(
        "vessel_pressure_high",
        W,
        HIGH,
        PRESSURE,
        delay_s=0.5,
        clear_s=5.0,
        dead_band=0.5,
        follows=("vessel_pressure_high_high", "pressure_switch"),
    ),
    Cause("feed_pressure_low", W, HIGH, FEEDING, delay_s=1.0, clear_s=5.0, dead_band=0.05, follows=FEED_FAILED),
    Cause("feed_pressure_wavering", W, HIGH, PUMPING, delay_s=4.0, clear_s=10.0, follows=FEED_FAILED),
    Cause("water_unaccounted", W, HIGH, WATER, delay_s=60.0, clear_s=30.0, dead_band=5.0, follows=("water_lost",)),
    Cause(
        "filter_drop_high",
        W,
        LOW,
        WATER,
        delay_s=30.0,
        clear_s=30.0,
        dead_band=0.05,
        follows=("feed_pressure_low_low",),
    ),
    Cause(
        "recovery_near_limit",
        W,
        LOW,
        WATER,
        delay_s=30.0,
        clear_s=30.0,
        dead_band=0.01,
        follows=("recovery_high", "product_flow_too_high"),
    ),
    Cause("attendance_due", W, HIGH, RUNNING, follows=("unattended",)),
    Cause(
        "product_flow_jumped",
        W,
        HIGH,
        WATER,
        delay_s=30.0,
        clear_s=30.0,
        dead_band=0.05,
        follows=(*FEED_FAILED, "product_flow_missing", "product_flow_too_high", "product_pressure_high"),
    ),
    Cause(
        "product_salt_jumped",
        W,
        HIGH,
        WATER,
        delay_s=30.0,
        clear_s=30.0,
        dead_band=0.1,
        follows=(*SALT_IN_THE_PRODUCT, "quality_lost", "sensor_fault_product_conductivity"),
    ),
    Cause(
        "product_flow_low",
        W,
        LOW,
        WATER,
        delay_s=120.0,
        clear_s=60.0,
        dead_band=0.05,
        follows=("product_flow_jumped", "product_flow_missing"),
    ),
    Cause(
        "product_flow_high",
        W,
        LOW,
        WATER,
        delay_s=120.0,
        clear_s=60.0,
        dead_band=0.05,
        follows=("product_flow_jumped", "product_flow_too_high", "recovery_high", *SALT_IN_THE_PRODUCT),
    ),
    Cause(
        "product_salt_high",
        W,
        LOW,
        WATER,
        delay_s=120.0,
        clear_s=60.0,
        dead_band=0.15,
        follows=("product_salt_jumped", "quality_lost", *SALT_IN_THE_PRODUCT),
    ),
    Cause("water_warm", W, LOW, RUNNING, delay_s=30.0, clear_s=30.0, dead_band=1.0, follows=("water_too_warm",)),
    Cause("water_too_cold", W, LOW, RUNNING, delay_s=30.0, clear_s=30.0, dead_band=0.5),
    Cause(
        "pressure_without_command",
        W,
        URGENT,
        ALWAYS,
        delay_s=0.2,
        dead_band=0.5,
        follows=("pressure_not_released",),
    ),
    Cause("flush_failed", W, HIGH, ALWAYS),
    Cause("flush_due", W, LOW, frozenset({S.STANDBY, S.TRIPPED})),
    Cause("flush_valve_leaking", W, LOW, frozenset({S.STANDBY}), delay_s=60.0, dead_band=0.5),
    Cause("flush_backflow", W, HIGH, RUNNING, delay_s=10.0, dead_band=0.5),
    Cause("preservative_due", W, LOW, frozenset({S.STANDBY, S.LAID_UP})),
    Cause("motor_overworked", W, HIGH, frozenset({S.HAND_RUN, S.STOPPING, S.TRIPPED}), clear_s=5.0),
    Cause("frost_risk", W, HIGH, IDLE, delay_s=60.0, clear_s=600.0, dead_band=0.5),
    Cause("restarted_unexpectedly", W, HIGH, ALWAYS),
    Cause("calibrations_unreadable", W, HIGH, ALWAYS),
    Cause("calibrations_outdated", W, LOW, ALWAYS),
    Cause("clock_unset", W, LOG, ALWAYS, delay_s=60.0),
    Cause("interlock_not_armed", W, HIGH, ALWAYS),
    Cause("supply_voltage_low", W, HIGH, ALWAYS, delay_s=2.0, clear_s=60.0),
    *(
        Cause(f"sensor_fault_{channel}", W, LOW, AWAKE, delay_s=3.0, clear_s=5.0, follows=("adc_lost", "scan_overrun"))
        for channel in CHANNELS
        if channel
        not in {
            "vessel_pressure",
            "feed_pressure",
            "product_conductivity",
            "sea_temperature",
            "product_flow",
        }
    ),
)

CAUSES: dict[str, Cause] = {row.id: row for row in ROWS}
