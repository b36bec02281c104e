"""Flow and litres from a meter's pulses."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.plant.sensors import Pulses
from halocline.signals.flow import PulseFlow

METER = Pulses(pin=21, pulses_per_l=450.0, high=250.0)


def turn(
    flow: PulseFlow, hz: float, seconds: float, *, start_s: float = 0.0, count: int = 0, step_s: float = 0.05
) -> tuple[float, int]:
    """Lets the meter turn steadily and returns the time and count it ends with."""
    now_s, total = start_s, count
    for tick in range(1, round(seconds / step_s) + 1):
        now_s = start_s + tick * step_s
        pulses = math.floor((now_s - start_s) * hz + 1e-9)
        total = count + pulses
        flow.update(now_s, total, start_s + pulses / hz if pulses else start_s)
    return now_s, total


def test_a_steady_meter_reads_by_its_k_factor() -> None:
    flow = PulseFlow(METER)
    now_s, _ = turn(flow, 7.5, 10.0)
    assert flow.flow_l_h(now_s) == pytest.approx(60.0, rel=1e-6)


def test_a_calibrated_k_factor_replaces_the_nominal_one() -> None:
    flow = PulseFlow(METER, pulses_per_l=500.0)
    now_s, _ = turn(flow, 7.5, 10.0)
    assert flow.flow_l_h(now_s) == pytest.approx(54.0, rel=1e-6)


def test_one_count_more_or_less_does_not_move_the_flow() -> None:
    flow = PulseFlow(METER)
    now_s, count = turn(flow, 7.5, 10.0)
    readings = []
    for _ in range(20):
        now_s, count = turn(flow, 7.5, 0.4, start_s=now_s, count=count)
        readings.append(flow.flow_l_h(now_s))
    assert max(readings) - min(readings) < 0.01


def test_a_slow_meter_is_averaged_over_the_gate() -> None:
    flow = PulseFlow(METER)
    now_s, _ = turn(flow, 0.5, 20.0)
    assert flow.flow_l_h(now_s) == pytest.approx(4.0, rel=1e-6)


def test_a_new_flow_is_followed_within_two_seconds() -> None:
    flow = PulseFlow(METER)
    now_s, count = turn(flow, 7.5, 10.0)
    now_s, count = turn(flow, 15.0, 2.0, start_s=now_s, count=count)
    assert flow.flow_l_h(now_s) == pytest.approx(120.0, rel=0.05)


def test_flow_falls_as_soon_as_a_pulse_is_overdue_and_is_gone_within_three_seconds() -> None:
    flow = PulseFlow(METER)
    now_s, count = turn(flow, 7.5, 10.0)
    flow.update(now_s + 0.5, count, now_s)
    assert flow.flow_l_h(now_s + 0.5) <= 16.0
    assert flow.flow_l_h(now_s + 3.0) < 0.05 * 60.0
    assert flow.flow_l_h(now_s + 4.0) == 0.0


def test_even_the_slowest_flow_is_gone_after_the_gate() -> None:
    flow = PulseFlow(METER)
    now_s, _ = turn(flow, 0.2, 20.0)
    assert flow.flow_l_h(now_s + METER.gate_s) == 0.0


def test_the_first_pulse_after_a_long_rest_is_no_flow_yet() -> None:
    flow = PulseFlow(METER)
    now_s, count = turn(flow, 7.5, 5.0)
    flow.update(now_s + 600.0, count + 1, now_s + 600.0)
    assert flow.flow_l_h(now_s + 600.0) == 0.0


def test_pulses_before_the_first_look_are_not_ours() -> None:
    flow = PulseFlow(METER)
    flow.update(5.0, 12_345, 4.9)
    assert flow.litres == 0.0
    assert flow.flow_l_h(5.0) == 0.0


def test_litres_are_handed_out_once() -> None:
    flow = PulseFlow(METER)
    flow.update(0.0, 0, 0.0)
    flow.update(10.0, 450, 10.0)
    assert flow.take_litres() == pytest.approx(1.0)
    assert flow.take_litres() == 0.0
    flow.update(20.0, 900, 20.0)
    assert flow.take_litres() == pytest.approx(1.0)
    assert flow.litres == pytest.approx(2.0)


def test_a_burst_is_capped_flagged_and_doubted_for_a_second() -> None:
    flow = PulseFlow(METER)
    now_s, count = turn(flow, 7.5, 10.0)
    flow.take_litres()
    flow.update(now_s + 0.05, count + 100, now_s + 0.05)  # 2 kHz of bounce for 50 ms
    assert flow.implausible(now_s + 0.5)
    assert not flow.implausible(now_s + 1.1)
    assert flow.estimated
    assert flow.bursts == 1
    assert flow.take_litres() <= (200.0 * 0.05 + 2) / 450.0
    assert not flow.estimated


def test_a_meter_that_keeps_turning_faster_than_it_can_is_implausible() -> None:
    flow = PulseFlow(METER)
    now_s, _ = turn(flow, 225.0, 5.0)
    assert flow.implausible(now_s)


def test_the_fastest_allowed_meter_is_believed() -> None:
    flow = PulseFlow(METER)
    now_s, _ = turn(flow, 199.0, 5.0)
    assert not flow.implausible(now_s)
    assert flow.bursts == 0


def test_a_reader_that_stood_still_loses_no_pulse() -> None:
    flow = PulseFlow(METER)
    now_s, count = turn(flow, 100.0, 5.0)
    flow.take_litres()
    flow.update(now_s + 10.0, count + 1000, now_s + 10.0)
    assert flow.take_litres() == pytest.approx(1000 / 450.0)
    assert flow.bursts == 0


def test_a_counter_that_starts_anew_is_flagged_and_adds_nothing() -> None:
    flow = PulseFlow(METER)
    now_s, _ = turn(flow, 7.5, 10.0)
    before = flow.litres
    flow.update(now_s + 0.05, 3, now_s)
    assert flow.litres == before
    assert flow.estimated
    turn(flow, 7.5, 4.0, start_s=now_s + 0.05, count=3)
    assert flow.litres == pytest.approx(before + 30 / 450.0)


@pytest.mark.parametrize("edge_s", [math.nan, math.inf, -math.inf, 1e12])
def test_an_edge_time_that_is_no_time_still_counts_the_pulse(edge_s: float) -> None:
    flow = PulseFlow(METER)
    flow.update(0.0, 0, math.nan)
    for tick in range(1, 50):
        flow.update(tick * 0.1, tick, edge_s)
    assert flow.take_litres() == pytest.approx(49 / 450.0)
    assert flow.flow_l_h(4.9) == pytest.approx(80.0, rel=0.05)


@given(st.lists(st.tuples(st.floats(0.001, 20.0), st.integers(0, 4000), st.floats(0.0, 1.0)), max_size=40))
def test_any_train_of_pulses_gives_a_finite_flow_and_litres_that_only_grow(
    train: list[tuple[float, int, float]],
) -> None:
    flow = PulseFlow(METER)
    now_s, count, litres, handed = 0.0, 0, 0.0, 0.0
    flow.update(now_s, count, now_s)
    for passed_s, new, share in train:
        edge_s = now_s + passed_s * share
        now_s += passed_s
        count += new
        flow.update(now_s, count, edge_s)
        assert 0.0 <= flow.rate_hz(now_s) <= METER.max_hz
        assert flow.litres >= litres
        litres = flow.litres
        handed += flow.take_litres()
    assert handed == pytest.approx(litres)
    assert litres <= count / 450.0 + 1e-9
    if not flow.bursts:
        assert litres == pytest.approx(count / 450.0)
