"""What can still be read of a damaged record, put together with the one begun since, as a new file."""

import contextlib
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from halocline.plant.former_names import renamed, renamed_text
from halocline.report import rollups
from halocline.report.batch import roll_step
from halocline.report.keeping import transaction
from halocline.report.opening import TROUBLE, StoreError, connect_to_write, said
from halocline.report.renaming import TEXTS
from halocline.report.schema import LEVELS, ROLLUP_COLUMNS, SAMPLE_COLUMNS, rollup_table

STEP_ROWS = 500
LARGEST_LEAP = 4096
LEAPS = 200
"""How many times in a row a table may be unreadable before its end is believed."""

Progress = Callable[[float], None]

_BY_BOOT = ("samples", "events", "alarms", "runs", "work", "calibrations", "clock_settings")


@dataclass(slots=True)
class Saved:
    """Rows of each table that were saved, and how many times a part of one could not be read."""

    rows: dict[str, int] = field(default_factory=dict)
    unreadable: int = 0


def salvage(sources: Sequence[Path], target: Path, progress: Progress = lambda _: None) -> Saved:
    """Puts what can be read of the sources, the oldest first, into a new record. Raises StoreError."""
    if target.exists():
        raise StoreError(f"{target}: is there already; choose another name")
    saved = Saved()
    try:
        with contextlib.closing(connect_to_write(target)) as connection:
            for number, source in enumerate(sources):
                with contextlib.closing(_open_damaged(source)) as damaged, transaction(connection):
                    _Saving(damaged, connection, saved).save()
                    while roll_step(connection):
                        pass
                progress((number + 1) / len(sources))
            with transaction(connection):
                _roll_up_missing(connection)
            connection.execute("PRAGMA journal_mode=DELETE")
    except (*TROUBLE, OSError, StoreError) as error:
        for leftover in target.parent.glob(f"{target.name}*"):
            leftover.unlink()
        raise said(target, "written", error) if isinstance(error, TROUBLE) else StoreError(str(error)) from None
    return saved


def _open_damaged(path: Path) -> sqlite3.Connection:
    if not path.is_file():
        raise StoreError(f"{path}: there is no such file")
    connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
    try:
        # So a table whose description cannot be read does not keep the others from being read.
        connection.execute("PRAGMA writable_schema=ON")
        connection.execute("SELECT 1 FROM sqlite_master").fetchone()
    except TROUBLE as error:
        connection.close()
        raise StoreError(f"{path}: nothing can be read of it: {error}") from None
    return connection


class _Saving:
    def __init__(self, source: sqlite3.Connection, target: sqlite3.Connection, saved: Saved) -> None:
        self._source = source
        self._target = target
        self._saved = saved
        self._boots: dict[int, int] = {}
        self._rolled: dict[int, int] = {}
        self._there = {
            level_s: {start_s for (start_s,) in target.execute(f"SELECT start_s FROM {rollup_table(level_s)}")}
            for level_s in LEVELS
        }

    def save(self) -> None:
        self._save_boots()
        new = sum(self._save_table(table) for table in _BY_BOOT)
        for level_s in LEVELS:
            self._save_rollup(level_s)
        if new:
            self._save_counters()
        self._save_holes()
        for level_s, before_s in self._all("forgotten", ("level_s", "before_s")):
            self._target.execute(
                "INSERT INTO forgotten (level_s, before_s) VALUES (?, ?)"
                " ON CONFLICT (level_s) DO UPDATE SET before_s = max(before_s, excluded.before_s)",
                (level_s, before_s),
            )

    def _save_counters(self) -> None:
        for name, value in self._all("counters", ("name", "value")):
            self._target.execute(
                "INSERT INTO counters (name, value) VALUES (?, ?)"
                " ON CONFLICT (name) DO UPDATE SET value = value + excluded.value",
                (name, value),
            )

    def _save_boots(self) -> None:
        for content in self._rows("boots"):
            number, name = content.pop("id"), content["boot"]
            known = self._target.execute("SELECT id FROM boots WHERE boot = ?", (name,)).fetchone()
            if known is None:
                self._boots[number] = self._insert("boots", content)
            else:
                self._boots[number] = known[0]
                self._target.execute(
                    "UPDATE boots SET last_seq = max(last_seq, ?), wall_offset_s = coalesce(wall_offset_s, ?),"
                    " rolled_seq = max(rolled_seq, ?) WHERE id = ?",
                    (content["last_seq"], content["wall_offset_s"], content.get("rolled_seq", 0), known[0]),
                )
            self._rolled[self._boots[number]] = content.get("rolled_seq", 0)

    def _save_table(self, table: str) -> int:
        """Copies what is not there yet; how many rows that were."""
        new: list[dict[str, Any]] = []
        count = 0
        for content in self._rows(table):
            content["boot"] = self._boot(content["boot"])
            if table == "runs":
                del content["id"]
            if self._insert(table, content):
                count += 1
                new.append(content)
            if len(new) == STEP_ROWS:
                self._roll_up(table, new)
                new = []
        self._roll_up(table, new)
        self._saved.rows[table] = self._saved.rows.get(table, 0) + count
        return count

    def _roll_up(self, table: str, new: Sequence[dict[str, Any]]) -> None:
        """Adds new samples to spans that another source knew; spans it did not know are copied whole, and what was
        not rolled up yet will be."""
        if table != "samples" or not self._there[LEVELS[-1]]:
            return
        settled = (content for content in new if content["seq"] <= self._rolled.get(content["boot"], 0))
        samples = [tuple(content.get(column) for column in SAMPLE_COLUMNS) for content in settled]
        for level_s, summaries in rollups.roll_up(samples).items():
            known = {start_s: summary for start_s, summary in summaries.items() if start_s in self._there[level_s]}
            rollups.add_summaries(self._target, level_s, known)

    def _boot(self, number: int) -> int:
        """A boot whose own row could not be read gets a name of its own."""
        if number not in self._boots:
            self._boots[number] = self._insert("boots", {"boot": f"unknown-{number}", "last_seq": 0})
        return self._boots[number]

    def _save_rollup(self, level_s: int) -> None:
        for content in self._rows(rollup_table(level_s)):
            start_s, row = content["start_s"], tuple(content.get(name) for name in ROLLUP_COLUMNS)
            if start_s in self._there[level_s]:
                continue
            with contextlib.suppress(TypeError):
                rollups.add_summaries(self._target, level_s, {start_s: rollups.from_row(row)})

    def _save_holes(self) -> None:
        """What one record lacks another may have."""
        for boot, first, last, reason in self._all("holes", ("boot", "from_seq", "to_seq", "reason")):
            number = self._boot(boot)
            if last is not None and self._known(number, first, last) >= last - first + 1:
                continue
            self._insert("holes", {"boot": number, "from_seq": first, "to_seq": last, "reason": reason})

    def _known(self, boot: int, first: int, last: int) -> int:
        query = (
            "SELECT coalesce((SELECT sum(rows) FROM samples WHERE boot = :boot AND seq BETWEEN :first AND :last), 0)"
            " + (SELECT count(*) FROM events WHERE boot = :boot AND seq BETWEEN :first AND :last)"
        )
        values = {"boot": boot, "first": first, "last": last}
        return int(self._target.execute(query, values).fetchone()[0])

    def _insert(self, table: str, content: dict[str, Any]) -> int:
        names, marks = ",".join(content), ",".join("?" * len(content))
        cursor = self._target.execute(
            f"INSERT OR IGNORE INTO {table} ({names}) VALUES ({marks})", tuple(content.values())
        )
        return int(cursor.lastrowid or 0) if cursor.rowcount else 0

    def _columns(self, table: str) -> dict[str, str]:
        """Those that both files have: name in the target → name in the source, which may be older."""
        query = f"SELECT name FROM pragma_table_info('{table}')"
        theirs = {renamed(name): name for (name,) in self._source.execute(query)}
        return {name: theirs[name] for (name,) in self._target.execute(query) if name in theirs}

    def _rows(self, table: str) -> Iterator[dict[str, Any]]:
        """Every row that can be read, under the names of now."""
        columns = self._columns(table)
        texts = TEXTS.get(table, ())
        for row in self._all(table, tuple(columns.values())):
            content = dict(zip(columns, row, strict=True))
            for name in texts:
                if isinstance(content.get(name), str):
                    content[name] = renamed_text(content[name])
            yield content

    def _all(self, table: str, columns: Sequence[str]) -> Iterator[tuple[Any, ...]]:
        """Every row that can be read, by its number; over what cannot, in growing leaps."""
        names = ",".join(columns)
        query = f"SELECT rowid, {names} FROM {table} WHERE rowid > ? ORDER BY rowid LIMIT ?"
        after, step, leap, failed = -1, STEP_ROWS, 1, 0
        while failed < LEAPS:
            found, whole = self._some(query, after, step)
            for row in found:
                yield row[1:]
            if whole and len(found) < step:
                return
            if found:
                after, leap, failed = found[-1][0], 1, 0
            if whole:
                step = STEP_ROWS
            else:
                after, leap, failed = after + leap, min(leap * 2, LARGEST_LEAP), failed + 1
                self._saved.unreadable += 1

    def _some(self, query: str, after: int, step: int) -> tuple[list[tuple[Any, ...]], bool]:
        found: list[tuple[Any, ...]] = []
        try:
            for row in self._source.execute(query, (after, step)):
                found.append(row)
        except TROUBLE:
            return found, False
        return found, True


def _roll_up_missing(connection: sqlite3.Connection) -> None:
    """Roll-ups that could not be read are made again from the samples that could."""
    names = ",".join(SAMPLE_COLUMNS)
    for level_s in LEVELS:
        start = f"CAST(wall_s / {level_s} AS INTEGER) * {level_s}"
        missing = connection.execute(
            f"SELECT DISTINCT {start} FROM samples WHERE wall_s IS NOT NULL"
            f" EXCEPT SELECT start_s FROM {rollup_table(level_s)}"
        ).fetchall()
        for (start_s,) in missing:
            samples = connection.execute(
                f"SELECT {names} FROM samples WHERE wall_s >= ? AND wall_s < ?", (start_s, start_s + level_s)
            ).fetchall()
            rollups.add_summaries(connection, level_s, {start_s: rollups.summarise(samples)})
