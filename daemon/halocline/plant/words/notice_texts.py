"""Words of the alarms that only warn, and of failing sensors."""

from collections.abc import Mapping

from halocline.plant.vocabulary import CHANNELS
from halocline.plant.words.alarm_text import AlarmText
from halocline.plant.words.cut_off import UNKNOWN_WORDS, cut_off_steps
from halocline.plant.words.names import CHANNEL_NAMES

NOTICE_TEXTS: Mapping[str, AlarmText] = {
    "vessel_pressure_high": AlarmText(
        "Membrane pressure high",
        "membrane pressure is {pressure_bar}[, warning from {limit_bar}]",
        "The regulator is set too high, or the brine cannot leave freely.",
        "A little more and a safety stop follows.",
        "Open the regulator a little. Check that the discharge seacock is fully open.",
        "Open the regulator a little.",
        opens_regulator=True,
    ),
    "feed_pressure_low": AlarmText(
        "Sea water supply weak",
        "pump inlet pressure is {pressure_bar}[, warning below {limit_bar}][, before the filters {inlet_bar}]",
        "Strainer or filters clog, or the suction draws air.",
        "If it falls further a safety stop follows, to save the pump.",
        "In this order: strainer and its lid, weed at the intake, then the filters.",
        "Check strainer, then filters.",
    ),
    "feed_pressure_wavering": AlarmText(
        "Air comes with the sea water",
        "pump inlet pressure jumps about by {span_bar}[, limit {limit_bar}]",
        "The feed pump draws air now and then: heel, sea, a loose lid or clamp.",
        "If it goes on or comes back, the run ends to save the pump.",
        "Check the strainer lid and the hose clamps on the suction side. Ease the boat or go on the other tack.",
        "Check strainer lid and suction hose clamps.",
    ),
    "filter_drop_high": AlarmText(
        "Filters clogged",
        "the filters take {drop_bar}[, change them at {limit_bar}]",
        "The filter cartridges are full of dirt.",
        "The pump gets less and less water and in the end the run stops.",
        "Change the cartridges after this run, write it in the log, and bleed the air before the next start.",
        "Change the filter cartridges after this run.",
    ),
    "recovery_near_limit": AlarmText(
        "Recovery near its limit",
        "recovery is {recovery}[, computed with the configured feed of {assumed_feed_l_h}][, warning from {limit:1}]",
        "Less and less sea water washes along the membrane, or product comes past it.",
        "Scale and slime settle sooner. At a little more the run ends.",
        "Watch the product's salt. If it is high: look for exchanged hoses, a torn membrane, seals. If it is low: set "
        "less pressure, or give more feed: strainer, filters, pump.",
        "Watch the product's salt; give more feed.",
    ),
    "attendance_due": AlarmText(
        "Still there?",
        "no answer and no press of the button for {seconds}",
        "A run needs a person within reach[; without an answer within {left_s} it ends].",
        "Without an answer the run ends in good order.",
        "Press the button at the plant, or acknowledge this on the page.",
        "Press the button at the plant.",
    ),
    "product_flow_jumped": AlarmText(
        "Product flow changed suddenly",
        "product flow is {flow_l_h}[, usual at this pressure {usual_l_h}]",
        "No membrane ages within minutes: a meter, a hose or a seal has changed.",
        "A part that has given way may give way altogether.",
        "Measure with a bucket and a watch. If the meter is wrong, clean it. If it is right: look for a leak and a "
        "kinked hose, then check the element's seal ring and end seals.",
        "Check with a bucket, look for a leak or a kink.",
    ),
    "product_salt_jumped": AlarmText(
        "Product salt changed suddenly",
        "salt is {tds_mg_l}[, usual at this pressure {usual_mg_l}]",
        "No membrane ages within minutes: the probe, a seal or a seal ring has changed.",
        "If a seal has given way, more salt will follow; if the probe has, its numbers mean nothing.",
        "Compare with a hand meter. If the probe is wrong, clean and check it. If it is right: check the end seals "
        "and the seal ring of the element, at zero pressure.",
        "Compare with a hand meter.",
    ),
    "product_salt_high": AlarmText(
        "More salt than expected",
        "salt is {tds_mg_l}[, expected {expected_mg_l}]",
        "It came slowly: the membrane is scaled, fouled or worn, or the probe has drifted.",
        "It goes on rising until the water no longer passes.",
        "Compare with a hand meter. If the probe is right, plan a cleaning of the membrane, then think of a new one.",
        "Compare with a hand meter.",
    ),
    "product_flow_low": AlarmText(
        "Less water than expected",
        "product flow is {flow_l_h}[, expected {expected_l_h}]",
        "It came slowly: the membrane is fouled or scaled, or the flow meter reads low.",
        "It gets slowly worse: more hours and more power for each tank.",
        "Measure with a bucket and a watch. If the meter is right, plan a cleaning of the membrane.",
        "Check with a bucket and a watch.",
    ),
    "product_flow_high": AlarmText(
        "More water than expected",
        "product flow is {flow_l_h}[, expected {expected_l_h}]",
        "The membrane or a seal may leak, the sea is weaker than set, or the flow meter reads high.",
        "A growing leak shows as salt in the product later.",
        "Measure with a bucket and a watch, and watch the salt. Set less pressure in weak or fresh water.",
        "Check with a bucket, watch the salt.",
    ),
    "water_warm": AlarmText(
        "Sea water warm",
        "the water is {temperature_c}[, warning from {limit_c}]",
        "Warm water lets more salt through and wears the membrane.",
        "If it gets warmer the run ends to save the membrane.",
        "Expect more salt. Check that brine or engine cooling water does not come back to the intake.",
        "Check where the water is drawn.",
    ),
    "water_too_cold": AlarmText(
        "Sea water very cold",
        "the water is {temperature_c}[, warning below {limit_c}]",
        "Cold water makes little product and ice is not far.",
        "Less water per hour. If it freezes inside, membrane and pump crack.",
        "Expect less water. Do not raise the pressure to make up for it. Do not let the plant freeze.",
        "Expect less water, beware of frost.",
    ),
    "pressure_without_command": AlarmText(
        "Pressure without a command",
        "there is {pressure_bar} at the membrane without a command[, limit {limit_bar}]",
        "The pump was switched on by hand, or its relay sticks.",
        "The pump may run without feed water, and fittings thought dead are under pressure.",
        "Find out who runs the pump. If no one does: breaker now, then open the regulator. Open no fitting before the "
        "gauge shows zero.",
        "Find out who runs the pump; if no one: breaker now.",
        breaker=True,
    ),
    "motor_overworked": AlarmText(
        "Motor beyond its rated run",
        "the motor has worked {seconds} in one go[, rated for {limit_s}]",
        "A person runs the pump by its own switch, or its relay sticks: nothing from here can end it.",
        "The winding overheats, its insulation burns.",
        "Open the regulator and switch the pump off at its own switch or its breaker. Let the motor rest.",
        "Switch the pump off, let the motor rest.",
    ),
    "flush_failed": AlarmText(
        "Flush failed",
        "the fresh-water flush did not succeed[: {why_said:said}]",
        "Sea water still stands in the membrane.",
        "Within days it turns foul, and the membrane with it.",
        "Check fresh water: tank, pump, flush valve and carbon filter; re-arm the relays if they have dropped out. "
        "Open the regulator fully, then flush again.",
        "Check the fresh water, open the regulator, flush again.",
        opens_regulator=True,
    ),
    "automatic_flush_ended": AlarmText(
        "No more flushes by themselves",
        "the plant no longer flushes by itself[: {why_said:said}]",
        "The consent to flushes that nobody orders is over.",
        "The water in the membrane goes foul within days.",
        "Read in the record how the last flush went, put right what was wrong, and flush. Then give consent anew if "
        "nobody will be there.",
        "Flush, then give consent anew if wanted.",
    ),
    "flush_due": AlarmText(
        "Flush is due",
        "the water in the membrane has stood for {hours}[, at most {limit_hours}]",
        "Standing water goes foul, sooner in warm weather.",
        "Slime grows in the membrane and the next water smells.",
        "Flush with fresh water without chlorine.",
        "Flush with fresh water.",
    ),
    "flush_valve_leaking": AlarmText(
        "Flush valve leaks",
        "{flow_l_h} runs through the flush valve although it is closed[, at most {limit_l_h}]",
        "The valve does not close fully, or its flow meter counts wrongly.",
        "The drinking-water tank empties slowly overboard.",
        "Close the hand valve in the flush line. Clean or change the flush valve.",
        "Close the hand valve in the flush line.",
    ),
    "water_unaccounted": AlarmText(
        "Water goes missing",
        "of the pump's {expected_l_h}, {missing_l_h} come out neither as brine nor as product"
        "[, warning above {limit_l_h}]",
        "There is a leak, or the high-pressure pump is worn.",
        "A leak at this pressure cuts skin and floods the bilge.",
        "Look for a leak with a light and cardboard, never with a hand. If all is dry, measure the pump's flow with a "
        "bucket.",
        "Look for a leak with a light, never with a hand.",
    ),
    "flush_backflow": AlarmText(
        "Flow in the flush line",
        "{flow_l_h} flows in the flush line while the plant runs[, at most {limit_l_h}]",
        "Sea water may be on its way into the drinking water.",
        "The drinking-water tank may be spoiled with sea water.",
        "Stop the run. Close the hand valve in the flush line. Measure the salt in the tank before using it. Check "
        "the check valves.",
        "Stop, close the hand valve in the flush line.",
    ),
    "preservative_due": AlarmText(
        "Preservation is due",
        "the plant has not been used or preserved for {days}[, at most {limit_days}]",
        "Water or preservative this old no longer protects the membrane.",
        "The membrane goes foul beyond cleaning.",
        "Run the plant, or lay it up with fresh preservative. Wear gloves and goggles, keep air moving.",
        "Run it, or renew the preservative.",
    ),
    "frost_risk": AlarmText(
        "Frost risk",
        "the water in the plant is {temperature_c}[, warning below {limit_c}]",
        "Water in the plant may freeze soon.",
        "Ice cracks membrane, pump and housings.",
        "Keep the space warm, or drain the filters and lay the plant up with food-grade propylene glycol, never with "
        "engine antifreeze.",
        "Keep it warm, or lay it up with propylene glycol.",
    ),
    "restarted_unexpectedly": AlarmText(
        "Control was cut off",
        "control was cut off[ {during_said:said}][; {computer_said:said}]",
        UNKNOWN_WORDS.means,
        UNKNOWN_WORDS.ignored,
        cut_off_steps(UNKNOWN_WORDS.then, None),
        "Open the regulator, then acknowledge.",
        opens_regulator=True,
    ),
    "calibrations_unreadable": AlarmText(
        "Calibrations lost",
        "the file of calibrations is damaged",
        "How the sensors were set is not known any more. They read by the configuration alone.",
        "No run is started. What is shown may be off by as much as was corrected.",
        "Compare gauge, hand meter and bucket, then run: halocline calibrate all --configured, and calibrate anew.",
        "Compare the instruments, then calibrate anew.",
    ),
    "calibrations_outdated": AlarmText(
        "Calibration no longer fits",
        "{channels} is configured otherwise than when it was calibrated",
        "The configuration changed since the calibration was made. It is not applied any more.",
        "The sensor reads by the configuration alone, which may be less exact.",
        "Calibrate it again, or put the configuration back.",
        "Calibrate it again.",
    ),
    "clock_unset": AlarmText(
        "Clock not set",
        "the computer does not know the time",
        "Runs are recorded without date, and a start until a time of day is refused.",
        "The log is harder to read; nothing else.",
        "Let the computer see a network or GPS time once, or fit a clock battery.",
        "Give the computer a time source.",
    ),
    "interlock_not_armed": AlarmText(
        "Interlock was not armed",
        "the comparator interlock's chip[ at {address}] did not hold its window",
        "Its supply failed or its wires are off. For a while nothing but relief valve, pressure switch and program "
        "guarded against overpressure.",
        "No start is taken while it lasts; it was programmed again, and opens the coil chain when it is dead.",
        "Check plug and supply of the interlock's chip. Then prove it: halocline check --proof-interlock.",
        "Check plug and supply of the interlock's chip.",
    ),
    "supply_voltage_low": AlarmText(
        "Computer supply weak",
        "the computer's supply voltage is too low",
        "Its power supply or cable is too weak, or the battery drops when pumps start.",
        "It may restart in the middle of a run, or damage its memory card.",
        "Check the computer's power supply, cable and fuse holder; use a short, thick cable.",
        "Check the computer's power supply and cable.",
    ),
}

_CONSEQUENCE: Mapping[str, tuple[str, str]] = {
    "vessel_pressure": (
        "Without it the plant cannot guard against too much pressure.",
        "No run starts until the sensor is right.",
    ),
    "feed_pressure": (
        "Without it a pump running dry would go unnoticed.",
        "No run starts until the sensor is right.",
    ),
    "product_conductivity": (
        "Without it the salt is not known, so the product goes overboard.",
        "No water reaches the tank.",
    ),
    "sea_temperature": (
        "Without it the salt reading cannot be corrected, so the product goes overboard.",
        "No water reaches the tank.",
    ),
    "product_flow": (
        "Without it a dry probe would read like perfect water, so the product goes overboard.",
        "No water reaches the tank.",
    ),
    "product_pressure": (
        "A blocked product line would not be noticed from it.",
        "Only the relief valve guards the product side.",
    ),
    "battery_voltage": ("A battery running low would not be noticed.", "A run may flatten the battery."),
    "tank_fill": ("The plant does not know when the tank is full.", "The tank may overflow, unless its float works."),
    "pump_motor_temperature": ("An overheating motor would not be noticed.", "Only the motor's own cut-out is left."),
    "flush_flow": ("Flushes are not measured.", "A flush that fails may look like a good one."),
}
_OTHERWISE = (
    "The plant runs without it, but sees less.",
    "What this sensor would show goes unnoticed.",
)


def _sensor_text(channel: str) -> AlarmText:
    name = CHANNEL_NAMES[channel]
    means, ignored = _CONSEQUENCE.get(channel, _OTHERWISE)
    return AlarmText(
        f"Sensor fault: {name}",
        f"the sensor for {name} is not good[: {{quality}}]",
        f"{means}[ The raw signal is {{raw:raw}}.]",
        ignored,
        f"Check plug, cable and supply of the sensor for {name}. Look for salt water in the plug. If all is dry and "
        "tight, change the sensor.",
        "Check plug, cable and supply of the sensor.",
    )


SENSOR_TEXTS: Mapping[str, AlarmText] = {f"sensor_fault_{channel}": _sensor_text(channel) for channel in CHANNELS}
