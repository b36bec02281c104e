"""Limits that must lie in order, and far enough apart for their sensor to tell them apart."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from halocline.config.checks.lookup import Named, named, sensor_number, with_unit
from halocline.config.problems import Finding
from halocline.physics.conductivity import conductivity_25c_us_cm
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import CHANNELS

HAIR = 1e-9  # relative; what scaling by a quick factor may do to two equal numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """Keys whose values must rise from each to the next.

    `channel`: the sensor that has to tell the steps apart, None where no sensor does. `touching`: whether
    two neighbours may be equal. `why`: what goes wrong otherwise. `raise_upper`: which of two neighbours is
    to be changed, for nobody must be told to raise a rating or a protection.
    """

    keys: tuple[str, ...]
    why: str
    channel: str | None = None
    touching: bool = False
    raise_upper: bool = False


LADDERS: tuple[Ladder, ...] = (
    Ladder(
        keys=("drive.working_pressure_bar", "limits.working_pressure_max_bar"),
        touching=True,
        why="a run would be set to more than is allowed",
    ),
    Ladder(
        keys=(
            "limits.working_pressure_max_bar",
            "limits.vessel_pressure_high_bar",
            "limits.vessel_pressure_high_high_bar",
            "plant.pressure_switch_bar",
        ),
        channel="vessel_pressure",
        why="each protection must act before the next",
    ),
    Ladder(
        keys=("plant.pressure_switch_bar", "plant.relief_bar"),
        why="the relief valve would lift before the switch stops the pump",
    ),
    Ladder(
        keys=("plant.relief_bar", "plant.lowest_rated_part_bar"),
        touching=True,
        why="the weakest part would see more than its rating",
    ),
    Ladder(
        keys=("plant.relief_bar", "membrane.max_pressure_bar"),
        touching=True,
        why="the membrane would see more than its rating",
    ),
    Ladder(
        keys=("drive.raise_bar_s", "limits.pressure_rise_warn_bar_s"),
        touching=True,
        why="raising pressure as asked would give a warning",
    ),
    Ladder(
        keys=("limits.pressure_lost_bar", "limits.working_margin_bar"),
        touching=True,
        why="a pressure that makes no water at all would not count as lost",
    ),
    Ladder(
        keys=("plant.feed_side_volume_l", "plant.wetted_volume_l"),
        touching=True,
        raise_upper=True,
        why="the sea-water side is part of what a flush has to replace",
    ),
    Ladder(
        keys=("limits.pressure_rise_warn_bar_s", "limits.pressure_rise_trip_bar_s"),
        why="the warning must come before the trip",
    ),
    Ladder(
        keys=(
            "limits.feed_pressure_low_low_bar",
            "limits.feed_pressure_low_bar",
            "limits.feed_pressure_start_bar",
        ),
        channel="feed_pressure",
        raise_upper=True,
        why="a start needs more than the warning, and the warning comes before the trip",
    ),
    Ladder(
        keys=(
            "limits.accept_tds_mg_l",
            "limits.reject_tds_mg_l",
            "limits.reject_at_once_tds_mg_l",
            "limits.product_salty_mg_l",
            "limits.product_salty_at_once_mg_l",
        ),
        channel="product_conductivity",
        why="water good enough to let in must be better than water bad enough to turn away",
    ),
    Ladder(
        keys=("limits.water_too_cold_c", "limits.water_warm_c", "limits.water_too_warm_c"),
        channel="sea_temperature",
        why="the warning must come before the stop",
    ),
    Ladder(
        keys=("limits.water_too_warm_c", "membrane.max_temperature_c"),
        touching=True,
        why="the membrane would see more than its rating",
    ),
    Ladder(keys=("limits.recovery_warn", "limits.recovery_stop"), why="the warning must come before the stop"),
    Ladder(
        keys=("limits.battery_stop_v", "limits.battery_start_v"),
        channel="battery_voltage",
        raise_upper=True,
        why="a run would stop as soon as it has started",
    ),
    Ladder(
        keys=("limits.battery_stop_percent", "limits.battery_start_percent"),
        raise_upper=True,
        why="a run would stop as soon as it has started",
    ),
    Ladder(
        keys=("sequence.prime_s", "sequence.prime_after_opening_s"),
        touching=True,
        raise_upper=True,
        why="an opened circuit holds more air",
    ),
    Ladder(
        keys=("sequence.purge_preservative_s", "sequence.purge_s"),
        touching=True,
        raise_upper=True,
        why="glycol and cleaning need no less than preservative",
    ),
    Ladder(
        keys=("sequence.quality_hold_s", "sequence.divert_limit_s"),
        raise_upper=True,
        why="good water could never prove itself before the time overboard ends",
    ),
    Ladder(
        keys=("sequence.settle_s", "sequence.raise_limit_s"),
        raise_upper=True,
        why="pressure could never be seen steady before the wait for it ends",
    ),
    Ladder(
        keys=("sequence.settle_s", "sequence.pressure_limit_s"),
        raise_upper=True,
        why="pressure could never be seen steady before the wait for it ends",
    ),
    Ladder(
        keys=("sequence.flush_supply_s", "sequence.flush_limit_s"),
        why="a flush would end before fresh water has to show",
    ),
)


def in_channel_unit(channel: str, value: float) -> float:
    """A limit as its sensor measures it: salt limits (mg/L) become conductivities at 25 °C (µS/cm)."""
    return conductivity_25c_us_cm(value) if channel == "product_conductivity" else value


def limits_are_in_order(settings: Settings) -> Iterator[Finding]:
    """Every ladder rises."""
    for ladder in LADDERS:
        for lower, upper in _steps(settings, ladder):
            if not _rises(lower.value, upper.value, ladder.touching):
                words = ("at least", "at most") if ladder.touching else ("above", "below")
                yield _blame(ladder, lower, upper, words, ladder.why)


def _blame(ladder: Ladder, lower: Named, upper: Named, words: tuple[str, str], why: str) -> Finding:
    wrong, right, word, verb = (
        (upper, lower, words[0], "raise") if ladder.raise_upper else (lower, upper, words[1], "lower")
    )
    return Finding(wrong.key, wrong.text, f"{word} {right.key} ({right.text})", f"{verb} it: {why}")


def _rises(lower: float, upper: float, touching: bool) -> bool:
    hair = HAIR * max(abs(lower), abs(upper))
    return upper - lower >= -hair if touching else upper - lower > hair


def steps_are_wider_than_the_sensors_error(settings: Settings) -> Iterator[Finding]:
    """A sensor must be able to tell each limit of its ladder from the next."""
    for ladder in LADDERS:
        if ladder.channel is None:
            continue
        error = sensor_number(settings, ladder.channel, "error") or 0.0
        for lower, upper in _steps(settings, ladder):
            step = in_channel_unit(ladder.channel, upper.value) - in_channel_unit(ladder.channel, lower.value)
            if 0.0 < step < error * (1.0 - HAIR):
                amount = f"{with_unit(error, CHANNELS[ladder.channel].unit)} or more"
                why = f"inputs.{ladder.channel} has that error and cannot tell one from the other"
                yield _blame(ladder, lower, upper, (f"{amount} above", f"{amount} below"), why)


def _steps(settings: Settings, ladder: Ladder) -> Iterator[tuple[Named, Named]]:
    known = (named(settings, key) for key in ladder.keys)
    return pairwise(rung for rung in known if rung is not None)
