"""What is due by hand, for those who do not ask: a broker hears it."""

import logging
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from halocline.report.background import Background
from halocline.report.database_open import StoreError
from halocline.report.duties.latest import WorkAhead

TURN_S = 60.0
"""A reminder of days need not come sooner."""

log = logging.getLogger(__name__)


class UnaskedDuties(Background):
    """A thread that tells now and then. `listeners` get each answer; they must not wait."""

    def __init__(self, path: Path, work_ahead: WorkAhead, wall: Callable[[], float] = time.time) -> None:
        super().__init__("unasked-duties", TURN_S)
        self._path, self._work_ahead, self._wall = path, work_ahead, wall
        self.listeners: list[Callable[[Mapping[str, Any]], object]] = []

    def turn(self) -> float:
        """Tells what is due. A record that cannot be read is told by those who ask. Returns after how long to come
        again, s."""
        try:
            said = self._work_ahead.duties(self._path, self._wall())
        except StoreError as error:
            log.debug("nothing is told of what is due: %s", error)
            return TURN_S
        for listener in self.listeners:
            listener(said)
        return TURN_S
