"""The guard between driver and bus: every wait ends, every register is read back."""

import threading
from collections.abc import Callable

import pytest
from adafruit_ads1x15 import ADS1115, AnalogIn, ads1x15

from halocline_hw import VirtualClock
from halocline_hw.bus import BoundedBus
from halocline_hw.emulated import EmulatedAds1115, EmulatedBus

CONFIG, LO_THRESH, HI_THRESH = 1, 2, 3
START = b"\x01\xc3\xe3"  # input 0, 4.096 V, 860/s, single-shot


class Spy(EmulatedBus):
    """Lets a test meddle between two transfers."""

    before_read: Callable[[int], None] | None = None
    after_read: Callable[[int], None] | None = None
    loses_writes = False

    def writeto(self, address: int, buffer: bytes | bytearray, *, start: int = 0, end: int | None = None) -> None:
        if not self.loses_writes:
            super().writeto(address, buffer, start=start, end=end)

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
        if self.before_read is not None:
            self.before_read(out_buffer[out_start])
        super().writeto_then_readfrom(address, out_buffer, in_buffer)
        if self.after_read is not None:
            self.after_read(out_buffer[out_start])


class Bench:
    def __init__(self, rate_error: float = 0.0) -> None:
        self.clock = VirtualClock()
        self.volts = [0.5, 1.5, 2.5, 3.0]
        self.chip = EmulatedAds1115(lambda number, t_s: self.volts[number], self.clock, rate_error=rate_error)
        self.bus = Spy({0x48: self.chip}, self.clock)
        self.bounded = BoundedBus(self.bus, self.clock)

    def driver(self, rate: int = 860) -> ADS1115:
        return ADS1115(self.bounded, gain=1, data_rate=rate, mode=ads1x15.Mode.SINGLE, address=0x48)


@pytest.mark.parametrize("rate_error", [-0.1, 0.0, 0.1])
@pytest.mark.parametrize("rate", [8, 16, 32, 64, 128, 250, 475, 860])
def test_the_drivers_own_analogue_input_works_at_every_rate(rate: int, rate_error: float) -> None:
    bench = Bench(rate_error)
    driver = bench.driver(rate)
    for number in range(4):
        before_s = bench.clock.now()
        assert AnalogIn(driver, number).voltage == pytest.approx(bench.volts[number])
        assert bench.clock.now() - before_s < 1.25 / (0.9 * rate) + 0.001


def test_a_nominal_chip_costs_five_transfers_and_no_second_poll() -> None:
    bench = Bench()
    driver = bench.driver()
    driver.read(4)
    before = bench.bus.transfers
    driver.read(5)
    assert bench.bus.transfers - before == 5
    assert bench.bounded.counts(0x48).extra_polls == 0


@pytest.mark.parametrize("rate", [8, 128, 860])
def test_a_hung_chip_ends_in_a_time_out_within_twice_the_slowest_conversion(rate: int) -> None:
    bench = Bench()
    driver = bench.driver(rate)
    driver.read(4)
    bench.chip.hangs = True
    before_s = bench.clock.now()
    with pytest.raises(TimeoutError, match="ADC 0x48 did not finish a conversion within"):
        driver.read(4)
    assert 2.0 / (0.9 * rate) < bench.clock.now() - before_s < 2.5 / (0.9 * rate) + 0.002


def test_a_hung_chip_ends_in_a_time_out_even_if_the_clock_stands_still() -> None:
    class StandingClock(VirtualClock):
        def sleep(self, seconds: float) -> None:
            pass

    clock = StandingClock()
    bus = EmulatedBus({0x48: EmulatedAds1115(lambda number, t_s: 0.0, clock)}, clock)
    with pytest.raises(TimeoutError, match="did not finish"):
        ADS1115(BoundedBus(bus, clock), address=0x48).read(4)


def test_a_start_that_got_lost_does_not_pass_off_the_old_value() -> None:
    bench = Bench()
    driver = bench.driver()
    assert driver.read(4) == 4000
    bench.volts[0] = 1.0
    bench.bus.loses_writes = True
    with pytest.raises(OSError, match="ADC 0x48 did not start a conversion"):
        driver.read(4)


def test_a_conversion_left_over_by_somebody_else_is_waited_for() -> None:
    """Else its value, of another channel, would come out as ours."""
    bench = Bench()
    bench.bus.writeto(0x48, b"\x01\xf3\x03")  # input 3 at 8/s, 125 ms
    driver = bench.driver()
    assert driver.read(4) == 4000
    assert bench.clock.now() > 0.125


def test_a_chip_left_running_freely_on_another_channel_is_stopped_first() -> None:
    bench = Bench()
    bench.bus.writeto(0x48, b"\x01\x72\x03")  # input 3 at 8/s, again and again
    driver = bench.driver()
    assert driver.read(4) == 4000
    assert driver.read(5) == 12000


@pytest.mark.parametrize("register", [0, 1])
def test_a_reset_between_any_two_transfers_is_seen(register: int) -> None:
    bench = Bench()
    driver = bench.driver()
    driver.read(4)
    seen = []

    def reset(read: int) -> None:
        seen.append(read)
        if read == register and len(seen) >= 2:  # after the start was seen to start
            bench.chip.power_on()

    bench.bus.before_read = reset
    with pytest.raises(OSError, match="ADC 0x48 was reset: its config register is back at 0x8583"):
        driver.read(4)
    bench.bus.before_read = None
    assert driver.read(4) == 4000
    assert bench.bounded.counts(0x48).resets == 1


def test_a_change_of_range_behind_our_back_is_seen() -> None:
    bench = Bench()
    driver = bench.driver()
    driver.read(4)

    def meddle(register: int) -> None:
        if register == 0:
            bench.bus.writeto(0x48, b"\x01\x45\xe3")  # same channel, 2.048 V

    bench.bus.before_read = meddle
    with pytest.raises(OSError, match="ADC 0x48: config reads 0xc5e3 where 0xc3e3 was written"):
        driver.read(4)
    assert bench.bounded.counts(0x48).mismatches == 1


def test_a_threshold_that_did_not_take_is_seen() -> None:
    bench = Bench()
    bench.bounded.write_register(0x48, HI_THRESH, 0x1234)
    bench.bus.loses_writes = True
    with pytest.raises(OSError, match="ADC 0x48: register 3 reads 0x1234, 0x4321 was written"):
        bench.bounded.write_register(0x48, HI_THRESH, 0x4321)


def test_a_read_without_naming_the_register_is_refused() -> None:
    bench = Bench()
    with pytest.raises(OSError, match="ADC 0x48 is read by register only"):
        bench.bounded.readfrom_into(0x48, bytearray(2))


def test_a_poll_after_a_long_sleep_of_the_process_does_not_blame_the_chip() -> None:
    """The ready bit is looked at before the clock."""
    bench = Bench()
    driver = bench.driver()

    def sleep_long(register: int) -> None:
        if register == CONFIG:
            bench.clock.sleep(0.5)

    driver.read(4)
    bench.bus.before_read = sleep_long
    assert driver.read(5) == 12000


def test_a_process_put_to_sleep_right_after_a_poll_polls_again_before_it_blames_the_chip() -> None:
    bench = Bench(rate_error=-0.1)
    driver = bench.driver(rate=128)  # slow enough not to be ready at the first poll
    driver.read(4)
    reads = []

    def sleep_after_the_first_poll(register: int) -> None:
        reads.append(register)
        if len(reads) == 2:
            bench.clock.sleep(0.5)

    bench.bus.after_read = sleep_after_the_first_poll
    assert driver.read(5) == 12000
    poll = [CONFIG, 0, CONFIG]
    assert reads == [CONFIG, *poll, *poll]


def test_a_value_is_served_once_and_a_chip_that_was_not_asked_is_read_as_it_stands() -> None:
    bench = Bench()
    driver = bench.driver()
    driver.read(4)
    before = bench.bus.transfers
    assert bench.bounded.read_register(0x48, 0) == 4000
    value = bytearray(2)
    bench.bounded.writeto_then_readfrom(0x48, b"\x00", value)
    assert int.from_bytes(value) == 4000
    assert bench.bus.transfers - before == 3, "the value and the config behind it, again from the chip"


def test_a_chip_that_changes_between_the_last_poll_and_the_value_is_found_out() -> None:
    bench = Bench()
    driver = bench.driver()
    driver.read(4)
    bench.bus.after_read = lambda register: bench.chip.power_on() if register == 0 else None
    with pytest.raises(OSError, match="ADC 0x48 was reset"):
        driver.read(5)


def test_two_threads_get_their_own_channels(emulate: Callable[..., object]) -> None:
    far, _ = emulate()  # type: ignore[misc]
    board = far.open()  # type: ignore[has-type]
    wrong: list[float] = []

    def ask(channel: int, expected: float) -> None:
        for _ in range(200):
            if board.convert(0x48, channel, 4.096, 860) != expected:
                wrong.append(expected)

    threads = [threading.Thread(target=ask, args=(number, 0.5 + 0.75 * number)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
    assert board.counts(0x48).conversions == 800
