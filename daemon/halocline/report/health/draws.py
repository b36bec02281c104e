"""Values drawn from what the fit knows, always the same ones: an interval is where that share of them lies."""

import math
from collections.abc import Iterator, Sequence
from statistics import NormalDist
from typing import TypedDict

COUNT = 600
_NORMAL = NormalDist()


def spread(count: int, dimensions: int) -> Iterator[tuple[float, ...]]:
    """So many points that fill a cube evenly, as standard normal values (the additive recurrence of Roberts, 2018)."""
    root = 2.0
    for _ in range(40):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    steps = [root ** -(k + 1) for k in range(dimensions)]
    for i in range(1, count + 1):
        yield tuple(_NORMAL.inv_cdf(min(max((0.5 + i * step) % 1.0, 1e-6), 1 - 1e-6)) for step in steps)


def pick(weights: Sequence[float], count: int) -> Iterator[int]:
    """Which component each of so many draws comes from, in proportion to the weights."""
    place, reached = 0, weights[0]
    for i in range(count):
        share = (i + 0.5) / count
        while share > reached and place < len(weights) - 1:
            place += 1
            reached += weights[place]
        yield place


def quantile(ordered: Sequence[float], share: float) -> float:
    """Of values in order, between neighbours."""
    at = share * (len(ordered) - 1)
    low = math.floor(at)
    high = min(low + 1, len(ordered) - 1)
    if math.isinf(ordered[high]):
        return ordered[high] if at > low else ordered[low]
    return ordered[low] + (at - low) * (ordered[high] - ordered[low])


class Band(TypedDict):
    """Estimate (the median) with the 80 and 90 % intervals."""

    estimate: float
    i80: list[float]
    i90: list[float]


def band(values: Sequence[float]) -> Band:
    """The band that so many draws make."""
    ordered = sorted(values)
    lowest, low, middle, high, highest = (quantile(ordered, share) for share in (0.05, 0.1, 0.5, 0.9, 0.95))
    return {"estimate": middle, "i80": [low, high], "i90": [lowest, highest]}
