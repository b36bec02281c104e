"""The other end of sea: asks it for the truth, orders faults. One JSON object a line over a Unix socket.

Report uses it, which carries no electronics: nothing here may either.
"""

import json
import socket
from pathlib import Path
from typing import Any

ANSWER_WITHIN_S = 1.0


class SimulatorClient:
    """Speaks to the truth socket of a simulated boat."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def ask(self, request: dict[str, Any]) -> dict[str, Any]:
        """One question, one answer. Raises OSError when sea does not answer."""
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
            connection.settimeout(ANSWER_WITHIN_S)
            connection.connect(str(self._path))
            connection.sendall(json.dumps(request).encode() + b"\n")
            with connection.makefile("rb") as lines:
                answer: dict[str, Any] = json.loads(lines.readline() or b"{}")
                return answer

    def truth(self) -> dict[str, Any]:
        """Everything true aboard the simulated boat."""
        return self.ask({"truth": True})

    def faults(self) -> dict[str, Any]:
        """The faults the boat can have and those that stand. Raises OSError when sea does not answer."""
        return self.ask({"faults": True})

    def inject(self, arguments: dict[str, Any]) -> str | None:
        """Order a fault; why not, or None when it is done."""
        try:
            refusal = self.ask({"fault": arguments}).get("refused")
        except OSError as error:
            return f"the simulated boat does not answer: {error}"
        return None if refusal is None else str(refusal)
