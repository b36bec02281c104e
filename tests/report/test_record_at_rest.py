import contextlib
import sqlite3

from hypothesis import given
from hypothesis import strategies as st

from halocline.link.client import Position
from halocline.report.store import Entry, Store

WALL_S = 1_790_000_000.0


def row(seq, *, wall_s=None, state="standby", value=1.0, low=None, high=None, quality="good", out=()):
    content = {
        "seq": seq,
        "mono_s": float(seq),
        "wall_s": wall_s,
        "state": state,
        "ch": {"feed_pressure": [value, low, high, 0.6, quality]},
        "d": {},
        "out": list(out),
        "run": None,
    }
    return Entry("row", "b1", content)


def samples(path):
    query = "SELECT seq, rows, feed_pressure_min, feed_pressure, feed_pressure_max FROM samples ORDER BY seq"
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute(query).fetchall()


def record(tmp_path, *entries):
    path = tmp_path / "record.sqlite3"
    with contextlib.closing(Store(path)) as store:
        written = store.write(entries)
        assert store.position == Position("b1", entries[-1].content["seq"])
    assert written.recorded == len(entries)
    return path


def test_at_rest_one_row_in_ten_seconds_is_written_and_says_for_how_many_it_stands(tmp_path):
    path = record(tmp_path, *[row(n, wall_s=WALL_S + n - 1) for n in range(1, 61)])
    assert [(seq, rows) for seq, rows, *_ in samples(path)] == [(10 * n, 10) for n in range(1, 7)]


def test_a_spike_at_rest_survives(tmp_path):
    rows = [row(n, wall_s=WALL_S + n) for n in range(10)]
    rows[4] = row(4, wall_s=WALL_S + 4, value=1.2, low=0.1, high=9.5)
    path = record(tmp_path, *rows[1:])
    assert samples(path) == [(9, 9, 0.1, 1.0222, 9.5)]


def test_whatever_changes_is_written_when_it_changes(tmp_path):
    changing = [
        row(1, wall_s=WALL_S),
        row(2, wall_s=WALL_S + 1),
        row(3, wall_s=WALL_S + 2, quality="stale", value=None),
        row(4, wall_s=WALL_S + 3),
        row(5, wall_s=WALL_S + 4, out=["buzzer"]),
        row(6, wall_s=WALL_S + 5),
    ]
    assert [(seq, rows) for seq, rows, *_ in samples(record(tmp_path, *changing))] == [
        (2, 2),
        (3, 1),
        (4, 1),
        (5, 1),
        (6, 1),
    ]


def test_while_water_is_made_every_second_is_written(tmp_path):
    path = record(tmp_path, *[row(n, wall_s=WALL_S + n, state="producing") for n in range(1, 31)])
    assert len(samples(path)) == 30


def test_laid_up_is_rest_and_tripped_is_not(tmp_path):
    rows = [row(n, wall_s=WALL_S + n, state="laid_up" if n < 10 else "tripped") for n in range(1, 20)]
    assert [rows for _, rows, *_ in samples(record(tmp_path, *rows))] == [9] + [1] * 10


states = st.sampled_from(["standby", "standby", "standby", "laid_up", "producing"])
said = st.lists(st.tuples(states, st.sampled_from([1.0, 2.5, None]), st.booleans()), min_size=1, max_size=80)


@given(said, st.integers(1, 80), st.booleans())
def test_however_rest_is_cut_every_row_is_recorded_once_and_its_extremes_stay(new_record, said, cut, dated):
    path = new_record()
    entries = []
    for n, (state, value, is_event) in enumerate(said, 1):
        if is_event:
            content = {"seq": n, "mono_s": float(n), "wall_s": None, "kind": "state"}
            entries.append(Entry("event", "b1", content))
        else:
            entries.append(row(n, wall_s=WALL_S + n if dated else None, state=state, value=value))
    with contextlib.closing(Store(path)) as store:
        for begin in range(0, len(entries), cut):
            batch = entries[begin : begin + cut]
            store.write(batch)
            store.write(batch)
        assert store.position.seq == len(entries)
    rows = [entry for entry in entries if entry.kind == "row"]
    found = samples(path)
    assert sum(count for _, count, *_ in found) == len(rows)
    assert {seq for seq, *_ in found} <= {entry.content["seq"] for entry in rows}
    known = [v for entry in rows if (v := entry.content["ch"]["feed_pressure"][0]) is not None]
    assert min((v for v in (r[2] or r[3] for r in found) if v is not None), default=None) == min(known, default=None)
    assert max((v for v in (r[4] or r[3] for r in found) if v is not None), default=None) == max(known, default=None)
