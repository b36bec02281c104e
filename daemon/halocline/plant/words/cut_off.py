"""In the middle of what control was cut off, and whether the whole computer was."""

from collections.abc import Mapping
from typing import Any

DURING: Mapping[str, str] = {
    "standby": "at rest",
    "tripped": "in a safety stop",
    "laid_up": "while laid up",
    "priming": "while the suction was filled",
    "pressurising": "while pressure was raised",
    "diverting": "while product went overboard",
    "producing": "while water was made",
    "stopping": "while a run was stopped",
    "flushing": "in a flush",
    "hand_run": "while the pump was run by hand",
    "bench": "while an output was tried",
}
NOT_KNOWN = "in the middle of what is not known"
COMPUTER: Mapping[bool, str] = {
    True: "the computer had been without power or was started anew",
    False: "the computer itself had stayed on",
}


def cut_off_said(values: Mapping[str, Any]) -> dict[str, str | None]:
    """Both as parts of a sentence; the second is None where it cannot be told."""
    computer = values.get("computer")
    return {
        "during_said": DURING.get(str(values.get("during")), NOT_KNOWN),
        "computer_said": COMPUTER[computer] if isinstance(computer, bool) else None,
    }
