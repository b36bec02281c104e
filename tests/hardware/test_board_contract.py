"""What any board must do, asked of the emulated board directly and through the socket."""

import pytest

from halocline_hw import RaspberryPiBoard, VirtualClock, Wiring
from halocline_hw.emulated import EmulatedBoard

Both = tuple[EmulatedBoard, RaspberryPiBoard]


def test_every_output_is_claimed_once_at_its_safe_level_and_before_anything_else(far_and_board: Both) -> None:
    far, _ = far_and_board
    assert [(event.gpio, event.what, event.level) for event in far.pins.events][:4] == [
        (17, "output", False),
        (27, "output", False),
        (18, "output", False),
        (22, "output", True),  # active low: released is high
    ]
    assert list(far.pins.ever_energised()) == []


def test_opening_and_closing_never_leaves_a_line_off_its_safe_level(far_and_board: Both) -> None:
    far, board = far_and_board
    board.close()
    assert list(far.pins.ever_energised()) == []
    assert not any(far.pins.outputs().values())


def test_an_output_follows_what_is_written(far_and_board: Both) -> None:
    far, board = far_and_board
    board.write("feed_pump", True)
    board.write("buzzer", True)
    assert far.pins.outputs() == {
        "feed_pump": True,
        "high_pressure_pump": False,
        "heartbeat": False,
        "buzzer": True,
    }
    board.write("feed_pump", False)
    assert not far.pins.energised("feed_pump")


def test_closing_releases_what_was_energised(far_and_board: Both) -> None:
    far, board = far_and_board
    for line in ("feed_pump", "high_pressure_pump", "buzzer"):
        board.write(line, True)
    board.close()
    assert not any(far.pins.outputs().values())


def test_a_closed_board_answers_nothing(far_and_board: Both) -> None:
    _, board = far_and_board
    board.close()
    with pytest.raises(OSError, match="no output is wired as feed_pump, or the board is closed"):
        board.write("feed_pump", True)


def test_a_contact_is_true_while_its_circuit_is_closed(far_and_board: Both) -> None:
    far, board = far_and_board
    assert board.read("stop_button")
    far.pins.set_contact("stop_button", False)
    assert not board.read("stop_button")
    assert board.read("bilge_wet")
    far.pins.set_contact("stop_button", True)
    assert board.read("stop_button")


def test_pulses_are_counted_from_opening(far_and_board: Both) -> None:
    far, board = far_and_board
    count, opened_s = board.edges("product_flow")
    assert count == 0
    far.pins.feed_pulses("product_flow", 1)
    count, last_s = board.edges("product_flow")
    assert count == 1
    assert last_s >= opened_s


def test_conversions_are_in_volts_of_the_asked_channel(far_and_board: Both) -> None:
    _, board = far_and_board
    assert [board.convert(0x48, mux, 4.096, 860) for mux in range(4)] == [0.5, 1.25, 2.0, 2.75]
    assert [board.convert(0x49, mux, 4.096, 860) for mux in range(4)] == [3.0, 2.5, 2.0, 1.5]


@pytest.mark.parametrize("gain", [6.144, 4.096, 2.048, 1.024, 0.512, 0.256])
def test_every_range_gives_volts_and_clips_at_its_end(gain: float) -> None:
    far = EmulatedBoard(Wiring(adc_addresses=(0x48,)), {0x48: lambda mux, t_s: 0.5}, VirtualClock())
    volts = far.open().convert(0x48, 0, gain, 128)
    assert volts == pytest.approx(min(0.5, gain * 32767 / 32768), abs=gain / 65536)


def test_lines_and_chips_nobody_wired_are_refused_in_words(far_and_board: Both) -> None:
    _, board = far_and_board
    with pytest.raises(OSError, match="no output is wired as sauna"):
        board.write("sauna", True)
    with pytest.raises(OSError, match="no contact is wired as sauna"):
        board.read("sauna")
    with pytest.raises(OSError, match="no pulse input is wired as sauna"):
        board.edges("sauna")
    with pytest.raises(OSError, match="no ADC is wired at 0x4b"):
        board.convert(0x4B, 0, 4.096, 860)


def test_settings_no_chip_has_are_refused_in_words(far_and_board: Both) -> None:
    _, board = far_and_board
    with pytest.raises(OSError, match=r"an ADS1115 has no range of 5.0 V or no rate of 860/s"):
        board.convert(0x48, 0, 5.0, 860)
    with pytest.raises(OSError, match="has inputs 0 to 3, not 4"):
        board.convert(0x48, 4, 4.096, 860)


def test_a_missing_chip_is_told_apart_and_comes_back(far_and_board: Both) -> None:
    far, board = far_and_board
    far.bus.set_fault("adc_missing", 0x48)
    with pytest.raises(OSError, match="nothing acknowledges I2C address 0x48"):
        board.convert(0x48, 0, 4.096, 860)
    assert board.convert(0x49, 0, 4.096, 860) == 3.0
    far.bus.clear_fault("adc_missing", 0x48)
    assert board.convert(0x48, 0, 4.096, 860) == 0.5


def test_a_bus_that_is_held_low_times_out_and_can_be_clocked_free(far_and_board: Both) -> None:
    far, board = far_and_board
    far.bus.set_fault("i2c_stuck", 0x48, delay_s=0.01, clocks_to_free=5)
    with pytest.raises(TimeoutError, match="the I2C data line is held low"):
        board.convert(0x49, 0, 4.096, 860)
    assert board.clear_bus()
    assert board.convert(0x49, 0, 4.096, 860) == 3.0


def test_a_chip_that_never_lets_go_is_not_clocked_free(far_and_board: Both) -> None:
    far, board = far_and_board
    far.bus.set_fault("i2c_stuck", 0x48, delay_s=0.01)
    assert not board.clear_bus()
