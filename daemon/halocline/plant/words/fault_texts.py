"""What can be broken aboard a simulated boat: the name of each fault and what it does, for people who practise."""

from collections.abc import Mapping
from typing import NamedTuple

from halocline.plant.words.names import plain


class FaultText(NamedTuple):
    """A fault's name, and what it does to the boat."""

    name: str
    does: str


FAULT_TEXTS: Mapping[str, FaultText] = {
    "prefilter_clogged": FaultText(
        "Filters clogged", "The fine filters let less and less through; at 1 they are shut."
    ),
    "seacock_closed": FaultText("Seacock shut", "No sea water reaches the feed pump."),
    "air_in_suction": FaultText("Air in the suction", "Slugs of air come with the sea water."),
    "brine_blocked": FaultText("Brine outlet blocked", "The brine outlet shuts at once; pressure shoots up."),
    "regulator_drift": FaultText("Regulator creeps", "The pressure regulator turns by itself, shut or open."),
    "regulator_left_at": FaultText(
        "Regulator left set", "The regulator is not opened: it stays where this pressure came from."
    ),
    "membrane_leak": FaultText("Membrane lets salt through", "Salt passing is multiplied by this factor."),
    "membrane_fouled": FaultText("Membrane fouled", "Water passing is multiplied by this factor."),
    "hoses_swapped": FaultText(
        "Product and brine hoses swapped", "Brine runs through the product meter, the cell and the diverter."
    ),
    "product_line_closed": FaultText("Product line shut", "The product cannot leave the membrane."),
    "hp_pump_dead": FaultText("High-pressure pump dead", "It does not turn, whatever is switched."),
    "hp_pump_worn": FaultText("High-pressure pump worn", "It delivers only this share of its flow."),
    "feed_pump_dead": FaultText("Feed pump dead", "It does not turn, whatever is switched."),
    "relay_welded": FaultText("Relay welded", "The relay stays closed when it is switched off."),
    "valve_stuck": FaultText("Valve stuck", "The valve stands still, whatever is switched."),
    "hand_start": FaultText("Pump run by hand", "The high-pressure pump is run by its own switch."),
    "hand_stop": FaultText("Pump held off by hand", "The pump is switched off by hand and held off."),
    "battery_sag": FaultText("Battery sags", "The battery's voltage is lower by this much."),
    "tank_fill": FaultText("Tank level", "The tank stands at this level."),
    "flush_supply_empty": FaultText("No flush water", "There is no fresh water to flush with."),
    "flush_check_leaks": FaultText(
        "Check valve leaks", "Sea water runs back into the fresh-water system while the plant runs."
    ),
    "flush_valve_leaks": FaultText("Flush valve leaks", "Fresh water seeps through the shut flush valve."),
    "sea_temperature": FaultText("Sea temperature", "The sea has this temperature."),
    "bilge_wet": FaultText("Water in the bilge", "The bilge sensor is wet."),
    "stop_button": FaultText("Stop button pressed", "The stop button is pressed and stays so."),
    "pressure_switch": FaultText("Pressure switch open", "The hard-wired pressure switch has opened."),
    "sensor_open": FaultText("Sensor wire broken", "No signal comes from the sensor."),
    "sensor_short": FaultText("Sensor wires touch", "The sensor's wires touch each other."),
    "sensor_stuck": FaultText("Sensor stands still", "The sensor goes on showing its last value."),
    "sensor_drift": FaultText("Sensor creeps", "The sensor moves away from the truth by this much a minute."),
    "sensor_noise": FaultText("Sensor is noisy", "The sensor jumps about by this much."),
    "sensor_offset": FaultText("Sensor is off", "The sensor shows this much too much."),
    "sensor_delayed": FaultText("Sensor shows the past", "The sensor shows what was so many seconds ago."),
    "sensor_intermittent": FaultText("Sensor wire loose", "The wire breaks and makes; this is the share it is broken."),
    "pulses_lost": FaultText("Flow meter silent", "No pulse arrives from the flow meter."),
    "adc_missing": FaultText("Converter missing", "The converter chip does not answer."),
    "adc_hang": FaultText("Converter hangs", "The chip's conversion never ends."),
    "adc_reset": FaultText("Converter restarted", "The chip has lost its configuration."),
    "adc_wrong_channel": FaultText("Converter mixes inputs", "The chip converts another input than it was told."),
    "i2c_stuck": FaultText("Bus held low", "A chip holds the bus; nothing can be read."),
}


def fault_text(fault: str) -> FaultText:
    """A fault's name and what it does."""
    return FAULT_TEXTS.get(fault) or FaultText(plain(fault), "")
