"""Checks of the membrane pressure. A pressure that is not known never counts as none where it could hurt."""

from halocline.control.hydraulic_state import FLUSH_BELOW_BAR
from halocline.control.inputs import Reason
from halocline.control.permissives.permissive import Context, not_good
from halocline.plant.thresholds import GONE_BAR


def pressure_known(at: Context) -> Reason | None:
    """The membrane pressure can be told."""
    return None if at.now.pressure_bar is not None else not_good(at, "vessel_pressure")


def no_pressure(at: Context) -> Reason | None:
    """There is none, for all that is known; whether it is known is asked by another check."""
    pressure_bar = at.now.pressure_bar
    if pressure_bar is None or pressure_bar <= GONE_BAR:
        return None
    return Reason("pressure_present", {"pressure_bar": pressure_bar, "limit_bar": GONE_BAR})


def pressure_below_flush(at: Context) -> Reason | None:
    """The flush line may be opened: the pressure is known and low."""
    pressure_bar = at.now.pressure_bar
    if pressure_bar is not None and pressure_bar < FLUSH_BELOW_BAR:
        return None
    return Reason("pressure_present", {"pressure_bar": pressure_bar, "limit_bar": FLUSH_BELOW_BAR})
