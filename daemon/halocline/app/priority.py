"""Precedence over everything else on the computer, where the system grants it.

Aboard the unit file grants it (CPUSchedulingPolicy=fifo). Started by hand, a process asks for itself, and without
the right to it does what it can: nothing depends on it but the peace of a busy computer.
"""

import contextlib
import os

CONTROL = 50
SEA = 48


def take_precedence(level: int) -> bool:
    """Ask for real-time scheduling at `level` (1 to 99); whether it was granted."""
    if os.sched_getscheduler(0) in (os.SCHED_FIFO, os.SCHED_RR):
        return True
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(level))
    except (OSError, AttributeError):
        with contextlib.suppress(OSError):
            os.nice(-10)
        return False
    return True
