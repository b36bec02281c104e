"""The recorder's thread: takes what the link says, writes it in batches, and outlives every failing disk."""

import logging
import sqlite3
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping
from itertools import islice
from pathlib import Path
from typing import Any

from halocline.link.client import BEGINNING, Position
from halocline.plant.settings import RecordSettings
from halocline.report.store import DamagedError, Entry, Store, StoreError, Written, set_aside

BATCH_S = 60.0
BATCH_ENTRIES = 500
MAX_HELD = 4000
RETRY_S = 5.0
RETENTION_EVERY_S = 600.0

log = logging.getLogger(__name__)


class Recorder:
    """Holds at most `MAX_HELD` entries in memory and writes them: events at once, rows every `batch_s`.

    When the disk is slower than the plant, further entries are refused until all held ones are on disk; then
    `on_caught_up` is called, and whoever feeds goes on from `position`, so that control's ring fills the gap.
    """

    def __init__(
        self,
        path: Path,
        settings: RecordSettings,
        *,
        batch_s: float = BATCH_S,
        retry_s: float = RETRY_S,
        on_caught_up: Callable[[], None] = lambda: None,
    ) -> None:
        self.path = path
        self._settings = settings
        self._batch_s = batch_s
        self._retry_s = retry_s
        self._on_caught_up = on_caught_up
        self._held: deque[Entry] = deque()
        self._changed = threading.Condition()
        self._ending = False
        self._urgent = False
        self._behind = False
        self._oldest_s = 0.0
        self._store: Store | None = None
        self._position = BEGINNING
        self._problem: str | None = None
        self._note: str | None = None
        self._lost = 0
        self._refused = 0
        self._unreadable = 0
        self._committed_s: float | None = None
        self._tidied_s = float("-inf")
        self._thread = threading.Thread(target=self._run, name="recorder", daemon=True)

    def start(self) -> None:
        """Opens the record and begins to write. A record that cannot be opened is tried again for ever."""
        self._try(self._open)
        self._thread.start()

    def stop(self) -> None:
        """Writes what is held, once, and ends the thread."""
        with self._changed:
            self._ending = True
            self._changed.notify()
        self._thread.join(timeout=5.0)

    @property
    def position(self) -> Position:
        """The last row or event taken, on disk or held."""
        with self._changed:
            return self._position

    def offer(self, entry: Entry) -> bool:
        """Takes an entry without waiting; False when it was refused because the disk is too far behind."""
        with self._changed:
            if self._behind or len(self._held) >= MAX_HELD:
                self._behind = True
                self._refused += 1
                return False
            if not self._held:
                self._oldest_s = time.monotonic()
            self._held.append(entry)
            if entry.kind == "event":
                self._urgent = True
            if entry.kind != "hello":
                self._position = Position(entry.boot, entry.content["seq"])
            if self._urgent or len(self._held) >= BATCH_ENTRIES:
                self._changed.notify()
            return True

    def flush(self, timeout_s: float = 5.0) -> bool:
        """Writes what is held now; whether it is on disk in time."""
        with self._changed:
            self._urgent = True
            self._changed.notify()
            return self._changed.wait_for(lambda: not self._held, timeout_s)

    def held_rows(self) -> list[Entry]:
        """The rows that are not on disk yet."""
        with self._changed:
            return [entry for entry in self._held if entry.kind == "row"]

    def status(self) -> Mapping[str, Any]:
        """How the record is: state ok, behind or failing; what is held, what was lost."""
        with self._changed:
            state = "failing" if self._problem else "behind" if self._behind else "ok"
            age_s = None if self._committed_s is None else time.monotonic() - self._committed_s
            return {
                "state": state,
                "problem": self._problem,
                "note": self._note,
                "held": len(self._held),
                "refused": self._refused,
                "lost": self._lost,
                "unreadable": self._unreadable,
                "last_write_age_s": age_s,
            }

    def _run(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(self._due, self._wait_s())
                ending = self._ending
                self._urgent = False
                batch = list(islice(self._held, BATCH_ENTRIES))
            done = self._try(self._step, batch)
            if ending and (not done or len(batch) < BATCH_ENTRIES):
                break
            if not done:
                self._rest()
        if self._store is not None:
            self._store.close()

    def _due(self) -> bool:
        waited = bool(self._held) and time.monotonic() - self._oldest_s >= self._batch_s
        return (
            self._ending
            or waited
            or self._store is None
            or (self._urgent and bool(self._held))
            or len(self._held) >= BATCH_ENTRIES
            or (self._behind and not self._held)
        )

    def _wait_s(self) -> float:
        if not self._held:
            return self._batch_s
        return max(self._oldest_s + self._batch_s - time.monotonic(), 0.05)

    def _rest(self) -> None:
        with self._changed:
            self._changed.wait_for(lambda: self._ending, self._retry_s)

    def _try(self, step: Callable[..., None], *arguments: Any) -> bool:
        """Runs one step; a failure is kept as a sentence and closes the record, to be opened anew."""
        try:
            step(*arguments)
        except (StoreError, sqlite3.Error, OSError) as error:
            self._fail(str(error), damaged=isinstance(error, DamagedError))
            return False
        except Exception as error:
            log.exception("record: an entry could not be written")
            self._fail(f"an entry could not be written: {error!r}", damaged=False)
            return False
        with self._changed:
            self._problem = None
        return True

    def _fail(self, problem: str, *, damaged: bool) -> None:
        if problem != self._problem:
            log.error("record: %s", problem)
        store, self._store = self._store, None
        if store is not None:
            store.close()
        with self._changed:
            self._problem = problem
        if damaged:
            try:
                aside = set_aside(self.path)
            except OSError as error:
                log.error("record: the damaged file cannot be moved: %s", error)
                return
            with self._changed:
                self._note = f"The record was damaged. It was set aside as {aside.name}; a new one was begun."

    def _open(self) -> None:
        store = Store(self.path)
        self._store = store
        with self._changed:
            if self._position == BEGINNING:
                self._position = store.position

    def _step(self, batch: list[Entry]) -> None:
        if self._store is None:
            self._open()
        if self._store is not None:
            written = self._store.write(batch) if batch else Written()
            self._written(len(batch), written)
            self._tidy(self._store)

    def _written(self, count: int, written: Written) -> None:
        with self._changed:
            for _ in range(count):
                self._held.popleft()
            self._lost += written.lost
            self._unreadable += written.unreadable
            if count:
                self._committed_s = self._oldest_s = time.monotonic()
            caught_up = self._behind and not self._held
            if caught_up:
                self._behind = False
            self._changed.notify_all()
        if caught_up:
            self._on_caught_up()

    def _tidy(self, store: Store) -> None:
        now_s = time.monotonic()
        if now_s - self._tidied_s < RETENTION_EVERY_S:
            return
        self._tidied_s = now_s
        before_s = time.time() - self._settings.seconds_days * 86400.0
        store.forget_samples_before(before_s, self._settings.max_size_mb * 1e6)
