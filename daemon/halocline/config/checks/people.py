"""People at the plant: what may be switched off only by somebody who says why."""

from collections.abc import Iterator

from halocline.config.problems import Finding
from halocline.plant.settings import Settings

SWITCHES = {
    "attendance": "a start would be taken with nobody at the plant",
    "start_questions": "nobody would be asked about seacocks, strainer and sea",
}

WORDS_OF_A_REASON = 3
"""Fewer words tell nobody later why a protection was switched off."""


def nothing_is_off_without_a_reason(settings: Settings) -> Iterator[Finding]:
    """Each of the switches is on, or the file says why not."""
    sequence = settings.sequence
    for key, consequence in SWITCHES.items():
        if not getattr(sequence, key) and len(sequence.off_reason.split()) < WORDS_OF_A_REASON:
            allowed = "true, or false with a reason of three words or more in sequence.off_reason"
            remedy = f"remove the line, or write down why in off_reason: {consequence}"
            yield Finding(f"sequence.{key}", "false without a reason", allowed, remedy)
