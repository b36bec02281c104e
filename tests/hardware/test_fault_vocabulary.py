"""Every fault of every input and every chip, on a boat with all sixteen channels on four chips: what control reads.

The real driver, scanner and judges on emulated registers. `signal_volts` makes the true volts; it shares nothing with
the conversion back.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from random import Random

import pytest

from halocline.config import load_demo
from halocline.config.signal_levels import signal_volts
from halocline.control.acquisition.measurement import LIVELY, Measurement
from halocline.control.acquisition.scanner import FastWatch, Scanner
from halocline.plant.sensors import (
    AnalogueInput,
    CurrentLoop,
    Ratiometric,
    ResistiveSender,
    Thermistor,
    Voltage,
)
from halocline.plant.thresholds import TURN_PAUSE_S
from halocline.plant.vocabulary import CHANNELS, Quality, Reading, State
from halocline.rehearsal.board_wiring import wiring_of
from halocline.signals.rest_checks import PRESSURES, rest_findings
from halocline_hw import VirtualClock
from halocline_hw.emulated import CHANNEL_FAULTS, CHIP_FAULTS, ChannelFault, EmulatedBoard

KINDS: dict[str, tuple[type, dict[str, float]]] = {
    "vessel_pressure": (CurrentLoop, {"low": 0.0, "high": 100.0}),
    "feed_pressure": (CurrentLoop, {"low": -1.0, "high": 4.0}),
    "product_conductivity": (CurrentLoop, {"low": 0.0, "high": 40_000.0}),
    "sea_temperature": (Thermistor, {"low": -2.0, "high": 50.0}),
    "product_flow": (CurrentLoop, {"low": 0.0, "high": 250.0}),
    "filter_inlet_pressure": (CurrentLoop, {"low": -1.0, "high": 4.0}),
    "brine_pressure": (Ratiometric, {"low": 0.0, "high": 100.0, "divider": 1.6}),
    "brine_flow": (CurrentLoop, {"low": 0.0, "high": 500.0}),
    "flush_flow": (CurrentLoop, {"low": 0.0, "high": 1500.0}),
    "product_pressure": (Ratiometric, {"low": 0.0, "high": 4.0, "divider": 1.6}),
    "battery_voltage": (Voltage, {"low": 0.0, "high": 16.0, "volts_high": 16.0, "divider": 5.0}),
    "battery_current": (Voltage, {"low": -200.0, "high": 200.0, "volts_low": 0.5, "volts_high": 4.5, "divider": 1.5}),
    "battery_charge_percent": (Voltage, {"low": 0.0, "high": 100.0, "volts_high": 10.0, "divider": 3.2}),
    "motor_current": (Voltage, {"low": 0.0, "high": 30.0, "volts_high": 5.0, "divider": 1.667}),
    "pump_motor_temperature": (Thermistor, {"low": -20.0, "high": 120.0}),
    "tank_fill": (ResistiveSender, {"low": 0.0, "high": 100.0, "empty_ohm": 10.0, "full_ohm": 180.0}),
}
"""How each channel of the vocabulary is measured here; flows by analogue meters."""

TRUE = {
    "vessel_pressure": 0.4,
    "feed_pressure": 0.05,
    "product_conductivity": 700.0,
    "sea_temperature": 22.0,
    "product_flow": 0.0,
    "filter_inlet_pressure": 0.05,
    "brine_pressure": 0.3,
    "brine_flow": 0.0,
    "flush_flow": 0.0,
    "product_pressure": 0.02,
    "battery_voltage": 13.0,
    "battery_current": -4.0,
    "battery_charge_percent": 80.0,
    "motor_current": 2.0,
    "pump_motor_temperature": 25.0,
    "tank_fill": 40.0,
}
"""A plant at rest (invented)."""

AT_REST_S, UNDER_PRESSURE_S = 0.025, TURN_PAUSE_S
"""Between two turns: at rest a look now and then, under pressure as often as control looks."""
FOUND_OUT_S = 2.5
"""A meter that jumps about is found out by eight or so of its samples, and of sixteen inputs each has six a second."""

NOISE_V = 0.0003  # two codes at ±4.096 V


def all_channels() -> dict[str, AnalogueInput]:
    places = [(address, mux) for address in (0x48, 0x49, 0x4A, 0x4B) for mux in range(4)]
    return {
        channel: kind(address=address, mux=mux, error=0.1, smoothing_s=0.0, compensation="done", **numbers)
        for (channel, (kind, numbers)), (address, mux) in zip(KINDS.items(), places, strict=True)
    }


SENSORS = all_channels()
PLACES = {channel: (sensor.address, sensor.mux) for channel, sensor in SENSORS.items()}
SETTINGS = replace(load_demo()[0], inputs=SENSORS)


class Bench:
    """The boat's board, its scanner and its judges; every signal rises by `rise_v_s` and carries noise."""

    def __init__(self, *, rise_v_s: float = 0.0, pause_s: float = AT_REST_S) -> None:
        self.clock = VirtualClock(1000.0)
        self.rise_v_s = rise_v_s
        self._pause_s = pause_s
        self._noise = Random(1)
        wiring = wiring_of(SETTINGS)
        self.far = EmulatedBoard(wiring, {a: self._volts(a) for a in wiring.chip_addresses()}, self.clock)
        board = self.far.open()
        self.measurement = Measurement(SETTINGS, board)
        self.scanner = Scanner(board, SETTINGS, self.clock, FastWatch(64.0, lambda _v: None), lambda: None)
        self.measurement.expect(self.clock.now(), State.STANDBY)

    def _volts(self, address: int) -> Callable[[int, float], float]:
        channels = {place[1]: channel for channel, place in PLACES.items() if place[0] == address}

        def volts(mux: int, t_s: float) -> float:
            return self.true_v(channels[mux], t_s) + self._noise.gauss(0.0, NOISE_V)

        return volts

    def true_v(self, channel: str, t_s: float) -> float:
        return signal_volts(SENSORS[channel], TRUE[channel]) + self.rise_v_s * (t_s - 1000.0)

    def looks(self, seconds: float) -> Iterator[dict[str, Reading]]:
        """All readings, about every 100 ms."""
        end_s, due_s = self.clock.now() + seconds, self.clock.now() + 0.1
        while self.clock.now() < end_s:
            self.scanner.turn()
            self.clock.sleep(self._pause_s)
            self.measurement.take_samples(self.scanner)
            if self.clock.now() >= due_s:
                due_s += 0.1
                yield self.readings()

    def live(self, seconds: float) -> dict[str, Reading]:
        *_, last = self.looks(seconds)
        return last

    def readings(self) -> dict[str, Reading]:
        return self.measurement.readings(self.clock.now(), State.STANDBY)

    def fault(self, channel: str, kind: str, **size: float) -> None:
        address, mux = PLACES[channel]
        self.far.inputs[address].set(mux, ChannelFault(kind, **size))

    def well(self, channel: str) -> None:
        address, mux = PLACES[channel]
        self.far.inputs[address].clear(mux)


def all_others_are_right(readings: dict[str, Reading], channel: str) -> bool:
    """Whether every channel but this one is good and shows what is true."""
    return all(is_right(name, reading) for name, reading in readings.items() if name != channel)


def is_right(channel: str, reading: Reading) -> bool:
    sensor = SENSORS[channel]
    near = 0.005 * (sensor.high - sensor.low)
    return reading.good is not None and abs(reading.good - TRUE[channel]) < near


def tells_a_broken_wire(sensor: AnalogueInput) -> bool:
    """0 V is a value for a voltage that starts there, and as good as empty for a sender of 10 ohm."""
    if isinstance(sensor, Voltage):
        return min(sensor.volts_low, sensor.volts_high) > 0.0
    return not isinstance(sensor, ResistiveSender)


every_channel = pytest.mark.parametrize("channel", SENSORS)


def test_every_channel_of_the_vocabulary_is_on_this_boat() -> None:
    assert set(SENSORS) == set(CHANNELS)
    assert len(set(PLACES.values())) == 16


def test_on_a_healthy_board_everything_is_right() -> None:
    readings = Bench().live(3.0)
    assert [channel for channel, reading in readings.items() if not is_right(channel, reading)] == []


# ---- seven faults of each channel ------------------------------------------------------------------


@every_channel
def test_off(channel: str) -> None:
    bench = Bench()
    bench.live(2.0)
    bench.fault(channel, "off")
    readings = bench.live(4.0)
    sensor, seen = SENSORS[channel], readings[channel]
    if tells_a_broken_wire(sensor):
        assert seen.quality is (Quality.SHORT if isinstance(sensor, Thermistor) else Quality.OPEN)
        assert seen.value is None
    else:
        assert seen.value == pytest.approx(sensor.low, abs=0.01)  # the bad end: an empty battery, no charge, no load
    assert all_others_are_right(readings, channel)
    bench.well(channel)
    assert is_right(channel, bench.live(4.0)[channel])


@every_channel
def test_stuck(channel: str) -> None:
    bench = Bench()
    bench.live(2.0)
    bench.measurement.expect(bench.clock.now(), State.PRODUCING)
    bench.fault(channel, "stuck")
    readings = bench.live(32.0 if channel in LIVELY else 5.0)
    if channel in LIVELY:
        assert readings[channel].quality is Quality.STUCK
    else:
        assert is_right(channel, readings[channel])  # nobody can tell, and what it shows was true
    assert all_others_are_right(readings, channel)


@every_channel
def test_garbage(channel: str) -> None:
    bench = Bench(pause_s=UNDER_PRESSURE_S)
    bench.live(1.5)
    bench.fault(channel, "garbage")
    bench.live(FOUND_OUT_S)
    looks = list(bench.looks(4.0))
    assert sum(look[channel].quality is Quality.GOOD for look in looks) <= 0.05 * len(looks)
    assert all_others_are_right(looks[-1], channel)


@every_channel
def test_wrong(channel: str) -> None:
    bench = Bench()
    bench.live(2.0)
    bench.fault(channel, "wrong", offset_v=0.5)
    readings = bench.live(4.0)
    seen = readings[channel]
    assert seen.raw == pytest.approx(bench.true_v(channel, bench.clock.now()) + 0.5, abs=0.002)
    assert not is_right(channel, seen)
    assert all_others_are_right(readings, channel)
    if channel in PRESSURES:
        found = rest_findings(readings, SENSORS, vented=True)
        assert [(finding.id, finding.values["channel"]) for finding in found] == [("zero_off", channel)]


@every_channel
def test_slow(channel: str) -> None:
    bench = Bench(rise_v_s=0.02)
    healthy = len({look[channel].raw for look in bench.looks(5.0)})
    bench.fault(channel, "slow", period_s=1.5)
    slow = len({look[channel].raw for look in bench.looks(6.0)})
    assert slow <= 5 < healthy


@every_channel
def test_delayed(channel: str) -> None:
    bench = Bench(rise_v_s=0.02)
    bench.live(2.0)
    bench.fault(channel, "delayed", seconds=1.5)
    raw = bench.live(4.0)[channel].raw
    assert raw is not None
    behind_s = (bench.true_v(channel, bench.clock.now()) - raw) / 0.02
    assert 1.4 < behind_s < 2.3  # the delay, and what passes between two looks at one input


@every_channel
def test_intermittent(channel: str) -> None:
    bench = Bench(pause_s=UNDER_PRESSURE_S)
    bench.live(1.5)
    bench.fault(channel, "intermittent", fraction=0.6)
    looks = list(bench.looks(4.0))[10:]
    sensor = SENSORS[channel]
    if tells_a_broken_wire(sensor):
        assert sum(look[channel].quality is Quality.GOOD for look in looks) <= 0.1 * len(looks)
    else:
        shown = [look[channel] for look in looks if look[channel].good is not None]
        assert all(is_right(channel, seen) or seen.good < TRUE[channel] for seen in shown)
    assert all_others_are_right(looks[-1], channel)


# ---- five faults of each chip ----------------------------------------------------------------------


@pytest.mark.parametrize("address", [0x48, 0x49, 0x4A, 0x4B])
@pytest.mark.parametrize("kind", CHIP_FAULTS)
def test_a_chips_fault_takes_its_four_channels_and_no_other_and_gives_them_back(kind: str, address: int) -> None:
    bench = Bench()
    bench.live(2.0)
    bench.far.bus.set_fault(kind, address)
    readings = bench.live(3.0)
    dead = {channel for channel, (at, _) in PLACES.items() if at == address or kind == "i2c_stuck"}
    chips = {at for at, _ in PLACES.values()} if kind == "i2c_stuck" else {address}
    assert {channel for channel, reading in readings.items() if reading.quality is Quality.MISSING} == dead
    assert all(readings[channel].value is None for channel in dead)
    assert [channel for channel in SENSORS if channel not in dead and not is_right(channel, readings[channel])] == []
    assert set(bench.scanner.lost_chips(bench.clock.now())) == chips
    assert all(bench.scanner.retries()[at] > 0 for at in chips)
    assert all(count == 0 for at, count in bench.scanner.retries().items() if at not in chips)
    bench.far.bus.clear_fault(kind, address)
    readings = bench.live(4.0)
    assert [channel for channel, reading in readings.items() if not is_right(channel, reading)] == []
    assert bench.scanner.lost_chips(bench.clock.now()) == ()


def test_every_word_of_the_vocabulary_is_tried_here() -> None:
    assert {f"test_{kind}" for kind in CHANNEL_FAULTS} <= set(globals())
