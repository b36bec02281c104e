"""Checks of what the high-pressure pump's motor can bear: starts within an hour, rest after work, time to cool."""

from halocline.control.inputs import Reason
from halocline.control.permissions.forms import Context

MOTOR_RUN_S = {"brush": 60 * 60.0, "induction": 180 * 60.0}
MOTOR_REST_S = 15 * 60.0
MOTOR_COOLS_S = 30 * 60.0


def starts_left(at: Context) -> Reason | None:
    """The motor has not been started too often lately."""
    sequence = at.now.settings.sequence
    if not sequence.motor_run_limits or at.recent_starts < sequence.motor_starts:
        return None
    return Reason("too_many_starts", {"starts": at.recent_starts, "limit": sequence.motor_starts})


def motor_rested(at: Context) -> Reason | None:
    """After as much work as its kind can do in one go it has had its rest."""
    drive, sequence = at.now.settings.drive, at.now.settings.sequence
    if not sequence.motor_run_limits or at.motor_worked_s < MOTOR_RUN_S[drive.motor] or at.rested_s >= MOTOR_REST_S:
        return None
    return Reason("motor_needs_rest", {"seconds": MOTOR_REST_S - at.rested_s})


def motor_cooled(at: Context) -> Reason | None:
    """A thermal cut-out closes by itself long before the winding has cooled (common practice: half an hour)."""
    if not at.now.settings.sequence.motor_run_limits or at.motor_hot_s >= MOTOR_COOLS_S:
        return None
    return Reason("motor_needs_rest", {"seconds": MOTOR_COOLS_S - at.motor_hot_s})
