"""The settings of one boat, as values, each with its unit, its range and what it is for."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from halocline.plant.command_definitions import ALWAYS_FROM_MQTT
from halocline.plant.fields import setting
from halocline.plant.sensors import ContactInput, Input, OutputPin
from halocline.plant.thresholds import (
    AUTOMATIC_FLUSH_TANK_PERCENT,
    PURGE_PRESERVATIVE_S,
    PURGE_S,
    SALT_PERMEABILITIES_LMH,
    WATER_PERMEABILITIES_LMH_BAR,
)

PumpDrive = Literal["relay", "permissive", "watch_only"]
RegulatorDrive = Literal["hand_each_run", "left_set"]
FlushShutOff = Literal["none", "valve", "pump"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoatSettings:
    """Whose plant this is."""

    name: str = setting("name of the boat, as people see it")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantSettings:
    """The plant's own sizes and the sea it usually drinks."""

    feed_flow_l_h: float = setting("flow of the high-pressure pump at working pressure", unit="L/h", low=50, high=5000)
    feed_side_volume_l: float = setting(
        "sea-water side from pump to regulator", default=1.5, unit="L", low=0.01, high=50, quick=0.1
    )
    product_side_volume_l: float = setting(
        "product side from membrane to diverter", default=0.6, unit="L", low=0.01, high=20, quick=0.1
    )
    wetted_volume_l: float = setting(
        "all that a flush has to replace", default=4.0, unit="L", low=0.01, high=100, quick=0.1
    )
    sea_salinity_g_kg: float = setting("usual salinity of the sea", default=36.0, unit="g/kg", low=5, high=45)
    tank_capacity_l: float = setting("drinking-water tank", unit="L", low=5, high=20000)
    pump_power_w: float = setting("power of both pumps from the battery", default=1400.0, unit="W", low=50, high=10000)
    pressure_switch_bar: float = setting(
        "setting of the hard-wired pressure switch", default=66.0, unit="bar", low=5, high=100
    )
    relief_bar: float = setting("setting of the relief valve", default=69.0, unit="bar", low=5, high=100)
    lowest_rated_part_bar: float = setting(
        "rating of the weakest part under pressure", default=80.0, unit="bar", low=5, high=200
    )
    adc_bus_khz: float = setting("speed the computer's I2C bus is set to", default=100.0, unit="kHz", low=10, high=400)
    bus_clear_clock_pin: int | None = setting(
        "spare GPIO (BCM) tied to the I2C clock through 330 ohm, to clock a stuck chip free",
        default=None,
        low=4,
        high=27,
    )
    bus_clear_data_pin: int | None = setting(
        "spare GPIO (BCM) tied to the I2C data line through 330 ohm, likewise", default=None, low=4, high=27
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MembraneSettings:
    """The element's nameplate, its ratings, and what it was last measured to do."""

    nameplate_flow_m3_d: float = setting("product flow at the standard test", unit="m³/d", low=0.1, high=50)
    nameplate_rejection: float = setting("salt rejection at the standard test", low=0.9, high=0.9999)
    area_m2: float = setting("active area", unit="m²", low=0.1, high=50)
    max_pressure_bar: float = setting("the element's rated pressure", default=69.0, unit="bar", low=5, high=100)
    max_temperature_c: float = setting("the element's rated temperature", default=45.0, unit="°C", low=20, high=60)
    water_permeability_lmh_bar: float | None = setting(
        "A at 25 °C as calibrated; without it the nameplate's",
        default=None,
        unit="LMH/bar",
        low=WATER_PERMEABILITIES_LMH_BAR[0],
        high=WATER_PERMEABILITIES_LMH_BAR[1],
    )
    salt_permeability_lmh: float | None = setting(
        "B at 25 °C as calibrated; without it the nameplate's",
        default=None,
        unit="LMH",
        low=SALT_PERMEABILITIES_LMH[0],
        high=SALT_PERMEABILITIES_LMH[1],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveSettings:
    """Who turns the pump on, and who sets the pressure."""

    pump: PumpDrive = setting(
        "who switches the high-pressure pump: relay, the computer by its output; permissive, a person by the pump's "
        "own switch, to which that output gives the supply; watch_only, a person by a switch or a remote, and nothing "
        "here can stop it",
        choices=("relay", "permissive", "watch_only"),
    )
    regulator: RegulatorDrive = setting(
        "how the pressure is set: hand_each_run, opened at each stop and closed slowly at each start; left_set, it "
        "stays where it is, and the pump starts against it",
        choices=("hand_each_run", "left_set"),
    )
    regulator_kind: Literal["needle", "spring"] = setting(
        "construction of the regulator", default="needle", choices=("needle", "spring")
    )
    motor: Literal["brush", "induction"] = setting(
        "motor of the high-pressure pump", default="brush", choices=("brush", "induction")
    )
    motor_run_s: float | None = setting(
        "the motor's rated continuous run, by its plate (S2); without it 60 min for brush, 180 min for induction",
        default=None,
        unit="s",
        low=300,
        high=24 * 3600,
    )
    motor_plate: str = setting(
        "what the motor's plate says of its duty, where motor_run_s is longer than its kind stands, in words",
        default="",
    )
    motor_rest_s: float = setting("the motor's rest after that", default=900.0, unit="s", low=60, high=4 * 3600)
    working_pressure_bar: float = setting("pressure a run is set to", default=55.0, unit="bar", low=5, high=100)
    raise_bar_s: float = setting(
        "how fast a hand raises pressure", default=0.5, unit="bar/s", low=0.1, high=10, quick=20
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitSettings:
    """Where protection acts. Every default is common practice unless the table of causes names a source."""

    working_pressure_max_bar: float = setting("highest working pressure", default=58.0, unit="bar", low=5, high=100)
    vessel_pressure_high_bar: float = setting("warning", default=60.0, unit="bar", low=5, high=100)
    vessel_pressure_high_high_bar: float = setting("trip", default=64.0, unit="bar", low=5, high=100)
    working_margin_bar: float = setting(
        "working minimum above the feed's osmotic pressure", default=12.0, unit="bar", low=2, high=40
    )
    regulator_closed_bar: float = setting(
        "pressure that an open regulator cannot hold", default=10.0, unit="bar", low=2, high=30
    )
    pressure_rise_warn_bar_s: float = setting("warning", default=1.0, unit="bar/s", low=0.1, high=50, quick=20)
    pressure_rise_trip_bar_s: float = setting("trip after 2 s", default=3.0, unit="bar/s", low=0.2, high=100, quick=20)
    pressure_lost_bar: float = setting(
        "drop below the working minimum that counts as lost", default=5.0, unit="bar", low=1, high=30
    )
    feed_pressure_start_bar: float = setting(
        "needed before the high-pressure pump", default=0.5, unit="bar", low=0.1, high=4
    )
    feed_pressure_low_bar: float = setting("warning", default=0.3, unit="bar", low=0.05, high=4)
    feed_pressure_low_low_bar: float = setting("trip", default=0.15, unit="bar", low=0.05, high=4)
    feed_pressure_low_low_s: float = setting("time below before the trip", default=2.0, unit="s", low=0.2, high=5)
    accept_tds_mg_l: float = setting(
        "the tank opens at or below (US secondary standard 500 mg/L)",
        default=500.0,
        unit="mg/L",
        low=50,
        high=800,
    )
    accept_reason: str = setting("why saltier water than by default is accepted, in words", default="")
    reject_tds_mg_l: float = setting(
        "the tank closes above, as a mean of 1.5 s", default=600.0, unit="mg/L", low=50, high=1200
    )
    reject_at_once_tds_mg_l: float = setting(
        "the tank closes at once above", default=1000.0, unit="mg/L", low=50, high=2000
    )
    product_salty_mg_l: float = setting(
        "salt in the product that stops the run", default=5000.0, unit="mg/L", low=1500, high=20000
    )
    product_salty_at_once_mg_l: float = setting(
        "sea water in the product: trip", default=15000.0, unit="mg/L", low=5000, high=40000
    )
    filter_drop_high_bar: float = setting("change the cartridges", default=0.5, unit="bar", low=0.05, high=3)
    product_pressure_high_bar: float = setting("trip after 2 s", default=1.5, unit="bar", low=0.2, high=5)
    water_too_cold_c: float = setting("warning", default=5.0, unit="°C", low=0, high=20)
    water_warm_c: float = setting("warning", default=38.0, unit="°C", low=20, high=45)
    water_too_warm_c: float = setting("stop after 60 s", default=42.0, unit="°C", low=20, high=50)
    recovery_warn: float = setting("warning", default=0.22, low=0.03, high=0.5)
    recovery_stop: float = setting("stop", default=0.27, low=0.03, high=0.6)
    tank_full_percent: float = setting("stop", default=95.0, unit="%", low=10, high=100)
    battery_start_v: float = setting("no start below", default=12.4, unit="V", low=10, high=60)
    battery_stop_v: float = setting("stop below, under load for 30 s", default=11.6, unit="V", low=9, high=60)
    battery_start_percent: float = setting(
        "no start below, where the charge is measured; the voltage is then not asked",
        default=30.0,
        unit="%",
        low=1,
        high=100,
    )
    battery_stop_percent: float = setting(
        "stop below for 30 s, where the charge is measured", default=20.0, unit="%", low=0, high=99
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SequenceSettings:
    """Times and volumes of the sequence."""

    prime_s: float = setting("steady feed before the pump", default=10.0, unit="s", low=0.5, high=600, quick=0.1)
    prime_after_opening_s: float = setting(
        "the same after the circuit was opened", default=180.0, unit="s", low=0.5, high=1800, quick=0.1
    )
    prime_limit_s: float = setting("longest wait for feed pressure", default=60.0, unit="s", low=2, high=600)
    regulator_check_s: float = setting(
        "time in which an open regulator must show itself", default=3.0, unit="s", low=0.2, high=10, quick=0.5
    )
    pressure_limit_s: float = setting(
        "longest wait for working pressure, regulator left set", default=60.0, unit="s", low=5, high=600
    )
    raise_limit_s: float = setting(
        "longest wait for working pressure, raised by hand",
        default=600.0,
        unit="s",
        low=10,
        high=3600,
        quick=0.1,
    )
    settle_s: float = setting("steady within 1 bar", default=10.0, unit="s", low=0.5, high=120, quick=0.1)
    quality_hold_s: float = setting("good quality without a break", default=60.0, unit="s", low=1, high=1800, quick=0.1)
    divert_limit_s: float = setting("longest time overboard", default=900.0, unit="s", low=10, high=7200, quick=0.1)
    first_product_l: float = setting(
        "least product overboard before quality is believed",
        default=2.0,
        unit="L",
        low=0.05,
        high=50,
        quick=0.1,
    )
    feed_exchanges: float = setting(
        "feed-side volumes exchanged before quality is believed", default=3.0, low=1, high=20
    )
    run_limit_s: float = setting("longest run", default=4 * 3600.0, unit="s", low=60, high=24 * 3600)
    stop_open_s: float = setting(
        "longest wait for a hand to open the regulator at a stop",
        default=30.0,
        unit="s",
        low=1,
        high=120,
        quick=0.5,
    )
    flush_l: float = setting("fresh water for a flush", default=12.0, unit="L", low=0.5, high=200, quick=0.1)
    flush_limit_s: float = setting("longest flush", default=900.0, unit="s", low=10, high=3600, quick=0.1)
    flush_supply_s: float = setting("fresh water must show within", default=10.0, unit="s", low=1, high=60)
    flush_supply_bar: float = setting(
        "feed pressure that proves fresh water", default=0.3, unit="bar", low=0.05, high=3
    )
    flush_shut_off: FlushShutOff = setting(
        "what shuts the fresh water off where the flush valve leaks: none, a second valve in series on the same "
        "output, or a fresh-water pump that runs by that output only",
        default="none",
        choices=("none", "valve", "pump"),
    )
    automatic_flush: bool = setting(
        "a plant that stands flushes by itself, for as long as a person has given consent", default=False
    )
    automatic_flush_tank_percent: float = setting(
        "stays in the tank after a flush by itself",
        default=AUTOMATIC_FLUSH_TANK_PERCENT,
        unit="%",
        low=AUTOMATIC_FLUSH_TANK_PERCENT,
        high=95,
    )
    purge_preservative_s: float = setting(
        "product overboard after preservative", default=PURGE_PRESERVATIVE_S, unit="s", low=10, high=7200, quick=0.1
    )
    purge_s: float = setting(
        "product overboard after glycol, cleaning, a new element",
        default=PURGE_S,
        unit="s",
        low=10,
        high=14400,
        quick=0.1,
    )
    membrane_window_s: float = setting(
        "steady operation averaged for a calibration of the membrane, after three times as long at pressure",
        default=600.0,
        unit="s",
        low=20,
        high=3600,
        quick=0.05,
    )
    rinse_volumes: float = setting("wetted volumes rinsed before a purge", default=10.0, low=1, high=50)
    attendance: bool = setting("a start needs a person at the plant", default=True)
    attendance_ask_s: float = setting(
        "a run asks whether a person is still there",
        default=3600.0,
        unit="s",
        low=60,
        high=4 * 3600,
        quick=0.1,
    )
    attendance_answer_s: float = setting(
        "without an answer within this the run ends in good order",
        default=300.0,
        unit="s",
        low=10,
        high=1800,
        quick=0.1,
    )
    start_questions: bool = setting("a start asks what only eyes can see", default=True)
    off_reason: str = setting("why attendance or start_questions is off aboard, in words", default="")
    motor_starts: int = setting("starts allowed within the window", default=4, low=1, high=20)
    motor_starts_window_s: float = setting(
        "window in which starts are counted", default=3600.0, unit="s", low=60, high=86400, quick=0.1
    )
    motor_run_limits: bool = setting("respect the motor's rest and starts an hour", default=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class InterlockSettings:
    """The comparator interlock, if one is fitted: one more ADC chip on the membrane-pressure signal."""

    address: int = setting("I2C address of its chip, which measures nothing else", low=0x48, high=0x4B)
    mux: int = setting("single-ended input of that chip", default=0, low=0, high=3)
    gain_v: float = setting(
        "full-scale range", default=4.096, unit="V", choices=(6.144, 4.096, 2.048, 1.024, 0.512, 0.256)
    )
    opens_bar: float = setting(
        "membrane pressure above which its relay opens the coil chain", unit="bar", low=5, high=100
    )
    in_a_row: int = setting("conversions outside the window before it opens", default=2, choices=(1, 2, 4))


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything control needs to know."""

    boat: BoatSettings
    plant: PlantSettings
    membrane: MembraneSettings
    drive: DriveSettings
    inputs: Mapping[str, Input]
    contacts: Mapping[str, ContactInput]
    outputs: Mapping[str, OutputPin]
    limits: LimitSettings = field(default_factory=LimitSettings)
    sequence: SequenceSettings = field(default_factory=SequenceSettings)
    interlock: InterlockSettings | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HttpSettings:
    """The local web page."""

    host: str = setting("address to listen on", default="0.0.0.0")
    port: int = setting("port", default=8080, low=1, high=65535)
    allowed_hosts: tuple[str, ...] = setting("further host names the page is reached by", default=())
    certificate: str = setting("https: file with the owner's certificate (PEM); empty: plain http", default="")
    key: str = setting("https: file with the certificate's private key (PEM)", default="")
    require_session_to_read: bool = setting("ask for the PIN before showing anything", default=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class MqttSettings:
    """The broker, off unless enabled."""

    enabled: bool = setting("publish to a broker", default=False)
    host: str = setting("broker", default="localhost")
    port: int = setting("port", default=1883, low=1, high=65535)
    prefix: str = setting("topic prefix; empty: halocline/<boat>", default="")
    username: str = setting("user name at the broker; its password stands in the secrets file", default="")
    tls: bool = setting(
        "encrypt, and talk only to a broker that proves who it is; its port is usually 8883", default=False
    )
    ca: str = setting(
        "file with the certificate of the authority that signed the broker's (PEM); empty: those this computer trusts",
        default="",
    )
    certificate: str = setting("file with our own certificate, where the broker asks for one (PEM)", default="")
    key: str = setting("file with that certificate's private key (PEM)", default="")
    commands: tuple[str, ...] = setting(
        f"commands accepted besides {', '.join(sorted(ALWAYS_FROM_MQTT))}; empty turns nothing on", default=()
    )
    accept_commands: bool = setting("listen for commands at all", default=False)
    accept_forecast: bool = setting("take a forecast of sun and sea published under forecast", default=False)
    discovery: bool = setting(
        "tell home hubs at the broker of the plant, so that they show it by themselves (device discovery)",
        default=False,
    )
    discovery_prefix: str = setting(
        "topic prefix that the hubs listen to; the default is the usual one", default="homeassistant"
    )
    keepalive_s: float = setting("keep-alive", default=15.0, unit="s", low=5, high=120)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordSettings:
    """What is kept, and for how long."""

    seconds_days: float = setting("days of second-by-second record", default=30.0, low=1, high=3650)
    minutes_days: float = setting("days of minute-by-minute record", default=366.0, low=1, high=36500)
    quarters_days: float = setting("days of quarter-hour record", default=3653.0, low=30, high=36500)
    max_size_mb: float = setting("largest size of the record", default=2000.0, low=50, high=100000)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitSettings:
    """The units people see; files and interfaces keep their own."""

    pressure: Literal["bar", "psi"] = setting("pressures", default="bar", choices=("bar", "psi"))
    volume: Literal["L", "gal"] = setting("volumes and flows (US gallons)", default="L", choices=("L", "gal"))
    temperature: Literal["C", "F"] = setting("temperatures", default="C", choices=("C", "F"))
    salt: Literal["mg/L", "uS/cm"] = setting("product salt", default="mg/L", choices=("mg/L", "uS/cm"))


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSettings:
    """What a plan of the coming days goes by and no sensor tells."""

    battery_wh: float | None = setting(
        "what the battery that feeds the pump holds; without it no days are planned",
        default=None,
        unit="Wh",
        low=50,
        high=1_000_000,
    )
    battery_kind: Literal["lead", "lithium"] = setting(
        "kind of battery: the charge of lead is told from its voltage where it is not measured, that of lithium is not",
        default="lead",
        choices=("lead", "lithium"),
    )
    battery_min_percent: float = setting(
        "charge below which no planned run takes the battery, even with little sun",
        default=40.0,
        unit="%",
        low=5,
        high=95,
    )
    loads_w: float = setting("all other loads aboard, on average", default=60.0, unit="W", low=0, high=20_000)
    sun_wh_day: float = setting(
        "what the sun charges on a usual day, where no file foresees it", default=0.0, unit="Wh", low=0, high=200_000
    )
    sun_low_factor: float = setting("part of that which comes on a dull day", default=0.5, low=0, high=1)
    engine_w: float = setting(
        "what the engine charges while it runs; 0: it does not", default=0.0, unit="W", low=0, high=20_000
    )
    people: float = setting("people aboard", default=2.0, low=0, high=200)
    l_per_person_day: float = setting(
        "what each uses a day, until the tank's record tells it", default=25.0, unit="L", low=0, high=500
    )
    high_use_factor: float = setting(
        "a day of high use over a usual one, until the tank's record tells it", default=1.3, low=1, high=5
    )
    reserve_percent: float = setting("stays in the tank even with high use", default=25.0, unit="%", low=0, high=90)
    end_percent: float = setting("in the tank at the end of the plan", default=50.0, unit="%", low=0, high=100)
    quiet_from_h: int = setting("hour of the boat's clock from which no run is planned", default=22, low=0, high=23)
    quiet_to_h: int = setting("hour at which that ends; the same hour: never quiet", default=7, low=0, high=23)
    min_run_minutes: float = setting("shortest run worth a start and a flush", default=30.0, low=1, high=600)
    hours: int = setting("how far ahead is planned", default=48, low=12, high=96)
    forecast: str = setting(
        "file that foresees sun, engine, sea and forbidden times, as PLANNING.md tells; empty: none. Page and broker "
        "(`mqtt.accept_forecast`) take one too, and the newest counts",
        default="",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportSettings:
    """Everything report needs to know."""

    http: HttpSettings = field(default_factory=HttpSettings)
    mqtt: MqttSettings = field(default_factory=MqttSettings)
    record: RecordSettings = field(default_factory=RecordSettings)
    units: UnitSettings = field(default_factory=UnitSettings)
    plan: PlanSettings = field(default_factory=PlanSettings)
