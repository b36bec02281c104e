"""What is kept at the rate of the loop around a cause: from a minute before to half a minute after, each tick once."""

import pytest
from test_housekeeping_and_link import Office

from halocline.control.capture import BEFORE_S, KEPT, PIECE_S, CaptureCutter, RecentSamples
from halocline.control.exchange import News
from halocline.link.captures import AFTER_S, CAPTURE, samples_of
from halocline.link.client import Position
from halocline.plant.alarms import DEFINITIONS, Effect, Priority
from halocline.plant.vocabulary import Quality, Reading

TICK_S = 0.05


def comes(alarm, to="unacknowledged"):
    return {"kind": "alarm", "id": alarm, "to": to, "priority": "urgent", "values": {}, "under": None}


class Watch:
    """Ticks noted one by one, and all that is cut meanwhile."""

    def __init__(self):
        self.recent = RecentSamples()
        self.cutter = CaptureCutter(self.recent)
        self.now_s = 1000.0
        self.seq = 0
        self.told = []

    def wait(self, seconds):
        for _ in range(round(seconds / TICK_S)):
            self.now_s = round(self.now_s + TICK_S, 3)
            value = Reading(self.now_s % 100, None, "bar", Quality.GOOD, 0.0)
            self.recent.note(self.now_s, {"vessel_pressure": value})
            self.told += self.cutter.cut()

    def happens(self, event):
        self.seq += 1
        self.cutter.follow(event, self.seq, self.now_s)

    @property
    def times(self):
        return [at_s for piece in self.told for at_s, _ in samples_of(piece)]


@pytest.fixture
def watch():
    return Watch()


def once_each(watch, from_s, to_s):
    ticks = round((to_s - from_s) / TICK_S)
    assert len(watch.times) == len(set(watch.times)) == ticks
    assert watch.times == sorted(watch.times)
    assert watch.times[0] == pytest.approx(from_s + TICK_S, abs=0.001)
    assert watch.times[-1] == pytest.approx(to_s, abs=0.001)


def test_a_cause_keeps_every_tick_from_a_minute_before_to_half_a_minute_after(watch):
    watch.wait(200)
    tripped_s = watch.now_s
    watch.happens(comes("vessel_pressure_high_high"))
    watch.wait(60)
    once_each(watch, tripped_s - BEFORE_S, tripped_s + AFTER_S)
    assert {piece["cause"] for piece in watch.told} == {1}
    assert {piece["kind"] for piece in watch.told} == {CAPTURE}


def test_a_second_cause_prolongs_the_capture_and_repeats_nothing(watch):
    watch.wait(100)
    first_s = watch.now_s
    watch.happens(comes("quality_lost"))
    watch.wait(20)
    watch.happens(comes("feed_pressure_low_low"))
    watch.wait(60)
    once_each(watch, first_s - BEFORE_S, first_s + 20 + AFTER_S)


def test_a_cause_soon_after_the_end_of_another_keeps_only_what_is_new(watch):
    watch.wait(100)
    first_s = watch.now_s
    watch.happens(comes("quality_lost"))
    watch.wait(40)
    watch.happens(comes("quality_lost"))
    watch.wait(60)
    once_each(watch, first_s - BEFORE_S, first_s + 40 + AFTER_S)
    assert {piece["cause"] for piece in watch.told} == {1, 2}


def test_what_was_measured_is_on_its_way_long_before_the_capture_is_over(watch):
    watch.wait(100)
    tripped_s = watch.now_s
    watch.happens(comes("bilge_wet"))
    watch.wait(12)
    assert watch.times[-1] >= tripped_s + 12 - PIECE_S - TICK_S


def test_when_control_ends_the_rest_is_told(watch):
    watch.wait(100)
    tripped_s = watch.now_s
    watch.happens(comes("bilge_wet"))
    watch.wait(13)
    watch.told += watch.cutter.rest()
    once_each(watch, tripped_s - BEFORE_S, tripped_s + 13)
    assert watch.cutter.rest() == []


def test_soon_after_a_start_there_is_what_there_is(watch):
    watch.wait(4)
    watch.happens(comes("stop_button"))
    watch.wait(60)
    once_each(watch, 1000.0, 1004.0 + AFTER_S)


@pytest.mark.parametrize("row", DEFINITIONS.values(), ids=lambda row: row.id)
def test_exactly_what_protects_is_captured(watch, row):
    watch.wait(1)
    watch.happens(comes(row.id))
    watch.wait(35)
    assert bool(watch.told) is (row.effect is not Effect.WARN and row.priority is not Priority.LOG)


@pytest.mark.parametrize(
    "event",
    [comes("quality_lost", "normal"), comes("quality_lost", "suppressed"), comes("no_such_row"), {"kind": "log"}],
)
def test_nothing_else_is_captured(watch, event):
    watch.wait(1)
    watch.happens(event)
    watch.wait(35)
    assert watch.told == []


def test_memory_is_bounded(watch):
    watch.wait(2 * KEPT * TICK_S)
    assert len(watch.recent.between(0.0, 1e9)) == KEPT


def test_a_capture_goes_over_the_link_with_the_number_of_its_cause(tmp_path):
    recent = RecentSamples()
    office = Office(tmp_path, recent=recent)
    for n in range(20):
        recent.note(n * TICK_S, {"feed_pressure": Reading(0.5, None, "bar", Quality.GOOD, 0.0)})
    office.say(News(1.0, events=[{"kind": "log", "what": "note"}, comes("feed_pressure_low_low")]))
    office.housekeeping.poll()
    for n in range(20, 700):
        recent.note(n * TICK_S, {"feed_pressure": Reading(0.1, None, "bar", Quality.GOOD, 0.0)})
    with office.client(Position("boot1", 2)) as client:
        told = []
        while sum(len(samples_of(piece)) for piece in told) < 621:
            told.append(client.receive(5.0)["event"])
    office.housekeeping.close()
    assert {(piece["kind"], piece["cause"], piece["wall_s"]) for piece in told} == {(CAPTURE, 2, 1.8e9)}
    values = [values["feed_pressure"] for piece in told for _, values in samples_of(piece)]
    assert values == [0.5] * 20 + [0.1] * 601
