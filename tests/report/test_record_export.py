import contextlib
import csv
import io
import json
import sqlite3
import time

import pytest

from halocline.link.captures import pieces
from halocline.report import export
from halocline.report.database_open import StoreError
from halocline.report.export import FORMATS, TABLES, Selection, as_csv, as_json_lines, rows
from halocline.report.journal import Journal
from halocline.report.store import Entry, Store

WALL_S = 1_790_000_000.0


def test_everything_that_can_be_exported_comes_with_its_time_and_its_boot(evening):
    for what in TABLES:
        found = list(rows(evening, Selection(what)))
        assert found or what in ("holes", "captures")
        for row in found:
            assert next(iter(row)) == "time"
            assert row.get("boot", "b1") == "b1"


def test_samples_come_in_the_order_of_recording_a_few_at_a_time(evening, monkeypatch):
    monkeypatch.setattr(export, "STEP_ROWS", 7)
    shares = []
    found = list(rows(evening, Selection("samples"), shares.append))
    assert [row["seq"] for row in found] == sorted(row["seq"] for row in found)
    assert sum(row["rows"] for row in found) == 660
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert found[0]["time"] == "2026-09-21T14:15:01.000Z"


def test_a_span_is_what_lies_between_two_moments(evening):
    found = list(rows(evening, Selection("samples", WALL_S + 200, WALL_S + 210)))
    assert [row["mono_s"] for row in found] == [200.0 + n for n in range(10)]
    assert [row["rows"] for row in rows(evening, Selection("1min", WALL_S + 200, WALL_S + 260))] == [60, 60]
    assert list(rows(evening, Selection("events", WALL_S + 9e5))) == []


def test_a_run_is_what_belongs_to_it(evening):
    run = Journal(evening).run("b1-1")
    found = list(rows(evening, Selection("samples", run=run)))
    assert len(found) == 600
    assert {row["run"] for row in found} == {"b1-1"}
    assert [row["kind"] for row in rows(evening, Selection("events", run=run))] == [
        "command",
        "state",
        "run_started",
        "alarm",
        "run_ended",
        "flush_ended",
    ]
    assert [row["litres"] for row in rows(evening, Selection("runs", run=run))] == [9.5]
    assert sum(row["rows"] for row in rows(evening, Selection("10s", run=run))) >= 600


def test_csv_can_be_read_by_any_csv_reader_and_hides_no_formula(evening):
    text = "".join(as_csv(rows(evening, Selection("work"))))
    (work,) = csv.DictReader(io.StringIO(text))
    assert work["kind"] == "filter_changed"
    assert work["note"] == "'=both, brown"
    assert json.loads(work["counters"])["product_l"] == 9.5


def test_json_lines_are_one_object_each_and_leave_out_what_is_not_known(evening):
    lines = list(as_json_lines(rows(evening, Selection("events"))))
    first = json.loads(lines[0])
    assert first["body"]["command"] == "start"
    assert all(line.endswith("\n") and line.count("\n") == 1 for line in lines)
    sample = json.loads(next(as_json_lines(rows(evening, Selection("samples")))))
    assert "tank_fill" not in sample
    assert sample["vessel_pressure"] == 55.0


def test_an_export_does_not_hold_up_the_recorder(evening):
    """A reader that stays inside one view of the file would keep the journal from being folded in for hours."""
    found = rows(evening, Selection("samples"))
    next(found)
    with contextlib.closing(sqlite3.connect(evening)) as connection:
        busy, _, _ = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    assert busy == 0
    assert sum(1 for _ in found) > 500


def test_a_long_export_takes_little_memory_and_begins_at_once(evening):
    begin_s = time.perf_counter()
    assert next(FORMATS["csv"](rows(evening, Selection("samples")))).startswith("time,boot,seq")
    assert time.perf_counter() - begin_s < 2.0


def test_a_record_that_is_not_there_is_said(tmp_path):
    with pytest.raises(StoreError, match="the record cannot be read"):
        list(rows(tmp_path / "none.sqlite3", Selection("samples")))


@pytest.fixture
def captured(evening):
    """The evening, and a second at the rate of the loop that control told when it was over."""
    ticks = [(900.0 + 0.05 * tick, (0.5, float(tick))) for tick in range(20)]
    (piece,) = pieces(("feed_pressure", "vessel_pressure"), ticks)
    told = {"seq": 900, "mono_s": 930.0, "wall_s": WALL_S + 930.0, "kind": "capture", "cause": 402, **piece}
    with contextlib.closing(Store(evening)) as store:
        store.write([Entry("event", "b1", told)])
    return evening


def test_captures_come_tick_by_tick_and_are_in_no_other_list(captured):
    found = list(rows(captured, Selection("captures")))
    assert [row["vessel_pressure"] for row in found] == [float(tick) for tick in range(20)]
    assert {(row["feed_pressure"], row["sea_temperature"], row["cause"]) for row in found} == {(0.5, None, 402)}
    assert [row["mono_s"] for row in found] == [pytest.approx(900.0 + 0.05 * tick) for tick in range(20)]
    assert [found[0]["time"], found[-1]["time"]] == ["2026-09-21T14:28:20.000Z", "2026-09-21T14:28:20.950Z"]
    assert "capture" not in {row["kind"] for row in rows(captured, Selection("events"))}
    assert "capture" not in {event.kind for event in Journal(captured).events()}


def test_a_spoiled_piece_of_a_capture_hides_no_other(captured):
    spoiled = {"seq": 901, "mono_s": 931.0, "wall_s": WALL_S + 931.0, "kind": "capture", "data": 3}
    with contextlib.closing(Store(captured)) as store:
        store.write([Entry("event", "b1", spoiled)])
    assert len(list(rows(captured, Selection("captures")))) == 20
