"""What a flush that nobody orders rests on: without any of it nobody could answer for it."""

from collections.abc import Iterator

from halocline.config.problems import Finding, number
from halocline.plant.settings import Settings
from halocline.plant.thresholds import AUTOMATIC_FLUSH_L, AUTOMATIC_FLUSH_S, LEAST_FLUSH_L_H

FITTED = (
    ("contacts", "inputs.bilge_wet", "nobody would see the water of a hose that has come off"),
    ("inputs", "inputs.tank_fill", "nobody would see the tank run empty"),
    ("inputs", "inputs.flush_flow", "nobody would know how much water goes, or whether the regulator stands open"),
    ("outputs", "outputs.buzzer", "whoever is aboard after all would not hear that water is about to run"),
)


def automatic_flush_is_watched(settings: Settings) -> Iterator[Finding]:
    """A wet bilge, the tank and the water of the flush are seen, and it is heard before it begins."""
    if not settings.sequence.automatic_flush:
        return
    for table, key, why in FITTED:
        if key.partition(".")[2] not in getattr(settings, table):
            yield Finding(
                key, "not fitted", "fitted where sequence.automatic_flush is true", f"fit it, or turn that off: {why}"
            )


def automatic_flush_is_shut_off_twice(settings: Settings) -> Iterator[Finding]:
    """One valve that sticks must not empty the tank with nobody there."""
    sequence = settings.sequence
    if sequence.automatic_flush and sequence.flush_shut_off == "none":
        allowed = "valve or pump where sequence.automatic_flush is true"
        remedy = "fit a second valve, or a pump, on the output of the flush valve, or turn automatic_flush off"
        yield Finding("sequence.flush_shut_off", '"none"', allowed, remedy)


def automatic_flush_is_small(settings: Settings) -> Iterator[Finding]:
    """It takes no more water, and no longer, than may go unseen."""
    sequence = settings.sequence
    if not sequence.automatic_flush:
        return
    most_l = min(AUTOMATIC_FLUSH_L, AUTOMATIC_FLUSH_S * LEAST_FLUSH_L_H / 3600)
    if sequence.flush_l > most_l:
        allowed = f"up to {number(most_l)} L where sequence.automatic_flush is true"
        yield Finding("sequence.flush_l", f"{number(sequence.flush_l)} L", allowed, "lower it, or turn that off")


def automatic_flush_leaves_the_reserve(settings: Settings) -> Iterator[Finding]:
    """The tank is large enough to flush from and to keep what has to stay."""
    sequence, tank_l = settings.sequence, settings.plant.tank_capacity_l
    if not sequence.automatic_flush:
        return
    most_percent = 100.0 - 100.0 * sequence.flush_l / tank_l
    if sequence.automatic_flush_tank_percent >= most_percent:
        found = f"{number(sequence.automatic_flush_tank_percent)} %"
        allowed = f"below {most_percent:.0f} %, a full tank less one flush"
        yield Finding("sequence.automatic_flush_tank_percent", found, allowed, "lower it, or turn automatic_flush off")
