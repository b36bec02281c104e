"""What the request handlers need, and how to refuse."""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import JSONResponse

from halocline.plant.settings import HttpSettings, PlanSettings, UnitSettings
from halocline.report import texts
from halocline.report.addresses import Place
from halocline.report.checkup import Checkup
from halocline.report.duties.latest import WorkAhead
from halocline.report.feed import Feed
from halocline.report.health.latest import Latest
from halocline.report.health.past import Past
from halocline.report.http.guards import is_loopback
from halocline.report.http.sessions import Session, Sessions
from halocline.report.journal import Journal
from halocline.report.mqtt.publisher import Health
from halocline.report.parts import AskPart, PartName
from halocline.report.planning.planner import Planner
from halocline.report.secrets import SecretsError, pin_hash

PLAIN_COOKIE = "halocline_session"
SECURE_COOKIE = "__Host-halocline_session"
"""Over https: browsers take a cookie of this name only from this very host and only secured (RFC 6265bis)."""
OWN_HEADER = "x-halocline"


class StoredPin:
    """The PIN's hash in its file, read again when the file has changed, or one made up for this start."""

    def __init__(self, path: Path, one_time: str | None) -> None:
        self._path = path
        self._one_time = one_time
        self._stamp: tuple[int, int] | None = None
        self._stored: str | None = None

    def __call__(self) -> str | None:
        """The hash in force. A file that cannot be read is as good as none: nobody gets in."""
        try:
            status = self._path.stat()
        except OSError:
            self._stamp, self._stored = None, None
            return self._one_time
        stamp = (status.st_mtime_ns, status.st_ino)
        if stamp != self._stamp:
            try:
                self._stored = pin_hash(self._path)
            except SecretsError:
                self._stored = None
            self._stamp = stamp
        return self._stored or self._one_time


def nowhere_else(_came_by: str | None) -> list[Place]:
    """The places of a page that is served on no network."""
    return [Place("http://localhost/", "this_computer")]


@dataclass(frozen=True, slots=True)
class Context:
    """Everything the application works on. `pin_closed`: https was wanted and could not be had, so no PIN is taken in
    the clear. `faults` asks a simulated boat what can be broken and what is;
    `checkup` tells what `halocline check` says; `latest`
    and `past` how the plant ages, as what is told unasked computes them. `peers` tell how the parts do that speak to
    others, `broker` how it goes with the broker, None where none is wanted."""

    feed: Feed
    sessions: Sessions
    settings: HttpSettings
    units: UnitSettings
    planner: Planner = field(default_factory=lambda: Planner(None, PlanSettings()))
    simulated: bool = False
    host_names: tuple[str, ...] = ()
    pin_closed: bool = False
    page_dir: Path | None = None
    faults: Callable[[], Mapping[str, Any]] | None = None
    checkup: Checkup | None = None
    places: Callable[[str | None], list[Place]] = nowhere_else
    latest: Latest = field(default_factory=Latest)
    past: Past = field(default_factory=Past)
    streams: dict[str, int] = field(default_factory=dict)
    clock: Callable[[], float] = time.monotonic
    peers: Mapping[PartName, AskPart] = field(default_factory=dict)
    broker: Callable[[], Health | None] = lambda: None

    @property
    def work_ahead(self) -> WorkAhead:
        """What is due by hand, with what health foresees."""
        return WorkAhead(self.latest)

    @property
    def journal(self) -> Journal:
        """The record, to read."""
        return Journal(self.feed.record_path)


class RefusedError(Exception):
    """A request that is not let through, with the answer it gets."""

    def __init__(self, status: int, text: str, refusal: str, headers: Mapping[str, str] | None = None) -> None:
        super().__init__(text)
        self.status = status
        self.text = text
        self.refusal = refusal
        self.headers = dict(headers or {})

    def response(self) -> JSONResponse:
        """The answer."""
        return refusal(self.status, [self.text], [self.refusal], self.headers)


def refusal(status: int, reasons: list[str], ids: list[str], headers: Mapping[str, str] | None = None) -> JSONResponse:
    """An answer that says no, with every reason in words and as an id."""
    content = {"accepted": False, "reasons": reasons, "ids": ids}
    return JSONResponse(content, status_code=status, headers=dict(headers or {}))


def client_address(request: Request) -> str:
    """Where the request comes from."""
    return request.client.host if request.client else "unknown"


def is_free(context: Context, request: Request) -> bool:
    """A simulated boat lets its own computer do everything without a PIN."""
    return context.simulated and is_loopback(client_address(request))


def cookie_name(request: Request) -> str:
    """What the session's cookie is called on this connection."""
    return SECURE_COOKIE if request.url.scheme == "https" else PLAIN_COOKIE


def session_of(context: Context, request: Request) -> Session | None:
    """The session this request belongs to."""
    return context.sessions.find(request.cookies.get(cookie_name(request)))


def demand_own_page(request: Request) -> None:
    """Raises RefusedError unless the request was made on purpose: by the plant's own page or by a program."""
    if request.headers.get(OWN_HEADER) != "1":
        raise RefusedError(403, texts.NO_HEADER, "no_header")
    origin = request.headers.get("origin")
    host = request.headers.get("host")
    if origin is not None and origin not in {f"http://{host}", f"https://{host}"}:
        raise RefusedError(403, texts.WRONG_ORIGIN.format(origin=origin[:80]), "wrong_origin")


def demand_secrecy(context: Context) -> None:
    """Raises RefusedError where the owner wanted https and a PIN would now cross the network in the clear."""
    if context.pin_closed:
        raise RefusedError(403, texts.PIN_NOT_OVER_HTTP, "no_https")


def demand_session(context: Context, request: Request) -> str:
    """Who asks: the name given with the PIN, or the address where none is needed. Raises RefusedError."""
    session = session_of(context, request)
    if is_free(context, request):
        return session.who if session else client_address(request)
    demand_secrecy(context)
    if not context.sessions.pin_set:
        raise RefusedError(403, texts.NO_PIN, "no_pin")
    if session is None:
        raise RefusedError(401, texts.NO_SESSION, "no_session")
    return session.who


def demand_reader(context: Context, request: Request) -> None:
    """Raises RefusedError where reading needs the PIN and the reader has not given it."""
    wanted = context.settings.require_session_to_read and not is_free(context, request)
    if wanted and session_of(context, request) is None:
        raise RefusedError(401, texts.READ_NEEDS_SESSION, "no_session")
