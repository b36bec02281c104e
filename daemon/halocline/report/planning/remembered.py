"""What the record tells a plan: levels by the hour, and how this boat's own runs went."""

import json
import sqlite3
from statistics import median

from halocline.report.planning.boat import Remembered
from halocline.report.planning.learning import MOST_DAYS, hours_of_use, learned
from halocline.report.schema import rollup_table

LAST_RUNS = 10
LEAST_MEASURED = 3
"""Runs from which the power is believed: a cloud during one of them counts as the pumps', and the median leaves it out
(chosen)."""
LONG_S = 1200.0
"""A shorter run is mostly start, in which the pump works less (chosen)."""
_LEVELS = f"SELECT start_s, tank_fill FROM {rollup_table(900)} WHERE start_s % 3600 = 0 AND start_s >= ?"
_RUNS = (
    "SELECT started_wall_s, coalesce(ended_wall_s, started_wall_s), seconds, producing_s, litres, flush_l,"
    " energy_wh, energy_basis FROM runs"
    " WHERE started_wall_s >= ? ORDER BY id"
)
_CONFIGURATION = "SELECT configuration FROM boots WHERE configuration IS NOT NULL ORDER BY id DESC LIMIT 1"


def remembered(connection: sqlite3.Connection, now_s: float, offset_s: float) -> Remembered:
    """Reads it. What is not there, or damaged, is None."""
    row = connection.execute(_CONFIGURATION).fetchone()
    try:
        configuration = json.loads(row[0]) if row else {}
    except (ValueError, TypeError):
        configuration = {}
    capacity = (configuration.get("plant") or {}).get("tank_capacity_l")
    since_s = now_s - (MOST_DAYS + 1) * 86400
    runs = [row for row in connection.execute(_RUNS, (since_s,)) if _numbers(row[:2])]
    use = None
    if capacity:
        levels = {
            float(start_s): fill / 100 * capacity
            for start_s, fill in connection.execute(_LEVELS, (since_s,))
            if isinstance(fill, float | int)
        }
        use = learned(hours_of_use(levels, [(row[0], row[1]) for row in runs], capacity, offset_s))
    good = [row for row in runs if _numbers(row[2:5]) and row[4] > 0][-LAST_RUNS:]
    powers = [row[6] * 3600 / row[2] for row in good if row[7] == "battery" and _numbers(row[6:7]) and row[2] >= LONG_S]
    flushes = [row[5] for row in runs if _numbers(row[5:6]) and row[5] > 0][-LAST_RUNS:]
    return Remembered(
        use=use,
        start_up_minutes=median((row[2] - row[3]) / 60 for row in good) if good else None,
        flush_l=median(flushes) if flushes else None,
        power_w=median(powers) if len(powers) >= LEAST_MEASURED else None,
        configuration=configuration or None,
    )


def _numbers(values: tuple[object, ...]) -> bool:
    return all(isinstance(value, float | int) for value in values)
