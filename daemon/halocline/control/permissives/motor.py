"""Checks of what the high-pressure pump's motor can bear: starts within an hour, rest after work, time to cool."""

from halocline.control.forecast import before_tank_s
from halocline.control.inputs import Reason
from halocline.control.permissives.permissive import Context
from halocline.plant import motor


def starts_left(at: Context) -> Reason | None:
    """The motor has not been started too often lately."""
    sequence = at.now.settings.sequence
    if not sequence.motor_run_limits or len(at.starts_ago_s) < sequence.motor_starts:
        return None
    window_s, limit = sequence.motor_starts_window_s, sequence.motor_starts
    values = {"starts": len(at.starts_ago_s), "limit": limit, "window_s": window_s}
    return Reason("too_many_starts", {**values, **waiting(at, window_s - sorted(at.starts_ago_s)[limit - 1])})


def last_start(at: Context) -> Reason | None:
    """Said with the start that uses up the last of them, and until when: no later start shall be refused unforeseen."""
    sequence, ago_s = at.now.settings.sequence, sorted(at.starts_ago_s)
    if not sequence.motor_run_limits or not ago_s or len(ago_s) != sequence.motor_starts - 1:
        return None
    values = {"limit": sequence.motor_starts, "window_s": sequence.motor_starts_window_s}
    return Reason("last_start", {**values, **waiting(at, sequence.motor_starts_window_s - ago_s[-1])})


def motor_rested(at: Context) -> Reason | None:
    """After as much work as leaves no room for a useful run it has had its rest."""
    settings = at.now.settings
    left_s, rest_s = motor.work_s(settings) - at.motor_worked_s, settings.drive.motor_rest_s
    if not settings.sequence.motor_run_limits or at.motor_worked_s <= 0 or at.rested_s >= rest_s:
        return None
    if left_s > before_tank_s(settings):
        return None
    return Reason("motor_needs_rest", waiting(at, rest_s - at.rested_s))


def motor_cooled(at: Context) -> Reason | None:
    """A motor that was too warm has had time to cool."""
    if not at.now.settings.sequence.motor_run_limits or at.motor_hot_s >= motor.COOLS_S:
        return None
    return Reason("motor_needs_rest", waiting(at, motor.COOLS_S - at.motor_hot_s))


def waiting(at: Context, seconds: float) -> dict[str, float]:
    """How long a person has to wait, and until what time where the clock is set."""
    wall_s = at.now.inputs.wall_s
    return {"seconds": seconds, **({} if wall_s is None else {"until_wall_s": round(wall_s + seconds)})}
