"""All alarms' words in one table, and their titles."""

from collections.abc import Mapping

from halocline.plant.words import names
from halocline.plant.words.alarm_text import AlarmText
from halocline.plant.words.notice_texts import NOTICE_TEXTS, SENSOR_TEXTS
from halocline.plant.words.stop_texts import STOP_TEXTS
from halocline.plant.words.trip_texts import TRIP_TEXTS

ALARM_TEXTS: Mapping[str, AlarmText] = {**TRIP_TEXTS, **STOP_TEXTS, **NOTICE_TEXTS, **SENSOR_TEXTS}


def alarm_text(alarm_id: str) -> AlarmText:
    """The words of an alarm; honest ones for an id that has none."""
    if alarm_id in ALARM_TEXTS:
        return ALARM_TEXTS[alarm_id]
    name = names.literal(names.plain(alarm_id))
    return AlarmText(
        f"{name[:1].upper()}{name[1:]}",
        f"the plant reports “{name}”",
        "There are no further words for this alarm.",
        "It is not known what happens if this is ignored.",
        "Look at the plant, its gauge and the log. If in doubt, stop and leave it off.",
        "Look at the plant and the log.",
    )


def alarm_name(alarm_id: str) -> str:
    """A short title."""
    return alarm_text(alarm_id).name
