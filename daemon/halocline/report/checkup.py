"""What `halocline check` says, for the page: made now and then by another process, never waited for.

Another one, which the program that puts report together starts: a check-up needs the GPIO library and the electronics'
modules, which this one must never import (they ask what computer this is, and fail where a service hides it), and it
may hang at a dead card.
"""

import json
import logging
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from halocline.report import texts

FRESH_S = 300.0
"""What is older is looked at anew when the page asks."""
TRIED_AGAIN_S = 30.0

log = logging.getLogger(__name__)

Run = Callable[[], str]
"""What the command prints, once it has ended. Raises CheckError."""


class CheckError(Exception):
    """The command brought nothing; the text says why."""


@dataclass(frozen=True, slots=True)
class Seen:
    """The newest check-up and how old it is, both None before the first; `looking`: another is under way; `problem`:
    why the last one brought nothing."""

    looking: bool
    problem: str | None
    age_s: float | None
    check: Mapping[str, Any] | None


class Checkup:
    """The newest check-up; asking for it has another one made where it is old."""

    def __init__(self, run: Run, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._run = run
        self._clock = clock
        self._guard = threading.Lock()
        self._looking = False
        self._tried_s: float | None = None
        self._problem: str | None = None
        self._known: tuple[float, Mapping[str, Any]] | None = None

    def __call__(self) -> Seen:
        """What is known now. Never waits."""
        with self._guard:
            now_s = self._clock()
            if not self._looking and self._is_due(now_s):
                self._looking, self._tried_s = True, now_s
                threading.Thread(target=self._look, name="checkup", daemon=True).start()
            age_s, check = (None, None) if self._known is None else (now_s - self._known[0], self._known[1])
            return Seen(self._looking, self._problem, age_s, check)

    def _is_due(self, now_s: float) -> bool:
        if self._problem is not None and self._tried_s is not None:
            return now_s - self._tried_s >= TRIED_AGAIN_S
        return self._known is None or now_s - self._known[0] >= FRESH_S

    def _look(self) -> None:
        found: Mapping[str, Any] | None = None
        problem: str | None = None
        try:
            found = json.loads(self._run())
        except (CheckError, ValueError) as error:
            problem = texts.CHECK_FAILED.format(problem=error)
        if problem is not None:
            log.warning("%s", problem)
        with self._guard:
            self._looking, self._problem = False, problem
            if found is not None:
                self._known = (self._clock(), found)
