"""Every fault of a chip and of a channel, on every channel, through the real driver."""

from collections.abc import Callable

import pytest

from halocline_hw import RaspberryPiBoard, VirtualClock, Wiring
from halocline_hw.emulated import CHANNEL_FAULTS, CHIP_FAULTS, ChannelFault, EmulatedBoard

Emulate = Callable[..., tuple[EmulatedBoard, VirtualClock]]
CHANNELS = range(4)
TRUE_V = (0.5, 1.25, 2.0, 2.75)
# Twice the conversion time at 860/s of a chip 10 % slow, the wire at 400 kHz, one poll more.
LONGEST_S = 2.0 / (0.9 * 860) + 8 * 47 / 400_000 + 1 / 860

FINDINGS = {
    "adc_missing": (OSError, "nothing acknowledges I2C address 0x48"),
    "adc_hang": (TimeoutError, "ADC 0x48 did not finish a conversion within 2.6 ms"),
    "adc_reset": (OSError, "ADC 0x48 was reset: its config register is back at 0x8583"),
    "adc_wrong_channel": (OSError, "ADC 0x48 stands on input .* where input .* was asked"),
    "i2c_stuck": (TimeoutError, "the I2C data line is held low"),
}


def convert(board: RaspberryPiBoard, channel: int, address: int = 0x48) -> float:
    return board.convert(address, channel, 4.096, 860)


def test_every_fault_of_a_chip_has_a_finding() -> None:
    assert set(FINDINGS) == set(CHIP_FAULTS)


@pytest.mark.parametrize("channel", CHANNELS)
@pytest.mark.parametrize("kind", CHIP_FAULTS)
def test_a_chips_fault_is_told_in_words_soon_and_ends_when_it_ends(emulate: Emulate, kind: str, channel: int) -> None:
    far, clock = emulate()
    board = far.open()
    assert convert(board, (channel + 1) % 4) == TRUE_V[(channel + 1) % 4]
    far.bus.set_fault(kind, 0x48)
    error, words = FINDINGS[kind]
    for _ in range(3):
        before_s = clock.now()
        with pytest.raises(error, match=words):
            convert(board, channel)
        assert clock.now() - before_s <= (0.05 if kind == "i2c_stuck" else LONGEST_S)
    far.bus.clear_fault(kind, 0x48)
    assert convert(board, channel) == TRUE_V[channel]


@pytest.mark.parametrize("channel", CHANNELS)
@pytest.mark.parametrize("kind", [kind for kind in CHIP_FAULTS if kind != "i2c_stuck"])
def test_a_chips_fault_leaves_the_other_chip_alone(emulate: Emulate, kind: str, channel: int) -> None:
    far, _ = emulate()
    board = far.open()
    far.bus.set_fault(kind, 0x48)
    with pytest.raises(OSError, match="0x48"):
        convert(board, channel)
    assert convert(board, channel, 0x49) == 3.0 - 0.5 * channel


@pytest.mark.parametrize("channel", CHANNELS)
@pytest.mark.parametrize("kind", CHIP_FAULTS)
def test_a_chip_already_faulty_when_the_board_opens_is_used_once_it_is_well(
    emulate: Emulate, kind: str, channel: int
) -> None:
    far, _ = emulate()
    far.bus.set_fault(kind, 0x48)
    board = far.open()
    with pytest.raises(OSError, match=r"0x48|I2C"):
        convert(board, channel)
    far.bus.clear_fault(kind, 0x48)
    assert convert(board, channel) == TRUE_V[channel]


@pytest.mark.parametrize("channel", CHANNELS)
def test_a_chip_stuck_on_the_asked_channel_by_chance_still_tells_the_truth(emulate: Emulate, channel: int) -> None:
    far, _ = emulate()
    board = far.open()
    convert(board, channel)
    far.bus.set_fault("adc_wrong_channel", 0x48)
    assert convert(board, channel) == TRUE_V[channel]


def test_troubles_are_counted_by_kind_and_chip(emulate: Emulate) -> None:
    far, _ = emulate()
    board = far.open()
    convert(board, 0)
    for kind in CHIP_FAULTS:
        far.bus.set_fault(kind, 0x48)
        with pytest.raises(OSError, match=r"0x48|I2C"):
            convert(board, 1)
        far.bus.clear_fault(kind, 0x48)
        convert(board, 0)
    counts = board.counts(0x48)
    assert (counts.timeouts, counts.resets, counts.wrong_channel, counts.bus_errors) == (1, 1, 1, 2)
    assert counts.conversions == 6
    assert counts.extra_polls > 0
    assert board.counts(0x49).bus_errors == 0


def ramp(number: int, t_s: float) -> float:
    """Rises by 0.1 V/s from the channel's own start."""
    return 0.5 * number + 0.1 * (t_s - 100.0)


class Ramping:
    """A board on one chip whose channels all rise."""

    def __init__(self) -> None:
        self.clock = VirtualClock(100.0)
        self.far = EmulatedBoard(Wiring(adc_addresses=(0x48,)), {0x48: ramp}, self.clock)
        self.board = self.far.open()

    def ten(self, channel: int) -> list[float]:
        """Ten conversions, 0.3 s apart."""
        values = []
        for _ in range(10):
            values.append(convert(self.board, channel))
            self.clock.sleep(0.3)
        return values

    def is_true(self, channel: int) -> bool:
        expected_v = ramp(channel, self.clock.now())
        return convert(self.board, channel) == pytest.approx(expected_v, abs=0.001)


@pytest.mark.parametrize("channel", CHANNELS)
@pytest.mark.parametrize("kind", CHANNEL_FAULTS)
def test_a_channels_fault_shows_what_its_name_says(kind: str, channel: int) -> None:
    bench = Ramping()
    bench.far.inputs[0x48].set(channel, ChannelFault(kind))
    values = bench.ten(channel)
    start_v = 0.5 * channel
    true_v = [start_v + 0.03 * step for step in range(10)]
    match kind:
        case "off":
            assert values == [0.0] * 10
        case "stuck":
            assert values == [values[0]] * 10
            assert values[0] == pytest.approx(true_v[0], abs=0.002)
        case "garbage":
            assert len(set(values)) > 5
            assert max(values) < 3.301
        case "wrong":
            assert values == pytest.approx([volts + 0.5 for volts in true_v], abs=0.002)
        case "slow":
            assert len(set(values)) == 3
        case "delayed":
            assert values[:3] == [values[0]] * 3
            assert values[9] == pytest.approx(true_v[5], abs=0.004)
        case "intermittent":
            lost = [volts == 0.0 for volts in values]
            assert any(lost)
            for volts, expected, is_lost in zip(values, true_v, lost, strict=True):
                assert is_lost or volts == pytest.approx(expected, abs=0.002)
        case _:
            pytest.fail(f"nothing is expected of {kind}")


@pytest.mark.parametrize("channel", CHANNELS)
@pytest.mark.parametrize("kind", CHANNEL_FAULTS)
def test_a_channels_fault_leaves_the_others_alone_and_ends(kind: str, channel: int) -> None:
    bench = Ramping()
    bench.far.inputs[0x48].set(channel, ChannelFault(kind, fraction=1.0))
    bench.ten(channel)
    assert all(bench.is_true(other) for other in CHANNELS if other != channel)
    bench.far.inputs[0x48].clear(channel)
    assert bench.is_true(channel)


def test_an_unknown_fault_is_refused_with_the_known_ones(emulate: Emulate) -> None:
    far, _ = emulate()
    with pytest.raises(ValueError, match="no fault is called adc_asleep; there are adc_missing, adc_hang"):
        far.bus.set_fault("adc_asleep", 0x48)
    with pytest.raises(ValueError, match="no chip is emulated at 0x4a"):
        far.bus.set_fault("adc_hang", 0x4A)
    with pytest.raises(ValueError, match="no channel fault is called shy; there are off, stuck"):
        ChannelFault("shy")
