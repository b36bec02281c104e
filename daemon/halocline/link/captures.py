"""A capture's pieces: a few seconds of all channels at the rate of the loop, small enough for one line of the link.

A piece is an event of the kind `capture`. Its `data` is base64 of zlib of a JSON object: `t_ms` and each channel as a
list of whole numbers, the first as it is, each further one as the difference from the last; null where the channel had
no value. Times are milliseconds from `from_s`, values are multiples of the channel's step in `steps`. So a piece can be
read years later without this program.
"""

import base64
import json
import math
import zlib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from halocline.plant.vocabulary import CHANNELS

CAPTURE = "capture"
"""The kind of the events."""
AFTER_S = 30.0
"""How long after its last cause a capture goes on: the pressure has gone by then, or shows that it does not go (common
practice)."""
STEPS = {"bar": 0.01, "°C": 0.01, "L/h": 0.1, "µS/cm": 1.0, "V": 0.01, "A": 0.01, "%": 0.1}
"""What a value is rounded to, by unit: finer than the noise of any sensor for it."""
MAX_DATA = 6000
"""Letters of one piece; with its head it keeps well within a line of the link."""

Sample = tuple[float, tuple[float | None, ...]]
"""When (monotonic seconds), and each channel's value then."""


def pieces(channels: Sequence[str], samples: Sequence[Sample]) -> Iterator[dict[str, Any]]:
    """What the samples are as events, in their order: one, or more where one would be too long for a line."""
    if not samples:
        return
    steps = [STEPS[CHANNELS[channel].unit] for channel in channels]
    from_s = samples[0][0]
    columns: dict[str, list[int | None]] = {"t_ms": _differences([round((at - from_s) * 1000) for at, _ in samples])}
    for number, (channel, step) in enumerate(zip(channels, steps, strict=True)):
        columns[channel] = _differences([_whole(values[number], step) for _, values in samples])
    data = base64.b64encode(zlib.compress(json.dumps(columns, separators=(",", ":")).encode())).decode()
    if len(data) > MAX_DATA and len(samples) > 1:
        middle = len(samples) // 2
        yield from pieces(channels, samples[:middle])
        yield from pieces(channels, samples[middle:])
        return
    yield {"from_s": round(from_s, 3), "steps": dict(zip(channels, steps, strict=True)), "data": data}


def samples_of(piece: Mapping[str, Any]) -> list[tuple[float, dict[str, float | None]]]:
    """When (monotonic seconds of that start of control) and each channel's value. Raises ValueError for nonsense."""
    try:
        columns = json.loads(zlib.decompress(base64.b64decode(piece["data"], validate=True)))
        times = [float(piece["from_s"]) + milliseconds / 1000 for milliseconds in _sums(columns["t_ms"])]
        values = {
            channel: [None if whole is None else round(whole * step, 6) for whole in _sums(columns[channel])]
            for channel, step in piece["steps"].items()
        }
        return [(at_s, {channel: values[channel][n] for channel in values}) for n, at_s in enumerate(times)]
    except (KeyError, TypeError, IndexError, AttributeError, zlib.error) as error:
        raise ValueError(f"not a piece of a capture: {error!r}") from None


def _whole(value: float | None, step: float) -> int | None:
    return None if value is None or not math.isfinite(value) else round(value / step)


def _differences(wholes: Sequence[int | None]) -> list[int | None]:
    told, last = [], 0
    for whole in wholes:
        told.append(None if whole is None else whole - last)
        last = last if whole is None else whole
    return told


def _sums(differences: Sequence[int | None]) -> list[Any]:
    wholes, last = [], 0
    for difference in differences:
        last += difference or 0
        wholes.append(None if difference is None else last)
    return wholes
