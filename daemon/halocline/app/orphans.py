"""A supervised process ends with its supervisor, even one that was killed: a boat must not keep half a daemon."""

import os
import signal
import threading

SUPERVISED_BY = "HALOCLINE_SUPERVISED_BY"
LOOK_EVERY_S = 0.2


def end_with_supervisor() -> bool:
    """Watch for the supervisor's end from a thread; whether there is a supervisor."""
    supervisor = os.environ.pop(SUPERVISED_BY, None)
    if supervisor is None:
        return False
    threading.Thread(target=_watch, args=(int(supervisor),), name="supervisor watch", daemon=True).start()
    return True


def _watch(supervisor: int) -> None:
    pause = threading.Event()
    while os.getppid() == supervisor:
        pause.wait(LOOK_EVERY_S)
    os.kill(os.getpid(), signal.SIGTERM)
