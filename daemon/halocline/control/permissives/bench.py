"""Checks of trying one output on the bench."""

from halocline.control.inputs import Reason
from halocline.control.permissives.permissive import Context
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


def bench_time(at: Context) -> Reason | None:
    """Not for longer than a try takes; the high-pressure pump for a jog."""
    seconds = at.command.arguments.get("seconds", 1.0)
    limit_s = JOG_S if jogs(at) else BENCH_LIMIT_S
    return Reason("bench_too_long", {"seconds": seconds, "limit_s": limit_s}) if seconds > limit_s else None


def jogs(at: Context) -> bool:
    """Whether the high-pressure pump is tried: a jog starts the motor like any other start, and takes feed."""
    return at.command.arguments.get("output") == "high_pressure_pump"


def opens_flush(at: Context) -> bool:
    """Whether flush water is let in; everything else on the bench could let pressure loose."""
    return at.command.arguments.get("output") == "flush_valve"
