"""Advice that refuses nothing: what an owner may want to know about settings that can be used."""

from collections.abc import Callable, Iterator

from halocline.config.checks.ladders import in_channel_unit
from halocline.config.checks.people import SWITCHES
from halocline.config.checks.water import USUAL_SEA_C
from halocline.config.durations import show_duration
from halocline.plant.sensors import AnalogueInput, Ratiometric, Voltage
from halocline.plant.settings import Settings
from halocline.plant.thresholds import FIRST_PRODUCT_VOLUMES, LEAST_FLUSH_L_H

PULLED_UP_AT_BOOT = range(2, 9)
SERIAL_CONSOLE = (14, 15)
HIGHEST_NE43 = 1.06
"""Top of the readable signal over the top of the span: 20.96 of 20 mA, less the live zero."""


def _tank(settings: Settings) -> Iterator[str]:
    if "tank_fill" not in settings.inputs and "tank_float" not in settings.contacts:
        yield (
            "Neither inputs.tank_fill nor inputs.tank_float is fitted: a full tank will not stop a run; "
            "start runs for a number of litres and watch the vent."
        )


def _contacts(settings: Settings) -> Iterator[str]:
    missing = {
        "stop_button": "a stop at the plant itself is not seen",
        "bilge_wet": "a burst hose is not seen; automatic flushing while away stays refused",
        "pressure_switch": "the hard-wired switch still protects, but nothing here knows that it did",
    }
    for contact, consequence in missing.items():
        if contact not in settings.contacts:
            yield f"inputs.{contact} is not fitted: {consequence}."
    if settings.sequence.attendance and "plant_button" not in settings.contacts:
        yield (
            "sequence.attendance is on without inputs.plant_button: a start needs `halocline log add at_the_plant` "
            "on the boat's own computer first."
        )


def _people(settings: Settings) -> Iterator[str]:
    for key, consequence in SWITCHES.items():
        if not getattr(settings.sequence, key):
            yield f"sequence.{key} is off: {consequence}. Right for a demonstration, not aboard."


def _diverter(settings: Settings) -> Iterator[str]:
    fitted = {"diverter_at_tank", "diverter_overboard"} & settings.contacts.keys()
    if len(fitted) < 2:
        yield (
            "The diverter has no pair of position switches "
            "(inputs.diverter_at_tank, inputs.diverter_overboard): "
            "one that does not obey shows only as bad quality, a minute later."
        )


def _flush(settings: Settings) -> Iterator[str]:
    if not {"flush_flow", "brine_flow", "tank_fill"} & settings.inputs.keys():
        yield "No input measures the flush: it will be recorded as not measured."


def _time_to_flush(settings: Settings) -> Iterator[str]:
    needed_s = settings.sequence.flush_l / LEAST_FLUSH_L_H * 3600.0
    if settings.sequence.flush_limit_s < needed_s:
        yield (
            f"sequence.flush_limit_s is {show_duration(settings.sequence.flush_limit_s)}: a flush of "
            f"sequence.flush_l must flow faster than 120 L/h to end in time."
        )


def _time_to_rise(settings: Settings) -> Iterator[str]:
    sequence, drive = settings.sequence, settings.drive
    needed_s = drive.working_pressure_bar / drive.raise_bar_s + sequence.settle_s
    if drive.regulator == "hand_each_run" and sequence.raise_limit_s <= needed_s:
        yield (
            f"sequence.raise_limit_s is {show_duration(sequence.raise_limit_s)}: raising to "
            f"drive.working_pressure_bar at drive.raise_bar_s and settling takes {needed_s:.0f} s."
        )


def _time_to_prove(settings: Settings) -> Iterator[str]:
    sequence, plant = settings.sequence, settings.plant
    product_l = max(sequence.first_product_l, FIRST_PRODUCT_VOLUMES * plant.product_side_volume_l)
    product_s = product_l / (settings.membrane.nameplate_flow_m3_d * 1000.0) * 86400.0
    exchange_s = sequence.feed_exchanges * plant.feed_side_volume_l / plant.feed_flow_l_h * 3600.0
    needed_s = max(product_s, exchange_s) + sequence.quality_hold_s
    if sequence.divert_limit_s <= needed_s:
        yield (
            f"sequence.divert_limit_s is {show_duration(sequence.divert_limit_s)}: even at the nameplate's "
            f"flow the first product and sequence.quality_hold_s take {needed_s:.0f} s."
        )


def _suction(settings: Settings) -> Iterator[str]:
    if settings.inputs["feed_pressure"].low > -0.5:
        yield "inputs.feed_pressure cannot see suction: fit a sender for -1 to 4 bar."


def _regulator(settings: Settings) -> Iterator[str]:
    if settings.drive.regulator == "left_set" and "pressure_release" not in settings.outputs:
        yield (
            "drive.regulator is left_set without outputs.pressure_release: the pump starts and stops against "
            "pressure; see that its motor and pump allow it."
        )


def _relay(settings: Settings) -> Iterator[str]:
    if settings.drive.pump == "watch_only":
        yield "drive.pump is watch_only: nothing here can stop the high-pressure pump; only a person can."


def _active_low(settings: Settings) -> Iterator[str]:
    for name, output in settings.outputs.items():
        if not output.active_high:
            yield f"outputs.{name} is active-low: its relay closes while the computer boots or is off."


def _pins(settings: Settings) -> Iterator[str]:
    for name, output in settings.outputs.items():
        if output.active_high and output.pin in PULLED_UP_AT_BOOT:
            yield (
                f"outputs.{name} is on GPIO {output.pin}, which the computer pulls up while it boots: "
                "fit a pull-down of 10 kΩ or less, or use a pin from 9 to 27."
            )
    lines: dict[str, object] = {f"inputs.{name}": line for name, line in settings.inputs.items()}
    lines |= {f"inputs.{name}": line for name, line in settings.contacts.items()}
    lines |= {f"outputs.{name}": line for name, line in settings.outputs.items()}
    for key, line in lines.items():
        if getattr(line, "pin", None) in SERIAL_CONSOLE:
            yield f"{key} is on a pin of the serial console: turn the console off."


def _battery(settings: Settings) -> Iterator[str]:
    sensor = settings.inputs.get("battery_voltage")
    if sensor and sensor.high >= 2.0 * settings.limits.battery_start_v:
        yield (
            "inputs.battery_voltage reaches twice limits.battery_start_v: on a battery of more than 12 V the "
            "battery limits have to be set."
        )
    if not {"battery_voltage", "battery_charge_percent"} & settings.inputs.keys():
        yield "No input measures the battery: battery_low cannot stop a run."


def _warm_conductivity(settings: Settings) -> Iterator[str]:
    sensor = settings.inputs["product_conductivity"]
    if not isinstance(sensor, AnalogueInput) or sensor.compensation == "done":
        return
    salty = in_channel_unit("product_conductivity", settings.limits.product_salty_at_once_mg_l)
    warm = salty * (1.0 + 0.02 * (settings.limits.water_too_warm_c - USUAL_SEA_C))
    if warm > HIGHEST_NE43 * sensor.high:
        yield (
            f"inputs.product_conductivity ends at {sensor.high:.0f} µS/cm: in the warmest water "
            f"limits.product_salty_at_once_mg_l is {warm:.0f} µS/cm, which it cannot show; "
            "the water is still turned away as unreadable."
        )


def _compensation(settings: Settings) -> Iterator[str]:
    for channel, sensor in settings.inputs.items():
        if channel == "product_conductivity" or not isinstance(sensor, AnalogueInput):
            continue
        if sensor.compensation != type(sensor).__dataclass_fields__["compensation"].default:
            yield f"inputs.{channel}.compensation has no effect: only a conductivity is compensated."


def _interlock(settings: Settings) -> Iterator[str]:
    sensor = settings.inputs["vessel_pressure"]
    if settings.interlock is None:
        return
    if isinstance(sensor, Ratiometric):
        yield (
            "interlock compares volts and cannot follow the supply of inputs.vessel_pressure: with a supply 5 % low "
            "it opens 5 % of the signal late. Prove it with the sensor's own supply."
        )
    if isinstance(sensor, Voltage) and sensor.volts_low == 0.0:
        yield "interlock does not see a broken wire: the signal of inputs.vessel_pressure starts at 0 V."


NOTES: tuple[Callable[[Settings], Iterator[str]], ...] = (
    _tank,
    _contacts,
    _people,
    _diverter,
    _flush,
    _time_to_flush,
    _time_to_rise,
    _time_to_prove,
    _suction,
    _regulator,
    _relay,
    _active_low,
    _pins,
    _battery,
    _warm_conductivity,
    _compensation,
    _interlock,
)


def notes(settings: Settings) -> list[str]:
    """One line of advice each; the settings must have passed all checks."""
    return [line for note in NOTES for line in note(settings)]
