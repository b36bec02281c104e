"""Several steps in one call: the same answers from every kind of bus, whatever its adapter allows."""

import errno
from collections.abc import Callable

import pytest
import smbus2

from halocline_hw import VirtualClock, smbus
from halocline_hw.bus import BoundedBus, Bus
from halocline_hw.emulated import EmulatedAds1115, EmulatedBus
from halocline_hw.remote import RemoteBus

START = b"\x01\xc3\xe3"  # input 0, 4.096 V, 860/s, single-shot
WRITE_AND_READ = [(START, 0), (b"\x01", 2)]
THREE_READS = [(b"\x01", 2), (b"\x00", 2), (b"\x03", 2)]
CHIP = 0x48


class Adapter:
    """What the kernel's bus does with a call, on an emulated chip. `one_read`: as the Raspberry Pi's own adapter, which
    takes a read only as the last message of a call (from memory)."""

    fd = None

    def __init__(self, bus: Bus, one_read: bool) -> None:
        self.bus, self.one_read = bus, one_read
        self.calls: list[int] = []
        self.refused = 0

    def i2c_rdwr(self, *messages: smbus2.i2c_msg) -> None:
        if self.one_read and any(message.flags for message in messages[:-1]):
            self.refused += 1
            raise OSError(errno.EOPNOTSUPP, "Operation not supported")
        self.calls.append(len(messages))
        pointer = b""
        for message, after in zip(messages, [*messages[1:], None], strict=True):
            if message.flags:
                answer = bytearray(message.len)
                self.bus.writeto_then_readfrom(message.addr, pointer, answer)
                for place, byte in enumerate(answer):
                    message.buf[place] = bytes([byte])
            else:
                pointer = bytes(message)
                if after is None or not after.flags:
                    self.bus.writeto(message.addr, pointer)

    def close(self) -> None:
        pass


@pytest.fixture
def kernel(monkeypatch: pytest.MonkeyPatch) -> Callable[..., tuple[smbus.SmbusBus, Adapter, VirtualClock]]:
    def make(one_read: bool) -> tuple[smbus.SmbusBus, Adapter, VirtualClock]:
        clock = VirtualClock()
        adapter = Adapter(EmulatedBus({CHIP: EmulatedAds1115(lambda number, t_s: 1.5, clock)}, clock), one_read)
        monkeypatch.setattr(smbus, "SMBus", lambda path: adapter)
        return smbus.SmbusBus(1), adapter, clock

    return make


@pytest.mark.parametrize("one_read", [False, True])
def test_the_answers_do_not_depend_on_what_the_adapter_takes_in_a_call(kernel, one_read: bool) -> None:
    bus, _, clock = kernel(one_read)
    assert bus.transfer(CHIP, WRITE_AND_READ) == [b"\x43\xe3"], "started: it is busy"
    clock.sleep(0.002)
    assert bus.transfer(CHIP, THREE_READS) == [b"\xc3\xe3", (12000).to_bytes(2), b"\x7f\xff"]
    assert bus.transfer(CHIP, [(b"\x01", 2), (b"\x02\x80\x00", 0)]) == [b"\xc3\xe3"]


def test_an_adapter_that_takes_many_gets_one_call_a_transfer(kernel) -> None:
    bus, adapter, _ = kernel(one_read=False)
    bus.transfer(CHIP, WRITE_AND_READ)
    bus.transfer(CHIP, THREE_READS)
    assert adapter.calls == [3, 6]


def test_an_adapter_that_refuses_is_asked_once_and_nothing_is_written_twice(kernel) -> None:
    bus, adapter, _ = kernel(one_read=True)
    for _ in range(3):
        bus.transfer(CHIP, THREE_READS)
    assert adapter.refused == 1
    bus.transfer(CHIP, WRITE_AND_READ)
    assert adapter.calls == [2] * 9 + [3], "a write and the read behind it are still one call"


@pytest.mark.parametrize("number", [errno.EREMOTEIO, errno.ETIMEDOUT])
def test_an_error_of_the_wire_is_not_taken_for_a_refusal(kernel, number: int) -> None:
    bus, adapter, _ = kernel(one_read=False)

    def fail(*messages: smbus2.i2c_msg) -> None:
        raise OSError(number, "wire")

    good, adapter.i2c_rdwr = adapter.i2c_rdwr, fail
    with pytest.raises(OSError, match="wire"):
        bus.transfer(CHIP, THREE_READS)
    adapter.i2c_rdwr = good
    bus.transfer(CHIP, THREE_READS)
    assert adapter.calls == [6]


@pytest.mark.parametrize("one_read", [False, True])
def test_a_conversion_through_the_guard_costs_two_calls_or_four(kernel, one_read: bool) -> None:
    bus, adapter, clock = kernel(one_read)
    guarded = BoundedBus(bus, clock)
    value = bytearray(2)

    def convert() -> int:
        guarded.writeto(CHIP, START)
        guarded.writeto_then_readfrom(CHIP, b"\x01", value)
        guarded.writeto_then_readfrom(CHIP, b"\x00", value)
        return int.from_bytes(value)

    convert()
    adapter.calls.clear()
    assert convert() == 12000
    assert len(adapter.calls) == (4 if one_read else 2)


def test_a_transfer_crosses_the_socket_in_one_message(serve) -> None:
    with serve() as (far, path):
        bus = RemoteBus(path)
        assert bus.transfer(CHIP, [(b"\x03\x12\x34", 0), (b"\x03", 2)]) == [b"\x12\x34"]
        assert far.bus.transfer(CHIP, [(b"\x03", 2)]) == [b"\x12\x34"]
        assert bus.transfer(CHIP, THREE_READS)[2] == b"\x12\x34"
        with pytest.raises(OSError, match="0x4b"):
            bus.transfer(0x4B, THREE_READS)
        assert bus.transfer(CHIP, [(b"\x03", 2)]) == [b"\x12\x34"], "the next answer is that of the next question"
        bus.close()
