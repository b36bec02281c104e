"""A stand-in for control: the real server end of the link, told by the test what to say."""

import asyncio
import contextlib
import importlib.util
import shutil
import threading
import time
from pathlib import Path

import pytest

import live_snapshot
from halocline.link.ring import Ring
from halocline.link.server import LinkServer
from halocline.plant.settings import RecordSettings, ReportSettings, UnitSettings
from halocline.report import secrets
from halocline.report.feed import Feed
from halocline.report.public import Frame
from halocline.report.server import Report, ReportOptions
from halocline.report.store import Store
from live_snapshot import reading

START_WALL_S = 1_790_000_000.0


def until(condition, timeout_s=10.0):
    """Ask again and again: what is waited for happens in files, and in threads that tell nobody here."""
    end_s = time.monotonic() + timeout_s
    while not (found := condition()):
        assert time.monotonic() < end_s, "waited in vain"
        time.sleep(0.005)
    return found


def live_now(**changes):
    readings = {"vessel_pressure": reading(0.2), "product_conductivity": reading(None, "µS/cm", "open")}
    return live_snapshot.live_now(**{"readings": readings, "wall_s": START_WALL_S, **changes})


def row(mono_s, wall_s=None, value=1.0, **changes):
    channels = {} if value is None else {"vessel_pressure": [value, value - 0.5, value + 0.5, 2.0, "good"]}
    return {
        "mono_s": mono_s,
        "wall_s": wall_s,
        "state": "producing",
        "ch": channels,
        "d": {"recovery": 0.1},
        "out": [],
        "run": None,
        **changes,
    }


class Control:
    """Control's end, polled by a thread; `answers` says what becomes of a command."""

    def __init__(self, path, boot="b1", host_boot="hb"):
        self.path = path
        self.boot = boot
        self.ring = Ring(boot)
        self.lock = threading.Lock()
        self.commands = []
        self.answers = {}
        self.told = {}
        self.identity = {"host_boot": host_boot, "simulated": True, "mono_s": 1.0, "wall_s": None, "version": "0.1.0"}
        self.server = LinkServer(path, self.ring, lambda: self.identity, self._take)
        self.ending = threading.Event()
        self.thread = threading.Thread(target=self._run)
        self.thread.start()

    def _take(self, message, peer):
        self.commands.append(message)
        reasons = self.answers.get(message["command"], [])
        if reasons is not None:
            told = [] if reasons else self.told.get(message["command"], [])
            self.server.answer(peer.token, message["id"], accepted=not reasons, reasons=reasons, told=told)

    def _run(self):
        while not self.ending.is_set():
            with self.lock:
                self.server.poll(0.005)
            time.sleep(0.001)  # a lock taken back at once would never come to the test's own thread

    def row(self, *args, **changes):
        with self.lock:
            return self.ring.append_row(row(*args, **changes))

    def event(self, kind, mono_s=1.0, wall_s=None, **content):
        with self.lock:
            return self.ring.append_event({"mono_s": mono_s, "wall_s": wall_s, "kind": kind, **content})

    def now(self, **changes):
        with self.lock:
            self.server.publish_now(live_now(boot=self.boot, **changes))

    def stop(self):
        if not self.ending.is_set():
            self.ending.set()
            self.thread.join()
            self.server.close()


@pytest.fixture
def link_path(tmp_path):
    return str(tmp_path / "control.sock")


@pytest.fixture
def control(link_path):
    started = []

    def start(boot="b1", host_boot="hb"):
        started.append(Control(link_path, boot, host_boot))
        return started[-1]

    yield start
    for one in started:
        one.stop()


@pytest.fixture(scope="module")
def one_page(tmp_path_factory):
    """Serves one page on a real socket for a whole module, with a stand-in for control; its options are told."""
    with contextlib.ExitStack() as leaving:

        def serve(**options):
            folder = tmp_path_factory.mktemp("page")
            plant, ready = Control(str(folder / "c.sock")), []
            leaving.callback(plant.stop)
            told = ReportOptions(
                settings=ReportSettings(),
                link_path=plant.path,
                data_dir=folder / "data",
                boat="Cagarra",
                port=0,
                **options,
            )
            report = Report(told, ready.append)
            thread = threading.Thread(target=report.serve)
            thread.start()
            leaving.callback(thread.join, 10)
            leaving.callback(report.end)
            until(lambda: ready and report.feed.connected)
            plant.now()
            return ready[0]

        yield serve


@pytest.fixture
def frame():
    return Frame("Cagarra", UnitSettings(), simulated=False)


@pytest.fixture
def feed(link_path, tmp_path, frame):
    started = []

    def start(**options):
        one = Feed(link_path, tmp_path / "data", frame, RecordSettings(), **{"batch_s": 0.05, **options})
        started.append(one)
        one.start()
        return one

    yield start
    for one in started:
        one.stop()


def beside(name):
    """A module that lies beside this file; test folders are no packages."""
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


failing_disk = beside("failing_disk")


@pytest.fixture(params=failing_disk.kinds())
def disk(request, tmp_path, monkeypatch):
    """A disk that fails on demand; see failing_disk."""
    loop = request.param == "loop"
    made = failing_disk.LoopDisk(tmp_path) if loop else failing_disk.StandIn(tmp_path, monkeypatch)
    yield made
    made.end()


over_http = beside("over_http")


@pytest.fixture
def quick_hash(monkeypatch):
    monkeypatch.setattr(secrets, "COST", 2**8)


@pytest.fixture
def aboard(feed, tmp_path, quick_hash):
    """Makes the application over a feed that follows the link."""
    with asyncio.Runner() as runner:
        yield lambda **options: over_http.Aboard(runner, feed(), tmp_path / "report.secrets.toml", **options)


@pytest.fixture
def moored(tmp_path, frame, quick_hash):
    """The application with neither record nor link: enough for everything that is turned away at the door."""
    unstarted = Feed("", tmp_path, frame, RecordSettings())
    with asyncio.Runner() as runner:
        yield lambda **options: over_http.Aboard(runner, unstarted, tmp_path / "report.secrets.toml", **options)


@pytest.fixture
def ready(aboard, control):
    """A plant that is heard, and a PIN that is set."""
    plant = control()
    ship = aboard()
    secrets.set_pin(ship.secrets_path, over_http.PIN)
    until(lambda: ship.context.feed.connected)
    plant.now()
    until(lambda: not ship.context.feed.live.lost())
    return ship, plant


@pytest.fixture(scope="session")
def evening_aboard():
    """The module that tells and records one evening."""
    return beside("recorded_run")


@pytest.fixture
def evening(tmp_path, evening_aboard):
    """A record of one evening aboard, in a data folder of its own."""
    (tmp_path / "data").mkdir()
    return evening_aboard.record_evening(tmp_path / "data" / "record.sqlite3")


@pytest.fixture(scope="session")
def new_record(tmp_path_factory):
    """Makes the path of a new, empty record: a copy of one, because making its tables takes longer than most tests."""
    folder = tmp_path_factory.mktemp("records")
    template = folder / "empty.sqlite3"
    Store(template).close()
    made = []

    def new():
        made.append(folder / f"{len(made)}.sqlite3")
        shutil.copy(template, made[-1])
        return made[-1]

    return new


@pytest.fixture(name="until", scope="session")
def _until():
    return until


@pytest.fixture(name="live_now")
def _live_now():
    return live_now
