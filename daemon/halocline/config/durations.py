"""Durations as files write them: a number and one of the units ms, s, min, h, d."""

import math
import re

UNITS_S: dict[str, float] = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
_DURATION = re.compile(r"(\d{1,12}(?:\.\d{1,9})?) ?(ms|s|min|h|d)", re.ASCII)


def parse_duration(text: str) -> float:
    """Seconds in a text such as "500ms", "30s", "10min", "1.5h", "2d". Raises ValueError for any other."""
    match = _DURATION.fullmatch(text.strip())
    if match is None:
        raise ValueError(f'{text!r} is no duration; write a number and ms, s, min, h or d, as in "90s"')
    return float(match[1]) * UNITS_S[match[2]]


def show_duration(seconds: float) -> str:
    """The duration in the largest unit that keeps it a whole number, else in seconds."""
    if not math.isfinite(seconds):
        return str(seconds)
    for unit in ("d", "h", "min"):
        count = seconds / UNITS_S[unit]
        if count >= 1.0 and count == round(count):
            return f"{count:.0f}{unit}"
    if 0.0 < abs(seconds) < 1.0:
        return f"{seconds * 1000.0:.6g}ms"
    return f"{seconds:.6g}s"
