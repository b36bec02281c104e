"""Words of the alarms that switch off all that the computer switches. Resetting is said once for all, elsewhere.

A pump may have a switch of its own: no text says of it that it is off.
"""

from collections.abc import Mapping

from halocline.plant.words.alarm_text import AlarmText

TRIP_TEXTS: Mapping[str, AlarmText] = {
    "stop_button": AlarmText(
        "Stop button pressed",
        "the stop button is pressed, or its wire is broken",
        "All that the computer switches is off and stays off.",
        "Nothing worse happens, but the plant cannot run and the membrane stands in sea water.",
        "Ask who pressed it and why. When all is well, release the button. If nobody did, check its wire.",
        "Ask who pressed it and why.",
    ),
    "bilge_wet": AlarmText(
        "Water under the plant",
        "there is water at the bilge sensor, or its wire is broken",
        "A hose, fitting or housing may be leaking sea water.",
        "Water may go on rising, and mains voltage near salt water can kill.",
        "Mains near water: breaker now, before you touch anything. Close the seacocks. Look for the leak with a light, "
        "never with a hand.",
        "Mains near water: breaker now, then close the seacocks.",
        breaker=True,
    ),
    "pressure_switch": AlarmText(
        "Pressure switch opened",
        "the hard-wired pressure switch has opened, or its wire is broken",
        "The pressure was too high for it. It acts without this computer.",
        "Only the relief valve is left to protect hoses, housing and whoever stands beside them.",
        "Open the regulator fully, read the gauge beside it. Look for a closed discharge seacock or a kinked brine "
        "hose. Re-arm the switch by hand.",
        "Open the regulator, check the discharge seacock.",
        opens_regulator=True,
    ),
    "vessel_pressure_high_high": AlarmText(
        "Membrane pressure far too high",
        "membrane pressure was too high[: {pressure_bar}][, limit {limit_bar}]",
        "The pump worked against something closed or blocked.",
        "A hose or the housing may burst. A jet at this pressure goes through skin.",
        "Open the regulator fully. Check the discharge seacock and the brine hose. Never feel for a leak with a hand: "
        "use cardboard.",
        "Open the regulator, check the discharge seacock.",
        opens_regulator=True,
    ),
    "regulator_closed": AlarmText(
        "Regulator was closed at the start",
        "pressure rose at once to {pressure_bar}[, an open regulator stays below {limit_bar}]",
        "The pump started against a closed regulator.",
        "Starting like this hammers pump, membrane and hoses until something gives.",
        "Open the regulator fully, then start again. If it was open: check the discharge seacock and the brine hose.",
        "Open the regulator fully before the next start.",
        opens_regulator=True,
    ),
    "pressure_rise_too_fast": AlarmText(
        "Pressure raised too fast",
        "pressure rose by {rate_bar_s}[, limit {limit_bar_s}]",
        "The regulator was closed too quickly, or something blocked the brine.",
        "Sudden pressure can crush or tear the membrane element.",
        "Open the regulator fully and start again. Close it slowly, a little at a time. If nobody touched it: check "
        "the brine hose and the discharge seacock.",
        "Open the regulator, next time close it slowly.",
        opens_regulator=True,
    ),
    "vessel_pressure_not_reached": AlarmText(
        "Pressure did not build up",
        "pressure only reached {pressure_bar}[ in {seconds}][, needed {limit_bar}]",
        "The pump may not turn, its breaker may be out, a hose may leak, or the regulator stands too far open.",
        "Left alone the pump wears and no water is made.",
        "Check that the pump turns: breaker, inverter, belt. Look for leaks with cardboard, never with a hand. Check "
        "the regulator's setting.",
        "Check pump, breaker and regulator setting.",
    ),
    "vessel_pressure_lost": AlarmText(
        "Pressure lost while running",
        "pressure fell to {pressure_bar}[, it must stay above {limit_bar}]",
        "A hose may have parted, the regulator slipped, or the pump stopped turning.",
        "Sea water may be spraying under high pressure, or the pump runs without load.",
        "Stand clear. Look with a light from a distance, never feel for a leak with a hand. Check pump, breaker, "
        "hoses, regulator.",
        "Look for a leak with a light, never with a hand.",
    ),
    "pressure_not_released": AlarmText(
        "Pressure does not go away",
        "pressure is still {pressure_bar}[ {seconds} after the pump should have stopped][, limit {limit_bar}]",
        "The pump may still turn, or the regulator is closed and holds pressure in.",
        "Anything opened now can spray at high pressure, and a pump that still turns may run dry.",
        "Breaker now if the pump still turns. Then open the regulator slowly and watch the gauge beside it fall to "
        "zero. Open no fitting before.",
        "Breaker now if the pump turns. Open the regulator.",
        opens_regulator=True,
        breaker=True,
    ),
    "feed_pressure_not_reached": AlarmText(
        "No sea water at the pump",
        "pump inlet pressure was not steady at {limit_bar} or more[ within {seconds}]: last {pressure_bar}"
        "[, before the filters {inlet_bar}]",
        "The feed pump does not bring enough sea water, or it draws air.",
        "The high-pressure pump would run dry; it was not started.",
        "In this order: the feed pump turns (if not, re-arm the relays), the intake seacock is open, the strainer "
        "clean and its lid tight, the filters not clogged.",
        "Check feed pump, seacock, strainer, then filters.",
    ),
    "feed_pressure_low_low": AlarmText(
        "Sea water supply failed",
        "pump inlet pressure fell to {pressure_bar}[, limit {limit_bar}][, before the filters {inlet_bar}]",
        "The high-pressure pump got too little sea water, or none.",
        "A dry pump is ruined within minutes.",
        "In this order: the intake seacock is open, the strainer clean and its lid tight, the feed pump turns, the "
        "filters are not clogged. Air or weed in the suction is the usual cause.",
        "Check seacock, strainer, pump, filters.",
    ),
    "adc_lost": AlarmText(
        "Sensor board lost",
        "the sensor board at address {address} does not answer",
        "The plant cannot see its own pressures, so no run goes on.",
        "Nothing is measured: running on would be running blind.",
        "Check plug, supply and cable of the sensor board, and look for salt water on it. Read the gauge at the "
        "regulator meanwhile.",
        "Check plug, supply and cable of the sensor board.",
    ),
    "scan_overrun": AlarmText(
        "Control was too slow",
        "control missed {missed:count} looks in a row[, limit {limit:count}]",
        "The computer was too busy or too weak to watch the plant.",
        "Danger would be noticed too late.",
        "Check the computer: its power supply, its temperature, other programs on it. If it happens again, restart it.",
        "Check the computer's supply and load.",
    ),
    "output_disagrees": AlarmText(
        "Diverter does not obey",
        "the {contact} reports the wrong position",
        "The valve that chooses tank or overboard is not where it was told to be.",
        "Salty water may run into the tank, or good water overboard.",
        "Look at the valve: where does it point? Check its supply, its wire and its position switches. Its hand "
        "override works without the computer.",
        "Look where the diverter points.",
    ),
    "product_pressure_high": AlarmText(
        "Product line blocked",
        "product pressure rose to {pressure_bar}[, limit {limit_bar}]",
        "The fresh water has no way out: a valve is shut or a hose is kinked.",
        "Pressure on the product side bursts the membrane from inside.",
        "Open every valve in the product line and look for a kinked hose. The overboard branch must never be shut.",
        "Look for a shut valve or kinked product hose.",
    ),
    "water_lost": AlarmText(
        "Much water goes missing",
        "of the pump's {expected_l_h}, {missing_l_h} came out neither as brine nor as product[, limit {limit_l_h}]",
        "A hose, fitting or housing leaks badly, the brine meter stands still, or the pump is badly worn.",
        "A jet at this pressure goes through skin, and the bilge fills.",
        "Wait until the gauge stands at zero. Look for what is wet with a light, never with a hand. If all is dry, "
        "look at the brine meter, then measure the pump's flow with a bucket.",
        "Wait for zero pressure, then look for what is wet.",
    ),
    "product_salty_at_once": AlarmText(
        "Sea water in the product",
        "the product carries {tds_mg_l} of salt[, limit {limit_mg_l}][, at {flow_l_h}, expected {expected_l_h}]",
        "Sea water goes straight through: swapped hoses, a torn membrane or a missing seal.",
        "The run makes no fresh water like this. The tank was closed off.",
        "Check that the product and brine hoses are not swapped. Then check the seals at the ends of the membrane. "
        "Taste nothing.",
        "Check for swapped hoses, then the membrane seals.",
    ),
    "control_failed": AlarmText(
        "Control program failed",
        "the control program met an error of its own",
        "All that the computer switches went off at once.",
        "It may happen again at a worse moment.",
        "Open the regulator, note the time and keep the log. Restart the computer. If it comes again, run the plant by "
        "hand only.",
        "Keep the log, restart the computer.",
    ),
    "latch_unreadable": AlarmText(
        "Memory file unreadable",
        "what the plant remembers across a restart cannot be read",
        "So the worst is assumed: a flush is owed, and first water must go overboard.",
        "Without this the first water might carry preservative into the tank.",
        "Check the computer's memory card. Remember yourself: was it laid up, is a housing open? The first water "
        "has to go overboard.",
        "Think: was it laid up, is a housing open?",
    ),
}
