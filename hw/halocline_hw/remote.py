"""The same board when its chips and pins live in another process.

That process runs a `BoardServer` at a Unix socket. Here, `RemoteBus` stands for its I2C bus and
`RemotePinFactory` for its pins, on a connection each, so that a stuck bus never holds up a pin.
When a client dies its pins keep their last level, as they do under some kernels: whatever is to
happen then must be done by the circuit.

A message is its length (2 bytes, big-endian) and its bytes; every request is answered before the next.
"""

import errno
import socket
import struct
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from threading import Lock, local
from typing import Any

from gpiozero.exc import PinInvalidFunction, PinSetInput  # type: ignore[import-untyped]
from gpiozero.pins.local import LocalPiFactory  # type: ignore[import-untyped]
from gpiozero.pins.pi import PiFactory, PiPin  # type: ignore[import-untyped]

from halocline_hw.bus import Step
from halocline_hw.clock import Clock
from halocline_hw.raspberry_pi import RaspberryPiBoard
from halocline_hw.reservations import let_go_anywhere
from halocline_hw.wiring import Wiring

BUS_WRITE, BUS_READ, BUS_WRITE_READ, BUS_TRANSFER = 1, 2, 3, 4
PIN_OUTPUT, PIN_INPUT, PIN_SET, PIN_GET, PIN_FUNCTION, PIN_COUNT = (
    16,
    17,
    18,
    19,
    20,
    21,
)  # set, get, count: any number of pins
PULLS = ("floating", "up", "down")
OK, FAILED = b"\0", b"\1"
COUNT = struct.Struct(">qd")
LENGTH = struct.Struct(">H")
TIMEVAL = struct.Struct("@ll")

BUS_TIMEOUT_S = 1.0
PIN_TIMEOUT_S = 0.5  # the loop waits for pins
REVISION = 0xC03112  # the pin library wants to know which computer; any with a 40-pin header will do


class Connection:
    """Requests to the server at `path`, one at a time, from any thread. Connects again after a failure.

    Raises OSError (no server, or its answer) or TimeoutError (no answer within timeout_s).
    """

    def __init__(self, path: str, timeout_s: float) -> None:
        self._path = path
        self._timeout_s = timeout_s
        self._lock = Lock()
        self._socket: socket.socket | None = None

    def ask(self, request: bytes) -> bytes:
        """The server's answer to one request."""
        with self._lock:
            try:
                if self._socket is None:
                    self._socket = self._connect()
                self._socket.sendall(LENGTH.pack(len(request)) + request)
                answer = receive(self._socket)
            except OSError as error:
                # An answer may still come; the next request must not take it for its own.
                self._drop()
                raise self._in_words(error) from error
        if answer[:1] == OK:
            return answer[1:]
        (number,) = struct.unpack_from(">i", answer, 1)
        raise OSError(number, answer[5:].decode())

    def close(self) -> None:
        """Let go of the connection; the server's pins stay as they are."""
        with self._lock:
            self._drop()

    def _connect(self) -> socket.socket:
        connection = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        # The kernel keeps the time: Python's own time-out asks it with a second call before each send and receive.
        limit = TIMEVAL.pack(int(self._timeout_s), int(self._timeout_s % 1 * 1e6))
        for option in (socket.SO_RCVTIMEO, socket.SO_SNDTIMEO):
            connection.setsockopt(socket.SOL_SOCKET, option, limit)
        try:
            connection.connect(self._path)
        except OSError:
            connection.close()
            raise
        return connection

    def _drop(self) -> None:
        if self._socket is not None:
            self._socket.close()
        self._socket = None

    def _in_words(self, error: OSError) -> OSError:
        if isinstance(error, BlockingIOError):
            return TimeoutError(errno.ETIMEDOUT, f"the simulated board did not answer within {self._timeout_s} s")
        return OSError(error.errno or errno.ECONNRESET, f"the simulated board is gone: {error.strerror}")


def receive(connection: socket.socket) -> bytes:
    """One message. Raises ConnectionResetError when the peer is gone."""
    data = connection.recv(4096)
    while len(data) < LENGTH.size or len(data) < LENGTH.size + LENGTH.unpack_from(data)[0]:
        more = connection.recv(4096) if data else b""
        if not more:
            raise ConnectionResetError(errno.ECONNRESET, "it closed the connection")
        data += more
    return data[LENGTH.size :]


class RemoteBus:
    """The bus object the driver needs, answered by another process."""

    def __init__(self, path: str, timeout_s: float = BUS_TIMEOUT_S) -> None:
        self._connection = Connection(path, timeout_s)

    def try_lock(self) -> bool:
        return True

    def unlock(self) -> None:
        pass

    def writeto(self, address: int, buffer: bytes | bytearray, *, start: int = 0, end: int | None = None) -> None:
        self._connection.ask(bytes((BUS_WRITE, address)) + buffer[start:end])

    def readfrom_into(self, address: int, buffer: bytearray, *, start: int = 0, end: int | None = None) -> None:
        stop = len(buffer) if end is None else end
        buffer[start:stop] = self._connection.ask(bytes((BUS_READ, address, stop - start)))

    def writeto_then_readfrom(
        self,
        address: int,
        out_buffer: bytes | bytearray,
        in_buffer: bytearray,
        *,
        out_start: int = 0,
        out_end: int | None = None,
        in_start: int = 0,
        in_end: int | None = None,
    ) -> None:
        stop = len(in_buffer) if in_end is None else in_end
        request = bytes((BUS_WRITE_READ, address, stop - in_start)) + out_buffer[out_start:out_end]
        in_buffer[in_start:stop] = self._connection.ask(request)

    def transfer(self, address: int, steps: Sequence[Step]) -> list[bytes]:
        request = bytes((BUS_TRANSFER, address)) + b"".join(bytes((len(data), count)) + data for data, count in steps)
        answer, answers, at = self._connection.ask(request), [], 0
        for _, count in steps:
            if count:
                answers.append(answer[at : at + count])
                at += count
        return answers

    def close(self) -> None:
        self._connection.close()


class RemotePin(PiPin):  # type: ignore[misc] # the pin library is untyped
    """A pin of another process. It counts its own pulses there."""

    def __init__(self, factory: "RemotePinFactory", info: Any) -> None:
        super().__init__(factory, info)
        self._ask = factory.connection.ask
        self._factory_pins = factory
        self._pull = "floating"

    def close(self) -> None:
        with suppress(OSError):  # a pin of a process that is gone is as closed as it gets
            self.input_with_pull("floating")

    def output_with_state(self, state: bool) -> None:
        self._ask(bytes((PIN_OUTPUT, self._number, bool(state))))

    def input_with_pull(self, pull: str) -> None:
        self._ask(bytes((PIN_INPUT, self._number, PULLS.index(pull))))
        self._pull = pull

    def counted_pulses(self) -> tuple[int, float]:
        """Pulses so far and the monotonic time of the last in s."""
        return self._factory_pins.count(self._number)

    def _get_function(self) -> str:
        return "output" if self._ask(bytes((PIN_FUNCTION, self._number)))[0] else "input"

    def _set_function(self, value: str) -> None:
        if value == "output":
            self.output_with_state(False)
        elif value == "input":
            self.input_with_pull(self._pull)
        else:
            raise PinInvalidFunction("function must be input or output")

    def _get_state(self) -> bool:
        return self._factory_pins.state(self._number)

    def _set_state(self, value: float) -> None:
        self._factory_pins.set(self._number, bool(value))

    def _get_pull(self) -> str:
        return self._pull

    def _set_pull(self, value: str) -> None:
        self.input_with_pull(value)


class _Look:
    """What is known, and what waits, while several pins are set or read together."""

    def __init__(self) -> None:
        self.waiting: list[int] = []
        self.states: dict[int, bool] = {}
        self.counts: dict[int, tuple[int, float]] = {}


class RemotePinFactory(PiFactory):  # type: ignore[misc] # the pin library is untyped
    """Pins of another process for the pin library."""

    ticks = LocalPiFactory.ticks
    ticks_diff = LocalPiFactory.ticks_diff

    def __init__(self, path: str, timeout_s: float = PIN_TIMEOUT_S) -> None:
        super().__init__()
        let_go_anywhere(self)
        self.connection = Connection(path, timeout_s)
        self.pin_class = RemotePin
        self._read: set[int] = set()
        self._counted: set[int] = set()
        self._here = local()  # a bus clear uses pins from the scanner's thread meanwhile

    @contextmanager
    def together(self) -> Iterator[None]:
        """Pins that this thread sets within it wait for its end or for the next that is read, and go in one message,
        in order; those that it reads are of one look at all."""
        look = self._here.look = _Look()
        try:
            yield
        finally:
            self._here.look = None
            self._send(look.waiting)

    def set(self, number: int, on: bool) -> None:
        """Set an output pin. Raises PinSetInput for an input."""
        look: _Look | None = getattr(self._here, "look", None)
        if look is None:
            self._send([number, on])
        else:
            look.waiting += (number, on)

    def state(self, number: int) -> bool:
        """The level of a pin."""
        look: _Look | None = getattr(self._here, "look", None)
        if look is None:
            return self._states([number])[number]
        if number not in look.states:
            self._flush(look)
            self._read.add(number)
            look.states = self._states(sorted(self._read))
        return look.states[number]

    def count(self, number: int) -> tuple[int, float]:
        """Pulses of a pin so far and the monotonic time of the last in s."""
        look: _Look | None = getattr(self._here, "look", None)
        if look is None:
            return self._counts([number])[number]
        if number not in look.counts:
            self._flush(look)
            self._counted.add(number)
            look.counts = self._counts(sorted(self._counted))
        return look.counts[number]

    def _states(self, numbers: list[int]) -> dict[int, bool]:
        return dict(zip(numbers, map(bool, self.connection.ask(bytes((PIN_GET, *numbers)))), strict=True))

    def _counts(self, numbers: list[int]) -> dict[int, tuple[int, float]]:
        answer = self.connection.ask(bytes((PIN_COUNT, *numbers)))
        return dict(zip(numbers, COUNT.iter_unpack(answer), strict=True))

    def _flush(self, look: "_Look") -> None:
        waiting, look.waiting = look.waiting, []
        self._send(waiting)

    def _send(self, numbers_and_states: list[int]) -> None:
        if not numbers_and_states:
            return
        done = self.connection.ask(bytes((PIN_SET, *numbers_and_states)))[0]
        if 2 * done < len(numbers_and_states):
            raise PinSetInput(f"cannot set state of pin GPIO{numbers_and_states[2 * done]}: it is an input")

    def close(self) -> None:
        super().close()
        self.connection.close()

    def _get_revision(self) -> int:
        return REVISION


def open_remote_board(wiring: Wiring, path: str, clock: Clock) -> RaspberryPiBoard:
    """The board served at `path`, every output claimed at its safe level. Raises OSError."""
    bus = RemoteBus(path)
    pin_factory = RemotePinFactory(path)
    try:
        return RaspberryPiBoard(
            wiring,
            i2c_bus=bus,
            pin_factory=pin_factory,
            clock=clock,
            on_close=(bus.close, pin_factory.close),
            together=pin_factory.together,
        )
    except OSError:
        bus.close()
        pin_factory.connection.close()
        raise
