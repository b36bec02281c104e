"""The newest answer, computed once for as long as the record holds nothing that could change it."""

import sqlite3
import threading
from pathlib import Path
from typing import Any

from halocline.report.database_open import reading
from halocline.report.health.answer import answer
from halocline.report.health.seen import seen

_CHANGES = (
    "SELECT (SELECT count(*) FROM runs WHERE why IS NOT NULL), (SELECT count(*) FROM work),"
    " (SELECT count(*) FROM calibrations), (SELECT count(*) FROM boots)"
)


class Latest:
    """Used by several threads: a second one waits for the first one's answer instead of computing it again."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: tuple[Any, dict[str, Any]] | None = None

    def of(self, path: Path) -> dict[str, Any]:
        """The answer of the record as it is now. Raises StoreError, and OutOfRange or Unsolvable for settings on record
        that no membrane fits."""
        with self._lock, reading(path) as connection:
            mark = _mark(path, connection)
            if self._known is None or self._known[0] != mark:
                self._known = (mark, answer(seen(connection, None)))
            return self._known[1]


def _mark(path: Path, connection: sqlite3.Connection) -> tuple[Any, ...]:
    return (path, *connection.execute(_CHANGES).fetchone())
