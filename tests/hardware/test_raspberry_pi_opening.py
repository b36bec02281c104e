"""Opening the computer's own pins and bus, with the kernel's and the GPIO library's side recorded."""

import errno
import fcntl
import grp
import importlib
import os
import stat
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import smbus2
from gpiozero import PinUnknownPi  # type: ignore[import-untyped]
from gpiozero.pins.local import LocalPiFactory  # type: ignore[import-untyped]

from halocline_hw import (
    BusClearPins,
    OutputPin,
    PulsePin,
    RealClock,
    Wiring,
    device_files,
    drive_raspberry_pi_safe,
    gpio_chip,
    header_chip,
    open_board,
    open_raspberry_pi,
    released_pins_stay,
    smbus,
)

SMALL = Wiring(
    adc_addresses=(0x48,),
    outputs={
        "feed_pump": OutputPin(17),
        "buzzer": OutputPin(22, active_high=False, accept_active_low=True),
    },
)


GROUP = next(entry.gr_name for entry in grp.getgrall() if entry.gr_gid)


class FakeLgpio(ModuleType):
    """The GPIO library's calls that matter, recorded; line modes as the kernel reports them."""

    BOTH_EDGES, RISING_EDGE, FALLING_EDGE = 3, 1, 2
    SET_PULL_NONE, SET_PULL_UP, SET_PULL_DOWN = 128, 32, 64
    error = type("error", (Exception,), {})

    def __init__(self) -> None:
        super().__init__("lgpio")
        self.labels = {0: "gpio-fan", 11: "pinctrl-rp1"}
        self.opened: list[int] = []
        self.calls: list[tuple[str, int, int]] = []
        self.level: dict[int, int] = {}
        self.mode: dict[int, int] = {}
        self.busy: set[int] = set()

    def gpiochip_open(self, chip: int) -> int:
        if chip not in self.labels:
            raise self.error("can not open gpiochip")
        self.opened.append(chip)
        return 100 + chip

    def gpiochip_close(self, handle: int) -> None:
        self.calls.append(("close", handle, 0))

    def gpio_claim_input(self, handle: int, gpio: int, flags: int = 0) -> None:
        self.calls.append(("input", gpio, flags))
        self.mode[gpio] = flags & 0xE0

    def gpio_claim_output(self, handle: int, gpio: int, level: int = 0, flags: int = 0) -> None:
        if gpio in self.busy:
            raise self.error("GPIO busy")
        self.calls.append(("output", gpio, level))
        self.mode[gpio] = 2
        self.level[gpio] = level

    def gpio_get_mode(self, handle: int, gpio: int) -> int:
        return self.mode[gpio]

    def gpio_write(self, handle: int, gpio: int, level: bool) -> None:
        if gpio in self.busy:
            raise self.error("GPIO not allocated")
        self.calls.append(("write", gpio, int(level)))
        self.level[gpio] = int(level)

    def gpio_read(self, handle: int, gpio: int) -> int:
        return self.level.get(gpio, 0)

    def gpio_free(self, handle: int, gpio: int) -> None:
        self.calls.append(("free", gpio, 0))

    def of(self, gpio: int) -> list[tuple[str, int]]:
        return [(what, value) for what, number, value in self.calls if number == gpio]


class FakeSmbus:
    """The kernel's bus: one chip whose config register reads as after power-on."""

    fd = None
    closed = False
    failure: OSError | None = None

    def __init__(self, path: str) -> None:
        if self.failure is not None:
            raise self.failure
        self.path = path

    def i2c_rdwr(self, *messages: smbus2.i2c_msg) -> None:
        self.sent = [bytes(message) for message in messages if not message.flags]
        for message in messages:
            if message.flags:
                for place, byte in enumerate(b"\x85\x83"[: message.len]):
                    message.buf[place] = bytes([byte])

    def close(self) -> None:
        FakeSmbus.closed = True


@pytest.fixture
def lgpio(monkeypatch: pytest.MonkeyPatch) -> Iterator[FakeLgpio]:
    fake = FakeLgpio()
    monkeypatch.setitem(sys.modules, "lgpio", fake)
    monkeypatch.setattr(open_board, "glob", lambda pattern: [f"/dev/gpiochip{chip}" for chip in fake.labels])
    monkeypatch.setattr(open_board, "chip_label", lambda path: fake.labels.get(int(path[13:]), ""))
    monkeypatch.setattr(LocalPiFactory, "_get_revision", lambda self: 0xC04170)
    monkeypatch.setattr(smbus, "SMBus", FakeSmbus)
    monkeypatch.setattr(FakeSmbus, "closed", False)
    yield fake
    LocalPiFactory.pins.clear()
    LocalPiFactory._reservations.clear()
    for name in ("gpiozero.pins.lgpio", "halocline_hw.lgpio_pins"):
        sys.modules.pop(name, None)


def test_the_header_is_found_by_its_label_not_its_number(lgpio: FakeLgpio) -> None:
    board = open_raspberry_pi(SMALL)
    assert lgpio.opened[-1] == 11
    board.close()


def test_each_output_has_its_safe_level_in_the_moment_it_becomes_one(lgpio: FakeLgpio) -> None:
    board = open_raspberry_pi(SMALL, RealClock())
    assert lgpio.of(17) == [("input", 128), ("output", 0)]
    assert lgpio.of(22) == [("input", 128), ("output", 1)]
    board.close()


def test_closing_leaves_each_output_driven_safe_and_lets_go_of_chip_and_bus(lgpio: FakeLgpio) -> None:
    board = open_raspberry_pi(SMALL)
    board.write("feed_pump", True)
    board.write("buzzer", True)
    assert (lgpio.level[17], lgpio.level[22]) == (1, 0)
    board.close()
    assert lgpio.of(17)[2:] == [("write", 1), ("write", 0)]
    assert lgpio.of(22)[2:] == [("write", 0), ("write", 1)]
    assert lgpio.calls[-1] == ("close", 111, 0)
    assert FakeSmbus.closed


def test_a_bus_clear_only_ever_pulls_its_lines_low_or_lets_them_go(lgpio: FakeLgpio) -> None:
    board = open_raspberry_pi(replace(SMALL, bus_clear=BusClearPins(scl=9, sda=10)))
    held = iter([0, 0, 0])  # the chip lets go with the third clock
    lgpio.gpio_read = lambda _handle, gpio: next(held, 1) if gpio == 10 else 1  # type: ignore[method-assign]
    assert board.clear_bus()
    driven = {gpio: [call for call in lgpio.of(gpio) if call[0] in ("output", "write")] for gpio in (9, 10)}
    assert driven == {9: [("output", 0)] * 3, 10: [("output", 0)]}  # three clocks, and the stop
    assert lgpio.of(9)[-1] == lgpio.of(10)[-1] == ("input", lgpio.SET_PULL_NONE)
    board.close()


def test_a_pin_that_fails_is_an_os_error_and_keeps_no_other_from_being_safe(lgpio: FakeLgpio) -> None:
    board = open_raspberry_pi(SMALL)
    board.write("buzzer", True)
    lgpio.busy = {17}
    with pytest.raises(OSError, match="GPIO17: GPIO not allocated"):
        board.write("feed_pump", True)
    with pytest.raises(OSError, match="feed_pump: GPIO17: GPIO not allocated"):
        board.close()
    assert lgpio.level[22] == 1
    assert FakeSmbus.closed


def test_a_pin_another_program_holds_is_told_with_the_remedy(lgpio: FakeLgpio) -> None:
    lgpio.busy = {17}
    with pytest.raises(OSError, match="GPIO17: GPIO busy; another program holds it, gpioinfo tells which"):
        open_raspberry_pi(SMALL)
    with pytest.raises(OSError, match="not driven safe: feed_pump: GPIO17: GPIO busy"):
        drive_raspberry_pi_safe(SMALL)
    assert lgpio.level[22] == 1, "the other one was driven safe all the same"


def test_the_safe_helper_only_claims_and_lets_go(lgpio: FakeLgpio) -> None:
    drive_raspberry_pi_safe(SMALL)
    assert lgpio.of(17) == [("input", 128), ("output", 0)]
    assert lgpio.of(22) == [("input", 128), ("output", 1)]
    assert lgpio.calls[-1] == ("close", 111, 0)


def test_contacts_are_pulled_up(lgpio: FakeLgpio, wiring: Wiring) -> None:
    board = open_raspberry_pi(replace(wiring, pulses={}))
    assert lgpio.of(5)[-1] == ("input", 32)
    lgpio.level[5] = 0
    assert board.read("stop_button")
    lgpio.level[5] = 1
    assert not board.read("stop_button")
    board.close()


def test_without_a_bus_the_outputs_are_driven_safe_all_the_same(
    lgpio: FakeLgpio, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(FakeSmbus, "failure", FileNotFoundError(errno.ENOENT, "No such file or directory"))
    with pytest.raises(OSError, match=r"cannot open /dev/i2c-1: switch I2C on \(dtparam=i2c_arm=on"):
        open_raspberry_pi(SMALL)
    assert (lgpio.level[17], lgpio.level[22]) == (0, 1)


@pytest.mark.parametrize(
    ("number", "remedy"),
    [
        (errno.EACCES, "add the daemon's user to the group i2c"),
        (errno.EBUSY, "is it the right bus number?"),
    ],
)
def test_a_bus_that_cannot_be_opened_names_the_remedy(
    monkeypatch: pytest.MonkeyPatch, number: int, remedy: str
) -> None:
    monkeypatch.setattr(smbus, "SMBus", FakeSmbus)
    monkeypatch.setattr(FakeSmbus, "failure", OSError(number, "no"))
    with pytest.raises(OSError, match=f"cannot open /dev/i2c-3: {remedy.replace('?', '.')}") as refusal:
        smbus.SmbusBus(3)
    assert refusal.value.errno == number


def test_no_header_on_this_computer_names_what_was_found(lgpio: FakeLgpio) -> None:
    lgpio.labels = {0: "gpio-fan"}
    with pytest.raises(
        OSError,
        match=r"no GPIO chip of a Raspberry Pi's header \(pinctrl-rp1, .*\); found /dev/gpiochip0 \(gpio-fan\)"
        r"\. The pins of other computers are not known; the simulated boat runs on each",
    ):
        open_raspberry_pi(SMALL)


def test_a_header_that_may_not_be_opened_says_whose_it_is(
    lgpio: FakeLgpio, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    lgpio.labels = {}
    device = tmp_path / "gpiochip0"
    device.touch(mode=0o600)
    monkeypatch.setattr(open_board, "remedy", lambda _path, group: device_files.remedy(str(device), group))
    monkeypatch.setattr(open_board, "glob", lambda _pattern: ["/dev/gpiochip0"])
    with pytest.raises(OSError, match=r"gpiochip0 is open to root alone \(-rw------- .*60-halocline\.rules opens it"):
        open_raspberry_pi(SMALL)


@pytest.mark.parametrize(
    ("mode", "group", "said"),
    [
        (0o660, GROUP, f"add the daemon's user to the group {GROUP}"),
        (0o600, GROUP, "open to root alone"),
        (0o640, GROUP, "open to root alone"),
        (0o660, "root", "open to root alone"),
    ],
)
def test_the_permission_of_a_device_is_told_from_membership_in_its_group(
    mode: int, group: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    device = tmp_path / "gpiochip0"
    device.touch()
    device.chmod(mode)
    found = list(device.stat())
    found[stat.ST_GID] = grp.getgrnam(group).gr_gid
    monkeypatch.setattr(device_files.os, "stat", lambda _path: os.stat_result(found))
    assert said in device_files.remedy(str(device), "gpio")


@pytest.mark.parametrize(
    ("said", "number", "remedy"),
    [
        ("'GPIO busy'", errno.EBUSY, "another program holds it"),
        ("'bad event request'", errno.ENXIO, "its chip reports no edges"),
        ("'no permission to perform action'", errno.EACCES, "may not use this chip"),
        ("'bad handle'", errno.EIO, "bad handle"),
    ],
)
@pytest.mark.parametrize("call", ["gpio_claim_alert", "gpio_free"])
def test_whatever_call_of_the_library_fails_it_is_an_os_error_in_words(
    call: str, said: str, number: int, remedy: str, lgpio: FakeLgpio, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_arguments: object) -> int:
        raise lgpio.error(said)

    monkeypatch.setattr(lgpio, call, fail, raising=False)
    with pytest.raises(OSError, match=remedy) as raised:
        open_raspberry_pi(replace(SMALL, pulses={"product_flow": PulsePin(21, 100.0)}))
    assert raised.value.errno == number
    assert "'" not in raised.value.strerror.split(";")[0].split("daemon")[0]


@pytest.mark.parametrize(
    "trouble",
    [
        FileNotFoundError(errno.ENOENT, "No such file or directory", "/proc/cpuinfo"),
        PinUnknownPi("unable to locate Pi revision in /proc/device-tree or /proc/cpuinfo"),
    ],
)
def test_a_computer_that_hides_which_one_it_is_gets_one_sentence(
    trouble: Exception, lgpio: FakeLgpio, monkeypatch: pytest.MonkeyPatch
) -> None:
    def hidden(_factory: object) -> int:
        raise trouble

    monkeypatch.setattr(LocalPiFactory, "_get_revision", hidden)
    for use in (open_raspberry_pi, drive_raspberry_pi_safe):
        with pytest.raises(OSError, match=r"does not say which Raspberry Pi it is .*/proc/cpuinfo has to be there"):
            use(SMALL)
    assert lgpio.calls[-1] == ("close", 111, 0)


def test_a_missing_gpio_library_names_the_package(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "lgpio", None)
    with pytest.raises(OSError, match="lgpio is not installed: install the system's python3-lgpio"):
        open_raspberry_pi(SMALL)


def test_an_empty_placeholder_library_is_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "lgpio", ModuleType("lgpio"))
    with pytest.raises(OSError, match="the installed lgpio is an empty placeholder"):
        open_raspberry_pi(SMALL)


PIPE_MAKER = """
import os
os.mkfifo(".lgd-nfy0")  # as lgpio does: in the folder of the moment, and opened by that name
_held = os.open(".lgd-nfy0", os.O_RDWR)
class error(Exception): pass
def gpiochip_open(chip): raise error("can not open gpiochip")
"""


@pytest.mark.parametrize("service", [False, True])
def test_the_librarys_pipe_lies_in_no_folder_of_ours(
    service: bool, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    library, here, own = tmp_path / "library", tmp_path / "here", tmp_path / "own"
    for folder in (library, here, own):
        folder.mkdir()
    (library / "lgpio.py").write_text(PIPE_MAKER)
    monkeypatch.syspath_prepend(str(library))
    monkeypatch.delitem(sys.modules, "lgpio", raising=False)
    monkeypatch.chdir(here)
    if service:
        monkeypatch.setenv("RUNTIME_DIRECTORY", str(own))
    with pytest.raises(OSError, match="no GPIO chip of a Raspberry Pi's header"):
        drive_raspberry_pi_safe(SMALL)
    assert Path.cwd() == here
    assert not list(here.iterdir()) + list(own.iterdir())
    os.close(sys.modules.pop("lgpio")._held)


@pytest.mark.parametrize(
    ("flags", "stay"), [({17: 2, 22: 2}, True), ({17: 0, 22: 1 << 16}, False), ({17: 3, 22: 3}, None)]
)
def test_what_the_kernel_does_with_released_pins_is_seen_on_the_plants_own(
    flags: dict[int, int], stay: bool | None, lgpio: FakeLgpio, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        lgpio, "gpio_get_line_info", lambda _handle, gpio: [0, gpio, flags[gpio], "", ""], raising=False
    )
    assert released_pins_stay(SMALL) is stay
    assert not lgpio.of(17), "nothing is claimed for it"
    assert header_chip() == "/dev/gpiochip11 (pinctrl-rp1)"


def test_a_folder_the_library_cannot_write_to_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    real_import = importlib.import_module

    def refuse(name: str, package: str | None = None) -> ModuleType:
        if name == "lgpio":
            raise PermissionError(errno.EACCES, "Permission denied")
        return real_import(name, package)

    monkeypatch.setattr(importlib, "import_module", refuse)
    with pytest.raises(OSError, match="can be written to; a card that has become read-only does that"):
        open_raspberry_pi(SMALL)


def test_the_kernels_bus_writes_and_reads_as_the_driver_asks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(smbus, "SMBus", FakeSmbus)
    bus = smbus.SmbusBus(1)
    kernel: Any = bus._bus
    assert bus.try_lock()
    bus.writeto(0x48, b"\x00\x01\xc3\xe3", start=1)
    assert kernel.sent == [b"\x01\xc3\xe3"]
    data = bytearray(3)
    bus.writeto_then_readfrom(0x48, b"\x01", data, in_start=1)
    assert (kernel.sent, bytes(data)) == ([b"\x01"], b"\x00\x85\x83")
    bus.readfrom_into(0x48, data, end=2)
    assert bytes(data) == b"\x85\x83\x83"
    bus.unlock()
    bus.close()


def test_the_kernel_is_asked_not_to_wait_long_nor_to_retry(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[int, int, int]] = []
    monkeypatch.setattr(smbus, "SMBus", FakeSmbus)
    monkeypatch.setattr(FakeSmbus, "fd", 9)
    monkeypatch.setattr(fcntl, "ioctl", lambda *call: asked.append(call))
    smbus.SmbusBus(1)
    assert asked == [(9, 0x0702, 5), (9, 0x0701, 0)]  # <linux/i2c-dev.h>: 50 ms, no retries


def test_a_pin_that_is_collected_while_another_is_reserved_does_not_hold_its_thread_for_ever(lgpio: FakeLgpio) -> None:
    factory = importlib.import_module("halocline_hw.lgpio_pins").SafeFactory(0)
    reservations = factory._res_lock
    with reservations:
        assert reservations.acquire(blocking=False)
        reservations.release()


def test_what_is_no_chip_has_no_label(tmp_path: Path) -> None:
    assert gpio_chip.chip_label("/dev/null") == ""
    assert gpio_chip.chip_label(str(tmp_path / "gpiochip0")) == ""


def test_a_label_is_read_as_the_kernel_lays_it_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """struct gpiochip_info in linux/gpio.h: name[32], label[32], lines; the request's number has its size in it."""
    told = b"gpiochip4".ljust(32, b"\0") + b"pinctrl-rp1".ljust(32, b"\0") + (54).to_bytes(4, sys.byteorder)
    asked: list[int] = []
    monkeypatch.setattr(fcntl, "ioctl", lambda _device, request, _room: asked.append(request) or told)
    assert gpio_chip.chip_label("/dev/null") == "pinctrl-rp1"
    assert asked == [2 << 30 | len(told) << 16 | 0xB4 << 8 | 0x01]
