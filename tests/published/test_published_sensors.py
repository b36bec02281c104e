"""Published and independently computed values of sensors, each with its source."""

import pytest

from halocline.plant.sensors import CurrentLoop, Ratiometric, ResistiveSender, Thermistor
from halocline.plant.vocabulary import Quality
from halocline.signals import formulas
from halocline.signals.conversion import converter_for, lsb_v

NE43 = "NAMUR NE 43: 3.8–20.5 mA measuring, ≤ 3.6 and ≥ 21 mA failure (published summaries)"
BETA = "beta equation, computed separately"
DATA_SHEET = "ADS111x data sheet: V = code × full scale / 32768; 187.5, 125 and 62.5 µV a code"


def test_four_to_twenty_milliamps_are_linear() -> None:
    # IEC 60381-1; 3.9 mA is a valid reading below the span.
    convert = converter_for(CurrentLoop(address=0x48, mux=0, low=0.0, high=100.0, error=0.5, shunt_ohm=150.0))
    assert convert(0.0120 * 150.0, None)[0] == pytest.approx(50.0, abs=1e-6)
    assert convert(0.0039 * 150.0, None)[0] == pytest.approx(-0.625, abs=1e-6)


@pytest.mark.parametrize(
    ("current_ma", "quality", "source"),
    [
        (3.5, Quality.OPEN, NE43),
        (3.6, Quality.OPEN, NE43),
        (3.8, Quality.GOOD, NE43),
        (20.5, Quality.GOOD, NE43),
        (21.0, Quality.SHORT, NE43),
        (22.0, Quality.SHORT, NE43),
    ],
)
def test_fault_currents(current_ma: float, quality: Quality, source: str) -> None:
    assert formulas.ne43_quality(current_ma) is quality, source


@pytest.mark.parametrize(
    ("current_ma", "quality", "source"),
    [
        (3.5, Quality.OPEN, NE43),
        (3.9, Quality.GOOD, NE43),
        (20.4, Quality.GOOD, NE43),
        (22.0, Quality.SHORT, NE43),
    ],
)
def test_fault_currents_through_shunt_and_converter(current_ma: float, quality: Quality, source: str) -> None:
    loop = CurrentLoop(address=0x48, mux=0, low=0.0, high=100.0, error=0.5)
    assert converter_for(loop)(current_ma * 0.15, None)[1] is quality, source


@pytest.mark.parametrize(
    ("volts", "supply_v", "value", "tolerance"),
    [(2.5, 5.0, 50.0, 1e-6), (2.5, 4.9, 51.2755, 1e-3)],
)
def test_ratiometric_sensors(volts: float, supply_v: float, value: float, tolerance: float) -> None:
    # (V/Vs − 0.1) / 0.8 of full scale, computed separately.
    sensor = Ratiometric(address=0x48, mux=0, low=0.0, high=100.0, error=0.5, supply_address=0x48, supply_mux=3)
    assert converter_for(sensor)(volts, supply_v)[0] == pytest.approx(value, abs=tolerance)


@pytest.mark.parametrize(
    ("temperature_c", "ohm", "source"),
    [(0.0, 33_620.6, BETA), (10.0, 20_174.6, BETA), (30.0, 8_037.14, BETA), (50.0, 3_588.18, BETA)],
)
def test_thermistor_resistance(temperature_c: float, ohm: float, source: str) -> None:
    assert formulas.beta_resistance_ohm(temperature_c, 10_000.0, 3950.0) == pytest.approx(ohm, abs=1.0), source
    sensor = Thermistor(address=0x48, mux=3, low=-2.0, high=50.0, error=0.3)
    volts = 3.3 * ohm / (10_000.0 + ohm)
    assert converter_for(sensor)(volts, None)[0] == pytest.approx(temperature_c, abs=0.005), source


def test_thermistor_temperature() -> None:
    # Beta equation, computed separately.
    assert formulas.beta_temperature_c(12_500.0, 10_000.0, 3950.0) == pytest.approx(20.0614, abs=0.005)


def test_steinhart_hart() -> None:
    # Coefficients through (0 °C, 32650 ohm), (25, 10000), (50, 3603), a common table of 10 kohm thermistors.
    a, b, c = 1.1252567e-3, 2.3472045e-4, 8.5630527e-8
    assert formulas.steinhart_hart_temperature_c(15_000.0, a, b, c) == pytest.approx(15.9995, abs=0.005)
    for temperature_c, ohm in ((0.0, 32_650.0), (25.0, 10_000.0), (50.0, 3_603.0)):
        assert formulas.steinhart_hart_temperature_c(ohm, a, b, c) == pytest.approx(temperature_c, abs=0.005)


def test_pulse_meters() -> None:
    # Q = 3600 f / K, computed separately.
    assert formulas.pulse_flow_l_h(7.5, 450.0) == pytest.approx(60.0, abs=1e-6)
    assert formulas.pulse_flow_l_h(41.0, 434.0) == pytest.approx(340.092, abs=1e-3)


@pytest.mark.parametrize(
    ("ohm", "empty_ohm", "full_ohm", "fraction"),
    [
        (95.0, 10.0, 180.0, 0.5),  # European: 10 ohm empty, 180 ohm full
        (84.75, 240.0, 33.0, 0.75),  # American: 240 ohm empty, 33 ohm full
    ],
)
def test_tank_senders(ohm: float, empty_ohm: float, full_ohm: float, fraction: float) -> None:
    assert formulas.sender_fraction(ohm, empty_ohm, full_ohm) == pytest.approx(fraction, abs=1e-6)
    sensor = ResistiveSender(
        address=0x49, mux=3, low=0.0, high=100.0, error=3.0, empty_ohm=empty_ohm, full_ohm=full_ohm
    )
    volts = 3.3 * ohm / (220.0 + ohm)
    assert converter_for(sensor)(volts, None)[0] == pytest.approx(100.0 * fraction, abs=1e-4)


@pytest.mark.parametrize(
    ("code", "full_scale_v", "volts", "source"),
    [
        (20_000, 4.096, 2.5, DATA_SHEET),
        (32_767, 4.096, 4.095875, DATA_SHEET),
        (16_000, 6.144, 3.0, DATA_SHEET),
        (-3, 2.048, -0.0001875, DATA_SHEET),
    ],
)
def test_converter_codes(code: int, full_scale_v: float, volts: float, source: str) -> None:
    assert code * lsb_v(full_scale_v) == pytest.approx(volts, abs=1e-6), source
