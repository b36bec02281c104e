"""What can still be read of a damaged record, put together with the one begun since, as a new file."""

import contextlib
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from halocline.plant.former_names import renamed, renamed_text
from halocline.report import rollups, write_ahead
from halocline.report.batch import roll_step
from halocline.report.database_open import (
    BESIDE,
    TROUBLE,
    StoreError,
    as_far_as_it_reads,
    connect_to_write,
    demand_regular,
    demand_there,
    said,
)
from halocline.report.name_migration import TEXTS
from halocline.report.page_sweep import makes_sense, sweep
from halocline.report.pages import HEAD_BYTES, with_mended_head
from halocline.report.retention import transaction
from halocline.report.row_accounting import gaps
from halocline.report.row_checksum import MARKERS
from halocline.report.schema import LEVELS, MARK, ROLLUP_COLUMNS, SAMPLE_COLUMNS, rollup_table

STEP_ROWS = 500
LARGEST_LEAP = 4096
LEAPS = 200
"""How many times in a row a table may be unreadable before its end is believed."""

NEVER = (0, 0)

Progress = Callable[[float], None]

_HOLE = ("from_seq", "to_seq", "reason")
_BY_BOOT = ("samples", "events", "alarms", "runs", "work", "calibrations", "clock_settings", "steady_periods")


@dataclass(slots=True)
class Saved:
    """Rows of each table that were saved, how many times a part of one could not be read, and how many rows
    and events are missing that were there once."""

    rows: dict[str, int] = field(default_factory=dict)
    unreadable: int = 0
    lost: int = 0


def salvage(sources: Sequence[Path], target: Path, progress: Progress = lambda _: None) -> Saved:
    """Puts what can be read of the sources, the oldest first, into a new record. Raises StoreError."""
    if target.exists():
        raise StoreError(f"{target}: is there already; choose another name")
    saved = Saved()
    try:
        with (
            tempfile.TemporaryDirectory(dir=target.parent, prefix=".salvage-") as folder,
            contextlib.closing(connect_to_write(target)) as connection,
        ):
            for number, source in enumerate(sources):
                _save_one(source, Path(folder) / str(number), connection, saved)
                progress((number + 1) / len(sources))
            if saved.unreadable and not any(saved.rows.values()):
                raise StoreError(f"{sources[0]}: nothing can be read of it")
            with transaction(connection):
                saved.lost = _settle(connection)
            connection.execute("PRAGMA journal_mode=DELETE")
    except (*TROUBLE, OSError, StoreError) as error:
        for leftover in target.parent.glob(f"{target.name}*"):
            leftover.unlink()
        raise said(target, "written", error) if isinstance(error, TROUBLE) else StoreError(str(error)) from None
    return saved


def _save_one(source: Path, folder: Path, connection: sqlite3.Connection, saved: Saved) -> None:
    """By SQLite as far as it reads; and of a file that is not whole, also by what stands on its pages."""
    demand_there(source)
    folder.mkdir()
    boots: dict[int, int] = {}
    trouble = Saved(saved.rows)
    try:
        with contextlib.closing(_open_damaged(_readable(source, folder))) as damaged:
            whole = _is_whole(damaged)
            with transaction(connection):
                _Saving(damaged, connection, trouble, boots).save()
                while roll_step(connection):
                    pass
    except TROUBLE:
        whole, trouble.unreadable = False, trouble.unreadable + 1
        boots.clear()
    if not whole:
        _, unreadable = sweep(source, folder / "swept.sqlite3")
        with contextlib.closing(_open_damaged(folder / "swept.sqlite3")) as swept, transaction(connection):
            _Saving(swept, connection, trouble, boots, swept=True).save()
        trouble.unreadable = max(trouble.unreadable, unreadable, 1)
    saved.unreadable += trouble.unreadable


def _readable(source: Path, folder: Path) -> Path:
    """The source, where SQLite reads it as it is; else a copy whose head and journal have been mended."""
    journal, opens = write_ahead.readable(source), _opens(source)
    if opens and (journal is None or not journal.rejected):
        return source
    copy = folder / "copy.sqlite3"
    shutil.copyfile(source, copy)
    if not opens:
        with copy.open("r+b") as file:
            head = file.read(HEAD_BYTES)
            file.seek(0)
            file.write(with_mended_head(head, source.stat().st_size, journal=journal is not None))
    if journal is not None:
        frames = write_ahead.mended(journal)[0] if journal.rejected else journal.frames[: journal.held]
        write_ahead.beside(copy).write_bytes(write_ahead.written(journal, frames))
    return copy


def _opens(path: Path) -> bool:
    """What stands beside it may be no file, too."""
    try:
        demand_regular(path, *BESIDE)
        _open_damaged(path).close()
    except (*TROUBLE, StoreError):
        return False
    return True


def _open_damaged(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
    try:
        connection.text_factory = as_far_as_it_reads
        # So a table whose description cannot be read does not keep the others from being read.
        connection.execute("PRAGMA writable_schema=ON")
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except TROUBLE:
        connection.close()
        raise
    return connection


def _is_whole(connection: sqlite3.Connection) -> bool:
    try:
        return bool(connection.execute("PRAGMA integrity_check(1)").fetchone() == ("ok",))
    except TROUBLE:
        return False


class _Saving:
    """One reading of one source. `boots`: its number of a boot → the target's, shared by the readings of a source.
    `swept`: rows found on pages; they are in no roll-up, and those that a roll-up knows must not be added again."""

    def __init__(
        self,
        source: sqlite3.Connection,
        target: sqlite3.Connection,
        saved: Saved,
        boots: dict[int, int],
        *,
        swept: bool = False,
    ) -> None:
        self._source = source
        self._target = target
        self._saved = saved
        self._swept = swept
        self._boots = boots
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
        for content in self._rows("forgotten"):
            level_s, before_s = content["level_s"], content["before_s"]
            self._target.execute(
                "INSERT INTO forgotten (level_s, before_s) VALUES (?, ?)"
                " ON CONFLICT (level_s) DO UPDATE SET before_s = max(before_s, excluded.before_s)",
                (level_s, before_s),
            )

    def _save_counters(self) -> None:
        for content in self._rows("counters"):
            name, value = content["name"], content["value"]
            self._target.execute(
                "INSERT INTO counters (name, value) VALUES (?, ?)"
                " ON CONFLICT (name) DO UPDATE SET value = value + excluded.value",
                (name, value),
            )

    def _save_boots(self) -> None:
        for row in self._rows("boots"):
            content = {key: value for key, value in row.items() if value is not None}
            number, name = content.pop("id"), content["boot"]
            if self._swept:
                content["rolled_seq"] = content.get("last_seq", 0)
            known = self._target.execute("SELECT id FROM boots WHERE boot = ?", (name,)).fetchone()
            if known is None and number in self._boots:
                self._target.execute("UPDATE boots SET boot = ? WHERE id = ?", (name, self._boots[number]))
                known = (self._boots[number],)
            if known is None:
                self._boots[number] = self._insert("boots", content)
            else:
                self._boots[number] = known[0]
                self._target.execute(
                    "UPDATE boots SET last_seq = max(last_seq, ?), wall_offset_s = coalesce(wall_offset_s, ?),"
                    " rolled_seq = max(rolled_seq, ?) WHERE id = ?",
                    (content.get("last_seq", 0), content.get("wall_offset_s"), content.get("rolled_seq", 0), known[0]),
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
        if table != "samples" or self._swept or not self._there[LEVELS[-1]]:
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
        for content in self._rows("holes"):
            number, first, last, reason = self._boot(content["boot"]), *(content[name] for name in _HOLE)
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
        """Those that both files have: name in the target → name in the source, which may be older. Names that nobody
        knows stand for those that are not there, in their order: a bit of theirs is broken."""
        query = f"SELECT name FROM pragma_table_info('{table}')"
        ours = [name for (name,) in self._target.execute(query)]
        theirs = {renamed(name): name for (name,) in self._source.execute(query)}
        missing = [name for name in ours if name not in theirs]
        unknown = [name for name in theirs if name not in ours]
        if len(missing) == len(unknown):
            theirs |= {name: theirs[other] for name, other in zip(missing, unknown, strict=True)}
        return {name: theirs[name] for name in ours if name in theirs}

    def _rows(self, table: str) -> Iterator[dict[str, Any]]:
        """Every row that can be read and makes sense, under the names of now."""
        try:
            columns = self._columns(table)
        except TROUBLE:
            self._saved.unreadable += 1
            return
        since = self._marked_since(table)
        kinds = dict(self._target.execute("SELECT name, type FROM pragma_table_info(?)", (table,)).fetchall())
        for row in self._all(table, tuple(columns.values())):
            content = dict(zip(columns, row, strict=True))
            sense = all(makes_sense(name, kinds[name], value) for name, value in content.items())
            if sense and not _altered(table, content, since):
                yield self._marked(table, self._renamed(table, content))
            else:
                self._saved.unreadable += 1

    def _marked_since(self, table: str) -> tuple[int, int]:
        """The first boot and number whose row has a mark."""
        if table not in ("samples", "events"):
            return NEVER
        query = f"SELECT boot, seq FROM {table} WHERE {MARK} IS NOT NULL ORDER BY boot, seq LIMIT 1"
        try:
            found = self._source.execute(query).fetchone()
        except TROUBLE:
            return NEVER
        return NEVER if found is None or not all(isinstance(number, int) for number in found) else found

    @staticmethod
    def _marked(table: str, content: dict[str, Any]) -> dict[str, Any]:
        """One that has a mark gets it under the names of now."""
        if content.get(MARK) is not None:
            marker = MARKERS[table]
            content[MARK] = marker([content.get(name) for name in marker.columns])
        return content

    @staticmethod
    def _renamed(table: str, content: dict[str, Any]) -> dict[str, Any]:
        for name in TEXTS.get(table, ()):
            if isinstance(content.get(name), str):
                content[name] = renamed_text(content[name])
        return content

    def _all(self, table: str, columns: Sequence[str]) -> Iterator[tuple[Any, ...]]:
        """Every row that can be read, by its number; over what cannot, in growing leaps."""
        names = ",".join('"' + name.replace('"', '""') + '"' for name in columns)
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
                if row[0] <= (found[-1][0] if found else after):
                    # A page of another table stands in this one's place; going on would go round for ever.
                    return found, False
                found.append(row)
        except (*TROUBLE, MemoryError):
            # A broken length can ask for more memory than there is.
            return found, False
        return found, True


def _altered(table: str, content: Mapping[str, Any], since: tuple[int, int]) -> bool:
    """Whether a row says something else than was written; nobody knows then which of its values to believe."""
    marker = MARKERS.get(table)
    if marker is None:
        return False
    begun = since != NEVER and (content["boot"], content["seq"]) >= since
    return marker.is_altered([content.get(name) for name in marker.columns], content.get(MARK), begun=begun)


def _settle(connection: sqlite3.Connection) -> int:
    """What follows from the rows: the newest number of each boot, the roll-ups that could not be read, and the holes;
    how many numbers are in those."""
    for table in ("samples", "events"):
        connection.execute(
            f"UPDATE boots SET last_seq = max(last_seq, coalesce((SELECT max(seq) FROM {table} WHERE boot = id), 0))"
        )
    _roll_up_missing(connection)
    lost = [gap for gap in gaps(connection) if gap.is_hole]
    connection.executemany(
        "INSERT OR IGNORE INTO holes (boot, from_seq, to_seq, reason) SELECT id, ?, ?, 'damaged' FROM boots"
        " WHERE boot = ?",
        [(gap.from_seq, gap.to_seq, gap.boot) for gap in lost],
    )
    return sum(gap.missing for gap in lost)


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
