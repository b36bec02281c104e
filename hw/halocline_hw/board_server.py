"""Serves a bus and pins of this process to another one. See `halocline_hw.remote` for the messages."""

import errno
import os
import socket
import struct
from collections.abc import Callable
from contextlib import suppress
from threading import Lock, Thread, current_thread

from gpiozero import GPIOZeroError  # type: ignore[import-untyped]

from halocline_hw import remote
from halocline_hw.bus import Bus
from halocline_hw.emulated.pins import EmulatedPins

MAX_CLIENTS = 8  # control has two connections; a helper that drives all safe has one more


class BoardServer:
    """Answers at the Unix socket `path` from threads of its own, between `start` and `close`.

    Bus and pins are served side by side: whatever they call (`volts`, pulse sources, `on_output`) is
    called from these threads, one bus call and one pin call at a time. Clients may come and go.
    Raises OSError if the socket cannot be made, ValueError for pins that do not count pulses themselves.
    """

    def __init__(self, path: str, bus: Bus, pins: EmulatedPins) -> None:
        if not pins.pins_count:
            raise ValueError("pulses cross the socket by number: the pins must count them")
        self._path = path
        self._bus = bus
        self._pins = pins
        self._bus_lock = Lock()
        self._pin_lock = Lock()
        self._clients: dict[Thread, socket.socket] = {}
        self._clients_lock = Lock()
        self._closing = False
        with suppress(FileNotFoundError):
            os.unlink(path)  # left by a server that was killed
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            self._listener.bind(path)
            os.chmod(path, 0o660)
            self._listener.listen(MAX_CLIENTS)
        except OSError:
            self._listener.close()
            raise
        self._acceptor = Thread(target=self._accept, name="board server", daemon=True)

    def start(self) -> None:
        """Begin to answer."""
        self._acceptor.start()

    def close(self) -> None:
        """Close every connection and stop; the pins stay as they are."""
        self._closing = True
        with suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        if self._acceptor.is_alive():
            self._acceptor.join()
        with self._clients_lock:
            clients = dict(self._clients)
        for thread, connection in clients.items():
            with suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)
            thread.join()
        with suppress(FileNotFoundError):
            os.unlink(self._path)

    def _accept(self) -> None:
        while not self._closing:
            try:
                connection, _ = self._listener.accept()
            except OSError:
                return
            with self._clients_lock:
                if self._closing or len(self._clients) >= MAX_CLIENTS:
                    connection.close()
                    continue
                thread = Thread(target=self._serve, args=(connection,), name="board server client", daemon=True)
                self._clients[thread] = connection
            thread.start()

    def _serve(self, connection: socket.socket) -> None:
        # OSError: the client is gone. The others: it sent what no client of ours sends.
        with connection, suppress(OSError, struct.error, IndexError, KeyError, ValueError, GPIOZeroError):
            while True:
                answer = self._answer(remote.receive(connection))
                connection.sendall(remote.LENGTH.pack(len(answer)) + answer)
        with self._clients_lock:
            self._clients.pop(current_thread(), None)

    def _answer(self, request: bytes) -> bytes:
        operation = _OPERATIONS[request[0]]
        lock = self._bus_lock if request[0] <= remote.BUS_TRANSFER else self._pin_lock
        try:
            with lock:
                return remote.OK + operation(self, request)
        except OSError as error:
            words = (error.strerror or str(error)).encode()
            return remote.FAILED + struct.pack(">i", error.errno or errno.EIO) + words

    def _bus_write(self, request: bytes) -> bytes:
        self._bus.writeto(request[1], request[2:])
        return b""

    def _bus_read(self, request: bytes) -> bytes:
        buffer = bytearray(request[2])
        self._bus.readfrom_into(request[1], buffer)
        return bytes(buffer)

    def _bus_write_read(self, request: bytes) -> bytes:
        buffer = bytearray(request[2])
        self._bus.writeto_then_readfrom(request[1], request[3:], buffer)
        return bytes(buffer)

    def _bus_transfer(self, request: bytes) -> bytes:
        steps, at = [], 2
        while at < len(request):
            length, count = request[at], request[at + 1]
            steps.append((request[at + 2 : at + 2 + length], count))
            at += 2 + length
        return b"".join(self._bus.transfer(request[1], steps))

    def _pin_output(self, request: bytes) -> bytes:
        self._pins.factory.pin(request[1]).output_with_state(bool(request[2]))
        return b""

    def _pin_input(self, request: bytes) -> bytes:
        self._pins.factory.pin(request[1]).input_with_pull(remote.PULLS[request[2]])
        return b""

    def _pin_set(self, request: bytes) -> bytes:
        """How many were set: the first that is no output ends it."""
        done = 0
        for number, on in zip(request[1::2], request[2::2], strict=True):
            pin = self._pins.factory.pin(number)
            if pin.function != "output":
                break
            pin.state = bool(on)
            done += 1
        return bytes((done,))

    def _pin_get(self, request: bytes) -> bytes:
        return bytes(bool(self._pins.factory.pin(number).state) for number in request[1:])

    def _pin_function(self, request: bytes) -> bytes:
        return bytes((self._pins.factory.pin(request[1]).function == "output",))

    def _pin_count(self, request: bytes) -> bytes:
        counts = (self._pins.factory.pin(number).counted_pulses() for number in request[1:])
        return b"".join(remote.COUNT.pack(*count) for count in counts)


_OPERATIONS: dict[int, Callable[[BoardServer, bytes], bytes]] = {
    remote.BUS_WRITE: BoardServer._bus_write,
    remote.BUS_READ: BoardServer._bus_read,
    remote.BUS_WRITE_READ: BoardServer._bus_write_read,
    remote.BUS_TRANSFER: BoardServer._bus_transfer,
    remote.PIN_OUTPUT: BoardServer._pin_output,
    remote.PIN_INPUT: BoardServer._pin_input,
    remote.PIN_SET: BoardServer._pin_set,
    remote.PIN_GET: BoardServer._pin_get,
    remote.PIN_FUNCTION: BoardServer._pin_function,
    remote.PIN_COUNT: BoardServer._pin_count,
}
