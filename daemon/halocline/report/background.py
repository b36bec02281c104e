"""What report works out now and then, for those who do not ask."""

import logging
import threading
from abc import ABC, abstractmethod

log = logging.getLogger(__name__)


class Background(ABC):
    """A thread that takes its turn again and again. An error is logged and ends nothing."""

    def __init__(self, name: str, after_error_s: float) -> None:
        """after_error_s: when the next turn is due after one that failed, s."""
        self._name, self._after_error_s = name, after_error_s
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    @abstractmethod
    def turn(self) -> float:
        """Work once. Returns after how long the next turn is due, s."""

    def start(self) -> None:
        """Begin; returns at once."""
        self._thread.start()

    def stop(self) -> None:
        """End, or leave a turn alone that is still at work: whoever stops report does not wait for an answer."""
        self._ending.set()
        if self._thread.is_alive():
            self._thread.join(1.0)

    def _run(self) -> None:
        while not self._ending.is_set():
            try:
                wait_s = self.turn()
            except Exception:
                log.exception("%s: a turn failed", self._name)
                wait_s = self._after_error_s
            self._ending.wait(wait_s)
