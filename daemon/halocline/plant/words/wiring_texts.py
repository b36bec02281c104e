"""What is wrong with the wiring: one line each, what is seen, what it most likely is, where to look first."""

from collections.abc import Mapping

WIRING_TEXTS: Mapping[str, str] = {
    # converter chips and their bus
    "bus_held_low": "No chip answers: a wire of the I2C bus is held low. Pull the chips' plugs one by one until the "
    "others answer; then look for data or clock touching ground.",
    "no_chip_answers": "No converter chip answers. Look at the chips' 3.3 V and ground first, then whether data and "
    "clock are exchanged.",
    "chip_missing": "Chip {address} does not answer. Look at its plug and its supply; ADDR to ground is 0x48, to 3.3 V "
    "0x49, to data 0x4a, to clock 0x4b.",
    "chip_elsewhere": "Chip {address} does not answer, but one nobody configured does at {other:address}. Tie its ADDR "
    "pin as meant, or correct the address in the configuration.",
    "chip_hangs": "Chip {address} answers but finishes no conversion. Switch its supply off and on; if that does not "
    "help, change it.",
    "interlock_silent": "The interlock's chip at {address} does not hold its window. Look at its plug and its supply, "
    "and whether its ADDR pin is tied as configured.",
    # a signal on the wrong wire
    "wires_exchanged": "{channel} and {other:channel} fit only the other way round. Exchange their wires: chip "
    "{address}, input {mux:count}, and chip {other_address:address}, input {other_mux:count}.",
    "chips_exchanged": "The values of chips {address} and {other:address} fit only the other way round. Exchange their "
    "plugs, or the wires of their ADDR pins.",
    "may_be_exchanged": "{channel}: {volts} at chip {address}, input {mux:count}, which cannot be. It would fit with "
    "its wire exchanged with that of one of these: {others}.",
    "below_ground": "{channel}: {volts} at chip {address}, input {mux:count}, below ground. Plus and minus are "
    "exchanged: unplug it now, the chip does not stand this for long.",
    "wire_on_another_input": "{channel}: nothing at its own input {mux:count}, but a fitting signal at input "
    "{other_mux:count} of chip {address}, where nothing is configured. Move the wire, or correct the configuration.",
    "sensor_supply_off": "{channel}: its sensor's supply is {volts}, it should be {nominal_v}. Look at the fuse, the "
    "regulator and the ground of that supply.",
    # signals by kind of sensor
    "current_loop_open": "{channel}: {loop_ma} in the loop, a sound one never falls below 3.6 mA. Look for a loose "
    "plug, plus and minus exchanged, or a sensor without supply (chip {address}, input {mux:count}).",
    "current_loop_short": "{channel}: more than 21 mA[ ({volts} at chip {address}, input {mux:count})]. The signal "
    "wire touches the supply, or the shunt is missing or too large.",
    "current_loop_under": "{channel}: {loop_ma}, just below what the loop can measure. Look for moisture in the plug; "
    "a sensor at its lowest end may need another range.",
    "current_loop_over": "{channel}: {loop_ma}, just above what the loop can measure. Look for a second current into "
    "the shunt, or a shunt that is too large.",
    "ratiometric_open": "{channel}: {volts} at chip {address}, input {mux:count}: no signal. Look for a loose plug, a "
    "sensor without supply, or a signal wire on ground.",
    "ratiometric_short": "{channel}: {volts} at chip {address}, input {mux:count}: too much. The signal wire touches "
    "the supply, or the sensor's ground is off.",
    "voltage_open": "{channel}: {volts} at chip {address}, input {mux:count}: no signal. Look for a loose plug, a "
    "blown fuse in the tap, or a sensor without supply.",
    "voltage_short": "{channel}: {volts} at chip {address}, input {mux:count}: too much. The signal wire touches a "
    "supply, or the lower resistor of the divider is off.",
    "voltage_under": "{channel}: {volts} at chip {address}, input {mux:count}, below its span. Measure there; if the "
    "sensor is right, the divider is not {divider:count}:1.",
    "voltage_over": "{channel}: {volts} at chip {address}, input {mux:count}, above its span. Measure there; if the "
    "sensor is right, the divider is not {divider:count}:1.",
    "thermistor_open": "{channel}: no current through the sensor. Look for a loose plug or a broken wire (chip "
    "{address}, input {mux:count}).",
    "thermistor_short": "{channel}: {volts} at chip {address}, input {mux:count}, almost ground. The wires touch each "
    "other or salt water, or the resistor to 3.3 V is missing.",
    "thermistor_implausible": "{channel}: {volts} at chip {address}, input {mux:count}, a temperature that cannot be. "
    "Another kind of sensor, or another resistor to 3.3 V than configured.",
    "resistive_sender_open": "{channel}: more resistance than the sender has. Look for a loose plug or ground wire, or "
    "a sender of the other standard (240–33 Ω for 10–180 Ω).",
    "resistive_sender_short": "{channel}: almost no resistance. The wire touches ground or the tank, or the sender's "
    "ends are not as configured.",
    "resistive_sender_over": "{channel}: beyond the sender's full end. Compare with the tank; if it is not full, the "
    "sender has another standard than configured.",
    "resistive_sender_under": "{channel}: beyond the sender's empty end. Compare with the tank; if it is not empty, "
    "the sender has another standard than configured.",
    "pulses_implausible": "{channel}: {rate_hz}, faster than the meter can turn. Noise: screen the wire, keep it away "
    "from the motors, look at the pull-up.",
    "signal_bad": "{channel}: {quality}[ ({volts} at chip {address}, input {mux:count})]. Look at its plug, cable and "
    "supply.",
    # values at rest
    "shunt_differs": "{channel} shows {value:own} at rest, as a shunt of {fitted_ohm} would in place of {shunt_ohm}. "
    "Measure it; fit the right one, or write down the one that is fitted.",
    "divider_differs": "{channel} shows {value:own} at rest, which cannot be. Compare with a multimeter; if that reads "
    "otherwise, the divider is not {divider:count}:1.",
    # contacts and pulses
    "stop_button_open_at_rest": "The stop button reads pressed. If it is not, a wire is off, or its contact closes "
    "when pressed where it must open.",
    "bilge_wet_open_at_rest": "The bilge sensor reads wet. If the bilge is dry, a wire is off, or the sensor closes "
    "when wet where it must open.",
    "pressure_switch_open_at_rest": "The pressure switch reads open without pressure. A wire is off, it was not "
    "re-armed, or its contact closes with pressure where it must open.",
    "flow_at_tank_open_at_rest": "The flow switch at the tank reads flowing with nothing running. A wire is off, or it "
    "closes with flow where it must open.",
    "tank_float_open_at_rest": "The tank float reads full. If the tank is not, a wire is off, or the float closes when "
    "it rises where it must open.",
    "plant_button_open_at_rest": "The button at the plant reads pressed. If it is not, a wire is off, or its contact "
    "closes when pressed where it must open.",
    "diverter_ends_exchanged": "The diverter's end contacts say it stands at the tank. If it stands overboard, their "
    "two wires are exchanged; if not, turn it overboard.",
    "diverter_ends_both_open": "Both end contacts of the diverter are open, which cannot be. A wire is off, or the "
    "plug of both.",
    "diverter_ends_both_closed": "Neither end contact of the diverter is open: it stands half-way, or the contacts "
    "close where they should open.",
    "diverter_end_closed": "The {contact} does not say that it stands there. Look where the diverter points; if it "
    "stands overboard, the contact closes where it should open.",
    "diverter_end_open": "The {contact} says that it stands there. Look where the diverter points; if it stands "
    "overboard, the wire is off.",
    "pulses_at_rest": "{channel}: {rate_hz} with nothing running. If no water moves, the wire picks up noise or "
    "floats: look at its screen and its ground.",
}
"""Templates as in `filling`."""
