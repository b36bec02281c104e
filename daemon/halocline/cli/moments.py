"""Moments as a person types them: in local time."""

import argparse
import re
import time
from datetime import datetime

AGO = re.compile(r"-(\d+(?:\.\d+)?)(s|min|h|d)")
SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}


def moment(text: str) -> float:
    """Unix seconds of an ISO 8601 date or time (local time without a zone), of "now", or of a while ago: -2h, -30d."""
    if text == "now":
        return time.time()
    if ago := AGO.fullmatch(text):
        return time.time() - float(ago[1]) * SECONDS[ago[2]]
    try:
        return datetime.fromisoformat(text).timestamp()
    except (ValueError, OverflowError, OSError):
        raise argparse.ArgumentTypeError(
            f"{text} is no time: write 2026-07-01, 2026-07-01T08:30, now, or how long ago: -2h, -30d"
        ) from None
