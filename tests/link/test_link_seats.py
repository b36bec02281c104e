"""Whoever comes is heard; who sits at control's socket for nothing makes room."""

import contextlib
from types import SimpleNamespace

from hypothesis import given
from hypothesis import strategies as st

from halocline.link.seats import SEATS, WAITING, least_deserving

REPORT_UID, CREW_UID = 990, 1000
HELLO = {"hello": 1, "name": "cli", "from": None}
STOP = {"command": "stop", "id": "c1", "origin": "cli", "who": "Ana"}


def stands(wire):
    """Whether the server still keeps this connection."""
    try:
        wire.read()
    except (ConnectionResetError, BrokenPipeError):
        return False
    return True


def test_a_stop_comes_through_a_row_of_idle_readers_and_report_keeps_its_place(bench):
    report = bench.greet(name="report")
    readers = [bench.greet(name="reader") for _ in range(30)]
    stopper = bench.connect(HELLO, STOP)
    assert [message["command"] for message, _ in bench.commands] == ["stop"]
    bench.server.answer(bench.commands[0][1].token, "c1", accepted=True)
    bench.poll()
    assert [m["answer"]["accepted"] for m in stopper.read() if "answer" in m] == [True]
    assert stands(report)
    assert sum(stands(reader) for reader in readers) == SEATS - 2


def test_who_has_just_given_a_command_sits_firmer_than_who_only_reads(bench):
    stopper = bench.connect(HELLO, STOP)
    for _ in range(30):
        bench.greet(name="reader")
        bench.clock.now_s += 0.05
    assert stands(stopper)


def test_a_crowd_that_says_nothing_keeps_nobody_out(bench):
    report = bench.greet(name="report")
    crowd = [bench.connect() for _ in range(3 * WAITING)]
    bench.connect(HELLO, STOP)
    assert [message["command"] for message, _ in bench.commands] == ["stop"]
    assert stands(report)
    assert sum(stands(one) for one in crowd) <= WAITING


def test_the_oldest_report_of_a_user_is_the_one_that_is_kept(bench):
    report = bench.greet(name="report")
    for _ in range(30):
        bench.greet(name="report")
    assert stands(report)


GARBAGE = [
    b"",
    b"\n",
    b"{",
    b"x" * 100,
    b"\xff" * 9000,
    b'{"hello":1}\n',
    b'{"hello":1,"name":"r","from":{"boot":""}}\n',
]
peers = st.lists(st.sampled_from(["idle", "silent", "report", *GARBAGE]), max_size=60)


@given(before=peers, after=peers)
def test_whatever_sits_there_report_stays_and_a_stop_is_heard(a_bench, tmp_path_factory, before, after):
    bench = a_bench(str(tmp_path_factory.mktemp("link") / "s"))
    try:
        report = bench.greet(name="report")
        for kind in before:
            come(bench, kind)
        bench.connect(HELLO, STOP)
        for kind in after:
            come(bench, kind)
        assert [message["command"] for message, _ in bench.commands] == ["stop"]
        assert stands(report)
        assert len(bench.server.peers) <= SEATS
    finally:
        bench.close()


def come(bench, kind):
    """One more peer of a kind; all of them stay as long as they may."""
    if kind in {"idle", "report"}:
        bench.greet(name=kind)
        return
    wire = bench.connect()
    if kind != "silent":
        with contextlib.suppress(OSError):
            wire.socket.sendall(kind)
        bench.poll()


def sitting(token, uid, name="reader", since_s=0.0, commanded_s=None):
    peer = None if name is None else SimpleNamespace(name=name)
    return SimpleNamespace(token=token, uid=uid, peer=peer, since_s=since_s, commanded_s=commanded_s)


def test_the_user_with_most_connections_makes_room_first():
    report = sitting(1, REPORT_UID, "report")
    root = sitting(2, 0)
    crew = [sitting(number, CREW_UID, "report", since_s=float(number)) for number in range(3, 9)]
    assert least_deserving([report, root, *crew], 60.0) is crew[1], "the oldest but that user's own report"


@given(st.lists(st.tuples(st.sampled_from([REPORT_UID, CREW_UID]), st.sampled_from(["report", "x"])), max_size=20))
def test_no_other_user_can_take_reports_place(others):
    report = sitting(0, REPORT_UID + 1, "report")
    clients = [report, *(sitting(number + 1, uid, name) for number, (uid, name) in enumerate(others))]
    if len(clients) > 3:
        assert least_deserving(clients, 60.0) is not report
