"""A crowd at the page's door, all on loopback: some hold connections half open and trickle, some are busy clients,
and one person opens the page again and again and is timed."""

import asyncio
import contextlib
import itertools
import random
import resource
import ssl
import time
from dataclasses import dataclass, field

HALF = b"GET / HTTP/1.1\r\nHost: localhost\r\n"
TRICKLE = b"X-More: and more\r\n"
TRICKLE_EVERY_S = 2.0
AGAIN_AFTER_S = 5.0
"""One who was turned out waits this long, or up to twice as long."""

BUSY_PATHS = ("/api/v1/now", "/api/v1/history?channel=vessel_pressure&points=600", "/", "/api/v1/runs")
BUSY_EVERY_S = 0.1
PERSON_PATHS = ("/", "/api/v1/now")
PERSON_EVERY_S = 0.05
ANSWER_WITHIN_S = 30.0


@dataclass
class Seen:
    """What happened: seconds per page of the person, statuses of the busy ones, and the half-open connections."""

    page_s: list[float] = field(default_factory=list)
    statuses: dict[int, int] = field(default_factory=dict)
    failed: int = 0
    came: int = 0
    half_open: int = 0
    most_half_open: int = 0
    turned_out: int = 0

    def page_at(self, share: float) -> float:
        """The time within which this share of the pages came."""
        ordered = sorted(self.page_s)
        return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def allow_many_files() -> None:
    """A thousand connections are a thousand files."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = 4096 if hard == resource.RLIM_INFINITY else min(4096, hard)
    if soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


async def crowd(
    port: int, *, half_open: int, busy: int, seconds: float, tls: ssl.SSLContext | None = None, settle_s: float = 1.0
) -> Seen:
    """Comes, does its worst for so long, and goes."""
    seen = Seen()
    addresses = itertools.cycle(f"127.0.0.{number}" for number in range(2, 34))
    tasks = [asyncio.create_task(_half_open(port, next(addresses), seen)) for _ in range(half_open)]
    tasks += [asyncio.create_task(_busy(port, f"127.0.1.{number}", seen, tls)) for number in range(1, busy + 1)]
    try:
        await asyncio.sleep(settle_s)
        await _person(port, seen, time.monotonic() + seconds, tls)
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
    return seen


async def _half_open(port: int, address: str, seen: Seen) -> None:
    while True:
        with contextlib.suppress(OSError):
            reader, writer = await asyncio.open_connection("127.0.0.1", port, local_addr=(address, 0))
            seen.came += 1
            seen.half_open += 1
            seen.most_half_open = max(seen.most_half_open, seen.half_open)
            try:
                writer.write(HALF)
                while not reader.at_eof():
                    with contextlib.suppress(TimeoutError):
                        async with asyncio.timeout(TRICKLE_EVERY_S):
                            await reader.read(100)
                    writer.write(TRICKLE)
                seen.turned_out += 1
            finally:
                seen.half_open -= 1
                writer.transport.abort()
        await asyncio.sleep(AGAIN_AFTER_S * random.uniform(1.0, 2.0))


async def _busy(port: int, address: str, seen: Seen, tls: ssl.SSLContext | None) -> None:
    for path in itertools.cycle(BUSY_PATHS):
        try:
            status = await fetch(port, path, address, tls)
            seen.statuses[status] = seen.statuses.get(status, 0) + 1
        except OSError:
            seen.failed += 1
        await asyncio.sleep(BUSY_EVERY_S)


async def _person(port: int, seen: Seen, until_s: float, tls: ssl.SSLContext | None) -> None:
    while time.monotonic() < until_s:
        for path in PERSON_PATHS:
            began_s = time.monotonic()
            try:
                answered = await fetch(port, path, "127.0.0.1", tls) == 200
            except OSError:
                answered = False
            seen.page_s.append(time.monotonic() - began_s if answered else ANSWER_WITHIN_S)
            await asyncio.sleep(PERSON_EVERY_S)


async def fetch(port: int, path: str, address: str, tls: ssl.SSLContext | None = None) -> int:
    """The status of one request on a connection of its own, read to its end. Raises OSError."""
    async with asyncio.timeout(ANSWER_WITHIN_S):
        name = "127.0.0.1" if tls else None
        reader, writer = await asyncio.open_connection(
            "127.0.0.1", port, local_addr=(address, 0), ssl=tls, server_hostname=name
        )
        try:
            writer.write(f"GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n".encode())
            answer = await reader.read(-1)
        finally:
            writer.transport.abort()
    if not answer.startswith(b"HTTP/1.1 "):
        raise ConnectionResetError
    return int(answer[9:12])
