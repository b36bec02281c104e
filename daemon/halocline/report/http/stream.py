"""Server-sent events: a snapshot on connecting, then whenever something new is known, until the end."""

import asyncio
from collections.abc import AsyncIterator

from fastapi import APIRouter, Request
from fastapi.responses import StreamingResponse

from halocline.report import texts
from halocline.report.http.context import Context, RefusedError, client_address, demand_reader
from halocline.report.http.models import PublicSnapshot, refused_with
from halocline.report.live import Live

LEAST_INTERVAL_S = 0.24
SILENCE_S = 1.0
STREAMS_PER_ADDRESS = 12
MAX_STREAMS = 48


def routes(context: Context) -> APIRouter:
    """GET /stream."""
    router = APIRouter(responses=refused_with(503))

    @router.get("/stream", responses={200: {"model": PublicSnapshot, "content": {"text/event-stream": {}}}})
    async def stream(request: Request) -> StreamingResponse:
        """Live snapshots as server-sent events, at most four a second, at least one a second."""
        demand_reader(context, request)
        address = client_address(request)
        open_here = context.streams.get(address, 0)
        if open_here >= STREAMS_PER_ADDRESS or sum(context.streams.values()) >= MAX_STREAMS:
            raise RefusedError(503, texts.TOO_MANY_STREAMS, "too_many_streams", {"Retry-After": "5"})
        headers = {"X-Accel-Buffering": "no"}
        return StreamingResponse(_counted(context, address), media_type="text/event-stream", headers=headers)

    return router


async def _counted(context: Context, address: str) -> AsyncIterator[bytes]:
    context.streams[address] = context.streams.get(address, 0) + 1
    try:
        async for part in events(context.feed.live):
            yield part
    finally:
        left = context.streams.pop(address) - 1
        if left:
            context.streams[address] = left


async def events(live: Live) -> AsyncIterator[bytes]:
    """The stream's bytes; ends when `live` ends. Silence is broken so that both ends notice a dead line."""
    bell = live.bell()
    try:
        yield b"retry: 1000\n\n"
        while not live.ended:
            bell.clear()
            yield b"data: " + live.public_json() + b"\n\n"
            await asyncio.sleep(0 if live.ended else LEAST_INTERVAL_S)
            try:
                await asyncio.wait_for(bell.wait(), SILENCE_S)
            except TimeoutError:
                continue
    finally:
        live.unhang(bell)
