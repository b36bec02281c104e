"""In the middle of what control was cut off, whether the whole computer was, and what that asks for."""

from collections.abc import Mapping
from typing import Any, NamedTuple

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
NOT_KNOWN = "at an unknown moment"
COMPUTER: Mapping[bool, str] = {
    True: "the computer had been without power or was started anew",
    False: "the computer itself had stayed on",
}
COMPUTER_IN_SHORT: Mapping[bool, str] = {
    True: "The computer was started anew.",
    False: "The computer had stayed on.",
}
"""Where the sentence has little room."""

ON_PURPOSE = "it had been told to end, by Ctrl-C or a stop of its service"
SHUT_DOWN = "the computer had been shut down"
ON_PURPOSE_IN_SHORT = "It had been told to end."
SHUT_DOWN_IN_SHORT = "The computer had been shut down."


def computer_in_short(values: Mapping[str, Any]) -> str:
    """A sentence of its own; empty where it cannot be told."""
    computer = values.get("computer")
    if values.get("on_purpose") is True:
        return SHUT_DOWN_IN_SHORT if computer is True else ON_PURPOSE_IN_SHORT
    return COMPUTER_IN_SHORT[computer] if isinstance(computer, bool) else ""


def cut_off_said(values: Mapping[str, Any]) -> dict[str, str | None]:
    """Both as parts of a sentence; the second is None where it cannot be told."""
    computer = values.get("computer")
    said = COMPUTER[computer] if isinstance(computer, bool) else None
    if values.get("on_purpose") is True:
        said = SHUT_DOWN if computer is True else ON_PURPOSE
    return {"during_said": DURING.get(str(values.get("during")), NOT_KNOWN), "computer_said": said}


class CutOffWords(NamedTuple):
    """What follows for the alarm: what it means, what happens if it is ignored, and the last step."""

    means: str
    ignored: str
    then: str


_RUN = CutOffWords(
    "All that the computer switches went off at once, without a flush.",
    "The cause may come again, and sea water stands in the membrane.",
    "Then acknowledge, and flush.",
)
UNKNOWN_WORDS = CutOffWords(
    "All that the computer switches went off at once, perhaps without a flush.",
    "The cause may come again, and sea water may stand in the membrane.",
    "Then acknowledge; flush if that is owed.",
)
CUT_OFF_WORDS: Mapping[str, CutOffWords] = {
    **dict.fromkeys(("priming", "pressurising", "diverting", "producing", "stopping"), _RUN),
    "flushing": CutOffWords(
        "All that the computer switches went off at once, before the flush was done.",
        "The cause may come again, and sea water may stand in the membrane.",
        "Then acknowledge, and flush again.",
    ),
    "hand_run": CutOffWords(
        "A pump that is run by its own switch went on unwatched.",
        "The cause may come again, and sea water may stand in the membrane.",
        "Then acknowledge; flush if that is owed.",
    ),
    "bench": CutOffWords(
        "All that the computer switches went off at once, with the output that was tried.",
        "The cause may come again, in the middle of a run too.",
        "Then acknowledge; flush if that is owed.",
    ),
}

CHECK_COMPUTER: Mapping[bool | None, str] = {
    True: "Unless a person started the computer anew, check its power supply.",
    False: "Read in the computer's journal why the program ended.",
    None: "If the computer itself went off, check its power supply.",
}


def cut_off_steps(then: str, computer: object, *, on_purpose: bool = False) -> str:
    """What to do, with the last step."""
    check = "" if on_purpose else f"{CHECK_COMPUTER[computer if isinstance(computer, bool) else None]} "
    return f"Open the regulator, re-arm the relays. {check}{then}"


def cut_off_words(values: Mapping[str, Any]) -> tuple[str, str, str]:
    """What the alarm means, what happens if it is ignored and what to do, by what is known."""
    chosen = CUT_OFF_WORDS.get(str(values.get("during")), UNKNOWN_WORDS)
    on_purpose = values.get("on_purpose") is True
    return chosen.means, chosen.ignored, cut_off_steps(chosen.then, values.get("computer"), on_purpose=on_purpose)
