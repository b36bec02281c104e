"""The record's tables, grown by migrations."""

from collections.abc import Iterable

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from halocline.plant.vocabulary import CHANNELS, DERIVED

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

_TEXT_COLUMNS = frozenset({"state", "outputs", "run", *(channel + "_quality" for channel in CHANNELS)})
_WHOLE_COLUMNS = frozenset({"boot", "seq"})

migrations = Migrations("record")


def _types(columns: Iterable[str]) -> dict[str, type]:
    return {
        column: str if column in _TEXT_COLUMNS else int if column in _WHOLE_COLUMNS else float for column in columns
    }


@migrations()
def first_tables(db: Database) -> None:
    """Everything the first version records."""
    moment = {"boot": int, "seq": int, "mono_s": float, "wall_s": float}
    db.table("boots").create(
        {
            "id": int,
            "boot": str,
            "host_boot": str,
            "version": str,
            "simulated": int,
            "wall_offset_s": float,
            "last_seq": int,
        },
        pk="id",
    ).create_index(["boot"], unique=True)
    _create_samples(db)
    db.table("events").create({**moment, "kind": str, "body": str}, pk=("boot", "seq")).create_index(["kind"])
    db.table("alarms").create(
        {**moment, "alarm": str, "state": str, "priority": str, "details": str}, pk=("boot", "seq")
    ).create_index(["alarm"])
    db.table("runs").create(
        {
            "id": int,
            "boot": int,
            "run": str,
            "started_mono_s": float,
            "started_wall_s": float,
            "ended_mono_s": float,
            "ended_wall_s": float,
            "asked": str,
            "target_l": float,
            "why": str,
            "first_out": str,
            **dict.fromkeys(RUN_FIGURES, float),
        },
        pk="id",
    ).create_index(["boot", "run"], unique=True)
    db.table("holes").create({"boot": int, "from_seq": int, "to_seq": int, "reason": str}, pk=("boot", "from_seq"))
    db.table("counters").create({"name": str, "value": float}, pk="name")


def _create_samples(db: Database) -> None:
    """One wide row a second."""
    kinds = {str: "TEXT", int: "INTEGER", float: "REAL"}
    columns = ", ".join(f'"{name}" {kinds[kind]}' for name, kind in _types(SAMPLE_COLUMNS).items())
    db.execute(f"CREATE TABLE samples ({columns}, PRIMARY KEY (boot, seq))")
    db.execute("CREATE INDEX samples_by_time ON samples (wall_s)")
