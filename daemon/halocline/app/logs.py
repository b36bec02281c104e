"""Logging that never holds anybody up: lines go through a bounded queue, and what does not fit is counted."""

import logging
import logging.handlers
import queue
import sys

LINES_KEPT = 2000
AUDIT = "halocline.audit"
"""Who gave which command from where, and what became of it: always told."""


class DroppingHandler(logging.handlers.QueueHandler):
    """Hands records over without waiting; `dropped` counts those that found the queue full."""

    dropped = 0

    def enqueue(self, record: logging.LogRecord) -> None:
        """Queue a record or drop it."""
        try:
            self.queue.put_nowait(record)
        except queue.Full:
            self.dropped += 1


def start_logging(process: str) -> logging.handlers.QueueListener:
    """Send this process's log to standard error from a thread of its own."""
    lines: queue.Queue[logging.LogRecord] = queue.Queue(LINES_KEPT)
    stream = logging.StreamHandler(sys.stderr)
    stream.setFormatter(logging.Formatter(f"halocline {process}: %(levelname)s %(message)s"))
    listener = logging.handlers.QueueListener(lines, stream)
    root = logging.getLogger()
    root.handlers = [DroppingHandler(lines)]
    root.setLevel(logging.WARNING)
    logging.getLogger(AUDIT).setLevel(logging.INFO)
    listener.start()
    return listener
