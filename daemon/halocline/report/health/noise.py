"""What differs from run to run without meaning: the meters, the sea. Learnt from the plant's own record.

The sea's salinity is one unknown that hardly moves within days and wanders over weeks, plus a little from run to run;
both signals feel it at once, in opposite directions. What the two meters and the conditions add is independent.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import repeat
from typing import NamedTuple

from halocline.report.health.film import Normal
from halocline.report.health.linear import Matrix, Vector, cholesky, dot, forward, log_determinant

SEA_DAYS = 20.0
"""Over so many days the sea about a boat forgets what it was: a passage, a season's rain."""


@dataclass(frozen=True, slots=True)
class Noise:
    """Standard deviations: log of flow and of salt from run to run, salinity from run to run and of its wandering."""

    flow: float = 0.006
    salt: float = 0.012
    sea_run_g_kg: float = 0.10
    sea_g_kg: float = 0.25


EXPECTED = Noise()
DOUBT = Noise(0.6, 0.6, 0.6, 0.3)
"""Standard deviation of the logarithm of each: small meters differ by so much (common practice)."""
FIELDS = ("flow", "salt", "sea_run_g_kg", "sea_g_kg")


class SeaRead(NamedTuple):
    """A salinity that a person read, at the period of this place: g/kg over the one that the settings had then, and
    how far such a reading may be off (standard deviation)."""

    place: int
    over_g_kg: float
    sd_g_kg: float


Step = tuple[float, list[tuple[float, float]], float, float, float, float, float, float, float]
"""What of the sea is kept since the period before, what was read of it, then its and the noise's numbers."""


class Whitener:
    """Takes the noise's correlation out of columns: a filter for one state, the sea's salinity. What people read of it
    is one more equation each, in which only the sea stands."""

    def __init__(
        self, noise: Noise, days: Sequence[float], normals: Sequence[Normal], read: Sequence[SeaRead] = ()
    ) -> None:
        self.log_determinant = 0.0
        self._over = [each.over_g_kg for each in sorted(read)]
        self._places = [each.place for each in sorted(read)]
        at: dict[int, list[float]] = {}
        for each in sorted(read):
            at.setdefault(each.place, []).append(each.sd_g_kg**2)
        self._steps: list[Step] = []
        variance_sea, run = noise.sea_g_kg**2, noise.sea_run_g_kg**2
        vq, vc = noise.flow**2, noise.salt**2
        p, last = variance_sea, None
        for place, (day, normal) in enumerate(zip(days, normals, strict=True)):
            kept = 0.0 if last is None else math.exp(-max(day - last, 0.0) / SEA_DAYS)
            last = day
            p = kept * kept * p + variance_sea * (1.0 - kept * kept)
            reads = []
            for variance in at.get(place, ()):
                reads.append(((p + variance) ** -0.5, p / (p + variance)))
                self.log_determinant += math.log(p + variance)
                p *= variance / (p + variance)
            gu, gw = normal.slopes["salinity"]
            (a, b), (c, d) = normal.mix
            sea = p + run
            s11 = a * a * vq + b * b * vc + gu * gu * sea
            s12 = a * c * vq + b * d * vc + gu * gw * sea
            s22 = c * c * vq + d * d * vc + gw * gw * sea
            l11 = math.sqrt(s11)
            l21 = s12 / l11
            l22 = math.sqrt(s22 - l21 * l21)
            # The gain p Hᵀ S⁻¹.
            det = s11 * s22 - s12 * s12
            ku = p * (gu * s22 - gw * s12) / det
            kw = p * (gw * s11 - gu * s12) / det
            p -= p * (ku * gu + kw * gw)
            self._steps.append((kept, reads, gu, gw, 1.0 / l11, l21, 1.0 / l22, ku, kw))
            self.log_determinant += 2.0 * math.log(l11 * l22)

    def measured(self, flow: Sequence[float], salt: Sequence[float]) -> Vector:
        """What was measured: flow, salt, and the sea where it was read."""
        return self._whitened(flow, salt, iter(self._over))

    def column(
        self, flow: Sequence[float] | None, salt: Sequence[float] | None, sea: Sequence[float] | None = None
    ) -> Vector:
        """A column with its values in the equations of flow and of salt, None where they are all zero; `sea`: by
        period, in those of what was read of the sea."""
        return self._whitened(flow, salt, repeat(0.0) if sea is None else iter([sea[place] for place in self._places]))

    def _whitened(self, flow: Sequence[float] | None, salt: Sequence[float] | None, sea: Iterator[float]) -> Vector:
        found: Vector = []
        put = found.append
        s = 0.0
        n = len(self._steps)
        zero = [0.0] * n if flow is None or salt is None else []
        for (kept, reads, gu, gw, i11, l21, i22, ku, kw), u, w in zip(
            self._steps, zero if flow is None else flow, zero if salt is None else salt, strict=True
        ):
            s *= kept
            for inverse_sd, gain in reads:
                off = next(sea) - s
                put(off * inverse_sd)
                s += gain * off
            eu = u - gu * s
            ew = w - gw * s
            z = eu * i11
            put(z)
            put((ew - l21 * z) * i22)
            s += ku * eu + kw * ew
        return found


class Column(NamedTuple):
    """Something unknown that acts on flow and salt, and how large it may be (standard deviation and mean)."""

    name: str
    flow: Sequence[float] | None
    salt: Sequence[float] | None
    sd: float
    mean: float = 0.0
    sea: Sequence[float] | None = None
    """What it does to the sea's salinity, which people read."""


class Common:
    """The fit of what every course has in common; a course is added by `Course`."""

    def __init__(
        self, whitener: Whitener, columns: Sequence[Column], y: tuple[Sequence[float], Sequence[float]]
    ) -> None:
        self.whitener = whitener
        self.names = [column.name for column in columns]
        self.columns = [whitener.column(column.flow, column.salt, column.sea) for column in columns]
        self.y = whitener.measured(*y)
        gram: Matrix = []
        for i, one in enumerate(self.columns):
            gram.append([dot(one, other) for other in self.columns[: i + 1]])
            gram[i][i] += columns[i].sd ** -2
        self.lower = cholesky(gram)
        expected = [column.mean * column.sd**-2 for column in columns]
        self.right = forward(
            self.lower, [dot(column, self.y) + more for column, more in zip(self.columns, expected, strict=True)]
        )
        prior = sum(2.0 * math.log(column.sd) + (column.mean / column.sd) ** 2 for column in columns)
        self.log_evidence = -0.5 * (
            whitener.log_determinant
            + dot(self.y, self.y)
            - dot(self.right, self.right)
            + log_determinant(self.lower)
            + prior
        )

    def unit(self, name: str) -> Vector:
        """L⁻¹ e of one unknown: its products with other such vectors are what the fit knows of it."""
        place = self.names.index(name)
        return forward(self.lower, [1.0 if i == place else 0.0 for i in range(len(self.names))])


Evidence = Callable[[Noise], float]
"""Log of how likely the record is with a noise."""


def learn(start: Noise, evidence_of: Evidence, rounds: int = 2) -> Noise:
    """The noise that makes the record likeliest, held near what small meters do."""
    noise = start
    best = _weighed(noise, evidence_of)
    for turn in range(rounds):
        step = 0.35 if turn == 0 else 0.2
        for name in FIELDS:
            here = getattr(noise, name)
            up, down = (replace(noise, **{name: here * math.exp(sign * step)}) for sign in (1.0, -1.0))
            above, below = _weighed(up, evidence_of), _weighed(down, evidence_of)
            bend = above + below - 2.0 * best
            move = 0.5 * step * (below - above) / bend if bend < -1e-9 else math.copysign(2 * step, above - below)
            trial = replace(noise, **{name: here * math.exp(min(max(move, -1.0), 1.0))})
            options = ((_weighed(trial, evidence_of), trial), (above, up), (below, down), (best, noise))
            best, noise = max(options, key=lambda option: option[0])
    return noise


def _weighed(noise: Noise, evidence_of: Evidence) -> float:
    return evidence_of(noise) + log_prior(noise)


def log_prior(noise: Noise) -> float:
    """Log of how likely this noise is before the record is seen, over the likeliest."""
    off: list[float] = [
        (math.log(getattr(noise, name)) - math.log(getattr(EXPECTED, name))) / getattr(DOUBT, name) for name in FIELDS
    ]
    return -0.5 * sum(each * each for each in off)
