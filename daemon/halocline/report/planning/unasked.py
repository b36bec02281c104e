"""The plan for those who do not ask: a broker hears the next run, and what it brings of sun and sea is taken down."""

import json
import logging
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping
from typing import Any

from halocline.plant.settings import UnitSettings
from halocline.report import texts
from halocline.report.planning.planner import Planner, Told
from halocline.report.planning.question import Unaskable

TURN_S = 30.0
"""Forecasts are taken down so often at most, the newest of them, for each is written to the card."""

log = logging.getLogger(__name__)


class UnaskedPlan:
    """A thread that plans now and then. `listeners` get each plan as `Planner.message` tells it; they must not wait."""

    def __init__(
        self,
        planner: Planner,
        heard: Callable[[], Mapping[str, Any] | None],
        units: UnitSettings,
        wall: Callable[[], float] = time.time,
    ) -> None:
        self._planner, self._heard, self._units, self._wall = planner, heard, units, wall
        self.listeners: list[Callable[[Told], object]] = []
        self._brought: deque[bytes] = deque(maxlen=1)
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, name="unasked-plan", daemon=True)

    def start(self) -> None:
        """Begins; returns at once."""
        self._thread.start()

    def stop(self) -> None:
        """Ends, or leaves a plan that is being made alone."""
        self._ending.set()
        if self._thread.is_alive():
            self._thread.join(1.0)

    def bring(self, payload: bytes) -> None:
        """A forecast as it came from the broker; the newest takes the place of one that waits. Never waits."""
        self._brought.append(payload)

    def turn(self) -> None:
        """Takes down what was brought, and tells the plan."""
        if self._brought:
            self._take(self._brought.pop())
        told = self._planner.message(self._heard(), self._units, self._wall())
        for listener in self.listeners:
            listener(told)

    def _take(self, payload: bytes) -> None:
        try:
            message = json.loads(payload)
        except (ValueError, RecursionError):
            self._planner.foreseen.refuse((texts.FORECAST_NO_JSON,))
            return
        try:
            self._planner.foreseen.take(message, "broker", self._wall())
        except Unaskable as error:
            self._planner.foreseen.refuse(error.lines)
        except OSError as error:
            log.warning("%s", texts.NOT_KEPT.format(problem=error.strerror or error))

    def _run(self) -> None:
        while not self._ending.is_set():
            try:
                self.turn()
            except Exception:
                log.exception("the plan could not be told")
            self._ending.wait(TURN_S)
