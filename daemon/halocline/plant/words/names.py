"""What things are called in front of people: channels, contacts, outputs, states, qualities, commands."""

import re
from collections.abc import Mapping

from halocline.plant.words.units import UNKNOWN

CHANNEL_NAMES: Mapping[str, str] = {
    "vessel_pressure": "membrane pressure",
    "feed_pressure": "pump inlet pressure",
    "product_conductivity": "product conductivity",
    "sea_temperature": "sea temperature",
    "product_flow": "product flow",
    "filter_inlet_pressure": "pressure before the filters",
    "brine_pressure": "brine pressure",
    "brine_flow": "brine flow",
    "flush_flow": "flush flow",
    "product_pressure": "product pressure",
    "battery_voltage": "battery voltage",
    "battery_current": "battery current",
    "battery_charge_percent": "battery charge",
    "motor_current": "motor current",
    "pump_motor_temperature": "motor temperature",
    "tank_fill": "tank level",
}

CONTACT_NAMES: Mapping[str, str] = {
    "stop_button": "stop button",
    "bilge_wet": "bilge sensor",
    "pressure_switch": "pressure switch",
    "diverter_at_tank": "diverter at the tank end",
    "diverter_overboard": "diverter at the overboard end",
    "flow_at_tank": "flow switch at the tank",
    "tank_float": "tank float",
    "plant_button": "button at the plant",
}

OUTPUT_NAMES: Mapping[str, str] = {
    "feed_pump": "feed pump",
    "high_pressure_pump": "high-pressure pump",
    "product_to_tank": "product valve to the tank",
    "flush_valve": "flush valve",
    "pressure_release": "pressure release valve",
    "inverter_enable": "inverter",
    "buzzer": "buzzer",
    "beacon": "beacon",
    "heartbeat": "heartbeat",
}

STATE_NAMES: Mapping[str, str] = {
    "standby": "standby",
    "priming": "priming",
    "pressurising": "raising pressure",
    "diverting": "product overboard",
    "producing": "making water",
    "stopping": "stopping",
    "flushing": "flushing",
    "tripped": "safety stop",
    "laid_up": "laid up",
    "hand_run": "pump run by hand",
    "bench": "trying outputs",
}

QUALITY_TEXTS: Mapping[str, str] = {
    "good": "good",
    "under": "below its range",
    "over": "above its range",
    "open": "no signal, wire or supply open",
    "short": "short circuit",
    "stale": "no fresh reading",
    "stuck": "stuck, it no longer moves",
    "implausible": "not believable",
    "missing": "no reading",
}

PRIORITY_NAMES: Mapping[str, str] = {
    "urgent": "urgent",
    "high": "high priority",
    "low": "low priority",
    "log": "note",
}
"""“High” alone, beside a pressure that is too low, reads like the opposite."""

ALARM_STATE_NAMES: Mapping[str, str] = {
    "normal": "over",
    "unacknowledged": "raised",
    "acknowledged": "acknowledged",
    "returned-unacknowledged": "gone, not acknowledged",
    "latched": "gone, waits for reset",
    "shelved": "set aside",
    "suppressed": "caused by the alarm above",
    "out-of-service": "out of service",
}

COMMAND_NAMES: Mapping[str, str] = {
    "start": "start",
    "stop": "stop",
    "flush": "flush",
    "acknowledge": "acknowledge",
    "reset": "reset",
    "silence": "silence",
    "shelve": "put an alarm aside",
    "lay_up": "lay up",
    "recommission": "recommission",
    "bench": "try an output",
    "consent_flush": "consent to flushes by themselves",
    "withdraw_flush_consent": "end of the consent to flushes",
    "service_lock": "service lock",
    "service_unlock": "service unlock",
    "calibrate": "calibrate",
    "log": "log entry",
    "fault": "simulated fault",
}

WORK_NAMES: Mapping[str, str] = {
    "filter_changed": "Filters changed",
    "strainer_cleaned": "Strainer cleaned",
    "oil_changed": "Pump oil changed",
    "hand_meter": "Hand meter compared",
    "bucket_test": "Bucket filled by the clock",
    "gauge_read": "Gauge read",
    "sea_salinity": "Salinity of the sea",
    "finding_aside": "Finding put aside",
    "cleaned": "Membrane cleaned",
    "element_changed": "Membrane changed",
    "circuit_opened": "Sea-water circuit opened",
    "purge_confirmed": "First water passed its end test",
    "tank_chlorinated": "Tank chlorinated",
    "shore_water_taken": "Shore water taken",
    "chlorine_strip_zero": "Chlorine strip reads 0",
    "chlorine_read": "Free chlorine read",
    "duty_done": "Duty done",
    "stores_counted": "Stores counted",
    "at_the_plant": "A person came to the plant",
    "alarm_out_of_service": "Alarm taken out of service",
    "alarm_in_service": "Alarm put back into service",
    "commissioned": "Commissioning",
    "note": "Note",
}

ORIGIN_NAMES: Mapping[str, str] = {
    "page": "page",
    "cli": "command line",
    "mqtt": "MQTT",
    "plant": "button at the plant",
}

PURGE_NAMES: Mapping[str, str] = {
    "preservative": "preservative",
    "glycol": "propylene glycol",
    "new_element": "new-membrane preservative",
    "cleaning": "cleaning agent",
}

QUESTION_TEXTS: Mapping[str, str] = {
    "seacocks_open": "Intake and discharge seacocks are open",
    "strainer_clean": "The strainer is clean and its lid tight",
    "sea_clean": "No oil, fuel smell, sewage, bloom or silt in the sea here",
    "tank_chosen": "The right tank is chosen and clean",
    "proof_overdue": "The proof test of the trips is overdue, and I answer for running without it",
}
"""The short list before a start, each as the statement that is confirmed."""

NEED_NAMES: Mapping[str, str] = {"until_s": "until", "litres": "litres", "minutes": "minutes", "seconds": "seconds"}

QUESTION_NAMES: Mapping[str, str] = {
    "seacocks_open": "seacocks open",
    "strainer_clean": "strainer clean",
    "sea_clean": "sea clean",
    "tank_chosen": "tank chosen",
    "proof_overdue": "proof test overdue",
}

THIS_COMPUTER = frozenset({"127.0.0.1", "::1", "localhost"})
ADDRESS = re.compile(r"\d+(\.\d+){3}|[0-9a-fA-F]*:[0-9a-fA-F:.%\w]*")
"""Where no name was given the page tells the address that the order came from."""

LONGEST_TEXT = 48
"""Of anything a person or another program put in: a sentence still has to say the rest."""

NO_TEXT = frozenset({"", "none", "nan", "inf", "infinity", "null"})
"""What a program writes where it has nothing to say."""


def typed(value: object, longest: int = LONGEST_TEXT) -> str:
    """What a person or another program put in, on one line and short enough to leave room for the rest."""
    text = " ".join("".join(letter if letter.isprintable() else " " for letter in str(value)).split())
    if text.lower().lstrip("+-") in NO_TEXT:
        return UNKNOWN
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"


def plain(identifier: object) -> str:
    """An id that has no name of its own, readable at least."""
    return typed(str(identifier).replace("_", " "))


def literal(text: str) -> str:
    """The text without the signs that mean something in a template."""
    return text.translate(_TEMPLATE_SIGNS)


_TEMPLATE_SIGNS = str.maketrans("{}[]", "()()")


def channel_name(channel: str) -> str:
    """A measured quantity, as in "the membrane pressure sensor"."""
    return CHANNEL_NAMES.get(channel, plain(channel))


def contact_name(contact: str) -> str:
    """A switch."""
    return CONTACT_NAMES.get(contact, plain(contact))


def output_name(output: str) -> str:
    """Something that is switched."""
    return OUTPUT_NAMES.get(output, plain(output))


def state_name(state: str) -> str:
    """A state of the sequence, in two or three words."""
    return STATE_NAMES.get(state, plain(state))


def quality_text(quality: str) -> str:
    """What is the matter with a reading, as in "membrane pressure: no fresh reading"."""
    return QUALITY_TEXTS.get(quality, plain(quality))


def priority_name(priority: str) -> str:
    """How pressing an alarm is, in words that cannot be taken for a reading."""
    return PRIORITY_NAMES.get(priority, plain(priority))


def alarm_state_name(state: str) -> str:
    """Where an alarm stands in its life."""
    return ALARM_STATE_NAMES.get(state, plain(state))


def command_name(command: str) -> str:
    """A command, as a label."""
    return COMMAND_NAMES.get(command, plain(command))


def origin_name(origin: str) -> str:
    """Where an order came from."""
    return ORIGIN_NAMES.get(origin, plain(origin))


def asker(who: object) -> str:
    """Who gave an order, as in "a stop was ordered by Ana"; an address stands for the page opened there."""
    name = typed(who)
    if name in THIS_COMPUTER:
        return "on this computer's page"
    return f"on the page at {name}" if ADDRESS.fullmatch(name) else f"by {name}"


def work_name(kind: str) -> str:
    """Something done by hand, as it stands in a log."""
    return WORK_NAMES.get(kind, plain(kind))


def purge_name(of: str) -> str:
    """What first water has to be purged of."""
    return PURGE_NAMES.get(of, plain(of))


def need_name(key: str) -> str:
    """What a run or a trial was asked to last."""
    return NEED_NAMES.get(key, plain(key))


def question_text(question: str) -> str:
    """The statement that a person confirms before a start."""
    return QUESTION_TEXTS.get(question, plain(question))


GIVEN_REASON_TEXTS = {
    "accept_reason": "Saltier water than usual goes to the tank",
    "motor_plate": "The motor runs longer in one go than its kind usually stands",
    "off_reason": "A start goes without a person at the plant, or without its questions",
}


def given_reason_text(key: str) -> str:
    """What the owner gives a reason for under this key of the configuration."""
    return GIVEN_REASON_TEXTS.get(key, plain(key))


def lower_start(text: str) -> str:
    """The text as it stands within a sentence."""
    return f"{text[:1].lower()}{text[1:]}"
