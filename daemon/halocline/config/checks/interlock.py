"""A comparator interlock that could not protect, or that nobody would see open."""

from collections.abc import Iterator

from halocline.config.checks.lookup import named, sensor_number, supply_inputs, with_unit
from halocline.config.checks.sensors import CHIP_SUPPLY_V
from halocline.config.problems import Finding, number
from halocline.config.signal_levels import signal_volts
from halocline.plant.sensors import AnalogueInput, Voltage
from halocline.plant.settings import Settings

PRESSURE = "vessel_pressure"
CONTACT = "pressure_switch"


def interlock_opens_between_trip_and_relief(settings: Settings) -> Iterator[Finding]:
    """Below the trip it would stop what software should; above the relief valve it would come too late."""
    opens, trip = (named(settings, key) for key in ("interlock.opens_bar", "limits.vessel_pressure_high_high_bar"))
    relief, error = named(settings, "plant.relief_bar"), sensor_number(settings, PRESSURE, "error") or 0.0
    if opens is None:
        return
    if trip is not None and opens.value < trip.value + error:
        least = with_unit(trip.value + error, "bar")
        allowed = f"{least} or more: {trip.key} ({trip.text}) and the error of inputs.{PRESSURE}"
        yield Finding(opens.key, opens.text, allowed, "raise it: the program must trip first")
    elif relief is not None and opens.value > relief.value - error:
        most = with_unit(relief.value - error, "bar")
        allowed = f"{most} or less: {relief.key} ({relief.text}) less the error of inputs.{PRESSURE}"
        yield Finding(opens.key, opens.text, allowed, "lower it: it must open before the relief valve lifts")


def interlock_has_a_chip_of_its_own(settings: Settings) -> Iterator[Finding]:
    """A chip that compares cannot be asked for other channels: that would end its comparing."""
    address = getattr(settings.interlock, "address", None)
    if address is None:
        return
    used = {getattr(sensor, "address", None): channel for channel, sensor in settings.inputs.items()}
    used |= {place[0]: channel for channel, place in supply_inputs(settings).items()}
    if address in used:
        allowed = f"an address of its own; a chip that measures inputs.{used[address]} is there"
        remedy = "fit one more chip with its ADDR pin tied to another line, and write its address"
        yield Finding("interlock.address", hex(address), allowed, remedy)


def interlock_sees_the_pressure(settings: Settings) -> Iterator[Finding]:
    """The signal has to rise with pressure, and the threshold has to lie within what the chip can see."""
    sensor, opens = settings.inputs.get(PRESSURE), named(settings, "interlock.opens_bar")
    gain_v = getattr(settings.interlock, "gain_v", None)
    if opens is None or gain_v is None or not isinstance(sensor, AnalogueInput):
        return
    if isinstance(sensor, Voltage) and sensor.volts_high <= sensor.volts_low:
        remedy = "fit a sensor whose volts rise with pressure, or leave out [interlock]"
        yield Finding("interlock", f"inputs.{PRESSURE} with a falling signal", "a rising one", remedy)
        return
    if sensor.high <= sensor.low:
        return
    highest_v, volts = min(gain_v, CHIP_SUPPLY_V), signal_volts(sensor, opens.value)
    if volts >= highest_v:
        found = f"{opens.text} = {volts:.3f} V at the chip"
        allowed = f"below {number(highest_v)} V, the most the chip can see"
        yield Finding("interlock.opens_bar", found, allowed, "choose a larger gain_v, or a sensor with a wider span")


def interlock_is_seen(settings: Settings) -> Iterator[Finding]:
    """An interlock that opens unseen looks like a pump that died."""
    if settings.interlock is not None and CONTACT not in settings.contacts:
        remedy = f"wire the second contact of its relay to a pin and add [inputs.{CONTACT}]"
        yield Finding(f"inputs.{CONTACT}", "nothing", "a table, as [interlock] is there", remedy)
