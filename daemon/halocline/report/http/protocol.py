"""Connections that never finish their request are closed, so that nobody can hold the page's doors shut."""

import asyncio
from collections import OrderedDict
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

REQUEST_S = 10.0
MAX_WAITING = 64


class PatientProtocol(H11Protocol):
    """HTTP with a deadline for the request's head.

    A connection without a whole request is closed after `REQUEST_S`; when more than `MAX_WAITING` of them wait,
    the one that has waited longest goes first. A person's browser is never among them for more than a moment.
    """

    _waiting: "OrderedDict[PatientProtocol, None]" = OrderedDict()  # noqa: RUF012 - common to all connections

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """A client has connected."""
        super().connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Bytes have come: maybe the rest of the request's head."""
        super().data_received(data)
        if self._half():
            self._wait()
        else:
            self._go_on()

    def connection_lost(self, exc: Exception | None) -> None:
        """The connection is over."""
        self._go_on()
        super().connection_lost(exc)

    def _half(self) -> bool:
        return bool(self.conn.their_state is h11.IDLE and self.conn.trailing_data[0])

    def _wait(self) -> None:
        if self._deadline is not None:
            return
        self._deadline = self.loop.call_later(REQUEST_S, self._give_up)
        self._waiting[self] = None
        if len(self._waiting) > MAX_WAITING:
            next(iter(self._waiting))._give_up()

    def _go_on(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None
        self._waiting.pop(self, None)

    def _give_up(self) -> None:
        self._go_on()
        self.transport.abort()
