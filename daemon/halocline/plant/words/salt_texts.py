"""What alarms of much product say where its salt is known to be low: all of it came through a tight membrane."""

from collections.abc import Mapping

LOW_SALT: Mapping[str, tuple[str, str, str]] = {
    "product_flow_too_high": (
        "In warm, weak or fresh water the usual pressure asks too much of the membrane.",
        "Start again and set less pressure: go by the product flow, not by the gauge.",
        "Set less pressure next time, by flow.",
    ),
    "recovery_high": (
        "Too little sea water washes along the membrane.",
        "Check the feed: strainer, filters, pump. In weak or fresh water set less pressure.",
        "Check the feed flow, or set less pressure.",
    ),
    "recovery_near_limit": (
        "Less and less sea water washes along the membrane.",
        "Set less pressure, or give more feed: strainer, filters, pump.",
        "Set less pressure, or give more feed.",
    ),
}
"""Alarm → what it means, what to do, the first of it. Decided by control from the values, never from words."""
