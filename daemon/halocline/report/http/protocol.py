"""Connections that never finish their request are closed, so that nobody can hold the page's doors shut."""

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from halocline.report.http.connection_limiter import ConnectionLimiter

REQUEST_S = 10.0


class PatientProtocol(H11Protocol):
    """HTTP with a deadline for the request's head: a connection without a whole one is closed after `REQUEST_S`.
    The door is told when a connection is served and when it waits again."""

    def __init__(self, *args: Any, door: ConnectionLimiter, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._door = door
        self._deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """A client has connected."""
        super().connection_made(transport)
        self._start_waiting()

    def data_received(self, data: bytes) -> None:
        """Bytes have come: maybe the rest of the request's head."""
        super().data_received(data)
        if self.conn.their_state is h11.IDLE and self.conn.trailing_data[0]:
            self._start_waiting()
        else:
            self._stop_waiting()
            if self.client is not None and self.conn.their_state is not h11.IDLE:
                self._door.serve(self.client)

    def on_response_complete(self) -> None:
        """The answer is given; uvicorn closes the connection unless another request begins soon."""
        if self.client is not None:
            self._door.wait(self.client)
        super().on_response_complete()

    def connection_lost(self, exc: Exception | None) -> None:
        """The connection is over."""
        self._stop_waiting()
        super().connection_lost(exc)

    def _start_waiting(self) -> None:
        if self._deadline is None:
            self._deadline = self.loop.call_later(REQUEST_S, self._give_up)

    def _stop_waiting(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None

    def _give_up(self) -> None:
        self._deadline = None
        self.transport.abort()
