import contextlib
import json
import sqlite3

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.link.client import BEGINNING, Position
from halocline.report.journal import Journal
from halocline.report.store import DamagedError, Entry, Store, StoreError, set_aside

WALL_S = 1_790_000_000.0


def hello(boot="b1"):
    return Entry("hello", boot, {"boot": boot, "host_boot": "hb", "version": "0.1.0", "simulated": True})


def row(seq, boot="b1", *, mono_s=None, wall_s=None, out=(), run=None, value=50.0):
    channels = {"vessel_pressure": [value, value - 1, value + 1, 2.5, "good"], "feed_pressure": [None] * 4 + ["open"]}
    content = {
        "seq": seq,
        "mono_s": float(seq) if mono_s is None else mono_s,
        "wall_s": wall_s,
        "state": "producing",
        "ch": channels,
        "d": {"recovery": 0.11},
        "out": list(out),
        "run": run,
    }
    return Entry("row", boot, content)


def event(seq, kind, boot="b1", *, wall_s=None, **content):
    return Entry("event", boot, {"seq": seq, "mono_s": float(seq), "wall_s": wall_s, "kind": kind, **content})


ENDED = {
    "id": "r1",
    "why": {"id": "target_reached", "values": {"litres": 40.0}},
    "first_out": None,
    "started_mono_s": 1.0,
    "seconds": 2400.0,
    "producing_s": 2300.0,
    "litres": 40.0,
    "overboard_l": 3.1,
    "flush_l": None,
    "tds_worst_mg_l": 410.0,
    "tds_mean_mg_l": 350.0,
    "energy_wh": 160.0,
    "peak_pressure_bar": 56.2,
}


@pytest.fixture
def path(tmp_path):
    return tmp_path / "record.sqlite3"


@pytest.fixture
def store(path):
    with contextlib.closing(Store(path)) as store:
        yield store


def rows_of(path, query, *arguments):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute(query, arguments).fetchall()


def test_a_row_is_recorded_raw_and_calibrated_with_its_quality(store, path):
    store.write([hello(), row(1, wall_s=WALL_S)])
    query = (
        "SELECT seq, wall_s, state, vessel_pressure, vessel_pressure_min, vessel_pressure_max,"
        " vessel_pressure_raw, vessel_pressure_quality, feed_pressure, feed_pressure_quality, product_flow_quality,"
        " recovery FROM samples"
    )
    assert rows_of(path, query) == [(1, WALL_S, "producing", 50.0, 49.0, 51.0, 2.5, None, None, "open", None, 0.11)]


def test_an_empty_record_begins_at_the_beginning(store):
    assert store.position == BEGINNING


def test_what_is_replayed_is_recorded_once(store, path):
    store.write([hello(), row(1), row(2)])
    store.write([hello(), row(1), row(2), event(3, "state")])
    assert rows_of(path, "SELECT seq FROM samples") == [(1,), (2,)]
    assert rows_of(path, "SELECT seq FROM events") == [(3,)]
    assert store.position == Position("b1", 3)


def test_a_record_opened_again_goes_on_where_it_was(store, path):
    store.write([row(1), row(2)])
    store.close()
    with contextlib.closing(Store(path)) as again:
        assert again.position == Position("b1", 2)
        again.write([row(2), row(3)])
        assert again.position == Position("b1", 3)
    assert rows_of(path, "SELECT seq FROM samples") == [(1,), (2,), (3,)]
    assert Journal(path).holes() == []


def test_missing_numbers_are_admitted_as_a_hole(store, path):
    assert store.write([row(1), row(5), event(6, "state"), row(9)]).lost == 5
    assert Journal(path).holes() == [
        {"boot": "b1", "from_seq": 7, "to_seq": 8, "reason": "gone"},
        {"boot": "b1", "from_seq": 2, "to_seq": 4, "reason": "gone"},
    ]


def test_a_restart_of_control_leaves_a_hole_whose_end_nobody_knows(store, path):
    store.write([row(1), row(2), row(1, "b2")])
    assert Journal(path).holes() == [{"boot": "b1", "from_seq": 3, "to_seq": None, "reason": "restart"}]
    assert store.position == Position("b2", 1)


def test_a_run_is_recorded_with_its_figures_and_its_flush(store, path):
    store.write(
        [
            event(1, "run_started", wall_s=WALL_S, run={"id": "r1", "why": {"litres": 40}, "target_l": 40.0}),
            event(2, "run_ended", wall_s=WALL_S + 2400, run=ENDED),
            event(3, "flush_ended", run="r1", litres=12.0, seconds=100.0, complete=True, measured=True),
        ]
    )
    (run,) = Journal(path).runs()
    assert (run.run, run.boot, run.started_s, run.ended_s) == ("r1", "b1", WALL_S, WALL_S + 2400)
    assert run.asked == {"litres": 40}
    assert run.why == {"id": "target_reached", "values": {"litres": 40.0}}
    assert run.figures["litres"] == 40.0
    assert run.figures["tds_worst_mg_l"] == 410.0
    assert run.figures["flush_l"] == 12.0
    assert Journal(path).run("r1") == run
    assert Journal(path).run(str(run.id)) == run
    assert Journal(path).run("nothing") is None


def test_who_asked_for_a_run_and_from_where_is_kept_with_it(store, path):
    asked = {"command": "start", "origin": "page", "who": "Ana", "arguments": {}}
    store.write(
        [
            event(1, "command", accepted=True, **asked),
            event(2, "command", accepted=False, **{**asked, "who": "Rui"}),
            event(3, "run_started", run={"id": "r1", "why": {}, "target_l": None}),
        ]
    )
    (run,) = Journal(path).runs()
    assert (run.origin, run.who) == ("page", "Ana")


def test_work_by_hand_is_kept_with_the_counters_as_they_stood(store, path):
    store.write([row(n, out=["feed_pump"]) for n in range(1, 11)])
    store.write([event(11, "log", what="filter_changed", note="5 µm", who="Ana"), row(12, mono_s=12.0)])
    store.write(
        [event(13, "command", command="lay_up", accepted=True, who="Rui", arguments={"preservative": "glycol"})]
    )
    laid_up, changed = Journal(path).work()
    assert (changed.kind, changed.note, changed.who, changed.counters) == (
        "filter_changed",
        "5 µm",
        "Ana",
        {"feed_pump_s": 9.0},
    )
    assert (laid_up.kind, laid_up.note, laid_up.who) == ("lay_up", "glycol", "Rui")


def test_calibrations_are_kept_with_what_was_shown_before_and_after_and_refused_ones_are_not(store, path):
    arguments = {"channel": "feed_pressure", "points": [[0.1, 0.0]], "initials": "A.S."}
    asked = {"command": "calibrate", "who": "Ana", "arguments": arguments}
    made = {"channel": "feed_pressure", "zero": 0.1, "before": [0.1], "after": [0.0], "initials": "A.S."}
    store.write(
        [
            event(1, "command", accepted=True, **asked),
            event(2, "calibration", who="Ana", **made),
            event(3, "command", accepted=False, **asked),
        ]
    )
    (calibration,) = Journal(path).calibrations()
    assert (calibration.kind, calibration.who, calibration.details) == ("feed_pressure", "Ana", made)


def test_a_run_that_goes_on_has_no_end(store, path):
    store.write([event(1, "run_started", run={"id": "r1", "why": {}, "target_l": None})])
    (run,) = Journal(path).runs()
    assert run.why is None
    assert run.ended_s is None


def test_a_run_whose_end_control_did_not_live_to_tell_ends_with_its_last_row(store, path):
    running = {"id": "r1", "litres": 17.5, "energy_wh": 70.0}
    store.write(
        [
            event(1, "run_started", wall_s=WALL_S, run={"id": "r1", "why": {}, "target_l": None}),
            row(2, mono_s=600.0, wall_s=WALL_S + 599, run={**running, "litres": 17.0}),
            row(3, mono_s=601.0, wall_s=WALL_S + 600, run=running),
            row(1, "b2"),
        ]
    )
    (run,) = Journal(path).runs()
    assert run.why == {"id": "control_lost", "values": {}}
    assert (run.figures["litres"], run.figures["energy_wh"], run.figures["seconds"]) == (17.5, 70.0, 600.0)
    assert run.ended_s == WALL_S + 600


def test_alarms_keep_their_life_in_a_journal_newest_first(store, path):
    values = {"pressure_bar": 0.1}
    store.write(
        [
            event(1, "alarm", id="feed_pressure_low", to="unacknowledged", priority="high", values=values),
            event(2, "alarm", id="feed_pressure_low", to="normal", priority="high", values={}),
        ]
    )
    steps = Journal(path).alarms()
    assert [(step.alarm, step.state, step.values) for step in steps] == [
        ("feed_pressure_low", "normal", {}),
        ("feed_pressure_low", "unacknowledged", values),
    ]


def test_hours_and_litres_are_counted_once_however_often_they_are_replayed(store, path):
    rows = [row(n, out=["feed_pump", "high_pressure_pump"]) for n in range(1, 11)]
    store.write([hello(), *rows])
    store.write([hello(), *rows, row(11, mono_s=500.0, out=["feed_pump"]), event(12, "run_ended", run=ENDED)])
    store.write([event(13, "flush_ended", run=None, litres=12.0)])
    assert Journal(path).counters() == {
        "feed_pump_s": 9.0,
        "high_pressure_pump_s": 9.0,
        "runs": 1.0,
        "product_l": 40.0,
        "energy_wh": 160.0,
        "flushes": 1.0,
        "flush_l": 12.0,
    }


def test_rows_without_a_clock_are_dated_once_when_it_is_known(store, path):
    store.write([row(1, mono_s=10.0), event(2, "run_started", run={"id": "r1", "why": {}})])
    store.write([row(3, mono_s=30.0, wall_s=WALL_S), row(4, mono_s=31.0, wall_s=WALL_S + 3600)])
    assert rows_of(path, "SELECT seq, wall_s FROM samples") == [(1, WALL_S - 20), (3, WALL_S), (4, WALL_S + 3600)]
    assert Journal(path).runs()[0].started_s == WALL_S - 28


def test_order_is_kept_by_number_when_the_clock_jumps_back(store, path):
    store.write([row(1, wall_s=WALL_S), row(2, wall_s=WALL_S - 31e6), row(3, wall_s=WALL_S + 2)])
    assert rows_of(path, "SELECT seq FROM samples ORDER BY boot, seq") == [(1,), (2,), (3,)]


def test_an_entry_that_makes_no_sense_is_passed_over_and_the_rest_is_recorded(store, path):
    nonsense = [
        Entry("row", "b1", {"seq": 2}),
        Entry("row", "b1", {"seq": 3, "mono_s": "soon", "out": [1], "ch": 5}),
        Entry("event", "b1", {"seq": 4, "kind": "run_started"}),
        Entry("event", "b1", {"seq": 5, "kind": "run_ended", "run": 7}),
    ]
    assert store.write([row(1), *nonsense, row(6)]).unreadable == 4
    assert rows_of(path, "SELECT seq FROM samples") == [(1,), (6,)]


def test_a_batch_that_cannot_be_written_leaves_nothing_behind(store, path):
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("CREATE TRIGGER full BEFORE INSERT ON events BEGIN SELECT RAISE(ABORT, 'x'); END")
        with pytest.raises(StoreError):
            store.write([row(1), event(2, "state")])
        other.execute("DROP TRIGGER full")
    assert rows_of(path, "SELECT count(*) FROM samples") == [(0,)]
    store.write([row(1), event(2, "state")])
    assert rows_of(path, "SELECT count(*) FROM samples") == [(1,)]
    assert Journal(path).holes() == []


def test_a_file_that_is_no_record_is_told_apart_and_can_be_set_aside(tmp_path):
    path = tmp_path / "record.sqlite3"
    path.write_bytes(b"this was a record once" * 500)
    with pytest.raises(DamagedError) as damage:
        Store(path)
    assert str(damage.value) == f"{path}: the record is damaged: file is not a database"
    assert set_aside(path).name == "record.sqlite3.damaged-1"
    path.write_bytes(b"and once more")
    assert set_aside(path).name == "record.sqlite3.damaged-2"
    with contextlib.closing(Store(path)) as new:
        assert new.position == BEGINNING


def test_a_place_where_no_record_can_be_is_explained(tmp_path):
    (tmp_path / "data").write_text("in the way")
    with pytest.raises(StoreError, match=r"/data: cannot be used for the record: (File exists|Not a directory)$"):
        Store(tmp_path / "data" / "record.sqlite3")


sequences = st.lists(
    st.tuples(st.sampled_from(["b1", "b2", "b3"]), st.integers(1, 30), st.sampled_from(["row", "event"])), max_size=60
)


@given(sequences, st.integers(1, 20))
def test_however_it_is_cut_and_repeated_each_number_is_recorded_or_admitted_missing(tmp_path_factory, said, size):
    """Boots come one after the other, as they do; within one, anything may be repeated or missing."""
    path = tmp_path_factory.mktemp("record") / "record.sqlite3"
    said = sorted(said, key=lambda item: item[0])
    entries = [row(seq, boot) if kind == "row" else event(seq, "state", boot) for boot, seq, kind in said]
    with contextlib.closing(Store(path)) as store:
        for start in range(0, len(entries), size):
            store.write(entries[start : start + size])
    query = "SELECT boots.boot, seq FROM {0} JOIN boots ON boots.id = {0}.boot"
    recorded = rows_of(path, query.format("samples")) + rows_of(path, query.format("events"))
    assert len(recorded) == len(set(recorded))
    for boot in {boot for boot, _, _ in said}:
        seen = {seq for name, seq in recorded if name == boot}
        missing = {
            seq
            for hole in Journal(path).holes()
            if hole["boot"] == boot and hole["to_seq"] is not None
            for seq in range(hole["from_seq"], hole["to_seq"] + 1)
        }
        assert seen | missing == set(range(1, max(seen) + 1))
        assert not seen & missing


def test_what_an_event_said_is_kept_whole(store, path):
    store.write(
        [event(1, "state", **{"from": "standby", "to": "priming", "why": {"id": "command_start", "values": {}}})]
    )
    ((body,),) = rows_of(path, "SELECT body FROM events")
    assert json.loads(body)["to"] == "priming"
