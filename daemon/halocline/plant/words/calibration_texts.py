"""What a calibration came to, and why one is refused: one line each."""

from collections.abc import Mapping

CALIBRATION_TEXTS: Mapping[str, str] = {
    # done
    "calibrated": "Calibrated: {channel} showed {before:own} there and shows {after:own} from now on.",
    "calibrated_meter": "Calibrated: the meter for {channel} counted {before_l} and counts {after_l} for the same "
    "water from now on.",
    "calibrated_membrane": "Calibrated: at this pressure the membrane was expected to give {before_l_h} with "
    "{before_mg_l}, from now on {after_l_h} with {after_mg_l}.",
    "calibration_as_configured": "The calibration of {channel} is gone. It reads by the configuration again.",
    "calibrations_all_as_configured": "All calibrations are gone. Everything reads by the configuration.",
    # what was asked
    "calibrate_wants_one": "Say what to calibrate: one channel, or the membrane.",
    "calibrate_unknown": "“{channel:text}” cannot be calibrated here. Did you mean {near:text}? The sensors stand in "
    "halocline status; membrane is the membrane.",
    "calibrate_wants_initials": "A calibration needs the initials of the person who makes it. Give them.",
    "calibrate_points": "{channel} needs one to {most:count} points, each what it shows and what is true. Without a "
    "shown value it is what it shows now.",
    "calibrate_membrane_point": "A point of the membrane is four numbers: bar, °C, L/h and mg/L. Give all four, or "
    "none to take what it does now.",
    "bucket_wants_both": "{channel} is calibrated with a bucket: give the litres the meter counted and the "
    "litres in the bucket.",
    # what the plant does
    "calibration_wants_good": "{channel} shows nothing good to calibrate from[: {quality}]. Let it show a "
    "value for ten seconds first; look at plug and cable.",
    "calibration_wants_longer": "{channel} has not shown a good value for ten seconds yet. Wait a little, then give it "
    "again.",
    "calibration_wants_still": "{channel} moved by {value:own} within ten seconds. Wait until it stands still.",
    "calibrate_membrane_while_making_water": "The membrane is calibrated from what it does, or from a point that was "
    "written down. Make water first.",
    "membrane_not_steady_yet": "The membrane has not run steadily for long enough. {seconds} more, with nothing "
    "touched.",
    "vessel_pressure_moves": "Membrane pressure moved by {pressure_bar}, allowed is {limit_bar}. Leave the regulator "
    "alone and wait.",
    # what came out
    "calibration_refused": "{channel}: {text:long}",
    "membrane_not_believable": "That would be {water_percent} of the nameplate's water and {salt_percent} of its salt. "
    "No ageing does that: check meter, probe and gauge, then the seals.",
    "calibration_zero_too_far": "The zero of {channel} would move by {value:own}, allowed is {limit:own}. Look at "
    "what was typed; a sensor that is truly so far off is broken.",
    "calibration_span_too_far": "The scale of {channel} would become {percent} of what it is, allowed is "
    "{low_percent} to {high_percent}. Look at what was typed; a sensor that is truly so far off is broken or dirty.",
    "calibration_too_close": "{channel}: the two points lie {value:own} apart, that says too little. Take them at "
    "least {limit:own} apart.",
    "calibration_near_zero": "{channel} shows {value:own} there, too little to say how steep its scale is. Take a "
    "point where it shows {limit:own} or more.",
    "calibration_out_of_reach": "{channel} could then show {high_bar} at the most, but has to see "
    "{pressure_bar}. Check the points.",
    "calibrations_unreadable": "The file of calibrations is damaged; how the sensors were set is not known. "
    "Compare gauge, meter and probe, then: halocline calibrate all --configured, and calibrate anew.",
}
"""Templates as in `filling`."""
