import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.link.messages import LinkError
from halocline.link.ring import Gap, Ring

kinds = st.lists(st.sampled_from(["row", "event"]), max_size=60)


def filled(kinds, *, max_rows, max_events):
    ring = Ring("b1", max_rows=max_rows, max_events=max_events)
    for kind in kinds:
        (ring.append_row if kind == "row" else ring.append_event)({"mono_s": 1.0})
    return ring


def numbers(lines):
    return [next(iter(json.loads(line).values()))["seq"] for line in lines]


def test_rows_and_events_share_one_running_number():
    ring = Ring("b1")
    assert ring.append_row({"mono_s": 1.0}) == 1
    assert ring.append_event({"mono_s": 1.5, "kind": "state"}) == 2
    replay = ring.after("b1", 0)
    assert replay.gap is None
    assert [json.loads(line) for line in replay.lines] == [
        {"row": {"seq": 1, "mono_s": 1.0}},
        {"event": {"seq": 2, "mono_s": 1.5, "kind": "state"}},
    ]


def test_a_reader_of_an_earlier_boot_gets_everything_of_this_one():
    ring = filled(["row"] * 5, max_rows=10, max_events=10)
    replay = ring.after("another", 3)
    assert replay.gap is None
    assert numbers(replay.lines) == [1, 2, 3, 4, 5]


def test_rows_that_are_gone_are_named_and_events_among_them_still_come():
    ring = filled(["row", "row", "event", "row", "row", "row"], max_rows=2, max_events=10)
    replay = ring.after("b1", 0)
    assert replay.gap == Gap(1, 4)
    assert numbers(replay.lines) == [3, 5, 6]


def test_a_row_that_cannot_be_encoded_takes_no_number():
    ring = Ring("b1")
    with pytest.raises(LinkError, match=r"^cannot be sent"):
        ring.append_row({"mono_s": float("inf")})
    assert ring.append_row({"mono_s": 2.0}) == 1


def test_an_hour_of_rows_and_twenty_thousand_events_are_kept():
    ring = Ring("b1")
    for _ in range(3700):
        ring.append_row({})
    for _ in range(20_100):
        ring.append_event({})
    assert len(numbers(ring.after("b1", 0).lines)) == 3600 + 20_000
    assert ring.seq_first == 101


@given(kinds, st.integers(0, 70), st.integers(1, 8), st.integers(1, 8))
def test_what_is_replayed_and_what_is_named_as_gone_cover_all_that_was_missed(kinds, seen, rows, events):
    ring = filled(kinds, max_rows=rows, max_events=events)
    replay = ring.after("b1", seen)
    kept = numbers(replay.lines)
    gone = set(range(replay.gap.first, replay.gap.last + 1)) if replay.gap else set()
    assert kept == sorted(set(kept))
    assert all(number > seen for number in kept)
    assert set(kept) | gone == set(range(seen + 1, len(kinds) + 1))
    if replay.gap is not None:
        assert replay.gap.first not in kept
        assert replay.gap.last not in kept


@given(kinds, st.integers(1, 5), st.integers(1, 5))
def test_the_ring_never_keeps_more_than_it_should(kinds, rows, events):
    ring = filled(kinds, max_rows=rows, max_events=events)
    kept = list(ring.after("b1", 0).lines)
    assert sum(line.startswith(b'{"row"') for line in kept) == min(rows, kinds.count("row"))
    assert sum(line.startswith(b'{"event"') for line in kept) == min(events, kinds.count("event"))
