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

SCALARS = ("drop", "zero", "feed", "tank", "hand")


@dataclass(frozen=True, slots=True)
class Effects:
    """By cause: what one unit of it does to log flow and log salt of the periods, and to the scalars."""

    trend: Mapping[str, Pair]
    scalars: Mapping[str, Mapping[str, float]]
    told: Mapping[str, Pair]
    """By story that is one cause alone: what one unit of it does on the reference day itself, where that is not what
    it does to the periods brought there; nothing where it is not the membrane's."""


class Chapter(NamedTuple):
    """A story at one size: mean and covariance of the change of log flow and log salt, mean and variance of the
    scalars that change."""

    story: Story
    log_odds: float
    size: float
    mean: Pair
    covariance: tuple[float, float, float]
    scalars: Mapping[str, tuple[float, float]]


def chapters(effects: Effects, stories: Sequence[Story] = STORIES) -> list[Chapter]:
    """Every story at each of its sizes."""
    found = []
    for story in stories:
        for size in story.sizes:
            grain = abs(size) * 0.22
            mu = [0.0, 0.0]
            cov = [1e-6, 0.0, 4e-6]
            scalars: dict[str, tuple[float, float]] = {}
            one = [0.0, 0.0]
            for cause, share in story.causes.items():
                gu, gw = effects.trend.get(cause, (0.0, 0.0))
                mu[0] += gu * share.each * size
                mu[1] += gw * share.each * size
                one[0] += gu * share.each
                one[1] += gw * share.each
                v = (share.doubt * size) ** 2 + share.apart**2
                cov[0] += gu * gu * v
                cov[1] += gu * gw * v
                cov[2] += gw * gw * v
                for signal, by in effects.scalars.get(cause, {}).items():
                    mean, variance = scalars.get(signal, (0.0, 0.0))
                    spread = v + (share.each * grain) ** 2
                    scalars[signal] = (mean + by * share.each * size, variance + by * by * spread)
            cov[0] += (one[0] * grain) ** 2
            cov[1] += one[0] * one[1] * grain**2
            cov[2] += (one[1] * grain) ** 2
            odds = log(story.odds / len(story.sizes))
            found.append(Chapter(story, odds, size, (mu[0], mu[1]), (cov[0], cov[1], cov[2]), scalars))
    return found
