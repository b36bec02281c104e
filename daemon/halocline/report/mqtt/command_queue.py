"""Takes orders from the broker to control, one after the other and not too fast."""

import logging
import threading
from collections import deque
from collections.abc import Callable, Mapping
from typing import Any

from halocline.link.messages import LinkError
from halocline.plant import words
from halocline.plant.settings import UnitSettings
from halocline.report.mqtt import texts
from halocline.report.mqtt.command_filter import Order

ORDERS_WAITING = 16
SPACING_S = 0.1
"""Control hears 20 commands a second from all of report; the page wants its share of them."""

SendCommand = Callable[[dict[str, Any]], Mapping[str, Any]]
Answered = Callable[[Order, bool, list[dict[str, str]]], None]

log = logging.getLogger(__name__)


class CommandQueue:
    """A queue of orders and the thread that carries them. A stop goes to the head of the queue."""

    def __init__(
        self, send_command: SendCommand, answered: Answered, units: UnitSettings, *, spacing_s: float = SPACING_S
    ) -> None:
        self._send_command = send_command
        self._answered = answered
        self._units = units
        self._spacing_s = spacing_s
        self._waiting: deque[Order] = deque()
        self._lock = threading.Lock()
        self._ring = threading.Event()
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, name="mqtt-orders", daemon=True)

    def start(self) -> None:
        """Begins to carry."""
        self._thread.start()

    def stop(self, timeout_s: float = 0.5) -> None:
        """Ends; orders still waiting are not carried out."""
        self._ending.set()
        self._ring.set()
        if self._thread.is_alive():
            self._thread.join(timeout_s)

    def offer(self, order: Order) -> bool:
        """Takes an order on; False if too many wait. A stop is always taken, but only one waits."""
        with self._lock:
            if order.command == "stop":
                if not any(waiting.command == "stop" for waiting in self._waiting):
                    self._waiting.appendleft(order)
            elif len(self._waiting) < ORDERS_WAITING:
                self._waiting.append(order)
            else:
                return False
        self._ring.set()
        return True

    def _run(self) -> None:
        while not self._ending.is_set():
            self._ring.wait()
            order = self._next()
            if order is not None:
                self._carry(order)
                self._ending.wait(self._spacing_s)

    def _next(self) -> Order | None:
        with self._lock:
            if not self._waiting:
                self._ring.clear()
                return None
            return self._waiting.popleft()

    def _carry(self, order: Order) -> None:
        message = {**order.arguments, "command": order.command, "origin": "mqtt", "who": order.who}
        try:
            answer = self._send_command(message)
            reasons = [self._in_words(reason) for reason in answer.get("reasons") or answer.get("told") or ()]
            accepted = answer.get("accepted") is True
        except LinkError as error:
            log.warning("a command from the broker did not reach control: %s", error)
            accepted, reasons = False, [{"id": "link_lost", "text": texts.REFUSALS["link_lost"]}]
        except Exception:
            log.exception("a command from the broker could not be passed on")
            accepted, reasons = False, [{"id": "link_lost", "text": texts.REFUSALS["link_lost"]}]
        self._answered(order, accepted, reasons)

    def _in_words(self, reason: Mapping[str, Any]) -> dict[str, str]:
        return {"id": str(reason.get("id")), "text": words.reason(dict(reason), self._units)}
