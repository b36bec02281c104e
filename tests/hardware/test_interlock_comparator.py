"""The overpressure interlock that needs no program: an ADC's window comparator and its latched pin."""

from dataclasses import replace

import pytest

from halocline_hw import Interlock, RaspberryPiBoard, VirtualClock, Wiring
from halocline_hw.emulated import EmulatedBoard

INTERLOCK = Interlock(address=0x4B, mux=0, low_v=0.3, high_v=2.64, contact="bilge_wet", in_a_row=2)


class Bench:
    """A board with an interlock whose relay opens the contact `stop_button`'s neighbour, `bilge_wet`."""

    def __init__(self, wiring: Wiring) -> None:
        self.clock = VirtualClock()
        self.wiring = wiring
        self.volts = 1.5
        self.wire_is_good = True
        signal = {address: lambda number, t_s: self.volts for address in (0x48, 0x49, 0x4B)}
        self.far = EmulatedBoard(replace(wiring, interlock=INTERLOCK), signal, self.clock)
        pin = self.far.pins.factory.pin(wiring.contacts["bilge_wet"].pin)
        pin.level_from = lambda: self.far.interlock_open() and self.wire_is_good
        self.board: RaspberryPiBoard = self.far.open()

    def reopened(self, interlock: Interlock | None) -> RaspberryPiBoard:
        """The same board as a control with other settings would open it."""
        self.board.close()
        wiring = replace(self.wiring, interlock=interlock)
        return RaspberryPiBoard(wiring, i2c_bus=self.far.bus, pin_factory=self.far.pins.factory, clock=self.clock)

    def open_after(self, volts: float, conversions: float) -> bool:
        self.volts = volts
        self.clock.sleep(conversions / 860)
        return self.far.interlock_open()


@pytest.fixture
def bench(wiring: Wiring) -> Bench:
    return Bench(wiring)


def test_it_is_open_until_it_is_armed(bench: Bench) -> None:
    assert bench.far.interlock_open()
    bench.board.arm_interlock()
    bench.clock.sleep(0.01)
    assert not bench.far.interlock_open()
    bench.board.check_interlock()


@pytest.mark.parametrize("volts", [2.65, 4.0, 0.29, 0.0])
def test_it_opens_on_two_conversions_outside_the_window_and_stays_open(bench: Bench, volts: float) -> None:
    bench.board.arm_interlock()
    assert not bench.open_after(1.5, 5)
    assert not bench.open_after(volts, 1)
    assert bench.open_after(volts, 2.1)
    assert bench.open_after(1.5, 1000)


def test_looking_at_it_does_not_close_it_and_arming_again_neither(bench: Bench) -> None:
    bench.board.arm_interlock()
    assert bench.open_after(3.0, 5)
    bench.board.check_interlock()
    bench.board.arm_interlock()
    assert bench.open_after(1.5, 5)
    bench.board.release_interlock()
    assert not bench.open_after(1.5, 5)


def test_releasing_it_under_pressure_opens_it_again(bench: Bench) -> None:
    bench.board.arm_interlock()
    assert bench.open_after(3.0, 5)
    bench.board.release_interlock()
    assert bench.open_after(3.0, 5)


def test_it_works_while_the_other_chips_are_scanned(bench: Bench) -> None:
    bench.board.arm_interlock()
    for _ in range(20):
        bench.board.convert(0x48, 1, 4.096, 860)
    assert not bench.far.interlock_open()
    bench.volts = 3.0
    bench.board.convert(0x48, 1, 4.096, 860)
    bench.board.convert(0x48, 1, 4.096, 860)
    assert bench.far.interlock_open()


def test_a_reset_chip_opens_it_and_is_told(bench: Bench) -> None:
    bench.board.arm_interlock()
    bench.clock.sleep(0.01)
    bench.far.chips[0x4B].power_on()
    assert bench.far.interlock_open()
    with pytest.raises(OSError, match="interlock ADC 0x4b was reset: it watches nothing"):
        bench.board.check_interlock()


def test_another_window_than_ours_is_told_with_both(bench: Bench) -> None:
    bench.board.arm_interlock()
    with pytest.raises(
        OSError,
        match="interlock ADC 0x4b holds 0x42fd, 0x0960, 0x5280 where 0x42fd, 0x0960, 0x5140 was programmed",
    ):
        bench.reopened(replace(INTERLOCK, high_v=2.6)).check_interlock()


def test_the_proof_test_opens_and_closes_the_circuit(bench: Bench) -> None:
    bench.board.arm_interlock()
    bench.clock.sleep(0.01)
    opened_s = bench.board.prove_interlock()
    assert 1 / 860 < opened_s < 0.02
    bench.board.check_interlock()
    assert not bench.far.interlock_open()


def test_the_proof_test_finds_a_wire_that_does_nothing(bench: Bench) -> None:
    bench.board.arm_interlock()
    bench.clock.sleep(0.01)
    bench.wire_is_good = False
    with pytest.raises(OSError, match="did not open its circuit: check the ALERT wire and the relay"):
        bench.board.prove_interlock()
    bench.board.check_interlock()


def test_the_proof_test_finds_a_latch_that_does_not_hold(bench: Bench) -> None:
    bench.board.arm_interlock()
    bench.clock.sleep(0.01)
    pin = bench.far.pins.factory.pin(bench.wiring.contacts["bilge_wet"].pin)
    looks = iter([False, True])  # closed, open for a moment, closed again
    pin.level_from = lambda: next(looks, False)
    with pytest.raises(OSError, match="closed again by itself: its latch does not hold"):
        bench.board.prove_interlock()


def test_the_proof_test_finds_a_circuit_that_does_not_close_again(bench: Bench) -> None:
    bench.board.arm_interlock()
    bench.clock.sleep(0.01)
    pin = bench.far.pins.factory.pin(bench.wiring.contacts["bilge_wet"].pin)
    looks = iter([False])  # closed once
    pin.level_from = lambda: next(looks, True)
    with pytest.raises(OSError, match="did not close its circuit again: is the signal in the window"):
        bench.board.prove_interlock()


def test_a_board_without_an_interlock_says_so(bench: Bench) -> None:
    with pytest.raises(OSError, match="no comparator interlock is wired"):
        bench.reopened(None).arm_interlock()


def test_the_proof_test_wants_a_closed_circuit(bench: Bench) -> None:
    bench.board.arm_interlock()
    assert bench.open_after(3.0, 5)
    with pytest.raises(OSError, match="is open already: release it before the proof test"):
        bench.board.prove_interlock()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"mux": 4}, "inputs 0 to 3 and a queue of 1, 2 or 4"),
        ({"in_a_row": 3}, "inputs 0 to 3 and a queue of 1, 2 or 4"),
        ({"rate_sps": 100}, "no rate of 100/s"),
        ({"high_v": 4.2}, r"the window 0.3 to 4.2 V is not inside 0 to 4.096 V"),
        ({"low_v": 3.0}, r"the window 3.0 to 2.64 V is not inside"),
    ],
)
def test_a_window_no_chip_can_watch_is_refused(changes: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        replace(INTERLOCK, **changes)  # type: ignore[arg-type]


def test_a_missing_interlock_chip_is_told(bench: Bench) -> None:
    bench.far.bus.set_fault("adc_missing", 0x4B)
    with pytest.raises(OSError, match="nothing acknowledges I2C address 0x4b"):
        bench.board.arm_interlock()
