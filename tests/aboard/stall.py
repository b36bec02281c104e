"""How long the host kept the guest waiting for a processor: the kernel's own account of it, window by window.

What the guest shows then is the host's doing. Counted is what the guest's processes spent runnable without running
(`/proc/PID/schedstat`, second number) and what a machine below the host took away (`steal` in `/proc/stat`).
"""

import contextlib
import os
import threading
from pathlib import Path

WINDOW_S = 0.25
NS = 1e9


class StallWatch(threading.Thread):
    """Looks four times a second; `worst_ms` is the worst window since `forget`."""

    def __init__(self, session: int, cpu: int) -> None:
        super().__init__(daemon=True)
        self._kernel = session
        self._cpu = cpu
        self._ended = threading.Event()
        self.worst_ms = 0.0
        self.total_ms = 0.0

    def run(self) -> None:
        """Until `end`."""
        before = self._waited_s()
        while not self._ended.wait(WINDOW_S):
            now = self._waited_s()
            # a process that is new or gone would make a jump of its own: only those seen twice count
            waited_ms = 1000.0 * sum(max(0.0, now[of] - before[of]) for of in now.keys() & before.keys())
            self.worst_ms = max(self.worst_ms, waited_ms)
            self.total_ms += waited_ms
            before = now

    def forget(self) -> None:
        """From here on anew."""
        self.worst_ms = self.total_ms = 0.0

    def end(self) -> None:
        """No more looks."""
        self._ended.set()

    def _waited_s(self) -> dict[str, float]:
        kernel = Path(f"/proc/{self._kernel}")
        waited = {}
        with contextlib.suppress(OSError):
            pids = [str(self._kernel), *(kernel / f"task/{self._kernel}/children").read_text().split()]
            for pid in pids:
                with contextlib.suppress(OSError):
                    waited[pid] = int(Path(f"/proc/{pid}/schedstat").read_text().split()[1]) / NS
        steal = next(
            line for line in Path("/proc/stat").read_text().splitlines() if line.startswith(f"cpu{self._cpu} ")
        )
        waited["steal"] = int(steal.split()[8]) / os.sysconf("SC_CLK_TCK")
        return waited
