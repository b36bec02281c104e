"""A year in the life: every duty comes due and is met, stores go down, nothing is lost over restarts and an upgrade.

Time is accelerated; the rest is real: entries are taken by control's own core, kept by the record's own writer, and
read back through the command line and the web application. Runs, sea and stores are invented.
"""

import asyncio
import contextlib
import json
import math
import sqlite3
from pathlib import Path
from types import SimpleNamespace

import pytest

from halocline.cli.main import main
from halocline.control.inputs import Command
from halocline.plant.duties import BY_ID, DUTIES, DUTY_IDS, PARTS, USED_BY, While
from halocline.plant.settings import RecordSettings, UnitSettings
from halocline.plant.vocabulary import Origin
from halocline.report.feed import Feed
from halocline.report.journal import Journal
from halocline.report.public import Frame
from halocline.report.store import Entry, Store

pytestmark = pytest.mark.timeout(600)
"""Some seven hundred batches are synced to the disk, which a busy one takes its time for."""

BEGAN_S, DAY_S = 1_790_000_000.0, 86400.0
DAYS = 420
RUN_S, ROW_S = 1800, 5
LAID_UP = range(330, 400)
UPGRADED = 200
FITTED = 10
"""The day on which carbon filter, UV lamp and calcite are fitted, and the tank is dosed for the first time."""
BOAT = {"boat": {"tank_capacity_l": 200.0}, "drive": {"motor": "brush"}, "membrane": {"max_pressure_bar": 69.0}}
SHOWN = {"prove_check_valves": 0.0, "relief_valve": 68.0, "gauge_against_test_gauge": 54.0, "preservative": 4.1}
"""What the tests of the year show; of the others what they are expected to."""


class Year:
    """The boat's two programs, day by day."""

    def __init__(self, folder, plant, ask):
        self.path, self.plant, self.ask = folder / "record.sqlite3", plant, ask
        self.seq, self.boot, self.day = 0, 0, 0
        self.accepted = 0
        self.used = dict.fromkeys(PARTS, 0.0)
        self.store = None
        self.restart()

    @property
    def now_s(self):
        return BEGAN_S + self.day * DAY_S

    def restart(self):
        """Both programs end and come back."""
        if self.store is not None:
            self.store.close()
        self.store, self.boot, self.seq = Store(self.path), self.boot + 1, 0
        hello = {"boot": f"b{self.boot}", "host_boot": "hb", "version": "0", "simulated": False}
        self.store.write([Entry("hello", f"b{self.boot}", hello), Entry("configuration", f"b{self.boot}", BOAT)])

    def tell(self, *contents, after_s=0.0):
        """Events, and what has a state as rows, in one batch: each is synced to the disk."""
        entries = []
        for content in contents:
            self.seq += 1
            at = self.now_s + content.pop("later_s", after_s)
            stamp = {"seq": self.seq, "mono_s": at - BEGAN_S, "wall_s": at}
            entries.append(Entry("row" if "state" in content else "event", f"b{self.boot}", {**stamp, **content}))
        self.store.write(entries)

    def make_water(self):
        run = {"id": f"{self.boot}-{self.day}", "why": {"litres": 30.0}, "target_l": 30.0}
        sea_c = 20.0 - 6.0 * math.cos(2.0 * math.pi * self.day / 365.0)
        on = {"state": "producing", "d": {}, "out": ["feed_pump", "high_pressure_pump"], "run": {"id": run["id"]}}
        channels = {"sea_temperature": [sea_c, sea_c, sea_c, 1.8, "good"]}
        rows = [{**on, "ch": channels, "later_s": float(s)} for s in range(0, RUN_S, ROW_S)]
        ended = {**run, "seconds": float(RUN_S), "litres": 30.0, "why": {"id": "target_litres", "values": {}}}
        begun, over = {"kind": "run_started", "run": run}, {"kind": "run_ended", "run": ended, "later_s": float(RUN_S)}
        self.tell(begun, *rows, over)

    def give(self, name, **arguments):
        """A command to control's core; what it says of it goes on record."""
        known = len(self.plant.events)
        self.plant.tick(Command(name, arguments, Origin.CLI, "Ana", "1:x", wall_s=self.now_s), wall_s=self.now_s)
        reasons = self.plant.answers_after_persisting()
        if not reasons:
            said = [event for event in self.plant.events[known:] if event["kind"] in ("log", "command")]
            self.tell(*[{**event} for event in said], after_s=2.0 * RUN_S)
            self.accepted += 1
        return reasons

    def enter(self, **entry):
        assert self.give("log", **entry) == [], entry
        duty = BY_ID.get(entry.get("duty", ""))
        for part, count in ((duty.uses or {}) if duty else USED_BY.get(entry["kind"], {})).items():
            self.used[part] += count

    def meet(self, duty, **more):
        """As a person would: by its own kind of entry where it has one."""
        row = BY_ID[duty]
        readings = {
            "gauge_read": {"bar": 55.0},
            "bucket_test": {"litres": 10.0, "seconds": 600.0},
            "chlorine_read": {"mg_l": 0.3},
            "tank_chlorinated": {"mg_l": 50.0, "contact_h": 4.0},
        }
        if row.kinds and row.kinds != ("lay_up",):
            self.enter(kind=row.kinds[0], **readings.get(row.kinds[0], {}))
            return
        measured = {} if row.expected is None else {"measured": SHOWN.get(duty, row.expected.value)}
        given = {**measured, "expected": 55.0} if duty == "gauge_against_test_gauge" else measured
        self.enter(kind="duty_done", duty=duty, **{**given, **more})


@pytest.fixture
def year(tmp_path, monkeypatch, capsys):
    monkeypatch.syspath_prepend(Path(__file__).parents[1] / "control")
    monkeypatch.syspath_prepend(Path(__file__).parent)
    from hand_driven_plant import Plant  # noqa: PLC0415
    from over_http import Aboard  # noqa: PLC0415

    def ask(command):
        monkeypatch.setattr("halocline.cli.duties.time", SimpleNamespace(time=lambda: aboard.now_s + 3.0 * RUN_S))
        assert main([command, "--data", str(tmp_path), "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    aboard = Year(tmp_path, Plant(), ask)
    aboard.served = Aboard
    yield aboard
    aboard.store.close()


def pressing(said):
    return {each["duty"]: each for each in said["duties"] if each["state"] in ("overdue", "due")}


def as_by_an_earlier_version(path):
    """The record as the version before the duties left it."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("ALTER TABLE work DROP COLUMN details")
        connection.execute("DELETE FROM _sqlite_migrations WHERE name = 'work_details'")
        connection.commit()


def the_day_brings(year):
    if year.day and year.day % 60 == 0:
        year.restart()
    if year.day == UPGRADED:
        before = year.ask("duties"), year.ask("stores")
        year.store.close()
        as_by_an_earlier_version(year.path)
        year.store = Store(year.path)
        assert (year.ask("duties"), year.ask("stores")) == before
    if year.day == LAID_UP.start:
        assert year.give("lay_up", preservative="preservative") == []
        year.used["metabisulphite_dose"] += 1
    if year.day == LAID_UP.stop:
        assert year.give("recommission") == []
    if year.day == FITTED:
        for duty in DUTIES:
            if duty.begins:
                year.meet(duty.id)
    if year.day % 3 == 0 and year.day not in LAID_UP:
        year.make_water()
    if year.day == 150:
        year.enter(kind="shore_water_taken", note="from a hose ashore")


def test_in_a_year_every_duty_comes_due_and_is_met(year):
    came_due, soon, foreseen = {}, set(), set()
    for part in PARTS:
        year.enter(kind="stores_counted", part=part, aboard=12.0, minimum=2.0, note=f"locker 3, {part}")
    for year.day in range(DAYS):
        the_day_brings(year)
        said = year.ask("duties")
        soon |= {each["duty"] for each in said["duties"] if each["state"] == "soon"}
        foreseen |= {each["duty"] for each in said["duties"] if each["due"] and each["due"]["basis"] == "foreseen"}
        for duty, told in pressing(said).items():
            came_due[duty] = came_due.get(duty, 0) + 1
            if duty == "prove_trips" and came_due[duty] == 1:
                year.meet(duty, measured=1.6)
                assert pressing(year.ask("duties"))[duty]["because"] == "test_failed"
                assert year.plant.core.plant.retained.trips_proved_wall_s is None
            year.meet(duty)
            last = next(each for each in year.ask("duties")["duties"] if each["duty"] == duty)
            assert last["state"] not in ("overdue", "due"), told
            assert last["last"]["who"] == "Ana"
            assert last["last"]["by_hand"]
    assert set(came_due) == set(DUTY_IDS)
    assert {"pump_oil", "laboratory", "tank_turnover"} <= soon
    assert {"motor_brushes", "pump_oil"} <= foreseen
    weekly = [duty.id for duty in DUTIES if duty.days == 7 and duty.counts is While.USED]
    assert all(30 <= came_due[duty] <= 52 for duty in weekly), "weekly, not while laid up"
    assert came_due["disinfect_tank"] == 2, "after water from the shore, and half a year later"
    assert came_due["preservative"] == 2, "in seventy days of lay-up"
    proof = next(each for each in year.ask("duties")["duties"] if each["duty"] == "relief_valve")
    assert (proof["last"]["measured"], proof["last"]["expected"]) == (68.0, 69.0)
    nothing_is_lost(year)
    stores_have_gone_down(year)
    the_page_says_the_same(year)


def nothing_is_lost(year):
    journal = Journal(year.path)
    with contextlib.closing(sqlite3.connect(year.path)) as connection:
        assert connection.execute("SELECT count(*) FROM work").fetchone() == (year.accepted,)
    assert journal.unaccounted() == []
    assert {hole["reason"] for hole in journal.holes()} == {"restart"}, "what control had not said yet is not known"


def stores_have_gone_down(year):
    said = year.ask("stores")
    assert {each["part"]: each["aboard"] for each in said["stores"]} == {
        part: max(0.0, 12.0 - used) for part, used in year.used.items()
    }
    cartridge = next(each for each in said["stores"] if each["part"] == "fine_cartridge")
    assert year.used["fine_cartridge"] > 12
    assert cartridge["aboard"] == 0.0
    assert cartridge["number"] == "locker 3, fine_cartridge"
    assert cartridge["fitted"]["pump_h_since"] < 10.0
    wanted = {each["part"]: each["buy"] for each in said["shopping"]}
    assert wanted["fine_cartridge"] > 2.0, "the minimum, and what ninety days need"
    assert "membrane" not in wanted, "twelve are aboard and none was used"


def the_page_says_the_same(year):
    feed = Feed("", year.path.parent, Frame("Cagarra", UnitSettings(), simulated=False), RecordSettings())
    with asyncio.Runner() as runner:
        ship = year.served(runner, feed, year.path.parent / "report.secrets.toml")
        duties = ship.client.get("/api/v1/duties").json()
        stores = ship.client.get("/api/v1/stores").json()
        work = ship.client.get("/api/v1/work").json()["work"]
    assert {each["duty"]: each["last"] for each in duties["duties"]} == {
        each["duty"]: each["last"] for each in year.ask("duties")["duties"]
    }
    assert [each["aboard"] for each in stores["stores"]] == [each["aboard"] for each in year.ask("stores")["stores"]]
    assert any("Change the carbon filter" in one["note"] for one in work)
