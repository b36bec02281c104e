"""Why the plant did something, as clauses: why a run or a state ended, why product goes overboard."""

from collections.abc import Mapping

WHY_TEXTS: Mapping[str, str] = {
    # a run has ended
    "target_litres": "{litres} went to the tank, as asked",
    "target_minutes": "water was made for {seconds}, as asked",
    "target_time": "the time asked for has come[, {litres} went to the tank]",
    "target_reached": "the run is done, as asked",
    "tank_ceiling": "{litres} went to the tank, all that it had room for",
    "stop_command": "a stop was asked for[ {who}]",
    "pump_not_switched_on": "the pump was not switched on within {seconds}",
    "pressure_not_set": "the pressure was not raised[ within {seconds}]",
    "control_lost": "control stopped answering in the middle of it",
    "no_run": "there was no run",
    "unknown": "the reason is not known",
    # one state follows another
    "switched_on": "the plant's computer was switched on",
    "tripped_before_restart": "a safety stop from before the restart is not reset",
    "unbidden_pressure": "the pump is run by its own switch",
    "start_accepted": "a start was asked for",
    "flush_accepted": "a flush was asked for",
    "lay_up_accepted": "the plant was laid up",
    "bench_accepted": "an output is being tried",
    "recommission_accepted": "the plant was taken into use again",
    "reset_accepted": "the safety stop was reset",
    "primed": "the sea water supply is steady",
    "settled": "the working pressure is reached and steady",
    "quality_held": "the salt stayed within the limit for long enough",
    "depressurised": "the pressure is gone",
    "depressurised_to_flush": "the pressure is gone and a flush is due",
    "pressure_gone": "the pump run by hand has stopped",
    "bench_over": "the output has been tried",
    "flush_complete": "the flush is done",
    # a flush was none
    "flush_too_slow": "only {litres} came through in {seconds}",
    "flush_under_pressure": "the pressure did not go away, so the flush valve stayed shut",
    "flush_no_flow": "no water flowed in the flush line[ after {litres}]",
    "flush_chlorine": "the flush water may carry chlorine, which destroys the membrane",
    "flush_no_supply": "no fresh water came: pump inlet pressure {pressure_bar}[, needed {limit_bar}]",
    # product is not let into the tank
    "no_water_yet": "no water is made yet",
    "no_working_pressure": "the pressure is below what makes water",
    "no_product_flow": "product flow is {flow_l_h}[, at least {limit_l_h} is needed]",
    "tds_high": "salt is {tds_mg_l}[, over the limit of {limit_mg_l}]",
    "tds_foreseen": "salt is {tds_mg_l} and rises, {foreseen_mg_l} is foreseen in {ahead_s}[, limit {limit_mg_l}]",
    "tds_noisy": "the salt reading jumps about by {noise_mg_l}[, at most {limit_mg_l} can be judged]",
    "tds_above_accept": "salt is {tds_mg_l}[, over the limit of {limit_mg_l}]",
    "tds_rising": "salt is rising[, now {tds_mg_l}]",
    "tds_too_good": "salt of {tds_mg_l} is too good to be believed[, expected {expected_mg_l}]",
    "pressure_moving": "the pressure is still moving",
    "first_water": "the first litres are not judged[, {litres} more must pass]",
    "purge_running": "{of} is being washed out[, {seconds} left]",
    "purge_to_confirm": "the end test for {of} is not confirmed yet",
}
"""Templates as in `filling`, each fit to follow "because"."""
