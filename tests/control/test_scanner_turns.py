"""The scanner on a scripted board: order, retries, lost chips, and two samples in a row."""

from itertools import pairwise
from math import ceil

import pytest
from hand_driven_plant import FULL, quick_settings
from hypothesis import given
from hypothesis import strategies as st

from halocline.control.acquisition.scanner import FastWatch, Scanner, Source, rotation, sources
from halocline.plant.sensors import Ratiometric
from halocline.plant.thresholds import AGE_LIMITS_S, URGENT_AFTER

CHANNEL_IDS = ("feed_pressure", "vessel_pressure", "product_conductivity", "sea_temperature", "tank_fill")
ANY_SOURCE = st.builds(
    Source, st.sampled_from(CHANNEL_IDS), st.just(0x48), st.integers(0, 3), st.just(4.096), st.booleans()
)


class Clock:
    def __init__(self):
        self.now_s = 100.0

    def now(self):
        return self.now_s


class ScriptedBoard:
    """Converts at once, or as told: `fails` by address, `slow_s` by address, `script` of results in turn."""

    def __init__(self, clock):
        self.clock = clock
        self.fails = set()
        self.slow_s = {}
        self.script = []
        self.asked = []
        self.during = None

    def convert(self, address, mux, gain, rate):
        self.asked.append((address, mux))
        self.clock.now_s += 0.002 + self.slow_s.get(address, 0.0)
        if self.during:
            self.during()
        if self.script:
            result = self.script.pop(0)
            if isinstance(result, Exception):
                raise result
            return result
        if address in self.fails:
            raise OSError(121, "Remote I/O error")
        return 1.5


@pytest.fixture
def bench():
    clock = Clock()
    board = ScriptedBoard(clock)
    watch = FastWatch(64.0, lambda volts: None if volts is None else volts * 10)
    woken = []
    scanner = Scanner(board, FULL, clock, watch, lambda: woken.append(clock.now()))
    scanner.board, scanner.clock, scanner.watch, scanner.woken = board, clock, watch, woken
    return scanner


PRESSURE = (0x48, 0)


def test_the_vessel_pressure_is_converted_between_every_two_others(bench):
    for _ in range(16):
        bench.turn()
    asked = bench.board.asked
    assert asked[0::2] == [PRESSURE] * 16
    feed, rest = (0x48, 1), [(0x48, 2), (0x48, 3), (0x49, 0), (0x49, 1), (0x49, 2), (0x49, 3)]
    assert asked[1::2] == [feed, *rest[:3], feed, *rest[3:]] * 2, "the feed pressure may not grow old either"


def test_each_sample_says_what_it_is_and_when(bench):
    bench.turn()
    first, second = bench.samples
    assert (first.channel, first.volts, first.supply) == ("vessel_pressure", 1.5, False)
    assert first.t_s == pytest.approx(100.002)
    assert second.channel == "feed_pressure"


def test_a_measured_supply_is_converted_as_well(settings):
    ratiometric = Ratiometric(address=0x48, mux=1, low=-1, high=4, error=0.02, supply_mux=3, supply_address=0x49)
    found = sources(
        quick_settings().__class__(**{**vars_of(settings), "inputs": {**settings.inputs, "feed_pressure": ratiometric}})
    )
    supply = [source for source in found if source.supply]
    assert [(s.channel, s.address, s.mux) for s in supply] == [("feed_pressure", 0x49, 3)]
    assert found[0].channel == "vessel_pressure"


@given(st.lists(ANY_SOURCE, min_size=1, unique=True))
def test_a_round_brings_every_source_and_none_waits_longer_than_the_check_of_the_file_assumes(others):
    order = rotation(others)
    assert set(order) == set(others)
    urgent = {source for source in others if source.channel in AGE_LIMITS_S and not source.supply}
    for source in others:
        places = [place for place, each in enumerate(order * 2) if each == source]
        waits = max(after - before for before, after in pairwise(places))
        rest = len(others) - len(urgent)
        if source in urgent:
            assert waits == len(urgent) + min(rest, URGENT_AFTER)
        else:
            assert waits == rest + len(urgent) * ceil(rest / URGENT_AFTER)


def vars_of(settings):
    return {name: getattr(settings, name) for name in settings.__dataclass_fields__}


def test_a_conversion_that_fails_once_or_twice_is_repeated_at_once(bench):
    bench.board.script = [OSError(121, "x"), TimeoutError(), 2.0]
    bench.scan_pressure()
    assert [sample.volts for sample in bench.samples] == [2.0]
    assert bench.retries()[0x48] == 2
    assert bench.lost_chips(bench.clock.now()) == ()


def test_after_three_failures_the_chip_is_lost(bench):
    bench.board.fails = {0x48}
    bench.scan_pressure()
    assert bench.board.asked == [PRESSURE] * 3
    assert bench.samples[-1].volts is None
    assert bench.lost_chips(bench.clock.now()) == (0x48,)


def test_a_conversion_that_takes_long_to_fail_is_not_repeated(bench):
    bench.board.fails, bench.board.slow_s = {0x48}, {0x48: 0.05}
    bench.scan_pressure()
    assert bench.board.asked == [PRESSURE]


def test_a_lost_chip_leaves_the_rotation_and_is_probed_once_a_second(bench):
    bench.board.fails = {0x49}
    began_s = bench.clock.now()
    while bench.clock.now() < began_s + 5.0:
        bench.turn()
        bench.clock.now_s += 0.01
    probes = [asked for asked in bench.board.asked if asked[0] == 0x49]
    assert 3 + 4 <= len(probes) <= 3 + 5
    assert bench.lost_chips(bench.clock.now()) == (0x49,)
    others = [sample for sample in bench.samples if sample.channel == "tank_fill"]
    assert others
    assert all(sample.volts is None for sample in others)


def test_the_other_chip_goes_on_being_scanned(bench):
    bench.board.fails = {0x49}
    for _ in range(30):
        bench.turn()
    good = [sample for sample in bench.samples if sample.channel == "vessel_pressure"]
    assert len(good) == 30
    assert all(sample.volts == 1.5 for sample in good)


def test_a_chip_that_answers_again_comes_back(bench):
    bench.board.fails = {0x49}
    for _ in range(10):
        bench.turn()
    bench.board.fails = set()
    bench.clock.now_s += 1.1
    for _ in range(8):
        bench.turn()
    assert bench.lost_chips(bench.clock.now()) == ()


def test_a_chip_that_keeps_us_waiting_is_lost_before_it_ever_answers(bench):
    seen = []

    def look():
        now_s = bench.clock.now()
        seen.append(bench.lost_chips(now_s))
        seen.append(bench.lost_chips(now_s + 0.14))
        seen.append(bench.lost_chips(now_s + 0.2))

    bench.board.during = look
    bench.scan_pressure()
    assert seen == [(), (), (0x48,)]
    assert bench.lost_chips(bench.clock.now()) == ()


def test_the_electronics_never_make_a_turn_raise(bench):
    bench.board.script = [OSError(), TimeoutError(), OSError(110, "x"), BlockingIOError(), ConnectionError()]
    for _ in range(5):
        bench.turn()


def test_two_samples_in_a_row_above_the_limit_are_seen_within_one_turn(bench):
    bench.board.script = [6.5, 6.6, 1.0]
    bench.turn()
    assert len(bench.woken) == 1
    assert bench.watch.take_seen() == pytest.approx(66.0)
    assert bench.watch.take_seen() is None


def test_a_spark_costs_one_second_look_and_nothing_else(bench):
    bench.board.script = [6.5, 1.5, 1.0]
    bench.turn()
    assert bench.woken == []
    assert [sample.channel for sample in bench.samples][:2] == ["vessel_pressure", "vessel_pressure"]
    before = len(bench.samples)
    bench.turn()
    assert len(bench.samples) - before == 2


@pytest.mark.parametrize(
    "volts",
    [
        [6.5, 6.3, 6.5, 6.3],
        [6.5, None, 6.5, None],
        [6.4, 6.4, 6.4],
    ],
)
def test_a_single_sample_at_the_limit_or_with_a_gap_is_not_two_in_a_row(volts):
    watch = FastWatch(64.0, lambda v: None if v is None else v * 10)
    assert not any(watch.ingest(v) for v in volts)
    assert watch.take_seen() is None


def test_what_the_watch_saw_stays_until_it_is_taken():
    watch = FastWatch(64.0, lambda v: v)
    for volts in (65.0, 66.0, 1.0, 1.0):
        watch.ingest(volts)
    assert watch.take_seen() == 66.0
