"""How the plant ages, for those who do not ask: a broker hears it, and the page finds the past computed."""

import logging
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from halocline.physics.errors import OutOfRange, Unsolvable
from halocline.report.background import Background
from halocline.report.database_open import StoreError
from halocline.report.health.latest import Latest
from halocline.report.health.past import Past

TURN_S = 60.0
"""A run that has ended is told of within so long; nobody waits for it."""
PAUSE_S = 5.0
"""Between two answers of the past: each takes a Raspberry Pi seconds, and the page wants to be served meanwhile."""

log = logging.getLogger(__name__)


class UnaskedHealth(Background):
    """A thread that computes now and then. `listeners` get each new answer; they must not wait."""

    def __init__(self, path: Path, latest: Latest, past: Past) -> None:
        super().__init__("unasked-health", TURN_S)
        self._path, self._latest, self._past = path, latest, past
        self.listeners: list[Callable[[Mapping[str, Any]], object]] = []
        self._told: Mapping[str, Any] | None = None

    def turn(self) -> float:
        """Tells the newest answer if it is another, computes one of the past, and says after how long to come again, s.
        A record that cannot be read, or that allows no comparison, is told by those who ask; there is nothing to tell
        here."""
        try:
            said = self._latest.of(self._path)
            if said is not self._told:
                self._told = said
                for listener in self.listeners:
                    listener(said)
            return PAUSE_S if self._past.step(self._path) else TURN_S
        except (StoreError, OutOfRange, Unsolvable) as error:
            log.debug("nothing is told of how the plant ages: %s", error)
            return TURN_S
