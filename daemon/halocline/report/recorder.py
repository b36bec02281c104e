"""The recorder's thread: takes what the link says, writes it in batches, and outlives every failing disk."""

import logging
import sqlite3
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import Any

from halocline.link.client import BEGINNING, Position
from halocline.plant.settings import RecordSettings
from halocline.report import texts
from halocline.report.conditions import Condition
from halocline.report.database_open import remove
from halocline.report.journal_repair import Mended, needs_mending
from halocline.report.quarantine import kept_aside
from halocline.report.retention import Ballast
from halocline.report.schema_upgrade import Kept, missing_migrations
from halocline.report.store import DamagedError, Entry, FullError, Store, StoreError, Written, set_aside

BATCH_S = 60.0
BATCH_ENTRIES = 500
MAX_HELD = 1200
"""Twenty minutes of rows, some 6 MB; control's ring holds an hour, so what is refused comes again."""
RETRY_S = 5.0
TIDY_EVERY_S = 600.0
CHORE_EVERY_S = 0.2
FOLD_EVERY_S = 300.0
"""The journal goes into the file at least so often: a journal that cannot be read then costs minutes, not hours. More
often would write the pages that all rows share to the card again and again."""

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
        tidy_every_s: float = TIDY_EVERY_S,
        fold_every_s: float = FOLD_EVERY_S,
        on_caught_up: Callable[[], None] = lambda: None,
    ) -> None:
        self.path = path
        self._settings = settings
        self._batch_s = batch_s
        self._retry_s = retry_s
        self._tidy_every_s = tidy_every_s
        self._fold_every_s = fold_every_s
        self._on_caught_up = on_caught_up
        self._held: deque[Entry] = deque()
        self._changed = threading.Condition()
        self._ending = False
        self._urgent = False
        self._behind = False
        self._missing = False
        self._unfolded = False
        self._suspected = False
        self._chores = False
        self._forgetting = False
        self._oldest_s = 0.0
        self._store: Store | None = None
        self._ballast = Ballast(path.with_name(f"{path.stem}.ballast"))
        self._position = BEGINNING
        self._problem: str | None = None
        self._trouble = "other"
        self._begun_anew = False
        self._notes: dict[str, Condition] = {}
        self._named: set[str] = set()
        self._aside: tuple[str, ...] = ()
        self._lost = 0
        self._refused = 0
        self._unreadable = 0
        self._committed_s: float | None = None
        self._tidied_s = self._folded_s = time.monotonic()
        self._thread = threading.Thread(target=self._run, name="recorder", daemon=True)

    def start(self) -> None:
        """Opens the record and begins to write. A record that cannot be opened is tried again for ever.

        One of an earlier version is copied first, one with a broken journal read whole; that can take minutes, and
        the page does not wait for it.
        """
        if not missing_migrations(self.path) and not needs_mending(self.path):
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
            if len(self._held) >= MAX_HELD:
                self._behind = self._missing = True
            if self._behind or (self._missing and self._skips(entry)):
                self._refused += 1
                return False
            self._missing = False
            if not self._held:
                self._oldest_s = time.monotonic()
            self._held.append(entry)
            if entry.kind == "event":
                self._urgent = True
            if entry.kind in ("row", "event"):
                self._position = Position(entry.boot, entry.content["seq"])
            if self._urgent or len(self._held) >= BATCH_ENTRIES:
                self._changed.notify()
            return True

    def _skips(self, entry: Entry) -> bool:
        """Whether taking it would leave out what was refused: the old connection still speaks after a catching-up."""
        if entry.kind in ("row", "event"):
            return self._position != (entry.boot, entry.content["seq"] - 1)
        return entry.kind != "hello"

    def flush(self, timeout_s: float = 5.0) -> bool:
        """Writes what is held now; whether it is on disk in time."""
        with self._changed:
            self._urgent = True
            self._changed.notify()
            return self._changed.wait_for(lambda: not self._held, timeout_s)

    def suspect(self) -> None:
        """A reader could not read the record: it is looked through, and set aside if it is not whole."""
        with self._changed:
            self._suspected = True
            self._changed.notify()

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
                "note": " ".join(note.lines[0] for note in self._notes.values()) or None,
                "held": len(self._held),
                "refused": self._refused,
                "lost": self._lost,
                "unreadable": self._unreadable,
                "last_write_age_s": age_s,
            }

    def conditions(self) -> tuple[Condition, ...]:
        """What people have to know about the record now; nothing while all is well."""
        with self._changed:
            told = []
            if self._problem is not None:
                means = texts.RECORD_FAILING.format(problem=self._problem)
                remedy = f"{texts.RECORD_REMEDIES[self._trouble]} {texts.RECORD_KEPT_MEANWHILE}"
                told.append(Condition("record_unavailable", means, remedy))
            elif self._behind:
                told.append(Condition("record_behind", texts.RECORD_BEHIND, texts.RECORD_BEHIND_DO))
            if self._lost:
                means = texts.RECORD_LOST.format(count=self._lost)
                told.append(Condition("record_note", means, texts.RECORD_LOST_DO))
            return (*told, *self._notes.values(), *self._of_what_lies_aside())

    def _of_what_lies_aside(self) -> Iterator[Condition]:
        """What was set aside before this start, until a person has seen to it; what was since has its own note."""
        names = [name for name in self._aside if name not in self._named]
        if names:
            yield Condition("record_note", texts.RECORD_ASIDE.format(names=", ".join(names)), texts.RECORD_ASIDE_DO)

    def _run(self) -> None:
        while True:
            with self._changed:
                due = self._changed.wait_for(self._due, self._wait_s())
                ending = self._ending
                self._urgent = False
                batch = list(islice(self._held, BATCH_ENTRIES)) if due else []
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
            or self._suspected
            or self._store is None
            or (self._urgent and bool(self._held))
            or len(self._held) >= BATCH_ENTRIES
            or (self._behind and not self._held)
        )

    def _wait_s(self) -> float:
        if self._chores:
            return CHORE_EVERY_S
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
        except FullError as error:
            return self._make_room(str(error))
        except DamagedError as error:
            return self._begin_anew(str(error)) and self._try(step, *arguments)
        except (StoreError, sqlite3.Error, OSError) as error:
            self._close()
            self._say(str(error), getattr(error, "trouble", "other"))
            return False
        except Exception as error:
            log.exception("record: an entry could not be written")
            self._close()
            self._say(f"an entry could not be written: {error!r}", "program")
            self._suspected = True
            return False
        with self._changed:
            self._problem = None
        return True

    def _close(self) -> None:
        store, self._store = self._store, None
        if store is not None:
            store.close()

    def _begin_anew(self, problem: str) -> bool:
        """Sets a damaged record aside; whether to go on at once with a new one. Until then nothing is told: what
        people would read for a moment is no trouble of theirs."""
        self._close()
        try:
            if self._begun_anew:
                # Nothing has been recorded in it, and it would be one more file at each trial.
                remove(self.path)
                self._say(problem, "damaged")
                return False
            log.error("record: %s", problem)
            aside = set_aside(self.path)
        except OSError as error:
            log.error("record: the damaged file cannot be moved: %s", error)
            self._say(problem, "damaged")
            return False
        self._begun_anew = True
        self._note("damaged", texts.RECORD_DAMAGED, texts.RECORD_DAMAGED_DO, aside=aside.name)
        return True

    def _say(self, problem: str, trouble: str) -> None:
        if problem != self._problem:
            log.error("record: %s", problem)
        with self._changed:
            self._problem, self._trouble = problem, trouble

    def _make_room(self, problem: str) -> bool:
        """The ballast first, then the oldest samples in small steps; whether to try again at once."""
        self._say(problem, FullError.trouble)
        if self._ballast.release():
            return True
        try:
            given_up = 0 if self._store is None else self._store.forget_oldest()
        except StoreError:
            given_up = 0
        if given_up:
            self._note("gave_up", texts.RECORD_GAVE_UP, texts.RECORD_GAVE_UP_DO)
        return given_up > 0

    def _open(self) -> None:
        store = Store(self.path)
        self._store = store
        if store.kept is not None:
            self._say_kept(store.kept)
        if store.taken:
            count = sum(gap.missing for gap in store.taken)
            self._note("taken", texts.RECORD_LOST, texts.RECORD_LOST_DO, count=str(count))
        self._say_altered(store.altered)
        if store.mended is not None:
            self._say_mended(store.mended)
        aside = kept_aside(self.path)
        with self._changed:
            self._aside = aside
            self._chores = store.backlog
            if self._position == BEGINNING:
                self._position = store.position

    def _step(self, batch: list[Entry]) -> None:
        if self._store is None:
            self._open()
        store = self._store
        if store is not None:
            if self._suspected:
                self._suspected = False
                store.check()
                self._say_altered(store.altered_rows())
            written = store.write(batch) if batch or store.backlog else Written()
            self._unfolded = self._unfolded or bool(batch) or store.backlog
            self._written(len(batch), written)
            self._tidy(store)

    def _written(self, count: int, written: Written) -> None:
        with self._changed:
            for _ in range(count):
                self._held.popleft()
            self._begun_anew = self._begun_anew and not count
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
        """Forgets what is older than promised, a step at a time; takes the ballast again when there is room."""
        now_s = time.monotonic()
        forgot = 0
        self._aside = kept_aside(self.path)
        if self._forgetting or now_s - self._tidied_s >= self._tidy_every_s:
            self._tidied_s = now_s
            forgot = store.forget_step(self._settings)
            self._ballast.reserve()
        # What a reader (a long trend, a backup) holds back is tried again at the next step.
        if self._unfolded and now_s - self._folded_s >= self._fold_every_s and store.fold():
            self._folded_s, self._unfolded = now_s, False
        self._forgetting = forgot > 0
        self._chores = self._forgetting or store.backlog

    def _say_altered(self, count: int) -> None:
        if count:
            self._note("altered", texts.RECORD_ALTERED, texts.RECORD_ALTERED_DO, count=str(count))

    def _say_kept(self, kept: Kept) -> None:
        if kept.copy is None:
            self._note("upgraded", texts.RECORD_UPGRADED, texts.RECORD_UPGRADED_NO_ROOM_DO)
        else:
            self._note("upgraded", texts.RECORD_UPGRADED, texts.RECORD_UPGRADED_DO, copy=kept.copy.name)

    def _say_mended(self, mended: Mended) -> None:
        means = texts.RECORD_MENDED if mended.saved else texts.RECORD_CUT
        remedy = texts.RECORD_MENDED_NO_ROOM_DO if mended.kept is None else texts.RECORD_MENDED_DO
        name = "" if mended.kept is None else mended.kept.name
        self._note("mended", means, remedy, commits=str(mended.commits), kept=name)

    def _note(self, about: str, means: str, remedy: str, **values: str) -> None:
        """Something people have to know until the next start; the newest of each kind."""
        with self._changed:
            self._named |= set(values.values())
            self._notes[about] = Condition("record_note", means.format(**values), remedy.format(**values))
