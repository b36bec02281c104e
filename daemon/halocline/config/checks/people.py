"""What may be switched off, or stretched, only by a person who says why."""

from collections.abc import Iterator

from halocline.config.problems import Finding
from halocline.plant.motor import RATED_RUN_S
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


def a_long_run_of_the_motor_has_a_reason(settings: Settings) -> Iterator[Finding]:
    """A run beyond what motors of this kind stand rests on the motor's plate, and the file says what that says."""
    drive, most_s = settings.drive, RATED_RUN_S[settings.drive.motor]
    run_s = drive.motor_run_s
    if run_s is not None and run_s > most_s and len(drive.motor_plate.split()) < WORDS_OF_A_REASON:
        found = f"{run_s / 60:.0f} min without a reason"
        allowed = f"up to {most_s / 60:.0f} min for a {drive.motor} motor, or more with drive.motor_plate"
        remedy = "lower it, or write down what the plate says in motor_plate: the winding would overheat"
        yield Finding("drive.motor_run_s", found, allowed, remedy)
