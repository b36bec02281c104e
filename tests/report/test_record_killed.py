"""Report killed at any moment, at full rate: the record opens again and has everything it said it had."""

import contextlib
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time

import pytest

from halocline.report.journal import Journal

KILLS = 200 if os.environ.get("HALOCLINE_SOAK") else 10

RECORDER = """
import sys
from pathlib import Path
from halocline.plant.settings import RecordSettings
from halocline.report.recorder import Recorder
from halocline.report.store import Entry
recorder = Recorder(Path(sys.argv[1]), RecordSettings(), batch_s=0.01)
recorder.start()
seq = recorder.position.seq
channels = {name: [1.5, 1.0, 2.0, 0.5, "good"] for name in ("vessel_pressure", "feed_pressure", "product_flow")}
while True:
    seq += 1
    kind = "event" if seq % 50 == 0 else "row"
    content = {"seq": seq, "mono_s": float(seq), "wall_s": 1.79e9 + seq, "kind": "state", "ch": channels}
    content["state"] = "standby" if seq % 400 < 100 else "producing"
    while not recorder.offer(Entry(kind, "b1", content)):
        recorder.flush()
    if seq % 100 == 0 and recorder.flush():
        print(seq, flush=True)
"""

FOLLOWER = """
import sys, time
from pathlib import Path
from halocline.plant.settings import RecordSettings, UnitSettings
from halocline.report.feed import Feed
from halocline.report.public import Frame
feed = Feed(sys.argv[1], Path(sys.argv[2]), Frame("Cagarra", UnitSettings()), RecordSettings(), batch_s=0.02)
feed.start()
while True:
    time.sleep(0.005)
    print(feed.recorder.position.seq if feed.recorder.flush() else 0, flush=True)
"""


def start(code, *arguments):
    return subprocess.Popen([sys.executable, "-c", code, *map(str, arguments)], stdout=subprocess.PIPE, text=True)


def killed_after(process, lines, wait_s):
    """The last number this process said was on disk."""
    said = [process.stdout.readline() for _ in range(lines)]
    time.sleep(wait_s)
    os.kill(process.pid, signal.SIGKILL)
    said += process.stdout.readlines()
    process.stdout.close()
    process.wait()
    return max((int(line) for line in said if line.endswith("\n")), default=0)


def counted(path):
    """How many rows and events there are, the greatest number, and whether the file is whole and nothing double."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        rows, last_row = connection.execute("SELECT sum(rows), max(seq) FROM samples").fetchone()
        events, last_event = connection.execute("SELECT count(*), coalesce(max(seq), 0) FROM events").fetchone()
        both = "SELECT boot, seq FROM samples INTERSECT SELECT boot, seq FROM events"
        assert connection.execute(both).fetchall() == []
    return rows + events, max(last_row, last_event)


@pytest.mark.system
def test_a_recorder_killed_at_full_rate_has_all_it_said_it_had_once(tmp_path):
    path = tmp_path / "record.sqlite3"
    chance = random.Random(21)
    for _ in range(KILLS):
        acknowledged = killed_after(start(RECORDER, path), 1 + chance.randrange(3), chance.random() * 0.05)
        count, last = counted(path)
        assert count == last >= acknowledged > 0
    assert Journal(path).holes() == []


@pytest.mark.system
def test_report_killed_during_a_run_fetches_what_it_missed_from_control(control, link_path, tmp_path):
    plant = control()
    path = tmp_path / "record.sqlite3"
    chance = random.Random(22)
    said = 0
    for _ in range(KILLS):
        process = start(FOLLOWER, link_path, tmp_path)
        process.stdout.readline()
        for _ in range(15):
            said = plant.row(float(said + 1), wall_s=1.79e9 + said)
            if said % 10 == 0:
                said = plant.event("state", float(said + 1), wall_s=1.79e9 + said)
            time.sleep(0.002)
        acknowledged = killed_after(process, 1, chance.random() * 0.05)
        count, last = counted(path)
        assert count == last >= acknowledged
    process = start(FOLLOWER, link_path, tmp_path)
    while int(process.stdout.readline()) < said:
        pass
    process.terminate()
    process.stdout.close()
    process.wait()
    assert counted(path) == (said, said)
    assert Journal(path).holes() == []
