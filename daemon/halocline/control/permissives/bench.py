"""Checks of trying one output on the bench."""

from collections.abc import Sequence

from halocline.control.inputs import Reason
from halocline.control.permissives.instruments import sensor_good
from halocline.control.permissives.motor import motor_cooled, motor_rested, starts_left
from halocline.control.permissives.permissive import Context
from halocline.control.permissives.pressure import no_pressure, pressure_below_flush
from halocline.control.permissives.upkeep import no_chlorine
from halocline.plant.vocabulary import ACTUATORS, OPTIONAL_OUTPUTS

JOG_S = 2.0
"""Shows that the pump turns and which way; far from enough to build pressure or heat (chosen)."""
BENCH_LIMIT_S = 120.0
"""Time to walk from the computer to the part and look at it (chosen)."""


def output_known(at: Context) -> Reason | None:
    """The output is one of those fitted."""
    output = at.command.arguments.get("output")
    fitted = at.now.settings.outputs
    if output in fitted and output in (*ACTUATORS, *OPTIONAL_OUTPUTS):
        return None
    return Reason("output_unknown", {"output": output, "known": ", ".join(o for o in fitted if o != "heartbeat")})


def bench_sensors(at: Context) -> list[Reason]:
    """What must be seen while this output is on can be."""
    channels = ("vessel_pressure", "feed_pressure") if _jogs(at) else ("vessel_pressure",)
    return [reason for channel in channels if isinstance(reason := sensor_good(channel)(at), Reason)]


def bench_pressure(at: Context) -> Reason | Sequence[Reason] | None:
    """No pressure that this output could let loose."""
    return pressure_below_flush(at) if _opens_flush(at) else no_pressure(at)


def bench_without_chlorine(at: Context) -> Reason | None:
    """The flush valve lets no chlorine in, on the bench either."""
    return no_chlorine(at) if _opens_flush(at) else None


def bench_motor(at: Context) -> list[Reason]:
    """A jog starts the motor like any other start."""
    return [reason for check in (starts_left, motor_rested, motor_cooled) if _jogs(at) and (reason := check(at))]


def bench_time(at: Context) -> Reason | None:
    """Not for longer than a try takes; the high-pressure pump for a jog."""
    seconds = at.command.arguments.get("seconds", 1.0)
    limit_s = JOG_S if _jogs(at) else BENCH_LIMIT_S
    return Reason("bench_too_long", {"seconds": seconds, "limit_s": limit_s}) if seconds > limit_s else None


def _jogs(at: Context) -> bool:
    return at.command.arguments.get("output") == "high_pressure_pump"


def _opens_flush(at: Context) -> bool:
    return at.command.arguments.get("output") == "flush_valve"
