"""What every request has to pass: a known host name, a small body that arrives in time, and the headers back."""

import asyncio
import ipaddress
import json
from collections.abc import Iterable
from http import HTTPStatus

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from halocline.report import texts

MAX_BODY_BYTES = 64 * 1024
BODY_S = 10.0

POLICY = b"content-security-policy"
"""The one header that an answer of ours may bring itself."""

SECURITY_HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (
        POLICY,
        b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
        b"font-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
)

NO_STORE = (b"cache-control", b"no-store")


def host_name(host: str) -> str | None:
    """The name in a Host header, without its port; None if it is not one."""
    if host.startswith("["):
        name, bracket, port = host[1:].partition("]")
        return name if bracket and (not port or port.startswith(":")) else None
    name, _, port = host.partition(":")
    return name.lower().rstrip(".") if name and (not port or port.isdigit()) else None


def is_local_address(name: str) -> bool:
    """Whether this is an address that only exists on networks of one's own."""
    try:
        address = ipaddress.ip_address(name.partition("%")[0])
    except ValueError:
        return False
    return not (address.is_global or address.is_unspecified or address.is_multicast)


def is_loopback(address: str) -> bool:
    """Whether a client's address is this computer itself."""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return False
    mapped = parsed.ipv4_mapped if isinstance(parsed, ipaddress.IPv6Address) else None
    return (mapped or parsed).is_loopback


def header(scope: Scope, name: bytes) -> str | None:
    """The one value of a header; a header that comes twice is worth nothing."""
    found = [value for key, value in scope["headers"] if key == name]
    return found[0].decode("latin-1") if len(found) == 1 else None


class Guard:
    """The outermost layer of the application."""

    def __init__(self, app: ASGIApp, host_names: Iterable[str]) -> None:
        self._app = app
        self._names = frozenset(name.lower() for name in host_names)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serves or refuses one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        secured = _with_headers(send, api=scope["path"].startswith(("/api/", "/metrics", "/healthz")))
        host = header(scope, b"host") or ""
        if not self._knows(host):
            await _refuse(secured, 400, texts.WRONG_HOST.format(host=host[:80] or "none"), "unknown_host")
            return
        try:
            body = await _read_body(scope, receive)
        except _TooLargeError:
            await _refuse(secured, 413, texts.BODY_TOO_LARGE, "body_too_large")
        except TimeoutError:
            await _refuse(secured, 408, texts.BODY_TOO_SLOW, "body_too_slow")
        except _GoneError:
            return
        else:
            await self._app(scope, _replay(body, receive), secured)

    def _knows(self, host: str) -> bool:
        name = host_name(host)
        return name is not None and (name in self._names or is_local_address(name))


class _TooLargeError(Exception):
    pass


class _GoneError(Exception):
    pass


async def _read_body(scope: Scope, receive: Receive) -> bytes:
    length = header(scope, b"content-length")
    if length is not None and (not length.isdigit() or len(length) > 9 or int(length) > MAX_BODY_BYTES):
        raise _TooLargeError
    if length in (None, "0") and header(scope, b"transfer-encoding") is None:
        return b""
    body = bytearray()
    async with asyncio.timeout(BODY_S):
        while True:
            message = await receive()
            if message["type"] == "http.disconnect":
                raise _GoneError
            body += message.get("body", b"")
            if len(body) > MAX_BODY_BYTES:
                raise _TooLargeError
            if not message.get("more_body"):
                return bytes(body)


def _replay(body: bytes, receive: Receive) -> Receive:
    waiting = True

    async def replay() -> Message:
        nonlocal waiting
        if waiting:
            waiting = False
            return {"type": "http.request", "body": body, "more_body": False}
        while True:
            message = await receive()
            if message["type"] == "http.disconnect":
                return message

    return replay


def _with_headers(send: Send, *, api: bool) -> Send:
    async def secured(message: Message) -> None:
        if message["type"] == "http.response.start":
            given = list(message.get("headers", ()))
            # A browser may keep a "not found" (RFC 9110, 15.5.5): after an update the part would stay missing.
            kept_by_nobody = api or message["status"] >= HTTPStatus.BAD_REQUEST
            more = (*SECURITY_HEADERS, NO_STORE) if kept_by_nobody else SECURITY_HEADERS
            added = [
                (name, value) for name, value in more if name != POLICY or all(name != POLICY for name, _ in given)
            ]
            own = {name for name, _ in added}
            kept = [(name, value) for name, value in given if name.lower() not in own]
            message = {**message, "headers": [*kept, *added]}
        await send(message)

    return secured


async def _refuse(send: Send, status: int, text: str, refusal: str) -> None:
    body = json.dumps({"accepted": False, "reasons": [text], "ids": [refusal]}, ensure_ascii=False).encode()
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
