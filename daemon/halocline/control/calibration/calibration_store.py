"""The calibrations in force, kept by control in a file of their own.

Each belongs to the sensor as it was configured when the calibration was made: a sensor that was exchanged, rescaled or
moved to another input since then reads by its configuration again, and an alarm says so. A file that cannot be read
back exactly is never taken for none: starts are refused until a person has looked.
"""

import logging
import math
import zlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from halocline.control.retained import checked_file
from halocline.control.retained.checked_file import Unreadable
from halocline.plant.former_names import renamed
from halocline.plant.regular_file import OURS_MOST_BYTES, read_regular
from halocline.plant.sensors import Input
from halocline.plant.settings import MembraneSettings, Settings
from halocline.plant.thresholds import SALT_PERMEABILITIES_LMH, WATER_PERMEABILITIES_LMH_BAR
from halocline.plant.vocabulary import CHANNELS
from halocline.signals.calibration import Calibration

VERSION = 2
"""Of the file's form; in the first some channels had other names (chosen)."""
POINT_NUMBERS = 4
"""Pressure, temperature, flow and salt of the product: with the sea and the feed, which are settings, they fix both
permeabilities (computed)."""
MEMBRANE = "membrane"
TUNING = frozenset({"error", "smoothing_s", "gate_s", "max_hz"})
"""Keys of a sensor that say nothing about its scale."""

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class MembraneCalibration:
    """What the element was found to be: A and B at 25 °C, from one steady point.

    `point` is membrane pressure (bar), temperature (°C), product flow (L/h) and product salt (mg/L); `before` the flow
    and salt that were expected there until then. Raises ValueError for numbers no element can have.
    """

    water_permeability_lmh_bar: float
    salt_permeability_lmh: float
    point: tuple[float, float, float, float]
    before: tuple[float, float]
    date: str = ""
    initials: str = ""

    def __post_init__(self) -> None:
        numbers = (self.water_permeability_lmh_bar, self.salt_permeability_lmh, *self.point, *self.before)
        if not all(map(math.isfinite, numbers)):
            raise ValueError("a membrane's calibration is a finite point")
        (low_a, high_a), (low_b, high_b) = WATER_PERMEABILITIES_LMH_BAR, SALT_PERMEABILITIES_LMH
        if not (low_a <= self.water_permeability_lmh_bar <= high_a and low_b <= self.salt_permeability_lmh <= high_b):
            raise ValueError("no element has these permeabilities")


@dataclass(frozen=True, slots=True)
class Calibrations:
    """All calibrations in force. `made_for` names what each was made for; `unreadable`: there is a file, but what it
    said is not known."""

    channels: Mapping[str, Calibration] = field(default_factory=dict)
    membrane: MembraneCalibration | None = None
    made_for: Mapping[str, str] = field(default_factory=dict)
    unreadable: bool = False

    def with_channel(self, channel: str, calibration: Calibration, sensor: Input) -> "Calibrations":
        """The same with one channel's calibration made, or made anew."""
        return replace(
            self,
            channels={**self.channels, channel: calibration},
            made_for={**self.made_for, channel: fingerprint(sensor)},
        )

    def with_membrane(self, calibration: MembraneCalibration, plate: MembraneSettings) -> "Calibrations":
        """The same with the membrane's calibration made, or made anew."""
        return replace(self, membrane=calibration, made_for={**self.made_for, MEMBRANE: fingerprint(plate)})

    def without(self, what: str) -> "Calibrations":
        """The same with one channel, or the membrane, as the configuration has it."""
        return replace(
            self,
            channels={channel: kept for channel, kept in self.channels.items() if channel != what},
            membrane=None if what == MEMBRANE else self.membrane,
            made_for={known: mark for known, mark in self.made_for.items() if known != what},
        )

    def outdated(self, settings: Settings) -> tuple[str, ...]:
        """Which of them were made for something that is configured otherwise now, or not at all."""
        present: dict[str, Input | MembraneSettings] = {**settings.inputs, MEMBRANE: settings.membrane}
        return tuple(
            what
            for what, mark in sorted(self.made_for.items())
            if what not in present or fingerprint(present[what]) != mark
        )


NONE = Calibrations()


def fingerprint(configured: Input | MembraneSettings) -> str:
    """What a calibration is made for, as eight hexadecimal digits: the scale, not how it is smoothed."""
    table = {
        key: float(value) if isinstance(value, int | float) else value
        for key, value in asdict(configured).items()
        if key not in TUNING
    }
    return f"{zlib.crc32(repr((type(configured).__name__, sorted(table.items()))).encode()):08x}"


def encode(calibrations: Calibrations) -> bytes:
    """The file's content."""
    membrane = calibrations.membrane
    return checked_file.encode(
        VERSION,
        {
            "channels": {channel: kept.to_dict() for channel, kept in calibrations.channels.items()},
            "membrane": None if membrane is None else asdict(membrane),
            "made_for": dict(calibrations.made_for),
        },
    )


def decode(content: bytes) -> Calibrations:
    """What a version of `encode` wrote. Raises `Unreadable` for anything else, unknown channels included."""
    version, document = checked_file.decode(content)
    if version not in (1, VERSION):
        raise Unreadable(f"it is of version {version}, which this program does not know")
    try:
        named = _named_before if version == 1 else _named
        return Calibrations(
            channels={
                channel: Calibration.from_dict(plain)
                for channel, plain in named(document["channels"], frozenset(CHANNELS)).items()
            },
            membrane=_membrane(document["membrane"]),
            made_for={
                what: str(mark) for what, mark in named(document["made_for"], frozenset({*CHANNELS, MEMBRANE})).items()
            },
        )
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise Unreadable(str(error)) from error


def _named(entries: Mapping[str, Any], known: frozenset[str]) -> Mapping[str, Any]:
    """The entries by their names. Raises KeyError for an unknown name."""
    if unknown := set(entries) - known:
        raise KeyError(f"there is no {', '.join(sorted(unknown))}")
    return entries


def _named_before(entries: Mapping[str, Any], known: frozenset[str]) -> Mapping[str, Any]:
    """The same of a file of version 1, in which some channels had other names. Raises KeyError as well where a former
    and a present name mean the same channel."""
    present = {renamed(name): entry for name, entry in entries.items()}
    if len(present) < len(entries):
        raise KeyError("a channel is calibrated under its former name and its present one")
    for former in entries.keys() - present.keys():
        log.warning("the calibration of %s goes on as that of %s, its name now", former, renamed(former))
    return _named(present, known)


def _membrane(plain: Mapping[str, Any] | None) -> MembraneCalibration | None:
    if plain is None:
        return None
    point, before = (tuple(map(float, plain[key])) for key in ("point", "before"))
    if len(point) != POINT_NUMBERS or len(before) != 2:
        raise ValueError("a membrane's calibration has a point of four numbers and two of before")
    return MembraneCalibration(
        water_permeability_lmh_bar=float(plain["water_permeability_lmh_bar"]),
        salt_permeability_lmh=float(plain["salt_permeability_lmh"]),
        point=(point[0], point[1], point[2], point[3]),
        before=(before[0], before[1]),
        date=str(plain["date"]),
        initials=str(plain["initials"]),
    )


def read(path: Path) -> Calibrations:
    """The calibrations on file; none where there never was a file, `unreadable` where it cannot be read or is gone."""
    try:
        return decode(read_regular(path, OURS_MOST_BYTES, follow=False))
    except FileNotFoundError:
        if not checked_file.is_lost(path):
            return NONE
        log.error("%s is gone: starts are refused", path)
        return Calibrations(unreadable=True)
    except (OSError, Unreadable) as error:
        log.error("%s cannot be read (%s): starts are refused", path, error)
        return Calibrations(unreadable=True)


def listed(calibrations: Calibrations) -> list[dict[str, Any]]:
    """One entry a calibration, as the link carries it: what, how, date, initials, before and after."""
    entries = [
        {
            "channel": channel,
            "zero": kept.zero,
            "span": kept.span,
            "pulses_per_l": kept.pulses_per_l,
            "date": kept.date,
            "initials": kept.initials,
            "before": list(kept.before),
            "after": list(kept.after),
        }
        for channel, kept in sorted(calibrations.channels.items())
    ]
    if calibrations.membrane is not None:
        entries.append({"channel": MEMBRANE, **asdict(calibrations.membrane)})
    return entries
