import contextlib
import os
import socket
import threading
from pathlib import Path

import pytest

from halocline.cli.main import main
from halocline.link.client import BEGINNING, LinkClient, LinkFollower, Position
from halocline.link.messages import LinkAbsentError, LinkForbiddenError, LinkLostError

STOP = {"command": "stop", "origin": "cli", "who": "Ana"}


def test_a_command_is_answered_past_everything_else_on_the_link(serve):
    served = serve()
    for _ in range(50):
        served.row(mono_s=1.0)
    with LinkClient(served.path, "cli", BEGINNING) as client:
        assert client.hello["boot"] == "b1"
        assert client.command(STOP) == {"id": "c1", "accepted": True, "reasons": []}
        refused = client.command({**STOP, "command": "start"})
        assert refused["reasons"] == [{"id": "laid_up", "values": {}}]


def test_the_next_snapshot_can_be_waited_for(serve):
    served = serve()
    with LinkClient(served.path, "cli") as client:
        served.now(state="standby")
        assert client.now() == {"state": "standby"}
        with pytest.raises(LinkLostError, match=r"^control gave no now within 0 s$"):
            client.now(timeout_s=0.05)


def test_no_control_is_said_with_the_path(tmp_path):
    with pytest.raises(LinkLostError, match=r"^there is no socket at .*/none\.sock$"):
        LinkClient(str(tmp_path / "none.sock"), "cli")


def test_a_link_that_closes_is_noticed(serve):
    served = serve()
    client = LinkClient(served.path, "cli")
    served.stop()
    with pytest.raises(LinkLostError, match=r"^control has closed the link: it has ended, or others needed the place"):
        client.receive(5.0)
    client.close()


def test_a_command_may_go_out_with_the_greeting(serve):
    with LinkClient(serve().path, "cli", at_once=STOP) as client:
        assert client.answer()["accepted"]
        assert client.command(STOP)["accepted"]


def test_an_end_that_nobody_holds_any_more_is_said_so(tmp_path):
    path = str(tmp_path / "left.sock")
    with socket.socket(socket.AF_UNIX) as left:
        left.bind(path)
    with pytest.raises(LinkAbsentError, match=r"^nobody holds the socket at .*: control has ended$"):
        LinkClient(path, "cli")


def test_a_control_that_hangs_is_said_to_hang(tmp_path):
    path = str(tmp_path / "held.sock")
    with socket.socket(socket.AF_UNIX) as held:
        held.bind(path)
        held.listen(0)
        with pytest.raises(LinkLostError, match=r"^control holds .* but does not answer within 0 s: it hangs$"):
            LinkClient(path, "cli", timeout_s=0.1)
        with contextlib.ExitStack() as crowd:
            for _ in range(4):
                one = crowd.enter_context(socket.socket(socket.AF_UNIX))
                one.setblocking(False)
                with contextlib.suppress(BlockingIOError):
                    one.connect(path)
            with pytest.raises(LinkLostError, match=r"^too many wait at .*, or control hangs$"):
                LinkClient(path, "cli", timeout_s=0.1)


@pytest.fixture
def as_nobody():
    """File rights of a user that owns nothing; root may do everything, so it has to step down for a moment."""

    @contextlib.contextmanager
    def stepped_down():
        before = os.geteuid()
        if before == 0:
            os.seteuid(65534)
        try:
            yield
        finally:
            os.seteuid(before)

    return stepped_down


@pytest.mark.parametrize("closed", ["folder", "socket"])
def test_who_may_not_use_the_socket_is_told_so(serve, as_nobody, capsys, closed):
    path = Path(serve().path)
    shut = path.parent if closed == "folder" else path
    for folder in path.parents[:3]:
        if folder.stat().st_uid == os.getuid() and folder.name.startswith(("pytest", "popen", "test_")):
            folder.chmod(0o755)
    shut.chmod(0)
    try:
        with as_nobody():
            with pytest.raises(
                LinkForbiddenError, match=rf"^this user may not use {path}: put sudo before the command, or "
            ):
                LinkClient(str(path), "cli")
            assert main(["stop", "--socket", str(path)]) == 1
    finally:
        shut.chmod(0o755)
    said = capsys.readouterr().err.splitlines()
    assert said[0].startswith("halocline stop: nothing was stopped from here.")
    assert "this user may not use" in said[1]


class Follower:
    def __init__(self, path):
        self.seen = []
        self.place = BEGINNING
        self.boot = ""
        self.nows = []
        self.told = threading.Condition()
        self.follower = LinkFollower(path, "report", self.take, lambda: self.place)
        self.follower.start()

    def take(self, message):
        with self.told:
            if "hello" in message:
                self.boot = message["boot"]
            if "row" in message:
                self.place = Position(self.boot, message["row"]["seq"])
                self.seen.append(self.place)
            if "now" in message:
                self.nows.append(message["now"])
            self.told.notify_all()

    def until(self, condition):
        """Wait until what this has been told makes the condition true."""
        with self.told:
            assert self.told.wait_for(condition, 10.0), "waited in vain"


@pytest.fixture
def follow(tmp_path):
    follower = Follower(str(tmp_path / "control.sock"))
    yield follower
    follower.follower.stop()


def test_a_follower_waits_for_control_and_misses_nothing_over_restarts_of_either_side(serve, follow):
    served = serve("b1")
    for _ in range(5):
        served.row()
    follow.until(lambda: len(follow.seen) == 5)
    served.stop()
    served = serve("b2")
    for _ in range(3):
        served.row()
    follow.until(lambda: len(follow.seen) == 8)
    follow.follower.reconnect()
    served.row()
    follow.until(lambda: len(follow.seen) == 9)
    expected = [("b1", n) for n in range(1, 6)] + [("b2", n) for n in range(1, 5)]
    assert [tuple(place) for place in follow.seen] == expected


def test_commands_of_several_threads_get_their_own_answers(serve, follow):
    served = serve()
    follow.until(lambda: follow.follower.connected)
    answers = []

    def ask(command):
        answers.append((command, follow.follower.command({**STOP, "command": command})["accepted"]))

    threads = [threading.Thread(target=ask, args=(name,)) for name in ["stop", "start"] * 5]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(answers) == [("start", False)] * 5 + [("stop", True)] * 5
    assert served.server.cut_off == 0


def test_a_command_without_a_link_is_refused_at_once(follow):
    with pytest.raises(LinkLostError, match=r"^there is no link to control$"):
        follow.follower.command(STOP)


def test_a_follower_survives_a_message_it_cannot_take(serve, follow, caplog):
    served = serve()
    follow.until(lambda: follow.follower.connected)
    original = follow.take

    def fail(message):
        follow.follower._on_message = original
        raise RuntimeError("out of order")

    follow.follower._on_message = fail
    served.row()
    follow.until(lambda: follow.seen == [Position("b1", 1)])
    assert "a message could not be taken in" in caplog.text
