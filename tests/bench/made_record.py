"""A record of many years as the retention promise leaves it, made in seconds; and rows as control sends them."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from halocline.report.retention import SAMPLES
from halocline.report.schema import LEVELS, rollup_table
from halocline.report.store import Entry, Store

DAY_S = 86400
NOW_S = 1_800_000_000
"""A round moment; every record ends here."""

FITTED = (
    "vessel_pressure",
    "feed_pressure",
    "product_conductivity",
    "sea_temperature",
    "product_flow",
    "flush_flow",
    "battery_voltage",
    "battery_current",
)
COMPUTED = (
    "product_tds_mg_l",
    "recovery",
    "specific_energy_wh_l",
    "pressure_rate_bar_s",
    "expected_flow_l_h",
    "expected_tds_mg_l",
)
QUANTITIES = FITTED + COMPUTED
RUNNING_S = 3 * 3600
"""A thirsty boat: three hours of water a day."""

KEPT_DAYS = {SAMPLES: 30, 10: 30, 60: 366, 900: 3653}


def rows(count: int, *, running_s: int = RUNNING_S, first_s: int = 0) -> Iterator[Entry]:
    """Rows at 1 Hz, as the link sends them: `running_s` seconds of each day making water, the rest at rest."""
    for number in range(first_s, first_s + count):
        running = number % DAY_S < running_s
        wave = math.sin(number / 37.0)
        channels = {
            name: [round(50.0 + place + wave, 4), round(49.5 + place, 4), round(50.9 + place, 4), 2.5, "good"]
            for place, name in enumerate(FITTED)
        }
        content = {
            "seq": number + 1,
            "mono_s": 100.0 + number,
            "wall_s": float(NOW_S - 10 * DAY_S + number),
            "state": "producing" if running else "standby",
            "ch": channels,
            "d": {name: round(300.0 + place + wave, 4) for place, name in enumerate(COMPUTED)} if running else {},
            "out": ["feed_pump", "high_pressure_pump", "product_to_tank"] if running else [],
            "run": {"id": "r1", "litres": number / 60, "energy_wh": number / 9} if running else None,
        }
        yield Entry("row", "b1", content)


def make_record(path: Path, years: float) -> None:
    """Writes a record of that many years."""
    Store(path).close()
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA synchronous=OFF")
    connection.execute("BEGIN")
    length_s = int(years * 365.25 * DAY_S)
    connection.execute(
        "INSERT INTO boots (id, boot, last_seq, wall_offset_s, rolled_seq) VALUES (1, 'b1', ?, ?, ?)",
        (length_s, NOW_S - length_s, length_s - 600),
    )
    _make_samples(connection, min(length_s, KEPT_DAYS[SAMPLES] * DAY_S), length_s)
    for level_s in LEVELS:
        kept_s = min(length_s, KEPT_DAYS.get(level_s, 100_000) * DAY_S)
        _make_rollup(connection, level_s, kept_s)
        if kept_s < length_s:
            connection.execute("INSERT INTO forgotten VALUES (?, ?)", (level_s, NOW_S - kept_s))
    connection.execute("INSERT OR REPLACE INTO forgotten VALUES (?, ?)", (SAMPLES, NOW_S - KEPT_DAYS[SAMPLES] * DAY_S))
    connection.execute("COMMIT")
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()


def _make_samples(connection: sqlite3.Connection, kept_s: int, length_s: int) -> None:
    columns, values = ["boot", "seq", "mono_s", "wall_s", "state", "outputs", "rows"], ["1", "n"]
    values += ["n", f"n + {NOW_S - length_s}.0", "state", "''", "count"]
    for place, name in enumerate(FITTED):
        columns += [name, f"{name}_min", f"{name}_max", f"{name}_raw"]
        values += [f"{place} + noise", f"{place} - 0.125", f"{place} + 1.125", "2.5001"]
    for place, name in enumerate(COMPUTED):
        columns.append(name)
        values.append(f"CASE state WHEN 'producing' THEN {place} + noise END")
    connection.execute(
        f"""
        WITH RECURSIVE seconds(n) AS (SELECT {length_s - kept_s} UNION ALL
                                      SELECT n + 1 FROM seconds WHERE n < {length_s}),
        kept AS (SELECT n, CASE WHEN n % {DAY_S} < {RUNNING_S} THEN 'producing' ELSE 'standby' END AS state,
                 CASE WHEN n % {DAY_S} < {RUNNING_S} THEN 1 ELSE 10 END AS count,
                 abs(random() % 10000) / 10000.0 AS noise
                 FROM seconds WHERE n % {DAY_S} < {RUNNING_S} OR n % 10 = 0)
        INSERT INTO samples ({",".join(columns)}) SELECT {",".join(values)} FROM kept
        """
    )


def _make_rollup(connection: sqlite3.Connection, level_s: int, kept_s: int) -> None:
    columns, values = ["start_s", "rows"], ["n", str(level_s)]
    for place, name in enumerate(QUANTITIES):
        columns += [f"{name}_min", name, f"{name}_max"]
        resting = f"n % {DAY_S} >= {RUNNING_S}" if name in COMPUTED and level_s < RUNNING_S else "0"
        values += [
            f"CASE WHEN {resting} THEN NULL ELSE {part} END"
            for part in (f"{place} - 0.125", f"{place} + noise", f"{place} + 1.125")
        ]
    first_s = (NOW_S - kept_s) // level_s * level_s
    connection.execute(
        f"""
        WITH RECURSIVE starts(n) AS (SELECT {first_s} UNION ALL SELECT n + {level_s} FROM starts
                                     WHERE n < {NOW_S - level_s}),
        noisy AS (SELECT n, abs(random() % 10000) / 10000.0 AS noise FROM starts)
        INSERT INTO {rollup_table(level_s)} ({",".join(columns)}) SELECT {",".join(values)} FROM noisy
        """
    )
