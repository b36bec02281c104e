"""The emulated chip against the ADS111x data sheet, register by register, without the driver."""

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline_hw import VirtualClock
from halocline_hw.emulated import EmulatedAds1115, EmulatedBus

CONVERSION, CONFIG, LO_THRESH, HI_THRESH = range(4)
START_AIN0_4V_860 = 0xC3E3  # OS, mux 100, PGA 001 (4.096 V), single-shot, DR 111, comparator off
# Gain code to full scale in V and size of one bit in uV: ADS111x data sheet, table of the PGA settings.
RANGES = ((0, 6.144, 187.5), (1, 4.096, 125.0), (2, 2.048, 62.5), (3, 1.024, 31.25), (4, 0.512, 15.625))
RATES_SPS = (8, 16, 32, 64, 128, 250, 475, 860)  # ADS111x data sheet, DR bits


class Bench:
    """One chip on a bus without wire time, its four inputs set by hand."""

    def __init__(self, supply_v: float = 5.5, rate_error: float = 0.0) -> None:
        self.clock = VirtualClock()
        self.inputs = [0.0, 0.0, 0.0, 0.0]
        self.chip = EmulatedAds1115(
            lambda number, t_s: self.inputs[number], self.clock, supply_v=supply_v, rate_error=rate_error
        )
        self.bus = EmulatedBus({0x48: self.chip}, self.clock, charge_wire_time=False)

    def read(self, register: int) -> int:
        data = bytearray(2)
        self.bus.writeto_then_readfrom(0x48, bytes([register]), data)
        return int.from_bytes(data, "big")

    def write(self, register: int, word: int) -> None:
        self.bus.writeto(0x48, bytes([register, word >> 8, word & 0xFF]))

    def convert(self, config: int) -> int:
        self.write(CONFIG, config | 0x8000)
        self.clock.sleep(0.2)  # longer than the slowest conversion
        (code,) = struct.unpack(">h", self.read(CONVERSION).to_bytes(2, "big"))
        return int(code)


def test_registers_wake_with_the_data_sheets_values() -> None:
    bench = Bench()
    assert [bench.read(register) for register in range(4)] == [0x0000, 0x8583, 0x8000, 0x7FFF]


@pytest.mark.parametrize(("gain", "full_scale_v", "lsb_uv"), RANGES)
def test_one_bit_is_as_large_as_the_data_sheet_says(gain: int, full_scale_v: float, lsb_uv: float) -> None:
    bench = Bench()
    bench.inputs[2] = 1000 * lsb_uv * 1e-6
    assert bench.convert(0x6183 | gain << 9) == 1000
    bench.inputs[2] = full_scale_v
    assert bench.convert(0x6183 | gain << 9) == min(32767, int(5.5 / (lsb_uv * 1e-6)))


# Code and range to volts: ADS111x data sheet, V = code x FSR / 32768.
@pytest.mark.parametrize(
    ("volts", "gain", "code"), [(2.5, 1, 20000), (4.095875, 1, 32767), (3.0, 0, 16000), (-0.0001875, 2, -3)]
)
def test_published_codes(volts: float, gain: int, code: int) -> None:
    bench = Bench()
    bench.inputs[0] = volts
    assert bench.convert(0x4183 | gain << 9) == code


@pytest.mark.parametrize(("supply_v", "highest"), [(3.3, 26400), (5.0, 32767)])
def test_an_input_cannot_show_more_than_the_supply(supply_v: float, highest: int) -> None:
    """3.3 V / 125 uV = 26400: ADS111x data sheet, inputs between ground and supply."""
    bench = Bench(supply_v=supply_v)
    bench.inputs[0] = 6.0
    assert bench.convert(START_AIN0_4V_860) == highest


def test_a_negative_input_shows_a_small_negative_code_and_no_more_than_its_diode_lets() -> None:
    bench = Bench()
    bench.inputs[0] = -0.00025
    assert bench.convert(START_AIN0_4V_860) == -2
    bench.inputs[0] = -4.0
    assert bench.convert(START_AIN0_4V_860) == round(-0.3 / 125e-6)


@given(st.lists(st.floats(0.0, 5.5), min_size=4, max_size=4), st.integers(0, 3))
def test_each_input_is_its_own(volts: list[float], number: int) -> None:
    bench = Bench()
    bench.inputs = volts
    code = bench.convert(0x4183 | number << 12)
    assert code == min(32767, round(volts[number] / 187.5e-6))


@pytest.mark.parametrize(("mux", "code"), [(0, 8000), (1, -8000), (2, -16000), (3, -4000)])
def test_differential_pairs_are_those_of_the_data_sheet(mux: int, code: int) -> None:
    """Mux 000..011: AIN0-AIN1, AIN0-AIN3, AIN1-AIN3, AIN2-AIN3 (ADS111x data sheet)."""
    bench = Bench()
    bench.inputs = [2.0, 1.0, 2.5, 3.0]
    assert bench.convert(0x0383 | mux << 12) == code


@pytest.mark.parametrize("rate_error", [-0.1, 0.0, 0.1])
@pytest.mark.parametrize(("bits", "rate_sps"), list(enumerate(RATES_SPS)))
def test_a_conversion_takes_its_time_and_the_ready_bit_says_so(bits: int, rate_sps: int, rate_error: float) -> None:
    bench = Bench(rate_error=rate_error)
    bench.inputs[0] = 1.0
    bench.write(CONFIG, 0xC303 | bits << 5)
    time_s = 1.0 / (rate_sps * (1.0 + rate_error))
    assert bench.read(CONFIG) & 0x8000 == 0
    bench.clock.sleep(0.99 * time_s)
    assert bench.read(CONFIG) & 0x8000 == 0
    assert bench.read(CONVERSION) == 0
    bench.clock.sleep(0.02 * time_s)
    assert bench.read(CONFIG) & 0x8000
    assert bench.read(CONVERSION) == 8000


def test_a_rate_error_beyond_the_data_sheet_is_refused() -> None:
    with pytest.raises(ValueError, match="the data sheet allows 10 % rate error, not 20 %"):
        Bench(rate_error=0.2)


def test_a_start_is_ignored_while_a_conversion_goes_on() -> None:
    """The chip takes the new channel into its config and still delivers the old channel's value."""
    bench = Bench()
    bench.inputs = [1.0, 2.0, 0.0, 0.0]
    bench.write(CONFIG, 0xC303)  # input 0 at 8/s
    bench.clock.sleep(0.1)
    bench.write(CONFIG, 0xD303)  # input 1
    bench.clock.sleep(0.026)
    assert bench.read(CONFIG) == 0xD303
    assert bench.read(CONVERSION) == 8000


def test_free_running_conversions_follow_the_input() -> None:
    bench = Bench()
    bench.write(CONFIG, 0x42E3)
    for volts in (1.0, 2.0, 0.5):
        bench.inputs[0] = volts
        bench.clock.sleep(0.01)
        assert bench.read(CONFIG) == 0x42E3
        assert bench.read(CONVERSION) == round(volts / 125e-6)


def test_a_read_without_a_pointer_repeats_the_last_register() -> None:
    bench = Bench()
    assert bench.read(HI_THRESH) == 0x7FFF
    data = bytearray(3)
    bench.bus.readfrom_into(0x48, data)
    assert data == b"\x7f\xff\x7f"


def code_of(volts: float) -> int:
    return round(volts / 125e-6)


def comparator(bench: Bench, low_v: float, high_v: float, bits: int) -> None:
    bench.write(LO_THRESH, code_of(low_v))
    bench.write(HI_THRESH, code_of(high_v))
    bench.write(CONFIG, 0x42E0 | bits)


def alert_at(bench: Bench, volts: float, conversions: int = 1) -> bool:
    bench.inputs[0] = volts
    bench.clock.sleep(conversions / 860.0)
    return bench.chip.alert_asserted


def test_the_traditional_comparator_has_a_dead_band() -> None:
    bench = Bench()
    comparator(bench, 1.0, 2.0, bits=0b00000)
    assert not alert_at(bench, 1.99)
    assert alert_at(bench, 2.01)
    assert alert_at(bench, 1.5)
    assert not alert_at(bench, 0.99)


def test_the_window_comparator_asserts_on_both_sides() -> None:
    bench = Bench()
    comparator(bench, 1.0, 2.0, bits=0b10000)
    assert alert_at(bench, 2.1)
    assert not alert_at(bench, 1.5)
    assert alert_at(bench, 0.9)


@pytest.mark.parametrize(("bits", "in_a_row"), [(0, 1), (1, 2), (2, 4)])
def test_the_queue_waits_for_conversions_in_a_row(bits: int, in_a_row: int) -> None:
    bench = Bench()
    comparator(bench, 1.0, 2.0, bits=0b10000 | bits)
    assert not alert_at(bench, 3.0, in_a_row - 1) or in_a_row == 1
    assert not alert_at(bench, 1.5)
    assert alert_at(bench, 3.0, in_a_row)


def test_a_latched_alert_stays_until_the_conversion_is_read() -> None:
    bench = Bench()
    comparator(bench, 1.0, 2.0, bits=0b10100)
    assert alert_at(bench, 2.5)
    assert alert_at(bench, 1.5, 10)
    bench.read(CONFIG)
    assert alert_at(bench, 1.5)
    bench.read(CONVERSION)
    assert not alert_at(bench, 1.5)


@pytest.mark.parametrize(("bits", "quiet_level"), [(0b10000, True), (0b11000, False)])
def test_polarity_sets_the_level_of_an_asserted_alert(bits: int, quiet_level: bool) -> None:
    bench = Bench()
    assert bench.chip.alert_level, "the comparator is off: open drain, pulled up"
    comparator(bench, 1.0, 2.0, bits)
    alert_at(bench, 1.5)
    assert bench.chip.alert_level is quiet_level
    alert_at(bench, 2.5)
    assert bench.chip.alert_level is not quiet_level


def test_thresholds_with_their_signs_crossed_make_the_alert_pin_a_ready_signal() -> None:
    bench = Bench()
    bench.write(LO_THRESH, 0x0000)
    bench.write(HI_THRESH, 0x8000)
    bench.write(CONFIG, 0x42E0)
    assert not alert_at(bench, 1.0, conversions=0)
    assert alert_at(bench, 1.0, conversions=1)
    bench.read(CONVERSION)
    assert not alert_at(bench, 1.0, conversions=0)


@given(st.integers(0, 0xFFFF), st.integers(0, 0xFFFF), st.integers(0, 0x7FFF))
def test_what_is_written_is_read_back(low: int, high: int, config: int) -> None:
    bench = Bench()
    bench.write(LO_THRESH, low)
    bench.write(HI_THRESH, high)
    bench.write(CONFIG, config)
    assert (bench.read(LO_THRESH), bench.read(HI_THRESH)) == (low, high)
    assert bench.read(CONFIG) & 0x7FFF == config


def test_the_wire_takes_its_time() -> None:
    """A register read is 5 bytes of 9 bits, a start and a stop: 47 bits at 400 kHz (I2C specification)."""
    clock = VirtualClock()
    chip = EmulatedAds1115(lambda number, t_s: 0.0, clock)
    bus = EmulatedBus({0x48: chip}, clock, bus_hz=400_000)
    bus.writeto_then_readfrom(0x48, b"\x01", bytearray(2))
    assert clock.now() == pytest.approx(47 / 400_000)
    bus.writeto(0x48, b"\x01\x85\x83")
    assert clock.now() == pytest.approx((47 + 38) / 400_000)
