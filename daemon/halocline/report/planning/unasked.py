"""The plan for those who do not ask: a broker hears the next run, and what it brings of sun and sea is taken down."""

import json
import logging
import time
from collections import deque
from collections.abc import Callable, Mapping
from typing import Any

from halocline.plant.settings import UnitSettings
from halocline.report import texts
from halocline.report.background import Background
from halocline.report.planning.planner import Planner, Told
from halocline.report.planning.question import Unaskable

TURN_S = 30.0
"""Forecasts are taken down so often at most, the newest of them, for each is written to the card."""

log = logging.getLogger(__name__)


class UnaskedPlan(Background):
    """A thread that plans now and then. `listeners` get each plan as `Planner.message` tells it; they must not wait."""

    def __init__(
        self,
        planner: Planner,
        heard: Callable[[], Mapping[str, Any] | None],
        units: UnitSettings,
        wall: Callable[[], float] = time.time,
    ) -> None:
        super().__init__("unasked-plan", TURN_S)
        self._planner, self._heard, self._units, self._wall = planner, heard, units, wall
        self.listeners: list[Callable[[Told], object]] = []
        self._brought: deque[bytes] = deque(maxlen=1)

    def bring(self, payload: bytes) -> None:
        """A forecast as it came from the broker; the newest takes the place of one that waits. Never waits."""
        self._brought.append(payload)

    def turn(self) -> float:
        """Takes down what was brought, and tells the plan. Returns after how long the next turn is due, s."""
        if self._brought:
            self._accept(self._brought.pop())
        told = self._planner.message(self._heard(), self._units, self._wall())
        for listener in self.listeners:
            listener(told)
        return TURN_S

    def _accept(self, payload: bytes) -> None:
        try:
            message = json.loads(payload)
        except (ValueError, RecursionError):
            self._planner.foreseen.refuse((texts.FORECAST_NO_JSON,))
            return
        try:
            self._planner.foreseen.accept(message, "broker", self._wall())
        except Unaskable as error:
            self._planner.foreseen.refuse(error.lines)
        except OSError as error:
            log.warning("%s", texts.NOT_KEPT.format(problem=error.strerror or error))
