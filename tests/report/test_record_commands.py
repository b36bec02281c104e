"""The commands about the record, as a person types them."""

import contextlib
import csv
import io
import json
import os
import shutil
import sqlite3
import subprocess
import sys

import pytest

from halocline.cli import main as command_line
from halocline.cli.moments import moment
from halocline.cli.progress import Progress
from halocline.plant.words.moments import minute_of
from halocline.report.backup import verify
from halocline.report.store import Store

STARTED_S = 1_790_000_100.0
"""2026-09-21 14:15 UTC."""


@pytest.fixture
def halocline(evening, capfd):
    """Runs a command on the evening's record; gives status, output and errors."""

    def run(*words):
        status = command_line.main([*words, "--data", str(evening.parent)])
        out, err = capfd.readouterr()
        return status, out, err

    return run


def set_in_runs(record, what, *values):
    with contextlib.closing(sqlite3.connect(record)) as connection, connection:
        connection.execute(f"UPDATE runs SET {what}", values)


def test_runs_are_listed_with_what_was_made_and_why_they_ended(halocline):
    status, out, _ = halocline("runs")
    assert status == 0
    assert minute_of(STARTED_S) in out
    assert "9.5 L" in out
    assert "9 L went to the tank, as asked." in out


def test_runs_as_json_are_those_of_the_api(halocline):
    _, out, _ = halocline("runs", "--json")
    (run,) = json.loads(out)["runs"]
    assert (run["run"], run["litres"], run["who"], run["why_id"]) == ("b1-1", 9.5, "Ana", "target_litres")
    _, out, _ = halocline("runs", "last", "--json")
    told = json.loads(out)
    assert told["configuration"] == {"limits": {"accept_tds_mg_l": 500.0, "vessel_pressure_high_bar": 60.0}}
    _, out, _ = halocline("runs", "1")
    assert "salt, one sample   410 mg/L" in out


def test_a_run_is_told_in_plain_times_and_figures(halocline):
    _, out, _ = halocline("runs", "last")
    assert f"  started            {minute_of(STARTED_S)}\n" in out
    assert "  asked by           Ana, page\n" in out
    assert "  flushed with       12 L\n" in out


def test_a_run_without_a_flush_is_not_said_to_be_flushed_with_anything(halocline, evening):
    set_in_runs(evening, "flush_l = NULL, litres = 0, tds_mean_mg_l = NULL, tds_worst_mg_l = NULL")
    _, out, _ = halocline("runs", "last")
    assert "  flushed with       no flush on record\n" in out
    assert "  salt, mean         no water went to the tank\n" in out


def test_a_run_that_goes_on_has_no_figures_yet(halocline, evening):
    set_in_runs(evening, "why = NULL, seconds = NULL, flush_l = NULL")
    _, out, _ = halocline("runs", "last")
    assert "  ended              goes on\n" in out
    assert out.endswith("halocline status tells what there is so far.\n")
    assert "flushed with" not in out


def test_the_list_of_runs_leaves_what_to_do_to_the_run_itself(halocline, evening):
    why = {"id": "feed_pressure_low_low", "values": {"pressure_bar": 0.11, "limit_bar": 0.15}}
    set_in_runs(evening, "why = ?", json.dumps(why))
    assert halocline("runs")[1].endswith("  Pump inlet pressure fell to 0.11 bar, limit 0.15 bar.\n")
    assert "limit 0.15 bar. Check seacock, strainer, pump, filters.\n" in halocline("runs", "last")[1]


def test_a_run_goes_to_a_sheet_of_paper(halocline, tmp_path):
    status, out, _ = halocline("runs", "last", "--html", str(tmp_path / "run.html"))
    assert (status, out) == (0, f"Run 1 is on {tmp_path / 'run.html'}; open it in a browser and print it.\n")
    assert (tmp_path / "run.html").read_text().startswith("<!doctype html>")


def test_a_run_that_is_not_there_is_said_in_one_line(halocline):
    assert halocline("runs", "77") == (
        1,
        "",
        "halocline runs: there is no run 77 in the record; halocline runs lists them\n",
    )


def test_a_folder_without_a_record_is_said_in_one_line(tmp_path, capfd):
    for command in ("runs", "export", "backup", "log"):
        assert command_line.main([command, "--data", str(tmp_path)]) == 1
        assert capfd.readouterr().err == (
            f"halocline {command}: there is no record in {tmp_path}. Name the folder with --data\n"
        )


def test_what_is_missing_is_listed(halocline):
    assert halocline("runs", "--holes") == (0, "Nothing is missing.\n", "")
    assert json.loads(halocline("runs", "--holes", "--json")[1]) == {"holes": [], "unaccounted": [], "aside": []}


@pytest.mark.parametrize("name", ["record.sqlite3.damaged-1", "record.sqlite3-wal.rejected-12"])
def test_nothing_is_called_whole_while_something_lies_aside(halocline, evening, name):
    aside = evening.with_name(name)
    aside.write_bytes(b"rust")
    _, out, _ = halocline("runs", "--holes")
    assert "Nothing is missing" not in out
    assert name in out
    assert "halocline salvage" in out
    assert json.loads(halocline("runs", "--holes", "--json")[1])["aside"] == [name]
    aside.unlink()
    aside.with_name(f"{name}.salvaged.sqlite3").write_bytes(b"")
    assert halocline("runs", "--holes")[1] == "Nothing is missing.\n"


@pytest.mark.parametrize(
    ("hole", "said"),
    [
        ((6, None, "restart"), "control was started anew; what it told last before that, from number 6 on, may be "),
        ((6, None, "damaged"), "what control told from number 6 on is missing, and how much that was is not known: "),
        ((6, 9, "gone"), "numbers 6 to 9 are missing: control no longer had them"),
        ((6, 6, "unreadable"), "number 6 is missing: the record could make no sense of what was told"),
    ],
)
def test_each_kind_of_hole_is_a_plain_sentence(halocline, evening, hole, said):
    with contextlib.closing(sqlite3.connect(evening)) as connection, connection:
        connection.execute("INSERT INTO holes (boot, from_seq, to_seq, reason) SELECT id, ?, ?, ? FROM boots", hole)
    status, out, _ = halocline("runs", "--holes")
    assert status == 0
    assert f"b1: {said}" in out


def test_what_salvage_could_not_save_is_counted_in_rows_of_control(halocline, evening):
    with contextlib.closing(sqlite3.connect(evening)) as connection, connection:
        ((seq, rows),) = connection.execute("SELECT seq, rows FROM samples WHERE rows > 1 LIMIT 1").fetchall()
        connection.execute("DELETE FROM samples WHERE seq = ?", (seq,))
    aside = evening.rename(evening.with_name("record.sqlite3.damaged-1"))
    status, out, _ = halocline("salvage", str(aside))
    assert status == 0
    assert f"{rows} rows or events that control told could not be saved; at rest up to ten such rows are one" in out


def test_an_export_goes_to_standard_output_or_a_file(halocline, tmp_path):
    _, out, _ = halocline("export", "events")
    assert len(list(csv.DictReader(io.StringIO(out)))) == 8
    _, out, _ = halocline("export", "--format", "jsonl", "--run", "last")
    assert len(out.splitlines()) == 600
    status, out, _ = halocline("export", "1min", "-o", str(tmp_path / "minutes.csv"))
    assert (status, out) == (0, "")
    assert len((tmp_path / "minutes.csv").read_text().splitlines()) > 10


def test_an_export_of_a_span_takes_times_as_people_write_them(halocline):
    _, out, _ = halocline("export", "--from", "2026-09-21T14:20:00+00:00", "--to", "2026-09-21T14:20:10+00:00")
    assert len(out.splitlines()) == 11
    assert halocline("export", "--from", "2026-09-21", "--run", "last")[0] == 2


def test_times_are_dates_or_a_while_ago():
    assert moment("2026-09-21T14:13:20+00:00") == 1_790_000_000.0
    assert moment("now") - moment("-2h") == pytest.approx(7200, abs=1)
    assert moment("now") - moment("-30d") == pytest.approx(30 * 86400, abs=1)


def test_a_time_that_is_none_is_refused_with_examples(halocline, capfd):
    with pytest.raises(SystemExit) as ending:
        halocline("export", "--from", "yesterday")
    assert ending.value.code == 2
    assert "yesterday is no time: write 2026-07-01, 2026-07-01T08:30, now, or how long ago" in capfd.readouterr().err


def test_a_backup_is_made_checked_and_put_back(halocline, evening, tmp_path):
    status, out, err = halocline("backup", "--to", str(tmp_path / "copies"), "--keep", "2")
    assert (status, err) == (0, "")
    assert "checked, 607 samples, 8 events, 1 runs, 2026-09-21 to 2026-09-21" in out
    (copy,) = (tmp_path / "copies").iterdir()
    status, out, _ = halocline("restore", str(copy))
    assert status == 0
    assert f"{evening}: restored, 607 samples" in out
    assert f"The former record is {evening}.replaced-1" in out


def test_a_copy_that_is_none_is_not_put_back(halocline, evening, tmp_path):
    (tmp_path / "copy").write_text("nothing")
    status, out, err = halocline("restore", str(tmp_path / "copy"))
    assert (status, out) == (1, "")
    assert "the record is damaged" in err
    assert halocline("restore", str(tmp_path / "none"))[0] == 2
    assert verify(evening).events == 8


def test_a_restore_while_halocline_runs_is_refused(halocline, evening, tmp_path):
    copy = tmp_path / "copy.sqlite3"
    shutil.copy(evening, copy)
    with contextlib.closing(Store(evening)):
        status, _, err = halocline("restore", str(copy))
    assert status == 1
    assert "End the halocline that uses this folder first" in err


def test_salvage_says_what_it_saved_and_what_to_do_with_it(halocline, evening):
    aside = evening.with_name("record.sqlite3.damaged-1")
    shutil.copy(evening, aside)
    status, out, _ = halocline("salvage", "record.sqlite3.damaged-1")
    assert status == 0
    assert "607 samples, 8 events" in out
    assert f"halocline restore {aside}.salvaged.sqlite3 --data {evening.parent}" in out


def test_work_is_listed_from_the_record(halocline):
    status, out, _ = halocline("log")
    assert status == 0
    heading, newest, before = out.splitlines()
    assert heading.split() == ["time", "what,", "and", "who"]
    assert newest.endswith("  Calibrated: pump inlet pressure (A.S.).  (Ana)")
    assert before == f"{minute_of(STARTED_S + 660)}  Filters changed: =both, brown  (Ana)"
    said = json.loads(halocline("log", "--json")[1])
    (work,) = said["work"]
    assert (work["kind"], work["counters"]["product_l"]) == ("filter_changed", 9.5)
    (calibration,) = said["calibrations"]
    assert (calibration["channel"], calibration["before"], calibration["after"]) == ("feed_pressure", [0.1], [0.0])
    for fewest in ("1", "0", "-3"):
        assert len(halocline("log", "--limit", fewest)[1].splitlines()) == 2
    assert halocline("log", "add")[0] == 2


def test_all_that_happened_is_listed_with_who_ordered_it(halocline):
    status, out, _ = halocline("log", "--events")
    assert status == 0
    lines = [line[out.index("what") :] for line in out.splitlines()]
    assert lines == [
        "what, and who",
        "Calibrated: pump inlet pressure (A.S.).  (Ana)",
        "Filters changed: =both, brown  (Ana)",
        "Flushed with 12 L.",
        "The run ended after 10 min: 9 L went to the tank, as asked.",
        "Alarm “Membrane pressure high”: raised.",
        "A run began, 9 L wanted.",
        "Making water: a start was ordered.",
        "Start: accepted.  (Ana, page)",
    ]
    assert len(halocline("log", "--events", "--limit", "3")[1].splitlines()) == 4
    (newest, *_) = json.loads(halocline("log", "--events", "--json")[1])["events"]
    assert (newest["kind"], newest["text"]) == ("calibration", "Calibrated: pump inlet pressure (A.S.).")


def test_work_is_noted_through_control(halocline, control, evening, capfd):
    plant = control()
    plant.answers["log"] = [{"id": "latch_not_writable", "values": {}}]
    status = command_line.main(["log", "add", "oil_changed", "0.3 L,", "clear", "--socket", plant.path])
    assert status == 1
    assert capfd.readouterr().out.startswith("log entry: refused")
    (command,) = plant.commands
    assert (command["command"], command["kind"], command["note"]) == ("log", "oil_changed", "0.3 L, clear")


def test_an_export_into_a_closed_pipe_ends_quietly(evening):
    command = [sys.executable, "-m", "halocline", "export", "--data", str(evening.parent)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    process.stdout.readline()
    process.stdout.close()
    assert b"Traceback" not in process.stderr.read()
    process.stderr.close()
    assert process.wait(timeout=20) in (0, 1)


class Stream(io.StringIO):
    def __init__(self, terminal):
        super().__init__()
        self._terminal = terminal

    def isatty(self):
        return self._terminal


def drawn(terminal):
    stream, now_s = Stream(terminal), 0.0

    def clock():
        return now_s

    with Progress("backup", stream, clock) as progress:
        for share in (0.0, 0.25, 0.5, 1.0):
            now_s += 10.0
            progress(share)
    return stream.getvalue()


def test_a_terminal_sees_a_bar_that_goes_away(monkeypatch):
    monkeypatch.setattr(shutil, "get_terminal_size", lambda **_: os.terminal_size((60, 24)))
    lines = drawn(True).split("\r\x1b[K")
    assert lines[2] == "backup [########..........................]  25%, 60 s left"
    assert all(len(line) < 60 for line in lines)
    assert lines[-1] == ""


def test_a_pipe_sees_nothing():
    assert drawn(False) == ""
