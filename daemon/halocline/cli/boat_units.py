"""In whose units a command speaks."""

from pathlib import Path

from halocline.app.paths import SYSTEM_CONFIG
from halocline.plant.settings import UnitSettings


def units_of(config: Path | None, *, simulated: bool = False) -> UnitSettings:
    """The units of the boat that was reached, or of the owner; the defaults where no configuration can be read."""
    from halocline.config import ConfigError, load_demo, load_report  # noqa: PLC0415 - a stop is sent before this loads

    try:
        return load_demo()[1].units if simulated and config is None else load_report(config or SYSTEM_CONFIG).units
    except ConfigError:
        return UnitSettings()
