"""Words of the alarms that end a run in good order or send the product overboard."""

from collections.abc import Mapping

from halocline.plant.words.alarm_text import AlarmText

STOP_TEXTS: Mapping[str, AlarmText] = {
    "quality_not_reached": AlarmText(
        "Water stayed too salty",
        "salt was not within the limit after {seconds} overboard: {tds_mg_l}[, limit {limit_mg_l}]",
        "The product went overboard all that time.",
        "Nothing is harmed, but no water is made.",
        "Check pressure and regulator, then the probe with a hand meter. If both are right, the membrane or its seals "
        "need a look.",
        "Check the pressure, then the probe with a hand meter.",
    ),
    "quality_returns_repeatedly": AlarmText(
        "Water quality keeps breaking",
        "salt went over the limit {times:count} times in a short while",
        "Something is not steady: pressure, flow, probe or membrane.",
        "Each break costs time, and a little salt reaches the tank.",
        "Look at the pressure trend: is the regulator slipping, does the pump draw air? Check the probe with a hand "
        "meter.",
        "Check regulator and suction for air.",
    ),
    "product_salty": AlarmText(
        "Product far too salty",
        "the product still carries {tds_mg_l} of salt[ after {litres}][, limit {limit_mg_l}]",
        "The membrane or one of its seals lets sea water by.",
        "Running on only wears the plant: this water is no use.",
        "Check the probe with a hand meter. If it is right: check seals and hoses of the membrane housing, at zero "
        "pressure.",
        "Check the probe, then the membrane seals.",
    ),
    "feed_pressure_unsteady": AlarmText(
        "Air in the suction",
        "pump inlet pressure jumped about by {span_bar}[, limit {limit_bar}]",
        "The feed pump draws air with the water: heel, sea, a loose lid or clamp.",
        "Air hammers the high-pressure pump and wears it fast.",
        "Check the strainer lid, the hose clamps on the suction side and the intake on this tack. Bleed the air before "
        "the next run.",
        "Check strainer lid and suction hose clamps.",
    ),
    "product_flow_too_high": AlarmText(
        "Too much product",
        "product flow was {flow_l_h}[, limit {limit_l_h}][, with {tds_mg_l} of salt]",
        "A torn membrane or a seal, exchanged hoses, or too much pressure in warm or weak water.",
        "Salt water may follow; and a membrane driven too hard scales and fouls much sooner.",
        "Compare its salt with the sea, by hand meter. If saltier than the sea: exchanged hoses. If only a little less "
        "salty: torn membrane, seals. If low: set less pressure next time, by flow.",
        "Compare its salt with the sea: hoses exchanged? Then membrane, seals.",
    ),
    "recovery_high": AlarmText(
        "Too little brine flow",
        "recovery was {recovery}[, computed with the configured feed of {assumed_feed_l_h}][, limit {limit:1}]",
        "Too little sea water washes along the membrane, or product comes past it.",
        "Salt crystals and slime settle on the membrane.",
        "Check the feed: strainer, filters, pump. If the product is salty: exchanged hoses if saltier than the sea, "
        "else torn membrane, seals. If its salt is low: set less pressure.",
        "Check the feed flow and the product's salt.",
    ),
    "motor_too_warm": AlarmText(
        "Pump motor too warm",
        "the pump motor reached {temperature_c}[, limit {limit_c}]",
        "It lacks air, works too hard, or has run too long.",
        "The winding burns, or its own cut-out opens and closes again without asking.",
        "Let it cool for half an hour. Check that air reaches it, that the pump turns freely, and how long it ran.",
        "Let it cool, give it air.",
    ),
    "water_too_warm": AlarmText(
        "Sea water too warm",
        "the water is {temperature_c}[, limit {limit_c}]",
        "The membrane is not made for water this warm.",
        "It loses its tightness for good.",
        "Wait for cooler water or move to a cooler place. Check that the brine or the engine's cooling water does not "
        "come back to the intake.",
        "Wait for cooler water, check where it is drawn.",
    ),
    "tank_full": AlarmText(
        "Tank is full",
        "the tank is full[: {percent}][, limit {limit_percent}]",
        "A good end.",
        "Nothing: the run has ended.",
        "Nothing. If the tank is not full, check its float and level sensor.",
        "Nothing to do.",
    ),
    "battery_low": AlarmText(
        "Battery low",
        "the battery ran low[ ({volts} under load, limit {limit_v})][ ({percent} left, limit {limit_percent})]",
        "The run ended to leave power for the boat.",
        "A flat battery takes lights, radio and this watch with it.",
        "Charge, or run the engine, then start again. If the battery is full: check cables and terminals for a "
        "voltage drop.",
        "Charge before the next run.",
    ),
    "run_limit": AlarmText(
        "Longest run reached",
        "the run lasted {seconds}, the longest allowed",
        "A good end, set by the owner.",
        "Nothing: the run has ended.",
        "Start again if more water is needed and the motor has rested.",
        "Start again if more is needed.",
    ),
    "motor_must_rest": AlarmText(
        "Motor has to rest",
        "the motor has worked {seconds}, nearly all that it may in one go[ ({limit_s})]",
        "A good end: a motor beyond its rated run overheats.",
        "Nothing: the run has ended.",
        "Let the motor have its rest, then start again if more water is needed.",
        "Start again after the motor's rest.",
    ),
    "unattended": AlarmText(
        "No answer",
        "the question “still there?” had no answer for {seconds}[, limit {limit_s}]",
        "A run needs a person within reach.",
        "A leak or a fault would go unnoticed.",
        "Have a look at the plant, press its button, start again. A run asks now and then; the answer is that button.",
        "Press the button at the plant, then start again.",
    ),
    "quality_lost": AlarmText(
        "Salt over the limit or about to be",
        "salt is {tds_mg_l}[ and rises, {foreseen_mg_l} is foreseen in {ahead_s}][, limit {limit_mg_l}]",
        "The product goes overboard until the salt is within the limit again.",
        "The tank stays closed: no water is gained while this lasts.",
        "Check pressure and regulator first. If they are steady, check the probe with a hand meter.",
        "Check the pressure and the regulator.",
    ),
    "product_salt_noisy": AlarmText(
        "Salt reading too noisy",
        "the salt reading jumps about by {noise_mg_l}[ around {tds_mg_l}][, at most {limit_mg_l} can be judged]",
        "Good water cannot be told from bad by such a reading. The product goes overboard.",
        "The tank stays closed: no water is gained while this lasts.",
        "Look for air at the probe: it must lie full of water, with no bubble on it. Check its plug and its cable: "
        "shielded, and apart from the cables of motor and inverter. Compare with a hand meter.",
        "Look for air at the probe, check its cable.",
    ),
    "feed_lost_while_stopping": AlarmText(
        "No sea water at the stop",
        "pump inlet pressure fell to {pressure_bar} while the regulator was being opened[, limit {limit_bar}]",
        "Without water the pump wears out within seconds, so it did not wait for the regulator.",
        "The next run would starve the pump.",
        "Open the regulator. Open the seacock, clean the strainer, change the cartridges before the next run.",
        "Open the regulator, then check seacock and strainer.",
        opens_regulator=True,
    ),
    "product_flow_missing": AlarmText(
        "No product flow",
        "product flow is {flow_l_h}[, at least {limit_l_h} is needed]",
        "A dry probe reads like perfect water, so this water is not trusted. The product goes overboard.",
        "The tank stays closed. A shut product line can burst the membrane.",
        "Open every valve in the product line, look for a kinked hose. Then check the flow meter and its wire.",
        "Check product line and flow meter.",
    ),
}
