"""What a weak supply of sea water means where the two senders about the filters tell where the water is held up."""

from collections.abc import Mapping

SUCTION_ALARMS = ("feed_pressure_not_reached", "feed_pressure_low_low", "feed_pressure_low")

SUCTION_PLACES: Mapping[str, tuple[str, str, str]] = {
    "filters": (
        "Water reaches the filters, and too little comes through them.",
        "Change the filter cartridges at zero pressure, write it in the log, bleed the air before the next start.",
        "Change the filter cartridges.",
    ),
    "supply": (
        "Too little water reaches the filters: both pressures are low.",
        "In this order: the intake seacock is open, the strainer clean and its lid tight, no weed at the intake, the "
        "feed pump turns (if not, re-arm the relays).",
        "Check seacock, strainer, then feed pump.",
    ),
    "air": (
        "Low and unsteady: air comes with the sea water.",
        "Check the strainer lid and the hose clamps on the suction side, and the intake on this tack. Bleed the air "
        "before the next start.",
        "Check strainer lid and suction hose clamps.",
    ),
}
"""Place → what it means, what to do, the first of it. Decided by control from the values, never from words."""
