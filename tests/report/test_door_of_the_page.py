"""Who is let in and who is turned out when too many come."""

import socket

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.report.http.connection_limiter import LONGEST_WAIT_S, ConnectionLimiter, LimitedProtocol


class Clock:
    now_s = 100.0

    def __call__(self):
        return self.now_s


class Hall:
    """A door with small numbers, and who was turned out."""

    def __init__(self, **numbers):
        self.clock = Clock()
        self.door = ConnectionLimiter(self.clock, **{"per_address": 3, "waiting": 4, "guests": 6, **numbers})
        self.turned_out = []

    def enter(self, address, port):
        self.clock.now_s += 0.001
        return self.door.enter((address, port), lambda: self.turned_out.append((address, port)))


def test_one_address_holds_so_many_connections_and_its_own_oldest_goes_for_a_new_one():
    hall = Hall()
    assert all(hall.enter("a", port) for port in range(4))
    assert hall.turned_out == [("a", 0)]


def test_connections_that_are_served_are_not_turned_out_so_the_next_of_that_address_is_refused():
    hall = Hall()
    for port in range(3):
        hall.enter("a", port)
        hall.door.serve(("a", port))
    assert not hall.enter("a", 3)
    assert hall.enter("b", 1)
    hall.door.leave(("a", 0))
    assert hall.enter("a", 4)
    assert hall.turned_out == []


def test_when_too_many_wait_the_one_who_holds_most_gives_way_not_the_one_who_just_came():
    hall = Hall()
    hall.enter("phone", 1)
    for port in range(3):
        hall.enter("attacker", port)
    hall.enter("tablet", 1)
    assert hall.turned_out == [("attacker", 0)]


def test_after_an_answer_a_connection_waits_again():
    hall = Hall(per_address=1)
    hall.enter("a", 1)
    hall.door.serve(("a", 1))
    hall.door.wait(("a", 1))
    assert hall.enter("a", 2)
    assert hall.turned_out == [("a", 1)]


def test_one_who_waits_for_ever_goes_when_the_next_comes():
    hall = Hall()
    hall.enter("slow", 1)
    hall.clock.now_s += LONGEST_WAIT_S + 1.0
    hall.enter("b", 1)
    assert hall.turned_out == [("slow", 1)]


def test_a_full_house_of_served_guests_refuses_even_a_new_address():
    hall = Hall()
    for number in range(6):
        hall.enter(f"a{number}", 1)
        hall.door.serve((f"a{number}", 1))
    assert not hall.enter("b", 1)
    assert hall.door.inside == 6


steps = st.lists(
    st.tuples(st.sampled_from(["enter", "serve", "wait", "leave"]), st.sampled_from("abc"), st.integers(0, 9))
)


@given(steps)
def test_whatever_happens_the_numbers_are_kept(doings):
    hall = Hall()
    inside = set()
    for doing, address, port in doings:
        if doing == "enter":
            if (address, port) in inside:
                continue
            before = len(hall.turned_out)
            if hall.enter(address, port):
                inside.add((address, port))
            inside -= set(hall.turned_out[before:])
        else:
            getattr(hall.door, doing)((address, port))
            if doing == "leave":
                inside.discard((address, port))
        assert hall.door.inside == len(inside) <= 6
        assert max((sum(peer[0] == who for peer in inside) for who in "abc"), default=0) <= 3


def test_a_refused_connection_is_closed_and_the_next_is_taken():
    door = ConnectionLimiter(per_address=1)
    with LimitedProtocol(socket.create_server(("127.0.0.1", 0)), door) as doorway:
        where = doorway.getsockname()
        first = socket.create_connection(where)
        accepted, peer = doorway.accept()
        door.serve(peer)
        second = socket.create_connection(where)
        with pytest.raises(ConnectionAbortedError):
            doorway.accept()
        assert second.recv(1) == b""
        accepted.close()
        assert door.inside == 0
        third = socket.create_connection(where)
        taken, _ = doorway.accept()
        for one in (first, second, third, taken):
            one.close()
    assert door.inside == 0
