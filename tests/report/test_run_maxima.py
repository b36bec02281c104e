"""The highest pressure of a run is the highest there was until the pressure is gone, whoever ended the run and how."""

import contextlib
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.cli.main import main
from halocline.plant import words
from halocline.plant.settings import UnitSettings
from halocline.rehearsal import scenario
from halocline.rehearsal.scenario_runner import ScenarioRunner
from halocline.report.journal import Journal
from halocline.report.public import run_message
from halocline.report.run_report import run_report
from halocline.report.run_sheet import facts
from halocline.report.store import Entry, Store

REHEARSALS = Path(__file__).parents[1] / "rehearsals"


def recorded(name, path, *, reopened=False):
    """A rehearsal as report would record it, a batch at each event and at the end; the plant's truth."""
    stage = ScenarioRunner(scenario.load(REHEARSALS / f"{name}.toml"), 1)
    stage._tick._live = True
    entries, seq = [], 0
    run = stage._tick.run

    def heard(commands, missed):
        nonlocal seq
        news = run(commands, missed)
        for event in news.events:
            seq += 1
            entries.append(Entry("event", "b1", {"seq": seq, "mono_s": news.mono_s, "wall_s": None, **event}))
        if news.row is not None:
            seq += 1
            entries.append(Entry("row", "b1", {"seq": seq, "mono_s": news.mono_s, "wall_s": None, **news.row}))
        return news

    stage._tick.run = heard
    truth = stage.play()["truth"]
    store = Store(path)
    batch = []
    for entry in entries:
        batch.append(entry)
        if entry.kind == "event":
            store.write(batch)
            batch = []
            if reopened:
                store.close()
                store = Store(path)
    store.write(batch)
    store.close()
    return truth


@pytest.mark.parametrize("reopened", [False, True])
@pytest.mark.parametrize(
    "name",
    [
        "brine_blocked_at_0_1_bar_a_millisecond",
        "brine_blocked_at_1_0_bar_a_millisecond",
        "nobody_opens_the_regulator_at_the_stop",
    ],
)
def test_a_rehearsed_trip_tells_the_peak_that_the_boat_saw(name, tmp_path, reopened):
    path = tmp_path / "record.sqlite3"
    truth = recorded(name, path, reopened=reopened)
    run = Journal(path).runs()[-1]
    assert run.figures["peak_pressure_bar"] == pytest.approx(truth["peak_vessel_pressure_bar"], abs=1.0)
    told = words.quantity(run.figures["peak_pressure_bar"], "bar")
    assert told in run_report(path, run, "Cagarra", UnitSettings())


def row(seq, high, *, run=None, state="producing", boot="b1", low=None):
    reading = (
        [None, None, None, None, "open"]
        if high is None
        else [(high + (low or high)) / 2, low or high, high, 1.0, "good"]
    )
    running = None if run is None else {"id": run, "litres": seq / 60, "energy_wh": float(seq)}
    content = {"seq": seq, "mono_s": float(seq), "wall_s": None, "state": state, "run": running, "out": []}
    return Entry("row", boot, {**content, "ch": {"vessel_pressure": reading}})


def event(seq, kind, boot="b1", **content):
    return Entry("event", boot, {"seq": seq, "mono_s": float(seq), "wall_s": None, "kind": kind, **content})


def started(seq, run="r1", boot="b1"):
    return event(seq, "run_started", boot, run={"id": run, "why": {}, "target_l": None})


def ended(seq, run="r1", peak=50.0):
    return event(seq, "run_ended", run={"id": run, "why": {"id": "x"}, "seconds": 1.0, "peak_pressure_bar": peak})


@given(
    before=st.lists(st.floats(20, 80), min_size=1, max_size=8),
    after=st.lists(st.floats(5.5, 80), max_size=8),
    later=st.lists(st.floats(0, 90), max_size=4),
    told=st.one_of(st.none(), st.floats(20, 60)),
    cuts=st.lists(st.integers(1, 24), max_size=6),
)
@settings(max_examples=60, deadline=None)
def test_no_row_before_the_pressure_is_gone_is_higher_than_the_run_says(new_record, before, after, later, told, cuts):
    entries = [started(1)]
    entries += [row(2 + at, high, run="r1") for at, high in enumerate(before)]
    entries += [ended(len(entries) + 1, peak=told)]
    entries += [row(len(entries) + 1 + at, high, state="tripped") for at, high in enumerate(after)]
    entries += [row(len(entries) + 1, 0.4, state="tripped")]
    entries += [row(len(entries) + 1 + at, high, state="hand_run") for at, high in enumerate(later)]
    path = new_record()
    places = sorted({0, len(entries), *(cut for cut in cuts if cut < len(entries))})
    for begin, end in pairwise(places):
        with contextlib.closing(Store(path)) as store:
            store.write(entries[begin:end])
    (run,) = Journal(path).runs()
    assert run.figures["peak_pressure_bar"] == pytest.approx(max([*before, *after, told or 0.0]))


def test_pressure_of_a_later_run_is_not_that_of_the_one_before(new_record):
    path = new_record()
    with contextlib.closing(Store(path)) as store:
        store.write([started(1), row(2, 50.0, run="r1"), ended(3), row(4, None, state="tripped")])
        store.write([row(5, 0.1, state="standby"), started(6, "r2"), row(7, 60.0, run="r2")])
    newer, older = Journal(path).runs()
    assert (newer.figures["peak_pressure_bar"], older.figures["peak_pressure_bar"]) == (60.0, 50.0)


def test_a_run_that_was_cut_off_says_at_least_on_every_face(new_record):
    path = new_record()
    rows = [row(seq, 55.0 if seq != 4 else 61.0, run="r1") for seq in range(2, 62)]
    with contextlib.closing(Store(path)) as store:
        store.write([started(1), *rows])
        store.write([row(1, 0.0, boot="b2", state="standby")])
    (run,) = Journal(path).runs()
    assert run.cut_off
    assert run_message(run, UnitSettings())["cut_off"] is True
    assert run.figures["peak_pressure_bar"] == 61.0
    for figure in ("seconds", "litres", "peak_pressure_bar", "energy_wh"):
        assert words.run_figure(figure, run.figures, cut_off=True).startswith("at least ")
    sheet = run_report(path, run, "Cagarra", UnitSettings())
    assert "at least 60 s" in sheet or "at least 1 min" in sheet
    assert "at least 61 bar" in sheet


def test_a_run_cut_off_as_the_tank_opened_says_that_it_was_open_and_not_that_it_got_nothing(tmp_path, capsys):
    """Rows wait a minute for their batch, a change of the state does not: killed within it, the record has the state
    alone."""
    path = tmp_path / "record.sqlite3"
    last = {**row(2, 55.0, run="r1").content, "run": {"id": "r1", "litres": 0.0, "energy_wh": 0.4}}
    opened = event(3, "state", **{"from": "diverting", "to": "producing", "why": {"id": "x"}})
    with contextlib.closing(Store(path)) as store:
        store.write([started(1), Entry("row", "b1", last), opened])
        store.write([row(1, 0.0, boot="b2", state="standby")])
    (run,) = Journal(path).runs()
    told = dict(facts(run, UnitSettings()))
    assert told["Into the tank"] == "the tank was open; how much it got is not on record"
    assert told["Time into the tank"] == "the tank was open; for how long is not on record"
    assert told["Salt, mean in the tank"] == told["Salt, highest sample"] == "not on record"
    assert told["First cause"] == "none on record"
    sheet = run_report(path, run, "Cagarra", UnitSettings())
    assert "None on record." in sheet
    for command in (["runs", "last"], ["runs"]):
        assert main([*command, "--data", str(path.parent)]) == 0
        out = capsys.readouterr().out
        assert not any(said in out for said in ("at least 0 ", "no water", "≥ 0 ")), out


def test_the_time_into_the_tank_of_a_run_cut_off_is_that_of_its_states(new_record):
    path = new_record()
    states = [(3, "producing"), (10, "diverting"), (20, "producing")]
    with contextlib.closing(Store(path)) as store:
        store.write([started(1), *(event(seq, "state", to=to) for seq, to in states), row(30, 55.0, run="r1")])
        store.write([row(1, 0.0, boot="b2", state="standby")])
    (run,) = Journal(path).runs()
    assert run.figures["producing_s"] == 17.0


def test_a_run_cut_off_before_its_first_row_lasted_at_least_until_the_last_thing_that_was_said(new_record):
    path = new_record()
    with contextlib.closing(Store(path)) as store:
        store.write([started(1), event(9, "state", **{"from": "priming", "to": "pressurising", "why": {"id": "x"}})])
        store.write([row(1, 0.0, boot="b2", state="standby")])
    (run,) = Journal(path).runs()
    assert run.figures["seconds"] == 8.0
    assert run.ended_mono_s == 9.0
