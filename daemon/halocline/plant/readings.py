"""What a person reads beside the plant's own sensors: what an entry of the log may carry."""

from collections.abc import Mapping

READINGS: Mapping[str, tuple[str, ...]] = {
    "hand_meter": ("us_cm", "sample_c"),
    "bucket_test": ("litres", "seconds"),
    "gauge_read": ("bar",),
    "sea_salinity": ("g_kg", "by"),
    "tank_chlorinated": ("mg_l", "contact_h"),
    "chlorine_read": ("mg_l",),
    "duty_done": ("measured", "expected"),
    "stores_counted": ("aboard", "minimum"),
}
"""Kind of entry → what was read, as `log` takes it: numbers, and how they were got."""
NEEDED: Mapping[str, tuple[str, ...]] = {
    "bucket_test": ("litres", "seconds"),
    "gauge_read": ("bar",),
    "sea_salinity": ("g_kg", "by"),
    "chlorine_read": ("mg_l",),
    "stores_counted": ("aboard",),
}
"""Without these the entry says nothing. A hand meter may still be told of in the note alone."""
ALL = tuple(dict.fromkeys(name for names in READINGS.values() for name in names))
UNITS: Mapping[str, str] = {
    "us_cm": "µS/cm",
    "sample_c": "°C",
    "litres": "L",
    "seconds": "s",
    "bar": "bar",
    "g_kg": "g/kg",
    "mg_l": "mg/L free chlorine",
    "contact_h": "h",
    "measured": "",
    "expected": "",
    "aboard": "",
    "minimum": "",
}
"""Of those that are numbers; empty where it is a count, or the duty's own unit."""
FROM_ZERO = frozenset({"mg_l", "measured", "expected", "aboard", "minimum"})
"""Of those that are numbers, what may be 0."""
PUBLISHED = "published"
SALINITY_WAYS = ("refractometer", "hydrometer", PUBLISHED)
"""How the salinity of the sea was got; `published`: a figure for the region, whose source stands in the note."""
