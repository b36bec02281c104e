"""The record's tables as names and columns. What makes them stands in `migrations`, loaded only when it is needed."""

from collections.abc import Iterable, Mapping

from halocline.plant.vocabulary import CHANNELS, DERIVED
from halocline.report.health.steady import Period

CHANNEL_PARTS = ("", "_min", "_max", "_raw", "_quality")
"""A channel's columns, in the order of the link's row; no quality is
written for a good reading, and nothing at all for a channel that is not fitted."""

SAMPLE_COLUMNS: tuple[str, ...] = (
    "boot",
    "seq",
    "mono_s",
    "wall_s",
    "state",
    "outputs",
    "run",
    "run_litres",
    "run_energy_wh",
    *(channel + part for channel in CHANNELS for part in CHANNEL_PARTS),
    *DERIVED,
    "rows",
)
"""`rows`: how many rows of the link stand in this one; more than one only at rest."""

PLACE = {column: place for place, column in enumerate(SAMPLE_COLUMNS)}

QUANTITIES: tuple[str, ...] = (*CHANNELS, *DERIVED)
"""Everything that has a lowest, mean and highest value in the roll-ups."""

LEVELS: tuple[int, ...] = (10, 60, 900, 7200, 86400)
"""Seconds that one row of a roll-up spans. Two hours are there so that no question reads more than fifteen rows a
point: from a quarter of an hour to a day it would be ninety-six."""

QUANTITY_PARTS = ("_min", "", "_max", "_n")
"""Lowest, mean, highest, and of how many rows; no number is written where it is the number of all rows."""

ROLLUP_COLUMNS: tuple[str, ...] = (
    "start_s",
    "rows",
    *(quantity + part for quantity in QUANTITIES for part in QUANTITY_PARTS),
)

RUN_FIGURES = (
    "seconds",
    "producing_s",
    "litres",
    "overboard_l",
    "flush_l",
    "tds_worst_mg_l",
    "tds_mean_mg_l",
    "energy_wh",
    "peak_pressure_bar",
)

TOLD = tuple(figure for figure in RUN_FIGURES if figure not in ("peak_pressure_bar", "flush_l"))
"""What control's word at the end of a run settles; the highest pressure, and the flush, may come after it."""

CUT_OFF = "control_lost"
"""Why a run ended whose end nobody told: its figures are what it had reached at least."""

MARK = "mark"
"""What tells whether a row says what was written; see `row_checksum`."""

MIGRATIONS = (
    "first_tables",
    "roll_ups_and_work",
    "channel_names",
    "energy_basis",
    "marks",
    "steady_periods",
    "work_details",
)
"""The names of all migrations, oldest first."""

REWRITING = frozenset({"channel_names"})
"""Those that change what is recorded already, instead of adding room for more."""

_TEXT = frozenset({"state", "outputs", "run", "kind", "body", *(channel + "_quality" for channel in CHANNELS)})
_WHOLE = frozenset({"boot", "seq", "rows", "start_s", MARK, *(quantity + "_n" for quantity in QUANTITIES)})


def rollup_table(level_s: int) -> str:
    """The name of a roll-up's table."""
    return f"rollup_{level_s}s"


def declared(columns: Iterable[str]) -> dict[str, str]:
    """Each column with its SQL type."""
    return {name: "TEXT" if name in _TEXT else "INTEGER" if name in _WHOLE else "REAL" for name in columns}


_MOMENT = ("boot", "seq", "mono_s", "wall_s")
LISTS: Mapping[str, tuple[str, ...]] = {
    "boots": (
        *("id", "boot", "host_boot", "version", "simulated", "wall_offset_s", "last_seq"),
        *("configuration", "rolled_seq"),
    ),
    "runs": (
        *("id", "boot", "run", "started_mono_s", "started_wall_s", "ended_mono_s", "ended_wall_s"),
        *("asked", "target_l", "why", "first_out", *RUN_FIGURES, "origin", "who", "energy_basis"),
    ),
    "events": (*_MOMENT, "kind", "body", MARK),
    "alarms": (*_MOMENT, "alarm", "state", "priority", "details"),
    "work": (*_MOMENT, "kind", "note", "who", "counters", "details"),
    "calibrations": (*_MOMENT, "channel", "who", "details"),
    "clock_settings": (*_MOMENT, "wall_offset_s"),
    "holes": ("boot", "from_seq", "to_seq", "reason"),
    "counters": ("name", "value"),
    "forgotten": ("level_s", "before_s"),
    "steady_periods": ("boot", "run", *Period._fields),
}
"""The columns of all other tables: no more and no less, or something has changed the file."""

TABLES = {
    "samples": (*SAMPLE_COLUMNS, MARK),
    **{rollup_table(level_s): (*ROLLUP_COLUMNS, MARK) for level_s in LEVELS},
}
"""The tables that get columns of their own for each quantity, also for one that a later version knows."""
