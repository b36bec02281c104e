"""Time: a computer without a clock of its own boots at any date, learns the time late, and has it set both ways."""

import contextlib
import sqlite3
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from halocline.report.history import Undated, history
from halocline.report.journal import Journal
from halocline.report.store import Entry, Store

WALL_S = 1_790_000_000.0
YEAR_S = 31_557_600.0


def row(seq, boot="b1", *, mono_s=None, wall_s=None, run=None, state="producing", value=50.0):
    content = {
        "seq": seq,
        "mono_s": float(seq) if mono_s is None else mono_s,
        "wall_s": wall_s,
        "state": state,
        "ch": {"vessel_pressure": [value, value, value, 2.5, "good"]},
        "d": {},
        "out": ["high_pressure_pump"],
        "run": run,
    }
    return Entry("row", boot, content)


def event(seq, kind, boot="b1", *, mono_s=None, wall_s=None, **content):
    at = {"seq": seq, "mono_s": float(seq) if mono_s is None else mono_s, "wall_s": wall_s, "kind": kind}
    return Entry("event", boot, {**at, **content})


def write(path, *batches):
    with contextlib.closing(Store(path)) as store:
        for batch in batches:
            store.write(batch)
        while store.backlog:
            store.write([])
    return path


def times(path, table="samples"):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute(f"SELECT seq, wall_s FROM {table} ORDER BY boot, seq").fetchall()


def rolled_rows(path):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute("SELECT start_s, rows FROM rollup_86400s ORDER BY start_s").fetchall()


def test_when_the_clock_becomes_known_the_boot_is_dated_once_backwards(tmp_path):
    before = [row(n) for n in range(1, 2501)]
    path = write(
        tmp_path / "record.sqlite3",
        before,
        [event(2501, "log", what="note", note="glass clear", who="Ana"), row(2502, wall_s=WALL_S + 2502)],
        [row(2503, wall_s=WALL_S + 2503)],
    )
    found = times(path)
    assert len(found) == 2502
    assert all(wall_s == WALL_S + seq for seq, wall_s in found)
    assert times(path, "work") == [(2501, WALL_S + 2501)]
    assert sum(rows for _, rows in rolled_rows(path)) == 2502
    assert Journal(path).clock_settings() == [
        {"boot": "b1", "seq": 2502, "mono_s": 2502.0, "wall_s": WALL_S + 2502, "wall_offset_s": WALL_S}
    ]


def test_dating_goes_in_small_steps_and_history_is_whole_meanwhile(tmp_path):
    path = tmp_path / "record.sqlite3"
    with contextlib.closing(Store(path)) as store:
        store.write([row(n) for n in range(1, 3001)])
        store.write([row(3001, wall_s=WALL_S + 3001)])
        assert store.backlog
        half_dated = history(path, "vessel_pressure", WALL_S, WALL_S + 3600, 60)
        assert 0 < len([wall_s for _, wall_s in times(path) if wall_s is not None]) < 3001
        while store.backlog:
            store.write([])
        assert history(path, "vessel_pressure", WALL_S, WALL_S + 3600, 60).mean == half_dated.mean
    assert len(half_dated.time) == 51


def test_dating_that_was_interrupted_goes_on_at_the_next_start(tmp_path):
    path = tmp_path / "record.sqlite3"
    with contextlib.closing(Store(path)) as store:
        store.write([row(n) for n in range(1, 3001)])
        store.write([row(3001, wall_s=WALL_S + 3001)])
    write(path)
    assert all(wall_s == WALL_S + seq for seq, wall_s in times(path))
    assert sum(rows for _, rows in rolled_rows(path)) == 3001


def test_a_boot_that_never_learns_the_time_stays_undated_and_is_drawn_by_its_own_seconds(tmp_path):
    path = write(tmp_path / "record.sqlite3", [row(1), row(2)], [row(1, "b2", wall_s=WALL_S)])
    assert times(path) == [(1, None), (2, None), (1, WALL_S)]
    shown = history(path, "vessel_pressure", WALL_S, WALL_S + 10, 10, undated=Undated("b1", WALL_S))
    assert shown.mean == (50.0, 50.0, 50.0)


def test_a_setting_of_the_clock_is_noted_and_moves_nothing(tmp_path):
    path = write(
        tmp_path / "record.sqlite3",
        [row(1, wall_s=WALL_S), row(2, wall_s=WALL_S + 1), row(3, wall_s=WALL_S + YEAR_S), row(4, wall_s=WALL_S + 3)],
    )
    assert times(path) == [(1, WALL_S), (2, WALL_S + 1), (3, WALL_S + YEAR_S), (4, WALL_S + 3)]
    settings = Journal(path).clock_settings()
    assert [(setting["seq"], setting["wall_offset_s"]) for setting in settings] == [
        (4, WALL_S - 1),
        (3, WALL_S + YEAR_S - 3),
        (1, WALL_S - 1),
    ]


def test_a_clock_that_is_steered_is_not_one_that_was_set(tmp_path):
    rows = [row(n, wall_s=WALL_S + n * 1.001) for n in range(1, 5000)]
    path = write(tmp_path / "record.sqlite3", rows[:2500], rows[2500:])
    assert len(Journal(path).clock_settings()) == 1


def test_a_row_whose_clock_is_gone_again_is_dated_by_its_boot(tmp_path):
    path = write(tmp_path / "record.sqlite3", [row(1, wall_s=WALL_S + 1), row(2), row(3, wall_s=WALL_S + 3)])
    assert times(path) == [(1, WALL_S + 1), (2, WALL_S + 2), (3, WALL_S + 3)]


def test_hours_are_counted_by_the_monotonic_clock_over_restarts_of_report(tmp_path):
    path = write(tmp_path / "record.sqlite3", [row(1, wall_s=WALL_S), row(2, wall_s=WALL_S - YEAR_S)])
    write(path, [row(3, wall_s=WALL_S + YEAR_S), row(4, wall_s=WALL_S + 3)])
    assert Journal(path).counters() == {"high_pressure_pump_s": 3.0}


class Aboard:
    """Says what a plant says while its clock does what it likes, and remembers the truth."""

    def __init__(self):
        self.entries = []
        self.runs = {}
        self.dated_boots = set()

    def boot(self, name, ticks):
        mono_s, offset_s, known, run = 10.0, WALL_S, False, None
        for seq, (step_s, clock, jump_s, what) in enumerate(ticks, 1):
            mono_s += step_s
            known = known or clock != "none"
            offset_s += jump_s if clock == "set" else 0.0
            if known:
                self.dated_boots.add(name)
            at = {"mono_s": mono_s, "wall_s": mono_s + offset_s if known else None}
            run = self._say(what, seq, name, at, run)

    def _say(self, what, seq, name, at, run):
        if what == "started":
            run = f"{name}-{seq}"
            self.runs[run] = [at["mono_s"], None]
            self.entries.append(event(seq, "run_started", name, **at, run={"id": run, "why": {}, "target_l": None}))
        elif what == "ended" and run is not None:
            started_s, self.runs[run][1] = self.runs[run][0], at["mono_s"]
            ended = {"id": run, "why": {"id": "stop_command", "values": {}}, "started_mono_s": started_s}
            figures = {"seconds": at["mono_s"] - started_s, "litres": 1.0}
            self.entries.append(event(seq, "run_ended", name, **at, run={**ended, **figures}))
            run = None
        else:
            self.entries.append(row(seq, name, **at, state="standby" if what == "rest" else "producing"))
        return run


ticks = st.tuples(
    st.floats(0.1, 30.0),
    st.sampled_from(["none", "none", "same", "same", "same", "set"]),
    st.floats(-2 * YEAR_S, 2 * YEAR_S),
    st.sampled_from(["row", "row", "row", "rest", "started", "ended"]),
)
boots = st.lists(st.lists(ticks, min_size=1, max_size=25), min_size=1, max_size=4)


@given(boots, st.integers(1, 40), st.booleans())
def test_whatever_the_clock_does_order_lengths_and_sums_stay_right(new_record, boots, cut, reopened):
    path, aboard = new_record(), Aboard()
    for place, said in enumerate(boots):
        aboard.boot(f"b{place}", said)
    batches = [aboard.entries[begin : begin + cut] for begin in range(0, len(aboard.entries), cut)]
    for batch in batches if reopened else ():
        write(path, batch)
    write(path, *(() if reopened else batches))
    write(path)

    with contextlib.closing(sqlite3.connect(path)) as connection:
        samples = connection.execute(
            "SELECT boots.boot, seq, mono_s, wall_s, rows FROM samples JOIN boots ON boots.id = samples.boot"
            " ORDER BY samples.boot, seq"
        ).fetchall()
        rolled = [
            connection.execute(f"SELECT coalesce(sum(rows), 0) FROM rollup_{level}s").fetchone()[0]
            for level in (10, 60, 900, 7200, 86400)
        ]
    for first, second in pairwise(samples):
        assert first[0] < second[0] or first[1:3] < second[1:3]
    assert sum(rows for *_, rows in samples) == sum(entry.kind == "row" for entry in aboard.entries)
    assert all((wall_s is not None) == (name in aboard.dated_boots) for name, _, _, wall_s, _ in samples)
    assert rolled == [sum(rows for *_, wall_s, rows in samples if wall_s is not None)] * 5
    for run in Journal(path).runs():
        started_s, ended_s = aboard.runs[run.run]
        assert run.figures["seconds"] is None or run.figures["seconds"] >= 0
        assert ended_s is None or run.figures["seconds"] == ended_s - started_s
    assert Journal(path).counters().get("high_pressure_pump_s", 0.0) >= 0.0
