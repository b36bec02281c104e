"""The boat's name, for those who show it whatever else is wrong with its configuration."""

from pathlib import Path

from halocline.app.paths import SYSTEM_CONFIG
from halocline.config import ConfigError, load_demo, read_document

NAMELESS = "a boat without a name"


def boat_name(config: Path | None, *, simulated: bool) -> str:
    """The boat's name, read leniently: the page has to come up even when the rest of the file is wrong."""
    if config is None and simulated:
        return load_demo()[0].boat.name
    try:
        boat = read_document(config or SYSTEM_CONFIG).get("boat", {})
    except ConfigError:
        return NAMELESS
    name = boat.get("name") if isinstance(boat, dict) else None
    return name if isinstance(name, str) and name else NAMELESS
