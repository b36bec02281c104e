"""Whatever sits or knocks at control's socket, of whatever user: a stop gets through, and report stays informed."""

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from halocline.app.paths import socket_in

pytestmark = pytest.mark.system

CROWD = """
import contextlib, os, socket, sys, time
path, kind, count, uid = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
if uid and os.getuid() == 0:
    os.setgroups([os.stat(path).st_gid]); os.setgid(65534); os.setuid(uid)
HELLO = b'{"hello":1,"name":"%s","from":%s}\\n'
WORDS = {
    "idle": HELLO % (b"reader", b"null"),
    "slow": HELLO % (b"reader", b'{"boot":"","seq":0}'),
    "report": HELLO % (b"report", b"null"),
    "silent": b"",
    "garbage": b"\\xff" * 9000,
}
sitting = []
socket.socket(socket.AF_UNIX).connect(path)
print("here", flush=True)
while True:
    while len(sitting) >= count:
        sitting.pop(0).close()
    one = socket.socket(socket.AF_UNIX)
    one.settimeout(1.0)
    sitting.append(one)
    with contextlib.suppress(OSError):
        one.connect(path)
        one.sendall(WORDS[kind])
    # The storm comes as fast as it can; the others fill their places and stay.
    time.sleep(0.002 if count > 6 else 0.2)
"""


@pytest.fixture
def crowd(boat):
    """Starts processes that crowd the socket; all of them are gone afterwards."""
    path = socket_in(boat.data_dir, "control")
    boat.data_dir.chmod(0o711)
    path.chmod(0o666)
    running = []

    def gather(kind, count, uid=0):
        one = subprocess.Popen(
            [sys.executable, "-c", CROWD, str(path), kind, str(count), str(uid)], stdout=subprocess.PIPE, text=True
        )
        running.append(one)
        assert one.stdout.readline() == "here\n"

    yield gather
    for one in running:
        one.kill()
        one.wait()
        one.stdout.close()


@pytest.mark.parametrize("uid", [0, 65533])
@pytest.mark.parametrize(
    ("kind", "count"),
    [("idle", 6), ("idle", 60), ("slow", 60), ("silent", 60), ("garbage", 60), ("report", 60)],
)
def test_a_stop_gets_through(ready, crowd, wait_until, kind, count, uid):
    crowd(kind, count, uid)
    crowd(kind, count, uid)
    for _ in range(3):
        done = ready.cli("stop")
        assert done.stdout.startswith("stop: accepted"), done.stderr
        assert (done.returncode, done.stderr) == (0, "")
    assert ready.wait(lambda now: True)
    assert ready.order("stop")["accepted"]


def test_twenty_stops_at_once_get_through_a_storm(ready, crowd):
    crowd("idle", 60)
    crowd("silent", 60)
    with ThreadPoolExecutor(4) as people:
        answers = list(people.map(lambda _: ready.cli("stop"), range(20)))
    assert [answer.stdout.splitlines()[0] for answer in answers] == ["stop: accepted"] * 20
