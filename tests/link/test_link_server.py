import json
import os
import socket
import stat

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from halocline.link.messages import LinkError
from halocline.link.ring import Ring
from halocline.link.server import LinkServer

STOP = {"command": "stop", "id": "c1", "origin": "cli", "who": "Ana"}


def only(messages, kind):
    return [message[kind] for message in messages if kind in message]


def test_a_client_is_greeted_with_the_boot_and_the_numbers_kept(bench):
    bench.ring.append_row({"mono_s": 1.0})
    assert bench.greet().read() == [
        {
            "hello": 1,
            "host_boot": "hb",
            "simulated": True,
            "mono_s": 10.0,
            "wall_s": None,
            "version": "0.1.0",
            "boot": "b1",
            "seq_first": 1,
            "seq_last": 1,
        }
    ]


def test_a_client_goes_on_from_where_it_was_and_then_gets_what_comes(bench):
    for _ in range(3):
        bench.ring.append_row({})
    wire = bench.greet({"boot": "b1", "seq": 2})
    bench.ring.append_event({"kind": "state"})
    bench.poll()
    assert [row["seq"] for row in only(wire.read(), "row")] == [3]
    assert only(wire.read(), "event") == [{"seq": 4, "kind": "state"}]


def test_a_client_without_a_place_gets_only_what_comes(bench):
    bench.ring.append_row({})
    wire = bench.greet()
    bench.ring.append_row({})
    bench.poll()
    assert [row["seq"] for row in only(wire.read(), "row")] == [2]


def test_a_client_is_told_what_is_no_longer_kept(tmp_path, bench):
    for _ in range(3605):
        bench.ring.append_row({})
    wire = bench.greet({"boot": "b1", "seq": 1})
    bench.poll(200)
    messages = wire.read()
    assert messages[1] == {"gap": {"boot": "b1", "from": 2, "to": 5}}
    assert [row["seq"] for row in only(messages, "row")] == list(range(6, 3606))


def test_a_long_replay_is_sent_piece_by_piece_with_bounded_memory(bench):
    for _ in range(3600):
        bench.ring.append_row({"filler": "x" * 500})
    wire = bench.greet({"boot": "", "seq": 0})
    largest = 0
    for _ in range(2000):
        bench.poll(1)
        largest = max(largest, *(client.pending_bytes for client in bench.server._clients.values()))
        if len(wire.read()) == 3601:
            break
    assert [row["seq"] for row in only(wire.read(), "row")] == list(range(1, 3601))
    assert largest < 66_000


def test_snapshots_go_to_all_and_only_the_newest_waits_for_a_slow_one(bench):
    quick, slow = bench.greet(), bench.greet()
    bench.server.publish_now({"state": "standby"})
    assert only(quick.read(), "now") == [{"state": "standby"}]
    for number in range(5000):
        bench.server.publish_now({"n": number, "filler": "x" * 200})
        quick.read()
    bench.poll()
    assert only(quick.read(), "now")[-1]["n"] == 4999
    for _ in range(50):
        seen = only(slow.read(), "now")
        bench.poll(1)
    assert seen[-1]["n"] == 4999
    assert len(seen) < 3000


def test_a_client_that_does_not_read_is_cut_off_and_the_others_are_not(bench):
    slow, other = bench.greet(), bench.greet()
    for _ in range(3000):
        bench.ring.append_row({"filler": "x" * 300})
    bench.poll(100)
    other.read()
    bench.clock.now_s += 4.9
    bench.poll()
    assert len(bench.server.peers) == 2
    bench.clock.now_s += 0.2
    bench.poll()
    assert [peer.token for peer in bench.server.peers] == [2]
    bench.poll(100)
    other.read()
    with pytest.raises(ConnectionResetError):
        slow.read()


def test_a_command_reaches_control_with_the_kernels_word_on_its_sender(bench):
    wire = bench.greet(name="page")
    wire.say({**STOP, "litres": 40})
    bench.poll()
    ((message, peer),) = bench.commands
    assert message == {**STOP, "litres": 40}
    assert (peer.name, peer.uid, peer.gid, peer.pid) == ("page", os.getuid(), os.getgid(), os.getpid())
    bench.server.answer(peer.token, "c1", accepted=False, reasons=[{"id": "laid_up", "values": {}}])
    assert only(wire.read(), "answer") == [
        {"id": "c1", "accepted": False, "reasons": [{"id": "laid_up", "values": {}}]}
    ]


def test_an_answer_to_a_client_that_has_gone_is_no_error(bench):
    wire = bench.greet()
    wire.say(STOP)
    bench.poll()
    wire.socket.close()
    bench.poll()
    bench.server.answer(bench.commands[0][1].token, "c1", accepted=True)
    assert bench.server.peers == ()


def test_more_than_twenty_commands_a_second_are_refused_but_a_stop_is_always_heard(bench):
    wire = bench.greet()
    wire.say(*({**STOP, "command": "start", "id": f"s{n}"} for n in range(30)), STOP)
    bench.poll()
    assert [message["command"] for message, _ in bench.commands] == ["start"] * 20 + ["stop"]
    assert only(wire.read(), "answer")[0] == {
        "id": "s20",
        "accepted": False,
        "reasons": [{"id": "too_many_commands", "values": {}}],
    }
    bench.clock.now_s += 0.5
    wire.say(*({**STOP, "command": "start"} for _ in range(30)))
    bench.poll()
    assert len(bench.commands) == 31


@pytest.mark.parametrize(
    "line",
    [
        b"\n",
        b"stop\n",
        b'{"command":"stop"}\n',
        b'{"hello":1,"name":"again","from":null}\n',
        b"\x00\xff\xfe\x01" * 100 + b"\n",
        b'{"command":"start","id":"c","origin":"cli","who":"a","litres":NaN}\n',
        b'{"command":"start","id":"c","origin":"cli","who":"a","litres":1e999}\n',
        b"x" * 8192,
        b'{"a":' + b"[" * 8000 + b"\n",
    ],
)
def test_nonsense_costs_the_client_its_connection_and_nothing_else(bench, line):
    good, bad = bench.greet(), bench.greet()
    bad.socket.sendall(line)
    bench.poll()
    with pytest.raises(ConnectionResetError):
        bad.read()
    assert bench.commands == []
    bench.server.publish_now({"state": "standby"})
    assert only(good.read(), "now") == [{"state": "standby"}]


def test_half_a_line_is_kept_until_its_end_comes(bench):
    wire = bench.greet()
    line = json.dumps(STOP).encode() + b"\n"
    for byte in line:
        assert bench.commands == []
        wire.socket.sendall(bytes([byte]))
        bench.poll(1)
    assert [message for message, _ in bench.commands] == [STOP]


def test_a_client_that_leaves_in_the_middle_of_a_line_sends_no_command(bench):
    wire = bench.greet()
    wire.socket.sendall(json.dumps(STOP).encode())
    wire.socket.close()
    bench.poll()
    assert bench.commands == []
    assert bench.server.peers == ()


def test_a_client_that_says_no_hello_is_cut_off(bench):
    wire = bench.connect()
    bench.clock.now_s += 5.1
    bench.poll()
    with pytest.raises(ConnectionResetError):
        wire.read()


def test_the_ninth_client_takes_the_place_of_the_one_that_was_quiet_for_longest(bench):
    wires = [bench.greet() for _ in range(8)]
    assert only(bench.greet().read(), "hello") == [1]
    with pytest.raises(ConnectionResetError):
        wires[0].read()
    assert only(wires[1].read(), "hello") == [1]


def test_the_socket_file_is_for_the_group_and_goes_away_with_the_server(bench):
    assert stat.S_IMODE(os.stat(bench.path).st_mode) == 0o660
    assert os.listdir(os.path.dirname(bench.path)) == ["control.sock"]
    bench.server.close()
    assert os.listdir(os.path.dirname(bench.path)) == []
    bench.server = type("Closed", (), {"close": lambda self: None})()


def lone_server(path, **options):
    return LinkServer(str(path), Ring("b"), dict, lambda message, peer: None, **options)


def test_a_socket_file_left_by_a_killed_control_is_replaced(tmp_path):
    path = tmp_path / "control.sock"
    with socket.socket(socket.AF_UNIX) as left:
        left.bind(str(path))
    server = lone_server(path)
    with socket.socket(socket.AF_UNIX) as client:
        client.connect(str(path))
    server.close()
    assert not path.exists()


def test_two_servers_on_one_socket_are_refused(bench):
    with pytest.raises(LinkError, match=r"another control process already listens here; stop it first$"):
        lone_server(bench.path)


def test_a_file_that_is_no_socket_is_left_alone(tmp_path):
    path = tmp_path / "notes.txt"
    path.write_text("keep")
    with pytest.raises(LinkError, match=r"something that is not a socket stands here; move it away$"):
        lone_server(path)
    assert path.read_text() == "keep"


@pytest.mark.parametrize(
    ("where", "options", "problem"),
    [
        ("x" * 120, {}, "the path is too long for a socket, use a shorter one"),
        ("missing/control.sock", {}, "cannot listen here: No such file or directory"),
        ("c.sock", {"group": "no-such-group"}, "there is no group 'no-such-group' on this computer"),
    ],
)
def test_a_socket_that_cannot_be_had_is_explained(tmp_path, where, options, problem):
    with pytest.raises(LinkError) as refusal:
        lone_server(tmp_path / where, **options)
    assert str(refusal.value) == f"{tmp_path / where}: {problem}"
    assert list(tmp_path.iterdir()) == []


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    st.lists(
        st.binary(max_size=64)
        | st.sampled_from(
            [
                b"\n",
                json.dumps(STOP).encode() + b"\n",
                b'{"hello":1,"name":"x","from":null}\n',
                b'{"hello":1,"name":"x","from":{"boot":"b1","seq":99999}}\n',
                b'{"command":"stop","id":"c1","origin":"cli"',
            ]
        ),
        max_size=12,
    )
)
def test_no_byte_stream_harms_the_server(bench, chunks):
    wire = bench.connect()
    for chunk in chunks:
        try:
            wire.socket.sendall(chunk)
        except OSError:
            break
        bench.poll(1)
    wire.socket.close()
    bench.poll()
    assert bench.server.peers == ()
    for message, _ in bench.commands:
        assert message == STOP
