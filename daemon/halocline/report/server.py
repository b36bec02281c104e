"""The report process: one link, one recorder, one web server, and an orderly end."""

import asyncio
import contextlib
import functools
import logging
import os
import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, cast

import uvicorn

from halocline.config import Problem
from halocline.plant.settings import ReportSettings
from halocline.report.addresses import Place, Served, interfaces_now, places
from halocline.report.checkup import Checkup, Run
from halocline.report.conditions import Watch
from halocline.report.feed import Feed
from halocline.report.health.latest import Latest
from halocline.report.health.past import Past
from halocline.report.health.unasked import UnaskedHealth
from halocline.report.http.app import build_app
from halocline.report.http.connection_limiter import ConnectionLimiter, LimitedProtocol
from halocline.report.http.context import Context, StoredPin
from halocline.report.http.page import find_page
from halocline.report.http.protocol import PatientProtocol
from halocline.report.http.sessions import Sessions
from halocline.report.peers import Aboard, Service, peers_of
from halocline.report.planning.planner import Planner
from halocline.report.public import Frame
from halocline.report.secrets import SecretsError, hash_pin, pin_hash, random_pin
from halocline.report.usable import Usable, usable

SECRETS_NAME = "report.secrets.toml"
PORTS_TRIED = 50
GRACE_S = 2
BACKLOG = 256
TURN_EVERY_TICKS = 50
"""Of the server's own, ten a second."""

log = logging.getLogger(__name__)


class ReportError(Exception):
    """Report cannot serve; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Listening:
    """Where the page answers now, and the PIN made up for this start, if one was."""

    served: Served
    one_time_pin: str | None

    @property
    def url(self) -> str:
        """The address for a browser on this computer."""
        return self.served.own_url

    @property
    def port(self) -> int:
        """The port it was given."""
        return self.served.port

    def others(self) -> list[Place]:
        """The addresses for other devices, best first; empty when none can reach the page."""
        return [place for place in places(self.served, interfaces_now()) if place.kind != "this_computer"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportOptions:
    """What one report process is told. `settings` may be the list of what is wrong with them: then the defaults
    serve, and the page shows the list. `port` overrides the settings' one; 0 takes any free port. `faults` asks a
    simulated boat what can be broken. `control_problems` and `last_words` as in `conditions.Watch`. `check` brings
    what `halocline check --json` prints; None where the page shows none. `https_wanted` tells, when the settings are
    broken, whether they ask for https; `config_name` is the file's name for people. `on_turn` is called every few
    seconds by the thread that answers, and by nobody while that thread hangs."""

    settings: ReportSettings | Sequence[Problem]
    link_path: str
    data_dir: Path
    boat: str
    simulated: bool = False
    port: int | None = None
    secrets_path: Path | None = None
    batch_s: float = 60.0
    config_name: str = "the configuration"
    https_wanted: bool = False
    faults: Callable[[], Mapping[str, Any]] | None = None
    control_problems: Callable[[], Sequence[Problem]] = tuple
    last_words: Callable[[], Sequence[str]] = tuple
    check: Run | None = None
    on_turn: Callable[[], object] = tuple

    @property
    def secrets(self) -> Path:
        """The file of PIN and passwords."""
        return self.secrets_path or self.data_dir / SECRETS_NAME


class Report:
    """Everything of the report process but its signals. Raises ReportError when no port can be had."""

    def __init__(self, options: ReportOptions, on_ready: Callable[[Listening], None]) -> None:
        found = usable(
            options.settings,
            config_name=options.config_name,
            https_wanted=options.https_wanted,
            wall_s=time.time(),
        )
        settings = found.settings
        door = ConnectionLimiter()
        self._doorway = LimitedProtocol(_bind(settings.http.host, settings.http.port, options), door)
        frame = Frame(options.boat, settings.units, options.simulated)
        watch = Watch(standing=found.standing, control_problems=options.control_problems, last_words=options.last_words)
        self.feed = Feed(
            options.link_path, options.data_dir, frame, settings.record, watch=watch, batch_s=options.batch_s
        )
        latest, past, planner = Latest(), Past(), Planner(self.feed.record_path, settings.plan)
        health = UnaskedHealth(self.feed.record_path, latest, past)
        self._one_time_pin = random_pin() if options.simulated and _has_no_pin(options.secrets) else None
        one_time = None if self._one_time_pin is None else hash_pin(self._one_time_pin)
        scheme = "https" if found.https else "http"
        self._served = Served(settings.http.host, self._doorway.getsockname()[1], scheme, host_name())
        peers = peers_of(
            self.feed,
            planner,
            health,
            settings,
            Aboard(options.boat, options.data_dir, options.secrets, self._served),
        )
        self._services: list[Service] = [*peers.services, health]
        context = replace(
            _context(self.feed, planner, found, options, StoredPin(options.secrets, one_time), self._served),
            latest=latest,
            past=past,
            peers=peers.parts,
            broker=peers.broker,
        )
        self._server = _Server(
            _config(context, door, found), self.feed, lambda: on_ready(self.listening), options.on_turn
        )

    @property
    def listening(self) -> Listening:
        """Where the page answers."""
        return Listening(self._served, self._one_time_pin)

    def serve(self) -> None:
        """Serves until `end` is called or a signal comes."""
        self.feed.start()
        for service in self._services:
            service.start()
        try:
            self._server.run(sockets=[self._doorway])
        finally:
            for service in self._services:
                service.stop()
            self.feed.stop()

    def end(self) -> None:
        """Makes `serve` return soon; may be called by any thread."""
        self._server.should_exit = True


def run_report(options: ReportOptions, on_ready: Callable[[Listening], None]) -> int:
    """Serves until SIGTERM or SIGINT; `on_ready` is called once the page answers. Returns the exit status.

    Raises ReportError when no port can be had.
    """
    report = Report(options, on_ready)
    with _signals_end(report):
        report.serve()
    return 0


def host_name() -> str:
    """This computer's name on the boat's network, without a domain."""
    return socket.gethostname().partition(".")[0].lower() or "localhost"


def _context(
    feed: Feed, planner: Planner, found: Usable, options: ReportOptions, stored_pin: StoredPin, served: Served
) -> Context:
    name, settings = served.name, found.settings
    return Context(
        feed,
        Sessions(stored_pin, time.monotonic),
        settings.http,
        settings.units,
        planner=planner,
        simulated=options.simulated,
        host_names=("localhost", name, f"{name}.local", "halocline.local", *settings.http.allowed_hosts),
        pin_closed=found.pin_closed,
        page_dir=find_page(),
        faults=options.faults,
        checkup=None if options.check is None else Checkup(options.check),
        places=lambda came_by: places(served, interfaces_now(), came_by),
    )


def _config(context: Context, door: ConnectionLimiter, found: Usable) -> uvicorn.Config:
    http = found.settings.http
    return uvicorn.Config(
        build_app(context),
        http=cast(type[asyncio.Protocol], functools.partial(PatientProtocol, door=door)),
        ssl_certfile=http.certificate if found.https else None,
        ssl_keyfile=http.key if found.https else None,
        ws="none",
        loop="asyncio",
        lifespan="off",
        access_log=False,
        log_config=None,
        server_header=False,
        date_header=True,
        proxy_headers=False,
        timeout_keep_alive=10,
        timeout_graceful_shutdown=GRACE_S,
        backlog=BACKLOG,
    )


class _Server(uvicorn.Server):
    """Tells when it answers and that it still does, and ends the streams before it waits for them."""

    def __init__(
        self, config: uvicorn.Config, feed: Feed, on_answering: Callable[[], None], on_turn: Callable[[], object]
    ) -> None:
        super().__init__(config)
        self._feed = feed
        self._on_answering = on_answering
        self._on_turn = on_turn

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begins to answer."""
        await super().startup(sockets)
        self._on_answering()

    async def on_tick(self, counter: int) -> bool:
        """Called ten times a second while it serves; whether to end."""
        if counter % TURN_EVERY_TICKS == 0:
            self._on_turn()
        return await super().on_tick(counter)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Ends; a stream that stays open would keep the server waiting."""
        self._feed.let_go()
        await super().shutdown(sockets)


def _has_no_pin(secrets_path: Path) -> bool:
    try:
        return pin_hash(secrets_path) is None
    except SecretsError:
        return False


def _bind(host: str, configured: int, options: ReportOptions) -> socket.socket:
    port = options.port if options.port is not None else configured
    tries = PORTS_TRIED if options.simulated and port else 1
    for candidate in range(port, min(port + tries, 65536)):
        try:
            return socket.create_server(
                (host, candidate),
                family=socket.AF_INET6 if ":" in host else socket.AF_INET,
                backlog=BACKLOG,
            )
        except OSError as error:
            problem = error
    raise ReportError(
        f"The page cannot be served at {host} port {port}: {os.strerror(problem.errno or 0)}. "
        "End the program that uses it, or choose another with --port or in the table [http]."
    )


@contextlib.contextmanager
def _signals_end(report: Report) -> Iterator[None]:
    """A signal ends the server, and does not then kill the recorder before it has written."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    former = {number: signal.signal(number, lambda *_: report.end()) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        yield
    finally:
        for number, handler in former.items():
            signal.signal(number, handler)
