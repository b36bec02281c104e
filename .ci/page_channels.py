"""Writes the sensors with their names and kinds of quantity for the page, from the vocabulary and the words."""

import json
from pathlib import Path

from halocline.plant import words
from halocline.plant.vocabulary import CHANNELS, Channel
from halocline.plant.words.filling import sentence_case

PLACE = Path(__file__).parents[1] / "web" / "src" / "generated" / "channels.ts"
QUANTITIES = {
    "L/h": "flow",
    "°C": "temperature",
    "µS/cm": "conductivity",
    "V": "voltage",
    "A": "current",
    "%": "percent",
}
HIGH_BAR = 100.0
"""A pressure that may be higher is one of the membrane's side, read to whole bars."""


def quantity(channel: Channel) -> str:
    """What the page calls its kind."""
    if channel.unit == "bar":
        return "high_pressure" if channel.most > HIGH_BAR else "pressure"
    return QUANTITIES.get(channel.unit, "plain")


def content() -> str:
    """The file."""
    named = {
        name: {"label": sentence_case(words.channel_name(name)).rstrip("."), "quantity": quantity(channel)}
        for name, channel in CHANNELS.items()
    }
    listed = json.dumps(named, indent=2, ensure_ascii=False)
    return f"// Made by make docs. Do not edit.\n\nexport const SENSORS = {listed} as const;\n"


if __name__ == "__main__":
    PLACE.write_text(content(), encoding="utf-8")
