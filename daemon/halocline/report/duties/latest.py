"""The year's work as the record tells it now, with what health foresees beside it."""

from pathlib import Path
from typing import Any

from halocline.physics.errors import OutOfRange, Unsolvable
from halocline.report.database_open import reading
from halocline.report.duties.answer import duties_answer, stores_answer
from halocline.report.duties.facts import Facts, facts
from halocline.report.health.latest import Latest


class WorkAhead:
    """Answers anew each time: time alone makes a duty due. `health` computes only when the record has changed."""

    def __init__(self, health: Latest) -> None:
        self._health = health

    def duties(self, path: Path, now_s: float) -> dict[str, Any]:
        """What is due by hand, and the water in the tank. Raises StoreError."""
        return duties_answer(_facts(path, now_s))

    def stores(self, path: Path, now_s: float) -> dict[str, Any]:
        """What is aboard, and what to get. Raises StoreError."""
        try:
            health = self._health.of(path)
        except (OutOfRange, Unsolvable):
            health = None
        return stores_answer(_facts(path, now_s), health)


def _facts(path: Path, now_s: float) -> Facts:
    with reading(path) as connection:
        return facts(connection, now_s)
