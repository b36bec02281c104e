"""What an offer of a run rests on, as control knows it now: the values of `plant/offer.Prospect`."""

from typing import Any

from halocline.control.forecast import before_tank_s, priming_s, tank_ceiling_l
from halocline.control.plant_state import PlantState
from halocline.control.situation import Situation
from halocline.plant.motor import work_s
from halocline.plant.thresholds import LEAST_FLUSH_L_H


def prospect_message(at: PlantState, now: Situation) -> dict[str, Any]:
    """The body of `prospect` in a live snapshot."""
    settings, purge = at.settings, at.retained.purge
    sequence = settings.sequence
    flow_l_h, usual = now.expectation.target_flow_l_h, at.performance.shares["flow"].usual
    foreseen_l_h = None if flow_l_h is None else flow_l_h * (usual or 1.0)
    rinse_l = 0.0 if purge is None else max(0.0, at.rinse_l() - purge.rinsed_l)
    return {
        "flow_l_h": foreseen_l_h,
        "usual": usual is not None,
        "pressure_bar": now.expectation.target_pressure_bar,
        "temperature_c": now.temperature_c,
        "power_w": settings.plant.pump_power_w,
        "flush_l": sequence.flush_l,
        "flush_s": None if at.retained.chlorine_suspected else sequence.flush_l / LEAST_FLUSH_L_H * 3600,
        "prime_s": priming_s(at.prime_s()),
        "before_tank_s": before_tank_s(settings, foreseen_l_h),
        "purge_of": None if purge is None else ", ".join(purge.kinds),
        "rinse_s": rinse_l / settings.plant.feed_flow_l_h * 3600,
        "overboard_s": 0.0 if purge is None else purge.left_s,
        "motor_left_s": max(0.0, work_s(settings) - at.motor.worked_s) if sequence.motor_run_limits else None,
        "motor_rest_s": settings.drive.motor_rest_s,
        "run_limit_s": sequence.run_limit_s,
        "room_l": tank_ceiling_l(now),
        "level_known": now.value("tank_fill") is not None,
        "asks_after_s": sequence.attendance_ask_s if sequence.attendance else None,
        "battery_percent": now.value("battery_charge_percent"),
        "battery_stop_percent": settings.limits.battery_stop_percent,
    }
