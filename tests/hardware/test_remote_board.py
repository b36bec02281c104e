"""The board in another process: who dies, who freezes, who talks nonsense."""

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import pytest

from halocline_hw import RealClock, VirtualClock, Wiring, drive_all_safe
from halocline_hw.board_server import BoardServer
from halocline_hw.emulated import EmulatedBoard
from halocline_hw.raspberry_pi import RaspberryPiBoard
from halocline_hw.remote import RemoteBus, RemotePinFactory, open_remote_board

Serve = Callable[..., AbstractContextManager[tuple[EmulatedBoard, str]]]

FAR_PROCESS = """
import sys, threading
from halocline_hw import OutputPin, RealClock, Wiring
from halocline_hw.board_server import BoardServer
from halocline_hw.emulated import EmulatedBoard
wiring = Wiring((0x48,), outputs={"feed_pump": OutputPin(17)})
far = EmulatedBoard(wiring, {0x48: lambda n, t: 1.5}, RealClock())
server = BoardServer(sys.argv[1], far.bus, far.pins)
server.start()
print("ready", flush=True)
threading.Event().wait()
"""


CONTROL_PROCESS = """
import sys, threading
from halocline_hw import OutputPin, RealClock, Wiring
from halocline_hw.remote import open_remote_board
board = open_remote_board(Wiring(outputs={"feed_pump": OutputPin(17)}), sys.argv[1], RealClock())
board.write("feed_pump", True)
print("ready", flush=True)
threading.Event().wait()
"""


@contextmanager
def process(program: str, path: str) -> Iterator["subprocess.Popen[str]"]:
    started = subprocess.Popen([sys.executable, "-c", program, path], stdout=subprocess.PIPE, text=True)
    try:
        assert started.stdout is not None
        assert started.stdout.readline() == "ready\n"
        yield started
    finally:
        started.kill()
        started.communicate()


@contextmanager
def far_process(folder: Path) -> Iterator[tuple["subprocess.Popen[str]", str]]:
    path = str(folder / "board")
    with process(FAR_PROCESS, path) as far:
        yield far, path


def test_a_killed_control_leaves_the_pins_as_they_are_and_a_new_one_starts_safe(serve: Serve, wiring: Wiring) -> None:
    with serve() as (far, path):
        with process(CONTROL_PROCESS, path) as control:
            control.kill()
            control.wait()
        assert far.pins.energised("feed_pump")
        far.pins.events.clear()
        board = open_remote_board(wiring, path, RealClock())
        assert not far.pins.energised("feed_pump")
        assert list(far.pins.ever_energised()) == []
        assert board.convert(0x48, 1, 4.096, 860) == 1.25
        board.close()


def test_relays_are_told_of_as_they_change(serve: Serve, wiring: Wiring) -> None:
    told: list[tuple[str, bool]] = []
    with serve(on_output=lambda line, on, t_s: told.append((line, on))) as (_, path):
        board = open_remote_board(wiring, path, RealClock())
        for on in (True, True, False):
            board.write("high_pressure_pump", on)
        board.close()
    assert told == [("high_pressure_pump", True), ("high_pressure_pump", False)]


def test_a_helper_drives_all_safe_beside_a_client_that_does_not_answer(serve: Serve, wiring: Wiring) -> None:
    with serve() as (far, path):
        board = open_remote_board(wiring, path, RealClock())
        for line in wiring.outputs:
            board.write(line, True)
        factory = RemotePinFactory(path)
        drive_all_safe(wiring, factory)
        factory.connection.close()
        assert not any(far.pins.outputs().values())
        board.close()


class HeldClock(VirtualClock):
    """Who sleeps by it sleeps until the test lets go."""

    def __init__(self) -> None:
        super().__init__()
        self.sleeping, self.let_go = threading.Event(), threading.Event()

    def sleep(self, seconds: float) -> None:
        self.sleeping.set()
        assert self.let_go.wait(10.0)
        super().sleep(seconds)


def test_a_stuck_bus_does_not_hold_up_the_pins(serve: Serve, wiring: Wiring, monkeypatch: pytest.MonkeyPatch) -> None:
    held = HeldClock()
    with serve() as (far, path):
        board = open_remote_board(wiring, path, RealClock())
        monkeypatch.setattr(far.bus, "_clock", held)
        far.bus.set_fault("i2c_stuck", 0x48)
        errors: list[OSError] = []

        def convert() -> None:
            try:
                board.convert(0x48, 0, 4.096, 860)
            except OSError as error:
                errors.append(error)

        thread = threading.Thread(target=convert)
        thread.start()
        assert held.sleeping.wait(10.0)
        board.write("feed_pump", True)
        assert far.pins.energised("feed_pump")
        board.write("feed_pump", False)
        assert not far.pins.energised("feed_pump")
        assert errors == []
        held.let_go.set()
        thread.join()
        board.close()
    assert isinstance(errors[0], TimeoutError)


def test_no_board_at_all_is_told_at_once(tmp_path: Path, wiring: Wiring) -> None:
    with pytest.raises(OSError, match="the simulated board is gone: No such file or directory"):
        open_remote_board(wiring, str(tmp_path / "nobody"), RealClock())


def test_a_killed_board_is_told_at_once_and_found_again(tmp_path: Path) -> None:
    small = Wiring(adc_addresses=(0x48,))
    with far_process(tmp_path) as (far, path):
        bus = RemoteBus(path)
        data = bytearray(2)
        bus.writeto_then_readfrom(0x48, b"\x01", data)
        assert data == b"\x85\x83"
        far.kill()
        far.wait()
        started_s = time.monotonic()
        for _ in range(3):
            with pytest.raises(OSError, match="the simulated board is gone"):
                bus.writeto_then_readfrom(0x48, b"\x01", data)
        assert time.monotonic() - started_s < 0.5
    with far_process(tmp_path) as (_, path):
        bus.writeto_then_readfrom(0x48, b"\x03", data)
        assert data == b"\x7f\xff"
        bus.close()
        board = open_remote_board(small, path, RealClock())
        assert board.convert(0x48, 0, 4.096, 860) == 1.5
        board.close()


def test_a_frozen_board_is_a_time_out_within_a_second_and_goes_on_when_it_thaws(tmp_path: Path) -> None:
    with far_process(tmp_path) as (far, path):
        bus = RemoteBus(path, timeout_s=0.2)
        data = bytearray(2)
        os.kill(far.pid, signal.SIGSTOP)
        started_s = time.monotonic()
        with pytest.raises(TimeoutError, match=r"the simulated board did not answer within 0.2 s"):
            bus.writeto_then_readfrom(0x48, b"\x01", data)
        assert time.monotonic() - started_s < 1.0
        os.kill(far.pid, signal.SIGCONT)
        bus.writeto_then_readfrom(0x48, b"\x03", data)
        assert data == b"\x7f\xff", "not the late answer to the first question"
        bus.close()


@pytest.mark.parametrize(
    "nonsense",
    [
        b"\x00\x00",
        b"\x00\x01\xff",
        b"\x00\x02\x10\x11",
        b"\x00\x03\x10\xff\x01",
        b"\x00\x02\x03\x48",
        b"\xff\xff" + b"x" * 5000,
        b"\x00\x03\x11\x05\x09",
    ],
)
def test_nonsense_closes_that_client_only(serve: Serve, wiring: Wiring, nonsense: bytes) -> None:
    with serve() as (_, path):
        board = open_remote_board(wiring, path, RealClock())
        with socket.socket(socket.AF_UNIX) as client:
            client.settimeout(2.0)
            client.connect(path)
            client.sendall(nonsense)
            client.shutdown(socket.SHUT_WR)
            assert client.recv(100) == b""
        assert board.read("stop_button")
        board.close()


def test_more_clients_than_anybody_needs_are_turned_away(serve: Serve, wiring: Wiring) -> None:
    with serve() as (_, path):
        buses = [RemoteBus(path) for _ in range(8)]
        for bus in buses:
            bus.writeto(0x48, b"\x01")
        with pytest.raises(OSError, match="the simulated board is gone"):
            RemoteBus(path).writeto(0x48, b"\x01")
        for bus in buses:
            bus.close()


def test_a_socket_left_by_a_killed_server_is_taken_over_and_removed_at_the_end(
    tmp_path: Path, wiring: Wiring, serve: Serve
) -> None:
    path = tmp_path / "board"
    with socket.socket(socket.AF_UNIX) as left_over:
        left_over.bind(str(path))
    with serve() as (far, _):
        server = BoardServer(str(path), far.bus, far.pins)
        server.start()
        assert path.stat().st_mode & 0o777 == 0o660
        server.close()
        assert not path.exists()


def test_a_place_that_cannot_hold_a_socket_is_an_os_error(serve: Serve, tmp_path: Path) -> None:
    with serve() as (far, _), pytest.raises(OSError, match="No such file"):
        BoardServer(str(tmp_path / "missing" / "board"), far.bus, far.pins)


def test_pins_that_do_not_count_cannot_be_served(tmp_path: Path, wiring: Wiring) -> None:
    volts = {address: lambda number, t_s: 0.0 for address in wiring.adc_addresses}
    far = EmulatedBoard(wiring, volts, VirtualClock(), pins_count=False)
    with pytest.raises(ValueError, match="the pins must count them"):
        BoardServer(str(tmp_path / "board"), far.bus, far.pins)


def write_together(board: RaspberryPiBoard, states: dict[str, bool]) -> None:
    with board.together():
        for line, on in states.items():
            board.write(line, on)


def test_outputs_set_together_cross_in_one_message_and_in_order(serve: Serve, wiring: Wiring) -> None:
    told: list[tuple[str, bool]] = []
    with serve(on_output=lambda line, on, t_s: told.append((line, on))) as (_, path):
        board = open_remote_board(wiring, path, RealClock())
        board.write("high_pressure_pump", True)
        told.clear()
        asked = []
        connection = board._pin_factory.connection
        ask = connection.ask
        connection.ask = lambda request: asked.append(request) or ask(request)
        write_together(board, {"high_pressure_pump": False, "feed_pump": True, "heartbeat": True})
        assert len(asked) == 1
        connection.ask = ask
        board.close()
    assert told[:3] == [("high_pressure_pump", False), ("feed_pump", True), ("heartbeat", True)]


def test_the_first_output_that_fails_ends_it_and_the_heartbeat_behind_it_stays(serve: Serve, wiring: Wiring) -> None:
    with serve() as (far, path):
        board = open_remote_board(wiring, path, RealClock())
        far.pins.factory.pin(wiring.outputs["feed_pump"].pin).function = "input"
        pin = wiring.outputs["feed_pump"].pin
        with pytest.raises(OSError, match=f"GPIO{pin}"):
            write_together(board, {"high_pressure_pump": True, "feed_pump": True, "heartbeat": True})
        assert far.pins.energised("high_pressure_pump")
        assert not far.pins.energised("heartbeat")
        with pytest.raises(OSError, match="no output"):
            write_together(board, {"high_pressure_pump": False, "nowhere": True})
        assert not far.pins.energised("high_pressure_pump"), "what came before the mistake was set"


def test_inputs_read_together_are_of_one_look_and_the_next_look_is_new(serve: Serve, wiring: Wiring) -> None:
    contacts, meters = list(wiring.contacts), list(wiring.pulses)
    with serve() as (far, path):
        board = open_remote_board(wiring, path, RealClock())

        def look() -> dict[str, object]:
            return {name: board.read(name) for name in contacts} | {name: board.edges(name) for name in meters}

        with board.together():
            before = look()
        assert before == look(), "one by one, the same"
        for name in contacts:
            far.pins.set_contact(name, True)
        with board.together():
            board.write("feed_pump", True)
            after = look()
            assert far.pins.energised("feed_pump"), "what was set before a look has gone out"
        assert all(after[name] for name in contacts)
        assert after == look()


def test_a_look_costs_one_message_for_contacts_and_one_for_meters(serve: Serve, wiring: Wiring) -> None:
    with serve() as (_, path):
        board = open_remote_board(wiring, path, RealClock())
        asked = []
        connection = board._pin_factory.connection
        ask = connection.ask
        connection.ask = lambda request: asked.append(request) or ask(request)
        for _ in range(2):
            asked.clear()
            with board.together():
                for name in wiring.contacts:
                    board.read(name)
                for name in wiring.pulses:
                    board.edges(name)
        assert len(asked) == bool(wiring.contacts) + bool(wiring.pulses)
        connection.ask = ask
        board.close()
