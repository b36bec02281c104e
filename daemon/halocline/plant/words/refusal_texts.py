"""Why something is refused: one line each, what is wrong and what helps."""

from collections.abc import Mapping
from typing import NamedTuple


class Refusal(NamedTuple):
    """What is wrong, as one sentence, and what helps."""

    wrong: str
    helps: str = ""

    @property
    def whole(self) -> str:
        """Both, one after the other."""
        return f"{self.wrong} {self.helps}".rstrip()


REFUSAL_TEXTS: Mapping[str, Refusal] = {
    # the state does not allow it
    "is_standby": Refusal("The plant is at rest: nothing to reset or recommission."),
    "is_priming": Refusal("A run is just starting.", "Wait, or stop it first."),
    "is_pressurising": Refusal("A run is starting, pressure is being raised.", "Wait, or stop it first."),
    "is_diverting": Refusal("A run is on, product still goes overboard.", "Stop it first."),
    "is_producing": Refusal("Water is being made.", "Stop the run first."),
    "is_stopping": Refusal("A run is stopping.", "Wait until the pressure is gone."),
    "is_flushing": Refusal("A flush is running.", "Wait for its end, or stop it."),
    "is_tripped": Refusal("A safety stop stands.", "Find its cause, acknowledge it and reset."),
    "is_laid_up": Refusal("The plant is laid up.", "Recommission it first."),
    "is_hand_run": Refusal("The pump is run by its own switch.", "Switch it off there first."),
    "is_bench": Refusal("An output is being tried.", "Wait until it is done, or stop it."),
    "locked": Refusal("Locked by {name}: {reason}.", "Ask whether the work is done, then unlock."),
    # the plant is not fit
    "latch_not_writable": Refusal(
        "The memory card does not take writing, so nothing could be remembered.", "Check the card and its free space."
    ),
    "sensor_not_good": Refusal(
        "The sensor for {channel} is not good[: {quality}].", "Check its plug, cable and supply."
    ),
    "sensor_not_read_yet": Refusal(
        "The sensor for {channel} has not been read yet: the program began a moment ago.", "Wait some seconds."
    ),
    "stop_button_active": Refusal(
        "The stop button is pressed, or its wire is broken.", "Ask who pressed it, then release it."
    ),
    "bilge_wet_active": Refusal(
        "There is water at the bilge sensor.", "Mains near water: breaker first. Then find the leak and dry the sensor."
    ),
    "pressure_switch_active": Refusal(
        "The pressure switch is open.", "Open the regulator, read the gauge, then re-arm the switch."
    ),
    "pressure_present": Refusal(
        "There is still {pressure_bar} at the membrane[, it must be below {limit_bar}].",
        "Open the regulator and wait; open no fitting.",
    ),
    "log_kind_unknown": Refusal(
        "Unknown kind of work: “{kind}”.", "Did you mean {near}? Anything else goes under note."
    ),
    "reading_misplaced": Refusal(
        "A log entry of the kind {kind} carries no {reading}.", "Leave it out, or name its kind."
    ),
    "reading_missing": Refusal("A log entry of the kind {kind} needs {reading}.", "Measure it, and give it a number."),
    "finding_unknown": Refusal("Nothing like “{finding}” is ever found.", "Use one of: {known:long}."),
    "aside_without_reason": Refusal("A finding is put aside only with a reason.", "Say why in the note."),
    "duty_unknown": Refusal("There is no duty “{duty}”.", "Use one of: {known:long}."),
    "duty_not_measured": Refusal(
        "A test without its reading proves nothing[: {duty}].", "Tell what was measured[, in {unit}], as measured."
    ),
    "part_unknown": Refusal("No part “{part}” is counted.", "Use one of: {known:long}."),
    "salinity_way_unknown": Refusal("Unknown way to get a salinity: “{by}”.", "Use one of: {known:long}."),
    "source_missing": Refusal("A published salinity needs its source.", "Name chart, atlas or data set in the note."),
    "commissioning_step_unknown": Refusal("Unknown step: “{step}”.", "Use one of: {known:long}."),
    "commissioning_list_open": Refusal("The safety list is not complete.", "Left: {points:long}."),
    "commissioning_untried": Refusal(
        "The {output} was not tried since control was started.", "Try it on the bench first."
    ),
    "commissioning_air": Refusal(
        "Too little was seen of the feed pump alone.",
        "Let it run {seconds} more, with steady pressure at the pump inlet.",
    ),
    "commissioning_brine_at_low_pressure": Refusal(
        "At low pressure {flow_l_h} runs through the product's meter.",
        "Nothing passes a membrane there, so it is brine: exchange the two hoses at the vessel.",
    ),
    "commissioning_meter_unseen": Refusal(
        "The product's meter was not seen standing still.",
        "Let the feed pump run alone for {seconds} more, with that meter readable.",
    ),
    "commissioning_brine_under_pressure": Refusal(
        "{tds_mg_l} in the product's hose under pressure: that is brine, or a broken membrane.",
        "Stop, open the regulator, look at the hoses at the vessel.",
    ),
    "commissioning_product_unseen": Refusal(
        "Fresh product was not seen under pressure.",
        "Let it run overboard for {seconds} more, with salt and flow readable.",
    ),
    "commissioning_not_flushed": Refusal("No flush was finished since control was started.", "Flush first."),
    "commissioning_purge_owed": Refusal(
        "First water is not through yet: a purge is owed.", "Run it, and confirm its end test."
    ),
    "commissioning_no_baseline": Refusal(
        "The membrane has no baseline yet.", "Take it after the first clean hours (halocline calibrate, or the task)."
    ),
    "opened_while_running": Refusal(
        "That work opens the plant, and the plant is running.",
        "Stop it first; put the work on record once it is at rest.",
    ),
    "no_purge_owed": Refusal("No purge is owed.", "There is nothing to confirm."),
    "out_of_service_wants_a_note": Refusal(
        "Taking “{alarm}” out of service needs a reason.", "Say in the note why it is not needed."
    ),
    "presence_is_local": Refusal(
        "Being at the plant can only be said there: press the button at the plant, or log it on the boat's own "
        "computer."
    ),
    "end_test_wants_product": Refusal(
        "The end test is taken from product that flows.", "Start a run; product goes overboard, take the water there."
    ),
    "end_test_wants_presence": Refusal(
        "The end test is taken at the plant.",
        "Press the button there, or log at_the_plant on the boat's own computer, then confirm within ten minutes.",
    ),
    "end_test_open": Refusal("Not tested yet: {tests}.", "Test the flowing product in this order, then confirm each."),
    "answer_unknown": Refusal("“{answer:text}” is not asked here.", "Asked: {known:long}."),
    "purge_not_over": Refusal(
        "The purge is not over: {seconds} of product still have to go overboard.", "Make water first."
    ),
    "chlorine_suspected": Refusal(
        "The flush water may carry chlorine, which destroys the membrane.",
        "Test it with a strip; once it reads zero, log that (chlorine_strip_zero).",
    ),
    "automatic_flush_off": Refusal(
        "Flushes by themselves are not set up.",
        "Set automatic_flush in the table [sequence]; check tells what it needs.",
    ),
    "consent_wants_clock": Refusal(
        "The computer does not know the time, and a consent ends by the calendar.", "Set the clock first."
    ),
    "consent_wants_name": Refusal("A consent needs the name of who gives it.", "Give your name."),
    "consent_days": Refusal(
        "{days} were asked for; a consent is given for one day to {limit_days}.", "Give a number between."
    ),
    "consent_litres": Refusal("{litres} are less than one flush takes, {limit_l}.", "Give more."),
    "no_flush_consent": Refusal(
        "Nobody has consented to flushes by themselves.", "Give consent before you leave, or flush by hand."
    ),
    "person_is_there": Refusal("A person has just been at the plant or its page.", "It waits for {seconds} of quiet."),
    "bilge_not_watched": Refusal("No bilge sensor is fitted.", "Fit one, and name it in the table [inputs]."),
    "flush_line_leaks": Refusal(
        "The flush line leaks or lets water back.", "Close its hand valve, clean or change the valve."
    ),
    "purge_is_owed": Refusal("First water is still owed its purge.", "Make water and end the purge first."),
    "circuit_was_opened": Refusal(
        "The sea-water circuit was opened and has not run since.", "Make water once, and look for leaks."
    ),
    "tank_too_low_to_flush": Refusal(
        "The tank holds {percent}: less than {limit_percent} would be left after a flush.", "Make or take water first."
    ),
    "way_out_not_proven": Refusal(
        "The last flush did not show that the regulator stands open.", "Open the regulator fully, then flush by hand."
    ),
    "flushed_alone_lately": Refusal(
        "The last one was tried less than a day ago.", "The next comes in {seconds} at the earliest."
    ),
    "flush_not_due": Refusal("No flush is due yet.", "The next is due in {seconds}."),
    "no_flush_after_this_run": Refusal(
        "No flush will follow this run: the flush water may carry chlorine, and sea water will stand in the membrane.",
        "Test it with a strip; once it reads zero, log that (chlorine_strip_zero), then flush.",
    ),
    "stop_reaches_no_pump": Refusal(
        "This does not stop the pump: it runs by its own switch.", "Switch it off there, or at its breaker."
    ),
    "zero_off": Refusal(
        "The sensor for {channel} shows [{pressure_bar}][{value:own}] at rest.",
        "Compare the gauge; if that shows zero, set the sensor's zero.",
    ),
    "rest_value_off": Refusal(
        "The sensor for {channel} shows {value:own} at rest, which cannot be.", "Check its wiring."
    ),
    "channels_swapped": Refusal(
        "The sensors for {channel} and {other:channel} seem to be swapped.", "Exchange their wires."
    ),
    "addresses_crossed": Refusal(
        "The sensor boards {address} and {other:address} seem to be swapped.", "Exchange their address settings."
    ),
    "flow_at_rest": Refusal(
        "The product meter shows {flow_l_h} with nothing running.",
        "If no water moves, its wire picks up noise: look at screen and ground, then start.",
    ),
    "diverter_not_overboard": Refusal(
        "The diverter does not stand overboard.", "Look where it points, check its supply, turn it overboard."
    ),
    "tank_float_active": Refusal("The tank float says full, or its wire is broken.", "Use some water first."),
    "tank_is_full": Refusal("The tank is full[: {percent}][, limit {limit_percent}].", "Use some water first."),
    "tank_has_no_room": Refusal("{litres} do not fit into the tank, at most {limit_l}.", "Ask for less."),
    "battery_too_low": Refusal(
        "Battery voltage is {volts}, a start needs {limit_v}.", "Charge or run the engine first."
    ),
    "battery_charge_too_low": Refusal(
        "The battery holds {percent}, a start needs {limit_percent}.", "Charge or run the engine first."
    ),
    "supply_is_low": Refusal(
        "The computer's own supply voltage is low; it might stop in the middle of a run.",
        "Check its power supply and the wires to it.",
    ),
    "water_is_too_warm": Refusal(
        "The sea water is {temperature_c}, too warm for the membrane[ from {limit_c}].", "Wait for cooler water."
    ),
    "too_many_starts": Refusal(
        "{starts:count} starts within {window_s}, the motor takes {limit:count}.",
        "Wait {seconds}[, until {until_wall_s}].",
    ),
    "last_start": Refusal(
        "This is the last of {limit:count} starts within {window_s}.",
        "The next is allowed in {seconds}[, from {until_wall_s}].",
    ),
    "motor_needs_rest": Refusal(
        "The pump motor has to rest for {seconds} more[, until {until_wall_s}].", "Then start again."
    ),
    "nobody_at_the_plant": Refusal(
        "A start needs a person at the plant.",
        "Press the button there, or log at_the_plant on the boat's own computer, then start within ten minutes.",
    ),
    "clock_not_set": Refusal(
        "The computer does not know the time.", "Give litres or minutes instead of a time of day."
    ),
    # the start was not said clearly
    "questions_open": Refusal("Not confirmed yet: {questions}.", "Go and look, then confirm."),
    "until_too_far": Refusal(
        "That time is {seconds} away, perhaps tomorrow's; a run lasts at most {limit_s}.",
        "Give a nearer time, litres or minutes.",
    ),
    "until_too_soon": Refusal("By that time the tank would not be open: that takes {seconds}.", "Give a later time."),
    "several_needs": Refusal("Litres, minutes and a time of day cannot be combined.", "Give one of them."),
    "need_too_small": Refusal("{value:count} is too little for “{key:need}”.", "Give more, or leave it out."),
    # alarms and lock
    "trips_not_acknowledged": Refusal("Not acknowledged yet: {causes}.", "Read what it means, then acknowledge."),
    "cause_still_there": Refusal("Still there: {causes}.", "Put it right first, then reset."),
    "cause_just_gone": Refusal("No longer seen, but not for long enough: {causes}.", "Wait {seconds}, then reset."),
    "restart_not_acknowledged": Refusal(
        "Control was cut off in the middle of its work.", "Open the regulator fully, then acknowledge that."
    ),
    "no_such_alarm": Refusal("There is no alarm “{alarm:text}” now.", "Look at the list of alarms."),
    "never_shelved": Refusal("“{alarm}” acts on the plant and is never put aside.", "Put its cause right instead."),
    "nothing_to_acknowledge": Refusal("There is no alarm to acknowledge.", "Nothing to do."),
    "not_locked": Refusal("There is no lock to take away.", "Nothing to do."),
    "lock_wants_name_and_reason": Refusal(
        "A lock needs a name and a reason.", "Say who works on the plant and at what."
    ),
    # service
    "preservative_unknown": Refusal(
        "Unknown preservative.",
        "Use preservative, glycol (food-grade propylene, never engine antifreeze), new_element or cleaning.",
    ),
    "output_unknown": Refusal("“{output:text}” cannot be tried here.", "Use one of: {known:long}."),
    "bench_too_long": Refusal("{seconds} is too long to try this output.", "Use at most {limit_s}."),
    "only_simulated": Refusal("Faults can only be set on a simulated boat.", "This plant is real."),
    # what arrived could not be understood
    "command_unknown": Refusal("There is no command “{command}”.", "Ask for the list of commands."),
    "never_from_mqtt": Refusal(
        "“{command}” is never taken from MQTT.", "Use the page, the command line, or the plant itself."
    ),
    "argument_unknown": Refusal("“{argument}” is not known here.", "Known: {known:long}."),
    "argument_wrong": Refusal("“{argument}” should be {wanted}.", "Correct it and try again."),
    "origin_unknown": Refusal(
        "It is not known where this came from: “{origin}”.", "Use the page, the command line or MQTT."
    ),
    "fault_refused": Refusal("This fault cannot be set: {text:long} (halocline fault lists them all)"),
    "too_many_commands": Refusal("Too many commands at once.", "Wait a second and try again."),
}
"""Templates as in `filling`."""
