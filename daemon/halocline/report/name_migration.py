"""The change of a record to the names of now: columns and texts, no number.

Renaming a column writes the description of its table only, whatever the record's size.
"""

import sqlite3

from halocline.plant.former_names import FORMER_CHANNELS, renamed, renamed_text
from halocline.report.schema import TABLES

TEXTS = {
    "boots": ("configuration",),
    "events": ("body",),
    "alarms": ("alarm", "details"),
    "runs": ("asked", "why", "first_out"),
    "calibrations": ("channel", "details"),
}
"""Where names stand as text, alone or in JSON. What people wrote themselves (`work.note`) is not touched."""


def rename_columns(connection: sqlite3.Connection) -> None:
    """Within the caller's transaction. Where the new column is there already, empty or with newer rows, the old
    one's values go into it."""
    for table in TABLES:
        known = [name for (name,) in connection.execute("SELECT name FROM pragma_table_info(?)", (table,))]
        for name in known:
            now = renamed(name)
            if now == name:
                continue
            if now in known:
                connection.execute(f'UPDATE {table} SET "{now}" = "{name}" WHERE "{now}" IS NULL')
                connection.execute(f'ALTER TABLE {table} DROP COLUMN "{name}"')
            else:
                connection.execute(f'ALTER TABLE {table} RENAME COLUMN "{name}" TO "{now}"')


def rename_texts(connection: sqlite3.Connection) -> None:
    """Within the caller's transaction."""
    connection.create_function("renamed_text", 1, renamed_text, deterministic=True)
    for table, columns in TEXTS.items():
        for column in columns:
            old = " OR ".join(f"{column} LIKE '%{former}%'" for former in FORMER_CHANNELS)
            connection.execute(f"UPDATE {table} SET {column} = renamed_text({column}) WHERE {old}")
