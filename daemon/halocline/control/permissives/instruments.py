"""Checks of what control sees with: converters, sensors, contacts, calibrations, and values at rest."""

from collections.abc import Sequence

from halocline.control.inputs import Reason
from halocline.control.permissives.permissive import Check, Context, not_good
from halocline.control.situation import wetted_flow_l_h
from halocline.plant.thresholds import GONE_BAR
from halocline.plant.vocabulary import NEEDED_CHANNELS, Quality, State
from halocline.signals.rest_checks import rest_findings

AT_REST_S = 20.0
"""A needle has let the pressure go in 15 s, and a pump stands after 1 s: what shows then is the zero of a sender
(chosen)."""


def sensor_good(channel: str) -> Check:
    """The channel's reading is good; a cell that is dry at rest may read as nothing does."""

    def check(at: Context) -> Reason | None:
        reading = at.now.inputs.readings.get(channel)
        if channel == "product_conductivity" and reading is not None and reading.quality is Quality.IMPLAUSIBLE:
            return None
        return not_good(at, channel)

    return check


def others_read(at: Context) -> list[Reason]:
    """A start may do without these readings, but not because they have not been read yet."""
    others = [channel for channel in at.now.settings.inputs if channel not in NEEDED_CHANNELS]
    found = [not_good(at, channel) for channel in others]
    return [reason for reason in found if reason is not None and reason.id == "sensor_not_read_yet"][:1]


def contact_clear(contact: str) -> Check:
    """The contact is at its rest."""
    return lambda at: Reason(f"{contact}_active") if at.now.active(contact) else None


def chips_answer(at: Context) -> list[Reason]:
    """No converter is lost."""
    return [Reason("adc_lost", {"address": address}) for address in at.now.inputs.lost_chips]


def interlock_armed(at: Context) -> Reason | None:
    """The comparator interlock, where one is fitted, is armed."""
    fitted = at.now.settings.interlock
    if fitted is None or not at.now.inputs.interlock_lost:
        return None
    return Reason("interlock_not_armed", {"address": fitted.address})


def diverter_overboard(at: Context) -> Reason | None:
    """Both position contacts, as far as they are fitted, say that product goes overboard."""
    if "diverter_overboard" in at.now.inputs.active and not at.now.active("diverter_overboard"):
        return Reason("diverter_not_overboard")
    if at.now.active("diverter_at_tank"):
        return Reason("diverter_not_overboard")
    return None


def calibrations_known(at: Context) -> Reason | None:
    """The calibrations on file could be read."""
    return None if at.calibrations_known else Reason("calibrations_unreadable")


def fits_the_instrument(at: Context) -> Sequence[Reason]:
    """What is to be calibrated can be, with these points."""
    return at.against_calibration()


def rest_values_fit(at: Context) -> list[Reason]:
    """Zeros and wiring, judged once the plant has come to rest: before, pressure is still on its way out."""
    pressure_bar = at.now.pressure_bar
    if not _has_come_to_rest(at) or pressure_bar is None or pressure_bar > GONE_BAR:
        return []
    findings = rest_findings(at.now.inputs.readings, at.now.settings.inputs, vented=True)
    return [Reason(finding.id, finding.values) for finding in findings]


def meter_stands_still(at: Context) -> Reason | None:
    """A meter that turns by itself would prove a wetted cell, and count litres that were not made."""
    flow_l_h, limit_l_h = at.now.flow_l_h, wetted_flow_l_h(at.now.settings)
    if not _has_come_to_rest(at) or flow_l_h is None or flow_l_h < limit_l_h:
        return None
    return Reason("flow_at_rest", {"flow_l_h": flow_l_h, "limit_l_h": limit_l_h})


def _has_come_to_rest(at: Context) -> bool:
    return at.now.state is State.STANDBY and min(at.now.in_state_s, at.now.clocks.pump_off_s) > AT_REST_S
