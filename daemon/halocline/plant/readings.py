"""What a person reads beside the plant's own sensors: which numbers an entry of the log may carry."""

from collections.abc import Mapping

READINGS: Mapping[str, tuple[str, ...]] = {
    "hand_meter": ("us_cm", "sample_c"),
    "bucket_test": ("litres", "seconds"),
    "gauge_read": ("bar",),
}
"""Kind of entry → its numbers, as `log` takes them."""
NEEDED: Mapping[str, tuple[str, ...]] = {"bucket_test": ("litres", "seconds"), "gauge_read": ("bar",)}
"""Without these the entry says nothing. A hand meter may still be told of in the note alone."""
ALL = tuple(dict.fromkeys(name for names in READINGS.values() for name in names))
UNITS: Mapping[str, str] = {"us_cm": "µS/cm", "sample_c": "°C", "litres": "L", "seconds": "s", "bar": "bar"}
