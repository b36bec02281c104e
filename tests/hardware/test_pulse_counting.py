"""Pulses by edge through the pin library, and by number from pins that count."""

from collections.abc import Callable

import pytest
from gpiozero import InputDevice
from gpiozero.pins.mock import MockFactory, MockPin

from halocline_hw import VirtualClock
from halocline_hw.emulated import EmulatedBoard
from halocline_hw.pulses import pulse_meter
from halocline_hw.wiring import PulsePin

Emulate = Callable[..., tuple[EmulatedBoard, VirtualClock]]
BY_EDGE_OR_BY_NUMBER = pytest.mark.parametrize("pins_count", [False, True])


@BY_EDGE_OR_BY_NUMBER
def test_even_pulses_are_all_counted_with_the_time_of_the_last(emulate: Emulate, pins_count: bool) -> None:
    far, clock = emulate(pins_count=pins_count)
    board = far.open()
    assert board.edges("product_flow") == (0, 100.0)
    for number in range(1, 101):
        clock.sleep(0.02)
        far.pins.feed_pulses("product_flow", 1)
        assert board.edges("product_flow") == (number, clock.now())
    clock.sleep(5.0)
    assert board.edges("product_flow") == pytest.approx((100, 102.0))
    assert board.excess_pulses("product_flow") == 0


@BY_EDGE_OR_BY_NUMBER
def test_a_burst_faster_than_water_is_left_out_and_counted_apart(emulate: Emulate, pins_count: bool) -> None:
    """2 kHz for 0.1 s on a line that may give 200 Hz."""
    far, clock = emulate(pins_count=pins_count)
    board = far.open()
    for _ in range(200):
        clock.sleep(0.0005)
        far.pins.feed_pulses("product_flow", 1)
    count, _ = board.edges("product_flow")
    assert 15 <= count <= 26
    assert board.excess_pulses("product_flow") == 200 - count


def test_a_bouncing_contact_counts_once(emulate: Emulate) -> None:
    far, clock = emulate(pins_count=False)
    board = far.open()
    for _ in range(10):
        clock.sleep(0.1)
        far.pins.feed_pulses("product_flow", 1)
        for _ in range(4):
            clock.sleep(0.0002)
            far.pins.feed_pulses("product_flow", 1)
    assert board.edges("product_flow")[0] == 10
    assert board.excess_pulses("product_flow") == 40


def test_many_edges_while_nobody_looked_are_counted_as_far_as_water_can_have_made_them(
    emulate: Emulate,
) -> None:
    far, clock = emulate()
    board = far.open()
    clock.sleep(10.0)
    far.pins.feed_pulses("product_flow", 1000)
    assert board.edges("product_flow") == (1000, 110.0)
    assert board.excess_pulses("product_flow") == 0


def test_a_source_gives_whole_pulses_and_the_time_of_the_last_between_two_looks(emulate: Emulate) -> None:
    far, clock = emulate()
    board = far.open()
    far.pins.set_pulse_source("product_flow", lambda t_s: 7.5 * t_s)
    clock.sleep(1.0)
    assert board.edges("product_flow") == pytest.approx((7, 100.0 + 7 / 7.5))
    clock.sleep(0.05)
    assert board.edges("product_flow") == pytest.approx((7, 100.0 + 7 / 7.5))
    clock.sleep(0.05)
    assert board.edges("product_flow") == pytest.approx((8, 100.0 + 8 / 7.5))


def test_a_source_that_stops_stops_the_count(emulate: Emulate) -> None:
    far, clock = emulate()
    board = far.open()
    far.pins.set_pulse_source("product_flow", lambda t_s: 50.0 * t_s)
    clock.sleep(1.0)
    assert board.edges("product_flow")[0] == 50
    far.pins.set_pulse_source("product_flow", None)
    clock.sleep(1.0)
    assert board.edges("product_flow")[0] == 50
    far.pins.set_pulse_source("product_flow", lambda t_s: 10.0 * t_s)
    clock.sleep(1.0)
    assert board.edges("product_flow")[0] == 60


def test_pulses_before_opening_do_not_count(emulate: Emulate) -> None:
    far, _ = emulate()
    far.pins.feed_pulses("product_flow", 12)
    assert far.open().edges("product_flow")[0] == 0


def test_a_closed_board_hears_no_more_edges(emulate: Emulate) -> None:
    far, _ = emulate(pins_count=False)
    board = far.open()
    board.close()
    far.pins.feed_pulses("product_flow", 1)
    with pytest.raises(OSError, match="no pulse input is wired as product_flow, or the board is closed"):
        board.edges("product_flow")


class PinWithoutEdges(MockPin):
    """A pin of a chip that has no interrupt line."""

    def _set_edges(self, value: str) -> None:
        raise OSError(6, "bad event request")


def test_a_pin_that_reports_no_edges_is_let_go_at_once() -> None:
    """Whoever keeps the error keeps the half-made meter too; its pin is free all the same."""
    factory = MockFactory(pin_class=PinWithoutEdges)
    with pytest.raises(OSError, match="bad event request") as refused:
        pulse_meter(PulsePin(pin=21, max_hz=200.0), factory, VirtualClock())
    InputDevice(21, pin_factory=factory).close()
    assert refused.tb is not None
