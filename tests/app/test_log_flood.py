"""Ten thousand lines a second into a pipe that nobody drains hold nobody up; what does not fit is counted."""

import os
import subprocess
import sys

FLOOD = """
import logging, os, time
from halocline.app.logs import start_logging
start_logging("control")
log = logging.getLogger("flood")
longest_s, begin_s = 0.0, time.perf_counter()
for number in range(20_000):
    called_s = time.perf_counter()
    log.error("pressure %d bar, and so on, and so on, and so on, and so on, and so on, and so on", number)
    longest_s = max(longest_s, time.perf_counter() - called_s)
passed_s = time.perf_counter() - begin_s
dropped = logging.getLogger().handlers[0].dropped
print(longest_s, passed_s, dropped, flush=True)
os._exit(0)
"""


def test_a_flood_of_lines_into_an_undrained_pipe_holds_nobody_up_and_is_counted():
    reading, writing = os.pipe()
    try:
        process = subprocess.run(
            [sys.executable, "-c", FLOOD], stdout=subprocess.PIPE, stderr=writing, text=True, timeout=60, check=True
        )
    finally:
        os.close(writing)
        os.close(reading)
    longest_s, passed_s, dropped = map(float, process.stdout.split())
    assert longest_s < 0.5
    assert passed_s < 20.0
    assert dropped > 10_000
