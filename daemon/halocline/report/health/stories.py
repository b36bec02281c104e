"""What may have happened, as a table: which hidden things change together, by how much, and over which course.

A story gives each cause a share of its one size, with a doubt that grows with the size. What the causes do to the
signals is the plant's physics (`Effects`). Sizes and shares are common practice, wide on purpose.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log
from typing import NamedTuple

from halocline.report.health.film import Pair
from halocline.report.health.shapes import Kind


class Share(NamedTuple):
    """Of a cause in a story: so much per unit of size, doubt per unit of size, and doubt whatever the size."""

    each: float = 0.0
    doubt: float = 0.0
    apart: float = 0.0


@dataclass(frozen=True, slots=True)
class Story:
    """`name` is what a person is told; `odds` how often it is met in a plant that is looked at on any day."""

    name: str
    odds: float
    courses: tuple[Kind, ...]
    sizes: tuple[float, ...]
    causes: Mapping[str, Share]
    needs: str = ""
    """The scalar that shows it; without, another story does the same to flow and salt and is met more often."""


NOTHING = "nothing"
_LOSS = (0.04, 0.07, 0.11, 0.17, 0.25, 0.36)
_DRIFT = (0.05, 0.08, 0.13, 0.2, 0.3, 0.45)
_BOTH = tuple(sign * size for size in _DRIFT for sign in (1.0, -1.0))
_FALL = tuple(-size for size in _LOSS)
_ZERO = tuple(sign * size for size in (0.5, 0.9, 1.5, 2.5, 4.0) for sign in (1.0, -1.0))
_SPAN = tuple(sign * size for size in (0.012, 0.02, 0.03, 0.045, 0.065) for sign in (1.0, -1.0))

STORIES: tuple[Story, ...] = (
    # A new element settles by some per cent in its first tens of hours: that is no fault.
    Story(NOTHING, 0.10, ("settling",), _FALL[:4], {"water": Share(1.0), "salt": Share(0.0, 0.2, 0.01)}),
    Story(
        "fouling",
        0.04,
        ("ramp",),
        _FALL,
        {"water": Share(1.0), "salt": Share(0.0, 0.25, 0.01), "channel": Share(-2.5, 1.5)},
    ),
    Story(
        "scaling",
        0.02,
        ("ramp",),
        _FALL,
        {"water": Share(1.0), "salt": Share(-2.2, 0.8), "channel": Share(-0.5, 0.5)},
    ),
    Story(
        "membrane_damage",
        0.02,
        ("ramp", "step"),
        (0.10, 0.17, 0.27, 0.42, 0.65, 1.0),
        {"salt": Share(1.0), "water": Share(0.08, 0.06)},
    ),
    Story("worn_pump", 0.02, ("ramp",), _FALL, {"feed": Share(1.0)}, needs="feed"),
    Story("conductivity_drift", 0.03, ("ramp", "step"), _BOTH, {"cell": Share(1.0)}),
    Story("pressure_drift", 0.015, ("ramp", "step"), _ZERO, {"zero": Share(1.0)}),
    Story("pressure_drift", 0.01, ("ramp", "step"), _SPAN, {"span": Share(1.0)}),
    Story("flow_meter_drift", 0.02, ("ramp", "step"), _FALL, {"meter": Share(1.0)}),
    Story("sea_salinity", 0.02, ("step",), (1.6, 2.2, 3.2, -1.6, -2.2, -3.2), {"sea": Share(1.0)}),
    Story(
        "fouling",
        0.006,
        ("ramp",),
        _FALL,
        {
            "water": Share(1.0),
            "salt": Share(0.0, 0.25, 0.01),
            "channel": Share(-2.5, 2.0),
            "cell": Share(0.0, 0.0, 0.3),
        },
    ),
    # What fits no story still widens the answer.
    Story(
        "",
        0.004,
        ("ramp", "step"),
        (1.0,),
        {"meter": Share(0.0, 0.0, 0.12), "cell": Share(0.0, 0.0, 0.25), "channel": Share(0.0, 0.0, 0.5)},
    ),
)


@dataclass(frozen=True, slots=True)
class Effects:
    """By cause: what one unit of it does to log flow and log salt of the periods, and to the scalars."""

    trend: Mapping[str, Pair]
    scalars: Mapping[str, Mapping[str, float]]
    told: Mapping[str, Pair]
    """By story that is one cause alone: what one unit of it does on the reference day itself, where that is not what
    it does to the periods brought there; nothing where it is not the membrane's."""


class Chapter(NamedTuple):
    """A story at one size: mean and covariance of the change of log flow, of log salt and of the scalars that change,
    in this order. A cause that acts on several does so at once: what the hand meter says of the cell binds the salt."""

    story: Story
    log_odds: float
    size: float
    scalars: tuple[str, ...]
    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]

    def given(self, seen: Mapping[str, tuple[float, float]]) -> tuple[float, Pair, tuple[float, float, float]]:
        """The change of log flow and log salt when scalars are known, and the log of how much likelier these are by it
        than without any change. `seen`: precision and weighted size of each scalar that is measured."""
        mean, cov, gain = list(self.mean), [list(row) for row in self.covariance], 0.0
        for place, name in enumerate(self.scalars, start=2):
            if name not in seen or seen[name][0] <= 0.0:
                continue
            precision, weighted = seen[name]
            noise, value = 1.0 / precision, weighted / precision
            column = [row[place] for row in cov]
            variance = column[place] + noise
            off = value - mean[place]
            gain += 0.5 * (value * value * precision - off * off / variance - log(variance * precision))
            mean = [m + c * off / variance for m, c in zip(mean, column, strict=True)]
            cov = [
                [v - c * other / variance for v, other in zip(row, column, strict=True)]
                for row, c in zip(cov, column, strict=True)
            ]
        return gain, (mean[0], mean[1]), (cov[0][0], cov[0][1], cov[1][1])


APART = (1e-6, 4e-6)
"""Variance of log flow and log salt that no cause explains."""
GRAIN = 0.22
"""Sizes of a story lie so far apart: standard deviation of each over itself."""
LEAST_SCALAR = 1e-10


def chapters(effects: Effects, stories: Sequence[Story] = STORIES) -> list[Chapter]:
    """Every story at each of its sizes."""
    found = []
    for story in stories:
        signals = tuple(dict.fromkeys(name for cause in story.causes for name in effects.scalars.get(cause, {})))
        acts = [(_acts(effects, cause, signals), share) for cause, share in story.causes.items()]
        width = 2 + len(signals)
        together = [sum(by[i] * share.each for by, share in acts) for i in range(width)]
        odds = log(story.odds / len(story.sizes))
        for size in story.sizes:
            cov = [[one * other * (GRAIN * size) ** 2 for other in together] for one in together]
            for by, share in acts:
                variance = (share.doubt * size) ** 2 + share.apart**2
                for i in range(width):
                    for j in range(width):
                        cov[i][j] += by[i] * by[j] * variance
            for i in range(width):
                cov[i][i] += APART[i] if i < 2 else LEAST_SCALAR
            mean = tuple(size * each for each in together)
            found.append(Chapter(story, odds, size, signals, mean, tuple(tuple(row) for row in cov)))
    return found


def _acts(effects: Effects, cause: str, signals: Sequence[str]) -> list[float]:
    """What one unit of a cause does to log flow, log salt and these scalars."""
    by = effects.scalars.get(cause, {})
    return [*effects.trend.get(cause, (0.0, 0.0)), *(by.get(name, 0.0) for name in signals)]
