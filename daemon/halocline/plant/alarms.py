"""The table of causes and effects: what can be wrong, when it is judged, and what happens then.

One row a cause. `armed` are the states in which the condition is judged, `delay_s` how long it must hold, `clear_s` how
long it must be gone, `dead_band` how far a measured value must have come back inside its limit for that, in the value's
own unit; a trip that `holds_in_trip` is judged on while tripped and cannot be reset before its cause is gone. A stop
keeps the high-pressure pump on while a hand opens the regulator, unless `pump_suffers`; such a row is judged while
stopping as well, for it may come after the stop. Where `feed_is_dry`, there is nothing to feed even a pump that does
not obey. `consequence_of` are the causes that bring this one with them: while one of them stands, this one is listed
under it and calls no person. `part` is where the page's drawing of the plant marks it; `delay_setting` names the limit
that an owner sets in place of `delay_s`. Conditions themselves stand in `control.alarm_conditions` under the same ids,
sentences in `plant.words`. Delays and dead bands without another note are common practice.
"""

from dataclasses import dataclass
from enum import StrEnum

from halocline.plant.settings import LimitSettings
from halocline.plant.vocabulary import AT_REST, CHANNELS, PUMPING, RUNNING, Part, State

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


SET_ASIDE = frozenset({AlarmState.SHELVED, AlarmState.SUPPRESSED, AlarmState.OUT_OF_SERVICE})
"""Known, and calling nobody."""

NEVER_SET_ASIDE = frozenset({"attendance_due", "restarted_unexpectedly"})
"""What waits for a person is answered or acknowledged, not put out of sight."""

EFFECT_ORDER = (Effect.TRIP, Effect.STOP, Effect.DIVERT, Effect.WARN)
PRIORITY_ORDER = (Priority.URGENT, Priority.HIGH, Priority.LOW, Priority.LOG)


@dataclass(frozen=True, slots=True)
class AlarmDefinition:
    """One row of the table."""

    id: str
    effect: Effect
    priority: Priority
    armed: frozenset[State]
    delay_s: float = 0.0
    clear_s: float = 1.0
    holds_in_trip: bool = False
    dead_band: float = 0.0
    consequence_of: tuple[str, ...] = ()
    pump_suffers: bool = False
    feed_is_dry: bool = False
    part: Part | None = None
    delay_setting: str | None = None

    def delay_under(self, limits: LimitSettings) -> float:
        """How long the condition must hold, in s: the owner's setting where the row names one."""
        return self.delay_s if self.delay_setting is None else float(getattr(limits, self.delay_setting))

    @property
    def stop(self) -> Stop:
        """How the pump ends: a trip switches everything off, a stop only what would suffer from being kept on."""
        return Stop.AT_ONCE if self.effect is Effect.TRIP or self.pump_suffers else Stop.ORDERLY

    @property
    def latched(self) -> bool:
        """Trips stay until acknowledged and reset; all else returns by itself."""
        return self.effect is Effect.TRIP

    @property
    def makes_a_case(self) -> bool:
        """Whether its coming is worth finding out about: it protects, and is not an everyday end of a run."""
        return self.effect is not Effect.WARN and self.priority is not Priority.LOG

    @property
    def may_be_suppressed(self) -> bool:
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

ROWS: tuple[AlarmDefinition, ...] = (
    AlarmDefinition("stop_button", T, URGENT, ALWAYS - {S.LAID_UP}, holds_in_trip=True),
    AlarmDefinition("bilge_wet", T, URGENT, ALWAYS - {S.LAID_UP}, delay_s=0.5, holds_in_trip=True),
    AlarmDefinition(
        "pressure_switch",
        T,
        URGENT,
        AWAKE,
        holds_in_trip=True,
        consequence_of=("vessel_pressure_high_high",),
        part=Part.MEMBRANE,
    ),
    AlarmDefinition(
        "vessel_pressure_high_high",
        T,
        URGENT,
        AWAKE,
        holds_in_trip=True,
        dead_band=1.0,
        consequence_of=("pressure_switch",),
        part=Part.MEMBRANE,
    ),
    AlarmDefinition("regulator_closed", T, HIGH, frozenset({S.PRESSURISING}), dead_band=1.0, part=Part.MEMBRANE),
    AlarmDefinition(
        "pressure_rise_too_fast", T, HIGH, frozenset({S.PRESSURISING}), delay_s=2.0, dead_band=0.3, part=Part.MEMBRANE
    ),
    AlarmDefinition("vessel_pressure_not_reached", T, HIGH, frozenset({S.PRESSURISING}), part=Part.MEMBRANE),
    AlarmDefinition(
        "vessel_pressure_lost",
        T,
        HIGH,
        WATER,
        delay_s=2.0,
        dead_band=1.0,
        consequence_of=("feed_pressure_low_low",),
        part=Part.MEMBRANE,
    ),
    AlarmDefinition(
        "pressure_not_released",
        T,
        URGENT,
        frozenset({S.STOPPING, S.BENCH}),
        holds_in_trip=True,
        dead_band=0.5,
        part=Part.MEMBRANE,
    ),
    AlarmDefinition(
        "feed_pressure_not_reached", T, HIGH, frozenset({S.PRIMING}), feed_is_dry=True, part=Part.PUMP_INLET
    ),
    AlarmDefinition(
        "feed_pressure_low_low",
        T,
        HIGH,
        PRESSURE,
        delay_setting="feed_pressure_low_low_s",
        dead_band=0.05,
        feed_is_dry=True,
        part=Part.PUMP_INLET,
    ),
    # Before those that judge old readings: after a halt all of them are old, and the halt is why.
    AlarmDefinition("scan_overrun", T, HIGH, AWAKE - {S.STANDBY}),
    AlarmDefinition("adc_lost", T, HIGH, AWAKE - {S.STANDBY}, holds_in_trip=True, consequence_of=("scan_overrun",)),
    AlarmDefinition(
        "sensor_fault_vessel_pressure",
        T,
        HIGH,
        # After a trip it is what tells when the pressure is gone: losing it then is told as well.
        AWAKE - {S.STANDBY} | {S.TRIPPED},
        clear_s=5.0,
        holds_in_trip=True,
        consequence_of=("scan_overrun", "adc_lost"),
        part=CHANNELS["vessel_pressure"].part,
    ),
    AlarmDefinition(
        "sensor_fault_feed_pressure",
        T,
        HIGH,
        frozenset({S.PRIMING, S.FLUSHING, S.STOPPING, *PRESSURE}),
        clear_s=5.0,
        holds_in_trip=True,
        consequence_of=("scan_overrun", "adc_lost"),
        part=CHANNELS["feed_pressure"].part,
    ),
    AlarmDefinition("output_disagrees", T, HIGH, AWAKE - {S.STANDBY}, delay_s=3.0, holds_in_trip=True),
    AlarmDefinition(
        "product_pressure_high", T, URGENT, AWAKE, delay_s=2.0, holds_in_trip=True, dead_band=0.1, part=Part.PRODUCT
    ),
    AlarmDefinition("product_salty_at_once", T, HIGH, PUMPING, delay_s=2.0, dead_band=500.0, part=Part.PRODUCT),
    AlarmDefinition(
        "water_lost",
        T,
        HIGH,
        WATER,
        delay_s=10.0,
        dead_band=5.0,
        consequence_of=("vessel_pressure_lost",),
        part=Part.MEMBRANE,
    ),
    AlarmDefinition("quality_not_reached", HALT, HIGH, frozenset({S.DIVERTING}), part=Part.PRODUCT),
    AlarmDefinition("quality_returns_repeatedly", HALT, HIGH, WATER, part=Part.PRODUCT),
    AlarmDefinition(
        "product_salty",
        HALT,
        HIGH,
        WATER,
        delay_s=10.0,
        dead_band=250.0,
        consequence_of=("product_salty_at_once",),
        part=Part.PRODUCT,
    ),
    AlarmDefinition(
        "feed_pressure_unsteady",
        HALT,
        HIGH,
        PUMPING | {S.STOPPING},
        delay_s=10.0,
        consequence_of=("feed_pressure_low_low",),
        pump_suffers=True,
        part=Part.PUMP_INLET,
    ),
    AlarmDefinition(
        "feed_lost_while_stopping",
        HALT,
        HIGH,
        frozenset({S.STOPPING}),
        dead_band=0.05,
        consequence_of=FEED_FAILED,
        pump_suffers=True,
        feed_is_dry=True,
        part=Part.PUMP_INLET,
    ),
    AlarmDefinition(
        "product_flow_too_high",
        HALT,
        HIGH,
        WATER,
        delay_s=10.0,
        dead_band=2.0,
        consequence_of=("product_salty_at_once", "product_salty"),
        part=Part.PRODUCT,
    ),
    AlarmDefinition(
        "recovery_high",
        HALT,
        HIGH,
        WATER,
        delay_s=30.0,
        dead_band=0.01,
        consequence_of=("product_flow_too_high",),
        part=Part.MEMBRANE,
    ),
    AlarmDefinition(
        "motor_too_warm",
        HALT,
        HIGH,
        PUMPING | {S.STOPPING},
        delay_s=5.0,
        dead_band=5.0,
        pump_suffers=True,
        part=Part.PRESSURE_PUMP,
    ),
    AlarmDefinition("water_too_warm", HALT, HIGH, RUNNING, delay_s=60.0, dead_band=1.0, part=Part.SEA),
    AlarmDefinition("tank_full", HALT, LOG, RUNNING, part=Part.TANK),
    AlarmDefinition("battery_low", HALT, LOW, RUNNING, delay_s=30.0, dead_band=0.3),
    AlarmDefinition("run_limit", HALT, LOG, RUNNING),
    AlarmDefinition("motor_must_rest", HALT, LOG, RUNNING, part=Part.PRESSURE_PUMP),
    AlarmDefinition("unattended", HALT, LOW, RUNNING),
    AlarmDefinition(
        "quality_lost",
        D,
        HIGH,
        frozenset({S.PRODUCING, S.DIVERTING}),
        clear_s=0.0,
        consequence_of=(*SALT_IN_THE_PRODUCT, *FEED_FAILED, "vessel_pressure_lost", "product_salt_noisy"),
        part=Part.PRODUCT,
    ),
    AlarmDefinition(
        "product_salt_noisy",
        D,
        HIGH,
        frozenset({S.PRODUCING, S.DIVERTING}),
        clear_s=5.0,
        consequence_of=("sensor_fault_product_conductivity", "adc_lost"),
        part=Part.PRODUCT,
    ),
    AlarmDefinition(
        "sensor_fault_product_conductivity",
        D,
        HIGH,
        RUNNING,
        delay_s=0.5,
        clear_s=5.0,
        consequence_of=("adc_lost",),
        part=CHANNELS["product_conductivity"].part,
    ),
    AlarmDefinition(
        "sensor_fault_sea_temperature",
        D,
        HIGH,
        RUNNING,
        delay_s=0.5,
        clear_s=5.0,
        consequence_of=("adc_lost",),
        part=CHANNELS["sea_temperature"].part,
    ),
    AlarmDefinition(
        "product_flow_missing",
        D,
        HIGH,
        WATER,
        delay_s=5.0,
        dead_band=0.5,
        consequence_of=(*FEED_FAILED, "vessel_pressure_lost", "product_pressure_high"),
        part=Part.PRODUCT,
    ),
    AlarmDefinition(
        "vessel_pressure_high",
        W,
        HIGH,
        PRESSURE,
        delay_s=0.5,
        clear_s=5.0,
        dead_band=0.5,
        consequence_of=("vessel_pressure_high_high", "pressure_switch"),
        part=Part.MEMBRANE,
    ),
    AlarmDefinition(
        "feed_pressure_low",
        W,
        HIGH,
        FEEDING,
        delay_s=1.0,
        clear_s=5.0,
        dead_band=0.05,
        consequence_of=FEED_FAILED,
        part=Part.PUMP_INLET,
    ),
    AlarmDefinition(
        "feed_pressure_wavering",
        W,
        HIGH,
        PUMPING,
        delay_s=4.0,
        clear_s=10.0,
        consequence_of=FEED_FAILED,
        part=Part.PUMP_INLET,
    ),
    AlarmDefinition(
        "water_unaccounted",
        W,
        HIGH,
        WATER,
        delay_s=60.0,
        clear_s=30.0,
        dead_band=5.0,
        consequence_of=("water_lost",),
        part=Part.MEMBRANE,
    ),
    AlarmDefinition(
        "filter_drop_high",
        W,
        LOW,
        WATER,
        delay_s=30.0,
        clear_s=30.0,
        dead_band=0.05,
        consequence_of=("feed_pressure_low_low",),
        part=Part.FILTERS,
    ),
    AlarmDefinition(
        "recovery_near_limit",
        W,
        LOW,
        WATER,
        delay_s=30.0,
        clear_s=30.0,
        dead_band=0.01,
        consequence_of=("recovery_high", "product_flow_too_high"),
        part=Part.MEMBRANE,
    ),
    AlarmDefinition("attendance_due", W, HIGH, RUNNING, consequence_of=("unattended",)),
    AlarmDefinition(
        "product_flow_jumped",
        W,
        HIGH,
        WATER,
        delay_s=30.0,
        clear_s=30.0,
        dead_band=0.05,
        consequence_of=(*FEED_FAILED, "product_flow_missing", "product_flow_too_high", "product_pressure_high"),
        part=Part.PRODUCT,
    ),
    AlarmDefinition(
        "product_salt_jumped",
        W,
        HIGH,
        WATER,
        delay_s=30.0,
        clear_s=30.0,
        dead_band=0.1,
        consequence_of=(*SALT_IN_THE_PRODUCT, "quality_lost", "sensor_fault_product_conductivity"),
        part=Part.PRODUCT,
    ),
    AlarmDefinition(
        "product_flow_low",
        W,
        LOW,
        WATER,
        delay_s=120.0,
        clear_s=60.0,
        dead_band=0.05,
        consequence_of=("product_flow_jumped", "product_flow_missing"),
        part=Part.PRODUCT,
    ),
    AlarmDefinition(
        "product_flow_high",
        W,
        LOW,
        WATER,
        delay_s=120.0,
        clear_s=60.0,
        dead_band=0.05,
        consequence_of=("product_flow_jumped", "product_flow_too_high", "recovery_high", *SALT_IN_THE_PRODUCT),
        part=Part.PRODUCT,
    ),
    AlarmDefinition(
        "product_salt_high",
        W,
        LOW,
        WATER,
        delay_s=120.0,
        clear_s=60.0,
        dead_band=0.15,
        consequence_of=("product_salt_jumped", "quality_lost", *SALT_IN_THE_PRODUCT),
        part=Part.PRODUCT,
    ),
    AlarmDefinition(
        "water_warm",
        W,
        LOW,
        RUNNING,
        delay_s=30.0,
        clear_s=30.0,
        dead_band=1.0,
        consequence_of=("water_too_warm",),
        part=Part.SEA,
    ),
    AlarmDefinition("water_too_cold", W, LOW, RUNNING, delay_s=30.0, clear_s=30.0, dead_band=0.5, part=Part.SEA),
    AlarmDefinition(
        "pressure_without_command",
        W,
        URGENT,
        ALWAYS,
        delay_s=0.2,
        dead_band=0.5,
        consequence_of=("pressure_not_released",),
        part=Part.PRESSURE_PUMP,
    ),
    AlarmDefinition("flush_failed", W, HIGH, ALWAYS, part=Part.FLUSH),
    AlarmDefinition("automatic_flush_ended", W, LOW, ALWAYS, part=Part.FLUSH),
    AlarmDefinition("flush_due", W, LOW, frozenset({S.STANDBY, S.TRIPPED}), delay_s=5.0, part=Part.FLUSH),
    AlarmDefinition(
        "flush_valve_leaking", W, LOW, frozenset({S.STANDBY}), delay_s=60.0, dead_band=0.5, part=Part.FLUSH
    ),
    AlarmDefinition("flush_backflow", W, HIGH, RUNNING, delay_s=10.0, dead_band=0.5, part=Part.FLUSH),
    AlarmDefinition("preservative_due", W, LOW, frozenset({S.STANDBY, S.LAID_UP})),
    AlarmDefinition(
        "motor_overworked",
        W,
        HIGH,
        frozenset({S.HAND_RUN, S.STOPPING, S.TRIPPED}),
        clear_s=5.0,
        part=Part.PRESSURE_PUMP,
    ),
    AlarmDefinition("frost_risk", W, HIGH, IDLE, delay_s=60.0, clear_s=600.0, dead_band=0.5, part=Part.SEA),
    AlarmDefinition("restarted_unexpectedly", W, HIGH, ALWAYS),
    AlarmDefinition("calibrations_unreadable", W, HIGH, ALWAYS),
    AlarmDefinition("calibrations_outdated", W, LOW, ALWAYS),
    AlarmDefinition("clock_unset", W, LOG, ALWAYS, delay_s=60.0),
    AlarmDefinition("interlock_not_armed", W, HIGH, ALWAYS),
    AlarmDefinition("supply_voltage_low", W, HIGH, ALWAYS, delay_s=2.0, clear_s=60.0),
    *(
        AlarmDefinition(
            f"sensor_fault_{channel}",
            W,
            LOW,
            AWAKE,
            delay_s=3.0,
            clear_s=5.0,
            consequence_of=("adc_lost", "scan_overrun"),
            part=CHANNELS[channel].part,
        )
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

DEFINITIONS: dict[str, AlarmDefinition] = {row.id: row for row in ROWS}


def part_of(id_: str) -> Part | None:
    """Where the page's drawing marks an alarm; None for one that belongs to no part, or that is not known here."""
    row = DEFINITIONS.get(id_)
    return None if row is None else row.part
