"""What the high-pressure pump's motor can bear: how long it works in one go, how long it rests and cools.

The figures by kind are common practice for motors of this size; a motor whose plate says less (duty S2 after IEC
60034-1, "S2 30 min") has it in the configuration.
"""

from halocline.plant.settings import DriveSettings, Settings

RATED_RUN_S = {"brush": 60 * 60.0, "induction": 180 * 60.0}
"""How long a motor may turn in one go whose plate says nothing: a universal motor with brushes an hour, an induction
motor three (common practice)."""
COOLS_S = 30 * 60.0
"""A thermal cut-out closes by itself long before the winding has cooled (common practice: half an hour)."""

RELEASE_VALVE_S = 5.0
"""How long a stop waits for the release valve to let the pressure go: a valve opens in a second, an open regulator
takes a few more (chosen)."""

SPARE_S = 5.0
"""Contactor, run-down and the time of a tick come to less than 2 s, so that the pump stands when the rating says so
(chosen)."""


def rated_run_s(drive: DriveSettings) -> float:
    """How long the motor may turn without its rest, s."""
    return RATED_RUN_S[drive.motor] if drive.motor_run_s is None else drive.motor_run_s


def work_s(settings: Settings) -> float:
    """After how much work a run is ended, s: the rating, less what a stop in good order may take."""
    drive, sequence = settings.drive, settings.sequence
    waits_for_a_hand = drive.regulator == "hand_each_run" or drive.pump == "watch_only"
    stopping_s = max(sequence.stop_open_s if waits_for_a_hand else 0.0, RELEASE_VALVE_S)
    return rated_run_s(drive) - stopping_s - SPARE_S
