"""How fast the record takes rows and answers questions, and what it costs the card; exits 1 when a promise is broken.

Beside it, in the same run and on the same rows: plain sqlite3 (one table, nothing rolled up) and, where it is
installed, rrdtool (a ring of fixed size that keeps no events, no text, and never syncs).
"""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from made_record import COMPUTED, DAY_S, FITTED, NOW_S, QUANTITIES, make_record, rows

from halocline.report.history import history
from halocline.report.recorder import FOLD_EVERY_S
from halocline.report.samples import sample_of
from halocline.report.schema import SAMPLE_COLUMNS
from halocline.report.store import Entry, Store

SPAN_LIMIT_S = 0.050
WRITTEN_LIMIT_MB = 200.0
BATCH = 60
FOLD_EVERY_MINUTES = int(FOLD_EVERY_S / BATCH)
INGESTED = 21_600
SPANS = {
    "10 min": 600,
    "1 h": 3600,
    "2.8 h": 9990,
    "16.6 h": 59_900,
    "3 days": 3 * DAY_S,
    "10.4 days": 899_000,
    "30 days": 30 * DAY_S,
    "83 days": 7_190_000,
    "1 year": 365 * DAY_S,
    "2.7 years": 999 * DAY_S,
    "5 years": int(5 * 365.25 * DAY_S),
}
"""The crooked ones are the dearest: with 1000 points just too short for the next coarser roll-up."""
LENGTHS_YEARS = (1.25, 2.5, 5.0)


def batches(entries: Sequence[Entry]) -> Iterator[Sequence[Entry]]:
    """As the recorder cuts them: a minute each."""
    for begin in range(0, len(entries), BATCH):
        yield entries[begin : begin + BATCH]


def ours_s(folder: Path, entries: Sequence[Entry]) -> float:
    """Seconds to record these rows, roll-ups and all."""
    store = Store(folder / "ours.sqlite3")
    begin_s = time.perf_counter()
    for batch in batches(entries):
        store.write(batch)
    passed_s = time.perf_counter() - begin_s
    store.close()
    return passed_s


def plain_s(folder: Path, entries: Sequence[Entry]) -> float:
    """Seconds to insert the same rows into one table, synced as often."""
    connection = sqlite3.connect(folder / "plain.sqlite3", isolation_level=None)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute(f"CREATE TABLE samples ({','.join(SAMPLE_COLUMNS)}, PRIMARY KEY (boot, seq))")
    connection.execute("CREATE INDEX by_time ON samples (wall_s)")
    insert = f"INSERT INTO samples VALUES ({','.join('?' * len(SAMPLE_COLUMNS))})"
    begin_s = time.perf_counter()
    for batch in batches(entries):
        connection.execute("BEGIN")
        connection.executemany(insert, [sample_of(1, entry.content, entry.content["wall_s"]) for entry in batch])
        connection.execute("COMMIT")
    passed_s = time.perf_counter() - begin_s
    connection.close()
    return passed_s


def rrd_s(folder: Path, entries: Sequence[Entry]) -> float | None:
    """Seconds for rrdtool to take the same values with roll-ups of the same lengths and promises."""
    if shutil.which("rrdtool") is None:
        return None
    file = folder / "theirs.rrd"
    kept = ((1, 30 * DAY_S), (10, 30 * DAY_S), (60, 366 * DAY_S), (900, 3653 * DAY_S), (86400, 3653 * DAY_S))
    archives = [
        f"RRA:{how}:0:{level_s}:{kept_s // level_s}"
        for level_s, kept_s in kept
        for how in (("AVERAGE",) if level_s == 1 else ("MIN", "AVERAGE", "MAX"))
    ]
    sources = [f"DS:q{place}:GAUGE:30:U:U" for place in range(len(QUANTITIES))]
    begin = int(entries[0].content["wall_s"]) - 1
    subprocess.run(["rrdtool", "create", file, "--start", str(begin), "--step", "1", *sources, *archives], check=True)
    lines = [f"update {file} {' '.join(_rrd_values(entry) for entry in batch)}\n" for batch in batches(entries)]
    begin_s = time.perf_counter()
    subprocess.run(["rrdtool", "-"], input="".join(lines), text=True, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - begin_s


def _rrd_values(entry: Entry) -> str:
    content = entry.content
    values = [content["ch"][name][0] for name in FITTED] + [content["d"].get(name, "U") for name in COMPUTED]
    return ":".join(str(value) for value in (int(content["wall_s"]), *values))


def compare_ingest(folder: Path) -> None:
    """Prints rows a second, side by side; all rows at work, the dearest kind."""
    entries = list(rows(INGESTED, running_s=DAY_S))
    plain = plain_s(folder, entries)
    rivals = {"plain sqlite3": plain, "rrdtool": rrd_s(folder, entries), "the record": ours_s(folder, entries)}
    for name, passed_s in rivals.items():
        if passed_s is None:
            print(f"ingest   {name:14} not installed: .ci/setup bench")
        else:
            print(f"ingest   {name:14} {len(entries) / passed_s:9.0f} rows/s   {passed_s / plain:5.2f} × plain sqlite3")


def span_s(record: Path, length_s: int, *, to_s: float = NOW_S) -> tuple[float, int]:
    """Seconds for 1000 points over that span (the best of seven, so that a busy machine does not spoil it), and how
    many points there were."""
    times, points = [], 0
    for _ in range(7):
        begin_s = time.perf_counter()
        found = history(record, "vessel_pressure", to_s - length_s, to_s, 1000)
        times.append(time.perf_counter() - begin_s)
        points = len(found.time)
    return min(times), points


def measure_spans(folder: Path) -> bool:
    """Prints the time of each span at three lengths of record; whether all keep the promise."""
    records = []
    for years in LENGTHS_YEARS:
        record = folder / f"{years}.sqlite3"
        make_record(record, years)
        records.append(record)
        print(f"record   {years:4} years  {record.stat().st_size / 1e6:6.0f} MB")
    kept = True
    for name, length_s in SPANS.items():
        found = [span_s(record, length_s) for record in records]
        kept &= all(passed_s <= SPAN_LIMIT_S for passed_s, _ in found)
        times = "  ".join(f"{passed_s * 1e3:5.1f}" for passed_s, _ in found)
        print(f"history  {name:10} {found[-1][1]:5} points  {times} ms at 1, 2, 4 times the length")
    old_s, points = span_s(records[-1], 600, to_s=NOW_S - 200 * DAY_S)
    print(f"history  10 min, 200 days ago: {points} points, {old_s * 1e3:.1f} ms")
    return kept and old_s <= SPAN_LIMIT_S


@contextlib.contextmanager
def counted_disk(folder: Path) -> Iterator[tuple[Path, Path] | None]:
    """A file system of our own on a loop device, and where the kernel counts its writes; None where it may not be."""
    image, place = folder / "disk.img", folder / "disk"
    place.mkdir()
    with image.open("wb") as file:
        file.truncate(600_000_000)
    made = subprocess.run(["mkfs.ext4", "-q", "-F", image], capture_output=True, check=False)
    mounted = subprocess.run(["mount", "-o", "loop", image, place], capture_output=True, check=False)
    if made.returncode or mounted.returncode:
        yield None
        return
    try:
        found = subprocess.run(["findmnt", "-no", "SOURCE", place], capture_output=True, text=True, check=True)
        yield place, Path("/sys/block") / Path(found.stdout.strip()).name / "stat"
    finally:
        subprocess.run(["umount", place], check=True)


def written_mb(stat: Path) -> float:
    """What the block device has written; field 7 is in sectors of 512 bytes."""
    return int(stat.read_text().split()[6]) * 512 / 1e6


def measure_day(folder: Path, what: str, running_s: int) -> bool:
    """Prints what a day of recording writes, journals of SQLite and of the file system included."""
    with counted_disk(folder) as disk:
        if disk is None:
            print(f"a day    {what}: no loop device may be mounted here, so nothing was counted")
            return True
        place, stat = disk
        store = Store(place / "record.sqlite3")
        subprocess.run(["sync", "-f", place], check=True)
        begin_mb = written_mb(stat)
        batch: list[Entry] = []
        minute = 0
        for entry in rows(DAY_S, running_s=running_s):
            batch.append(entry)
            if len(batch) == BATCH:
                store.write(batch)
                batch = []
                minute += 1
                if minute % FOLD_EVERY_MINUTES == 0:
                    store.fold()
        store.close()
        subprocess.run(["sync", "-f", place], check=True)
        day_mb = written_mb(stat) - begin_mb
        size_mb = (place / "record.sqlite3").stat().st_size / 1e6
        print(f"a day    {what}: {day_mb:.0f} MB written to the device, the record grew by {size_mb:.0f} MB")
        return day_mb <= WRITTEN_LIMIT_MB


def main() -> int:
    """Measures everything; 1 when a promise is broken."""
    kept = True
    with tempfile.TemporaryDirectory() as folder:
        compare_ingest(Path(folder))
    with tempfile.TemporaryDirectory() as folder:
        kept &= measure_spans(Path(folder))
    for what, running_s in (("3 h of water", 3 * 3600), ("24 h of water", DAY_S)):
        with tempfile.TemporaryDirectory() as folder:
            kept &= measure_day(Path(folder), what, running_s)
    print("all promises kept" if kept else "a promise was broken")
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
