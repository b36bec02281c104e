"""Cases out of the record: one for each first cause, its followers with it, and what was noted within a day."""

import contextlib
import json

import pytest

from halocline.cli import main as command_line
from halocline.report.cases import cases
from halocline.report.store import Entry, Store

WALL_S = 1_790_000_000.0
DAY_S = 86_400.0


class Book:
    """A record, told event by event."""

    def __init__(self, path):
        self.path = path
        self.seq = 0
        self.boot("b1")

    def boot(self, name):
        self.name, self.seq = name, 0
        self.write(Entry("hello", name, {"boot": name, "host_boot": "hb", "version": "0.1.0", "simulated": False}))

    def write(self, *entries):
        with contextlib.closing(Store(self.path)) as store:
            store.write(list(entries))

    def tell(self, at_s, kind, **content):
        self.seq += 1
        event = {"seq": self.seq, "mono_s": at_s, "wall_s": WALL_S + at_s, "kind": kind, **content}
        self.write(Entry("event", self.name, event))

    def alarm(self, at_s, alarm, to="unacknowledged", **values):
        self.tell(at_s, "alarm", id=alarm, to=to, priority="urgent", values=values, under=None)

    def note(self, at_s, what, note=""):
        self.tell(at_s, "log", what=what, note=note, who="Ana")


@pytest.fixture
def book(tmp_path):
    return Book(tmp_path / "record.sqlite3")


def test_what_comes_with_a_cause_or_soon_after_it_belongs_to_its_case(book):
    book.alarm(99.0, "feed_pressure_low")
    book.alarm(100.0, "feed_pressure_low_low", pressure_bar=-0.8)
    book.alarm(100.0, "feed_pressure_low", "suppressed")
    book.alarm(120.0, "vessel_pressure_lost")
    book.alarm(121.0, "flush_due")
    book.alarm(140.0, "bilge_wet")
    book.alarm(140.0, "feed_pressure_low_low", "acknowledged")
    (case,) = cases(book.path, 10)
    assert (case.boot, case.seq, case.alarm, case.values) == ("b1", 2, "feed_pressure_low_low", {"pressure_bar": -0.8})
    assert case.followers == ["feed_pressure_low", "vessel_pressure_lost", "bilge_wet"]


def test_a_cause_half_a_minute_after_the_last_is_a_case_of_its_own(book):
    book.alarm(100.0, "quality_lost")
    book.alarm(130.5, "quality_lost")
    assert [case.seq for case in cases(book.path, 10)] == [2, 1]
    assert [case.seq for case in cases(book.path, 1)] == [2]


def test_everyday_ends_and_warnings_are_no_cases(book):
    book.alarm(100.0, "tank_full")
    book.alarm(200.0, "product_flow_low")
    assert cases(book.path, 10) == []


def test_what_was_noted_within_a_day_stands_with_the_case_before_it(book):
    book.note(50.0, "oil_changed")
    book.alarm(100.0, "feed_pressure_low_low")
    book.note(900.0, "filter_changed", "weed")
    book.alarm(1000.0, "bilge_wet")
    book.note(1100.0, "note", "hose clamp")
    book.note(1000.0 + DAY_S + 1, "strainer_cleaned")
    second, first = cases(book.path, 10)
    assert [(one.kind, one.note, one.who) for one in first.noted] == [("filter_changed", "weed", "Ana")]
    assert [one.note for one in second.noted] == ["hose clamp"]


def test_over_a_restart_of_control_the_clock_tells_what_belongs_together(book):
    book.alarm(100.0, "stop_button")
    book.boot("b2")
    book.alarm(200.0, "stop_button")
    book.boot("b3")
    book.note(500.0, "note", "leaned on it")
    assert [(case.boot, len(case.noted)) for case in cases(book.path, 10)] == [("b2", 1), ("b1", 0)]


def test_the_earlier_ones_of_the_same_alarm_are_found(book):
    book.alarm(100.0, "bilge_wet")
    book.alarm(500.0, "quality_lost")
    book.alarm(900.0, "bilge_wet")
    assert [case.seq for case in cases(book.path, 10, "bilge_wet")] == [3, 1]


def test_the_command_tells_cases_in_words_and_to_programs(book, capfd):
    place = ("--data", str(book.path.parent))
    assert command_line.main(["cases", *place]) == 0
    assert capfd.readouterr().out == "No case so far.\n"
    book.alarm(100.0, "feed_pressure_low_low", pressure_bar=-0.8, limit_bar=0.15)
    book.alarm(100.5, "vessel_pressure_lost", "suppressed")
    book.note(400.0, "strainer_cleaned", "full of weed")
    assert command_line.main(["cases", *place]) == 0
    first, second, third = capfd.readouterr().out.splitlines()
    assert "-0.8 bar" in first
    assert second.startswith("    brought with it: ")
    assert third.endswith(": full of weed (Ana)")
    assert command_line.main(["cases", "feed_pressure_low_low", "--json", *place]) == 0
    (told,) = json.loads(capfd.readouterr().out)["cases"]
    assert (told["alarm"], told["followers"]) == ("feed_pressure_low_low", ["vessel_pressure_lost"])
    assert told["noted"] == [
        {"time": "2026-09-21T14:20:00.000Z", "kind": "strainer_cleaned", "note": "full of weed", "who": "Ana"}
    ]


def test_an_alarm_that_begins_no_case_is_refused_with_those_that_do(book, capfd):
    assert command_line.main(["cases", "tank_full", "--data", str(book.path.parent)]) == 2
    assert "feed_pressure_low_low" in capfd.readouterr().err
