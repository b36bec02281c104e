"""All alarms' words in one table, and their titles."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from halocline.plant.words import names
from halocline.plant.words.alarm_text import AlarmText
from halocline.plant.words.cut_off import cut_off_words
from halocline.plant.words.notice_texts import NOTICE_TEXTS, SENSOR_TEXTS
from halocline.plant.words.salt_texts import LOW_SALT
from halocline.plant.words.stop_texts import STOP_TEXTS
from halocline.plant.words.suction_texts import SUCTION_ALARMS, SUCTION_PLACES
from halocline.plant.words.trip_texts import TRIP_TEXTS

ALARM_TEXTS: Mapping[str, AlarmText] = {**TRIP_TEXTS, **STOP_TEXTS, **NOTICE_TEXTS, **SENSOR_TEXTS}


SUCTION_TEXTS: Mapping[str, Mapping[str, AlarmText]] = {
    alarm_id: {
        place: replace(ALARM_TEXTS[alarm_id], means=means, do=do, look=look)
        for place, (means, do, look) in SUCTION_PLACES.items()
    }
    for alarm_id in SUCTION_ALARMS
}
"""Alarm → place where the sea water is held up → the alarm's words with what to look at there."""
LOW_SALT_TEXTS: Mapping[str, AlarmText] = {
    alarm_id: replace(ALARM_TEXTS[alarm_id], means=means, do=do, look=look)
    for alarm_id, (means, do, look) in LOW_SALT.items()
}
"""Alarm → its words where the product's salt is low."""


def alarm_text(alarm_id: str, values: Mapping[str, Any] | None = None) -> AlarmText:
    """The words of an alarm, as its values have them; honest ones for an id that has none."""
    place = str((values or {}).get("suction"))
    if place in SUCTION_TEXTS.get(alarm_id, {}):
        return SUCTION_TEXTS[alarm_id][place]
    if alarm_id in LOW_SALT_TEXTS and values and values.get("salt_is_low") is True:
        return LOW_SALT_TEXTS[alarm_id]
    if alarm_id == "restarted_unexpectedly":
        means, ignored, do = cut_off_words(values or {})
        return replace(ALARM_TEXTS[alarm_id], means=means, ignored=ignored, do=do)
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
