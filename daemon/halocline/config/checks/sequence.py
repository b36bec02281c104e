"""Volumes of the sequence that would not do what they are for."""

from collections.abc import Iterator

from halocline.config.checks.ladders import HAIR
from halocline.config.problems import Finding, number
from halocline.plant.settings import Settings

VOLUMES_OF_A_FLUSH = 3.0  # common practice
VOLUMES_OF_A_RINSE = 10.0  # common practice after preservative


def flush_replaces_all_water(settings: Settings) -> Iterator[Finding]:
    """A flush that leaves sea water behind is none."""
    least_l = VOLUMES_OF_A_FLUSH * settings.plant.wetted_volume_l
    flush_l = settings.sequence.flush_l
    if flush_l < least_l * (1.0 - HAIR):
        allowed = f"{number(least_l)} L or more, three times plant.wetted_volume_l"
        yield Finding("sequence.flush_l", f"{number(flush_l)} L", allowed, "raise it")


def flush_leaves_water_in_the_tank(settings: Settings) -> Iterator[Finding]:
    """A flush must not need more than the tank holds."""
    flush_l, tank_l = settings.sequence.flush_l, settings.plant.tank_capacity_l
    if flush_l >= tank_l:
        allowed = f"below plant.tank_capacity_l ({number(tank_l)} L)"
        yield Finding("sequence.flush_l", f"{number(flush_l)} L", allowed, "lower it")


def rinse_replaces_all_water(settings: Settings) -> Iterator[Finding]:
    """A rinse that leaves preservative behind is none: conductivity does not show it."""
    volumes = settings.sequence.rinse_volumes
    if volumes < VOLUMES_OF_A_RINSE:
        allowed = f"{number(VOLUMES_OF_A_RINSE)} or more wetted volumes"
        yield Finding("sequence.rinse_volumes", number(volumes), allowed, "raise it: no sensor sees preservative")
