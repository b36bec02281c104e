"""Where an interval is honest but wide: the one measurement that would halve it."""

from collections.abc import Sequence
from itertools import combinations
from statistics import fmean

from halocline.plant import words

HALVED = 0.75
"""Share of the variance that has to go for a width to be half."""


def narrowed_by(stories: Sequence[str], values: Sequence[float]) -> str | None:
    """`values`: draws of a quantity, `stories`: under which story each was drawn. None where the doubt is not between
    stories, or no single measurement tells these apart."""
    groups: dict[str, list[float]] = {}
    for story, value in zip(stories, values, strict=True):
        groups.setdefault(story, []).append(value)
    mean = fmean(values)
    total = sum((value - mean) ** 2 for value in values)
    means = {story: fmean(of) for story, of in groups.items()}
    between = sum(len(of) * (means[story] - mean) ** 2 for story, of in groups.items())
    if len(groups) < 2 or between < HALVED * total:
        return None

    def apart(two: tuple[str, str]) -> float:
        one, other = two
        return len(groups[one]) * len(groups[other]) * (means[one] - means[other]) ** 2

    return words.tells_apart(*max(combinations(groups, 2), key=apart))
