"""A record that the card has changed anywhere: it is opened, or set aside and begun anew; what is whole is saved; what
is missing is told; and nobody ever sees a traceback.

`HALOCLINE_SOAK=1` plays 340 damaged records instead of 51; `-rP` prints the figures.
"""

import contextlib
import json
import os
import random
import shutil
import sqlite3
from collections import Counter

import pytest

from halocline.cli.main import main
from halocline.plant.settings import RecordSettings
from halocline.report.database_open import DamagedError
from halocline.report.journal import Journal
from halocline.report.recorder import Recorder
from halocline.report.row_checksum import MARKERS
from halocline.report.salvage import salvage
from halocline.report.store import Entry, Store

PAGE = 4096
TRIALS = 20 if os.environ.get("HALOCLINE_SOAK") else 3


@pytest.fixture(scope="module")
def crashed(tmp_path_factory, evening_aboard):
    """Two evenings; the last of it in the journal, as a power cut leaves it."""
    folder = tmp_path_factory.mktemp("crashed")
    made = folder / "made.sqlite3"
    evening_aboard.record_evening(made, "b1")
    store = Store(made)
    entries = evening_aboard.evening("b2")
    for begin in range(0, len(entries), 60):
        store.write(entries[begin : begin + 60])
        if begin < 300:
            store.fold()
    for suffix in ("", "-wal"):
        shutil.copyfile(f"{made}{suffix}", f"{folder / 'record.sqlite3'}{suffix}")
    store.close()
    return folder / "record.sqlite3"


def flip(data, begin, end, chance, times=1):
    for _ in range(times):
        place = chance.randrange(begin, end)
        data[place] ^= 1 << chance.randrange(8)


def zero(data, chance, pages):
    for _ in range(pages):
        page = chance.randrange(1, len(data) // PAGE)
        data[page * PAGE : (page + 1) * PAGE] = bytes(PAGE)


def column_name(data, chance):
    """One letter of the name of a column, somewhere in the descriptions of the tables."""
    name = chance.choice(["vessel_pressure_max", "product_tds_mg_l", "rolled_seq", "first_out", "body", "priority"])
    places = [at for at in range(len(data)) if data.startswith(f'"{name}" '.encode(), at)]
    place = chance.choice(places) + 1 + chance.randrange(len(name))
    data[place] = ord("q") if data[place] != ord("q") else ord("x")


def shorten(data, chance):
    del data[chance.randrange(len(data) // 3, len(data)) :]


MAIN = {
    "a bit of the head": lambda data, chance: flip(data, 0, 100, chance),
    "a bit of the descriptions": lambda data, chance: flip(data, 100, 2 * PAGE, chance),
    "a letter of a column's name": column_name,
    "a bit anywhere": lambda data, chance: flip(data, 0, len(data), chance),
    "twelve bits anywhere": lambda data, chance: flip(data, 0, len(data), chance, 12),
    "the head and twelve bits": lambda data, chance: (
        flip(data, 0, 20, chance),
        flip(data, 100, len(data), chance, 12),
    ),
    "an emptied page": lambda data, chance: zero(data, chance, 1),
    "eight emptied pages": lambda data, chance: zero(data, chance, 8),
    "the first page emptied": lambda data, _chance: data.__setitem__(slice(0, PAGE), bytes(PAGE)),
    "noise over the first page": lambda data, chance: data.__setitem__(slice(0, PAGE), chance.randbytes(PAGE)),
    "a file cut short": shorten,
}
JOURNAL = {
    "a bit of the journal's head": lambda data, chance: flip(data, 0, 32, chance),
    "a bit of the journal": lambda data, chance: flip(data, 0, len(data), chance),
    "twelve bits of the journal": lambda data, chance: flip(data, 0, len(data), chance, 12),
    "an emptied page of the journal": lambda data, chance: zero(data, chance, 1),
    "a journal cut short": shorten,
    "no journal": lambda data, _chance: data.clear(),
}
FIGURES: dict[str, Counter] = {}


def counted(path):
    with contextlib.closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
        query = "SELECT (SELECT coalesce(sum(rows), 0) FROM samples) + (SELECT count(*) FROM events)"
        return connection.execute(query).fetchone()[0]


def without_newest(path, boot="b9"):
    with contextlib.closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
        return connection.execute(
            "SELECT (SELECT coalesce(sum(rows), 0) FROM samples JOIN boots ON boots.id = samples.boot"
            " WHERE boots.boot != ?1) + (SELECT count(*) FROM events JOIN boots ON boots.id = events.boot"
            " WHERE boots.boot != ?1)",
            (boot,),
        ).fetchone()[0]


def contents(path):
    """Every sample and event of the two evenings, as the record says it now."""
    with contextlib.closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
        connection.text_factory = bytes
        return {
            table: set(
                connection.execute(
                    f"SELECT {', '.join(name for name in MARKERS[table].columns if name != 'boot')} FROM {table}"
                    " WHERE boot IN (SELECT id FROM boots WHERE boot IN ('b1', 'b2'))"
                )
            )
            for table in ("samples", "events")
        }


def altered(path):
    """Whether the record says that rows of it say something else than was written."""
    try:
        return any(gap.altered for gap in Journal(path).unaccounted())
    except DamagedError:
        return True


def admitted(path):
    """Whether the record says that something is missing, beyond a restart's usual end, or that it is damaged."""
    journal = Journal(path)
    try:
        return bool(journal.unaccounted()) or any(hole["reason"] != "restart" for hole in journal.holes())
    except DamagedError:
        return True


def started_on(record, evening_aboard, until, *, suspected):
    """Report starts on it, and control has started anew, too; what people are told. Unless it is suspected, nobody
    has met the damage yet when the commands read."""
    recorder = Recorder(record, RecordSettings(), batch_s=0.02, retry_s=0.02, tidy_every_s=0.0)
    recorder.start()
    try:
        recorder.offer(Entry("hello", "b9", {"boot": "b9"}))
        recorder.offer(Entry("event", "b9", {"seq": 1, "mono_s": 1.0, "wall_s": None, "kind": "state", "to": "x"}))
        recorder.offer(Entry("row", "b9", evening_aboard.row(2, 2.0, "standby")))
        if suspected:
            recorder.suspect()
        until(lambda: recorder.flush(0.2) and recorder.status()["state"] == "ok", timeout_s=60)
        return recorder.conditions()
    finally:
        recorder.stop()


@pytest.mark.parametrize("trial", range(TRIALS))
@pytest.mark.parametrize("kind", [*MAIN, *JOURNAL])
def test_a_damaged_record_is_opened_or_set_aside_and_saved_and_always_told(
    kind, trial, crashed, tmp_path, until, evening_aboard, capsys
):
    chance = random.Random(f"{kind}{trial}")
    record = tmp_path / "data" / "record.sqlite3"
    record.parent.mkdir()
    for suffix in ("", "-wal"):
        shutil.copyfile(f"{crashed}{suffix}", f"{record}{suffix}")
    if kind in MAIN and trial % 2 == 0:
        # Pages in the journal cover those in the file; here the file stands alone, as after a clean end.
        with contextlib.closing(sqlite3.connect(record)) as connection:
            connection.execute("PRAGMA journal_mode=DELETE" if trial % 4 else "PRAGMA wal_checkpoint(TRUNCATE)")
    harmed = record if kind in MAIN else record.with_name(f"{record.name}-wal")
    data = bytearray(harmed.read_bytes())
    (MAIN | JOURNAL)[kind](data, chance)
    harmed.write_bytes(data)
    whole = counted(crashed)
    figures = FIGURES.setdefault(kind, Counter())

    told = started_on(record, evening_aboard, until, suspected=trial % 3 != 2)
    aside = sorted(record.parent.glob("record.sqlite3.damaged-?"))
    figures["opened" if not aside else "set aside"] += 1

    # Every command reads what is there now.
    for command in (["runs"], ["runs", "--holes"], ["runs", "--json"], ["export", "events"], ["export", "runs"]):
        assert main([*command, "--data", str(record.parent)]) in (0, 1)
    assert "Traceback" not in capsys.readouterr().err

    if not aside:
        try:
            kept = without_newest(record)
            changed = any(rows - contents(crashed)[table] for table, rows in contents(record).items())
        except sqlite3.Error:
            figures["damage met by whoever reads"] += 1
            return
        figures["rows kept"] += min(kept, whole)
        figures["altered"] += changed
        assert not changed or altered(record), "a row says something else than was written, and nothing tells it"
        if kept < whole and kind not in ("a journal cut short", "no journal"):
            # The head of the very last frame alone says that there was a last commit.
            batch = 62 if kind in JOURNAL else 0
            assert admitted(record) or whole - kept <= batch, f"{whole - kept} are gone in silence"
    else:
        assert any("set aside" in condition.means for condition in told)
        saved = tmp_path / "saved.sqlite3"
        salvage([aside[0], record], saved)
        kept = without_newest(saved)
        assert all(rows <= contents(crashed)[table] for table, rows in contents(saved).items())
        figures["rows kept"] += kept
        figures["rows salvaged"] += kept
        figures["rows of those"] += whole
        if kept < whole:
            assert admitted(saved), f"{whole - kept} are gone in silence"
        Journal(saved).runs()
        json.dumps([run.why for run in Journal(saved).runs()])
    figures["rows"] += whole
    print(kind, dict(figures))
