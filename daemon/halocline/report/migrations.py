"""What makes the record's tables and changes old ones. Imported only when a record lacks something: sqlite-utils
costs more memory than all the rest of the recorder."""

import json
import sqlite3

from sqlite_utils import Database
from sqlite_utils.migrations import Migrations

from halocline.report import name_migration
from halocline.report.event_recorder import details_of
from halocline.report.health.steady import Period
from halocline.report.schema import LEVELS, MARK, ROLLUP_COLUMNS, RUN_FIGURES, SAMPLE_COLUMNS, declared, rollup_table

migrations = Migrations("record")
MOMENT = {"boot": int, "seq": int, "mono_s": float, "wall_s": float}


def migrate(connection: sqlite3.Connection) -> None:
    """Brings a record up to this version, or makes a new one, within the caller's transaction."""
    migrations.apply(Database(connection))


@migrations()
def first_tables(db: Database) -> None:
    """Everything the first version records."""
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
    columns = ", ".join(f'"{name}" {kind}' for name, kind in declared(SAMPLE_COLUMNS).items())
    db.execute(f"CREATE TABLE samples ({columns}, PRIMARY KEY (boot, seq))")
    db.execute("CREATE INDEX samples_by_time ON samples (wall_s)")
    db.table("events").create({**MOMENT, "kind": str, "body": str}, pk=("boot", "seq")).create_index(["kind"])
    db.table("alarms").create(
        {**MOMENT, "alarm": str, "state": str, "priority": str, "details": str}, pk=("boot", "seq")
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


@migrations()
def roll_ups_and_work(db: Database) -> None:
    """Roll-ups; work by hand and calibrations; what the clock did; what is in force; what was forgotten.

    Nothing is rolled up yet (`rolled_seq` 0), so the recorder will do it for what was recorded before.
    """
    columns = ", ".join(f'"{name}" {kind}' for name, kind in declared(ROLLUP_COLUMNS[1:]).items())
    for level_s in LEVELS:
        db.execute(f"CREATE TABLE {rollup_table(level_s)} (start_s INTEGER PRIMARY KEY, {columns})")
    db.table("work").create(
        {**MOMENT, "kind": str, "note": str, "who": str, "counters": str}, pk=("boot", "seq")
    ).create_index(["kind"])
    db.table("calibrations").create({**MOMENT, "channel": str, "who": str, "details": str}, pk=("boot", "seq"))
    db.table("clock_settings").create({**MOMENT, "wall_offset_s": float}, pk=("boot", "seq"))
    db.table("forgotten").create({"level_s": int, "before_s": float}, pk="level_s")
    boots, runs = db.table("boots"), db.table("runs")
    boots.add_column("configuration", str)
    boots.add_column("rolled_seq", int, not_null_default=0)
    runs.add_column("origin", str)
    runs.add_column("who", str)
    if "rows" not in db.table("samples").columns_dict:
        db.execute("ALTER TABLE samples ADD COLUMN rows INTEGER DEFAULT 1")


@migrations()
def channel_names(db: Database) -> None:
    """Four channels, and all that is named after them, got other names."""
    name_migration.rename_columns(db.conn)
    name_migration.rename_texts(db.conn)


@migrations()
def energy_basis(db: Database) -> None:
    """What a run's energy is inferred from; not known of earlier runs, whose energy may be the whole boat's."""
    db.table("runs").add_column("energy_basis", str)


@migrations()
def marks(db: Database) -> None:
    """Whether an event says what was written; samples and roll-ups get theirs with the other columns they lack."""
    db.table("events").add_column(MARK, int)


@migrations()
def steady_periods(db: Database) -> None:
    """Ten steady minutes of each run, for ever. Empty: the recorder makes them of the minutes there are."""
    kinds = {name: str if name == "unfit" else float for name in Period._fields}
    db.table("steady_periods").create({"boot": int, "run": str, **kinds}, pk=("boot", "run"))


@migrations()
def work_details(db: Database) -> None:
    """What an entry of the log is about and what was read, beside its note; of earlier entries as their events tell.

    An earlier version put the step or finding before the note; the note is again what the person wrote.
    """
    db.table("work").add_column("details", str)
    rows = db.execute(
        "SELECT work.boot, work.seq, body FROM work JOIN events ON events.boot = work.boot AND events.seq = work.seq"
        " WHERE events.kind = 'log' AND json_valid(body)"
    ).fetchall()
    for boot, seq, body in rows:
        event = json.loads(body)
        if isinstance(event, dict):
            db.execute(
                "UPDATE work SET note = ?, details = ? WHERE boot = ? AND seq = ?",
                (str(event.get("note") or ""), json.dumps(details_of(event), ensure_ascii=False), boot, seq),
            )
