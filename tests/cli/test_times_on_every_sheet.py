"""Every list and sheet that is made of the record tells times in the boat's zone, and names it."""

import contextlib
import re
import time

import pytest

from halocline.cli.main import main
from halocline.report.store import Entry, Store

JANUARY_S = 1_768_396_507.0  # 2026-01-14 13:15:07 UTC
CLOCK = re.compile(r"\b\d{1,2}:\d{2}(?::\d{2})?(?![\d:])(?! UTC-01)(?! UTC\+00)")


def at(seq, kind, **content):
    event = {"seq": seq, "mono_s": float(seq), "wall_s": JANUARY_S + seq, "kind": kind, **content}
    return Entry("event", "b1", event)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A record of one run, read by a computer among the Azores."""
    refused = {"id": "motor_needs_rest", "values": {"seconds": 700.0, "until_wall_s": JANUARY_S + 700}}
    ended = {"id": "r1", "why": {"id": "target_litres", "values": {"litres": 9.0}}, "seconds": 3.0, "litres": 9.0}
    row = {"seq": 8, "mono_s": 8.0, "wall_s": JANUARY_S + 8, "state": "standby", "ch": {}, "out": []}
    with contextlib.closing(Store(tmp_path / "record.sqlite3")) as store:
        store.write(
            [
                at(1, "command", command="start", origin="page", who="Ana", accepted=False, reasons=[refused]),
                at(2, "run_started", run={"id": "r1", "why": {"litres": 9.0}, "target_l": 9.0}),
                at(3, "state", **{"from": "standby", "to": "producing", "why": {"id": "start_accepted", "values": {}}}),
                at(5, "run_ended", run=ended),
                at(6, "log", what="filter_changed", note="both", who="Ana"),
                at(7, "calibration", who="Ana", channel="feed_pressure", before=[0.1], after=[0.0], initials="A.S."),
                Entry("row", "b1", row),
            ]
        )
    monkeypatch.setenv("TZ", "Atlantic/Azores")
    time.tzset()
    yield tmp_path
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("command", "expected"),
    [
        (["runs"], "2026-01-14 12:15 UTC-01"),
        (["runs", "last"], "2026-01-14 12:15 UTC-01"),
        (["runs", "last", "--html", "sheet.html"], "2026-01-14 12:15 UTC-01"),
        (["log"], "2026-01-14 12:15 UTC-01"),
        (["log", "--events"], "2026-01-14 12:15:08 UTC-01"),
        (["log", "--events"], "2026-01-14 12:15:12 UTC-01"),
        (["backup"], "2026-01-14"),
    ],
)
def test_times_are_those_of_the_boats_zone_and_name_it(folder, monkeypatch, capsys, command, expected):
    monkeypatch.chdir(folder)
    assert main([*command, "--data", str(folder)]) == 0
    told = capsys.readouterr().out
    sheet = folder / "sheet.html"
    told += sheet.read_text(encoding="utf-8") if sheet.exists() else ""
    assert expected in told
    assert not CLOCK.search(told), f"{CLOCK.search(told)[0]} names no zone"


def test_the_span_of_a_copy_is_told_in_days_of_the_boat(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("TZ", "Atlantic/Azores")  # an hour behind: there it is still the 13th
    time.tzset()
    try:
        with contextlib.closing(Store(tmp_path / "record.sqlite3")) as store:
            content = {"seq": 1, "mono_s": 1.0, "wall_s": JANUARY_S - 45_907, "state": "standby", "ch": {}, "out": []}
            store.write([Entry("row", "b1", content)])
        assert main(["backup", "--data", str(tmp_path)]) == 0
    finally:
        monkeypatch.undo()
        time.tzset()
    assert "2026-01-13 to 2026-01-13" in capsys.readouterr().out


def test_columns_stand_under_each_other_whatever_the_zone_is_called(folder, capsys):
    assert main(["runs", "--data", str(folder)]) == 0
    head, first = capsys.readouterr().out.splitlines()[:2]
    assert head.index("lasted") + len("lasted") == first.index("3 s") + len("3 s")
    assert main(["log", "--events", "--data", str(folder)]) == 0
    head, *lines = capsys.readouterr().out.splitlines()
    assert {line[: head.index("what")].rstrip()[-6:] for line in lines} == {"UTC-01"}
