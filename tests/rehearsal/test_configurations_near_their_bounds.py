"""A configuration that is accepted protects: drawn at and beyond each bound, played with the worst fault for it.

The promise is judged on the boat's truth. That a bound asks for no more than it has to is judged as well: just inside
it, the protected thing gets to stand a good part of what it can.
"""

from collections import Counter

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from worst_faults import WORST, Worst, refused, stood, tried

NEARLY = 0.01
"""Of a bound: a duration is written with six digits, and a bound is no cliff."""

ROUNDING = 1e-6
"""Of the seconds added up while playing."""

ALONE = 0.05
"""Of a bound: further inside another rule may be the nearer one, a warning that must lie below its trip for example."""

SLACK = 10.0
"""Times: a bound that keeps a protected thing to less than a tenth of what it stands forbids for nothing."""

ORDINARY, LARGE = (3, 1), (22, 15)
"""Configurations drawn for each protection: those that are soon played, those that take minutes of the boat's time."""

EACH = pytest.mark.parametrize("worst", WORST, ids=lambda worst: f"{worst.row}: {worst.keys[0]}")
KEYS = [(worst, key) for worst in WORST for key in worst.keys]

SEEN = Counter()
"""Drawn, accepted and refused, by protection: `pytest -rP` prints it."""


def try_near(worst: Worst, key: str, share: float, bus_khz: float, seed: int) -> None:
    document = tried(worst, key, share, bus_khz)
    against = refused(document)
    SEEN[worst.row, "drawn"] += 1
    SEEN[worst.row, "refused" if against else "accepted"] += 1
    event("refused" if against else "accepted")
    if share < -NEARLY:
        assert key in against, f"{key} beyond its bound is accepted, or something else is blamed: {against}"
    if NEARLY < share < ALONE:
        assert not against, f"{key} inside its bound is refused for {against}"
    if not against:
        got, can = stood(worst, document, seed)
        assert got <= can + ROUNDING, f"accepted, and yet {got:.3f} of {can:.3f}"


def draw(worst: Worst, examples: int) -> None:
    @settings(max_examples=examples, deadline=None, suppress_health_check=list(HealthCheck))
    @given(
        key=st.sampled_from(worst.keys),
        share=st.one_of(st.floats(-0.15, 0.3), st.sampled_from([0.0, -0.02, 0.02, 0.005])),
        bus_khz=st.sampled_from([60.0, 100.0, 400.0]),
        seed=st.integers(1, 1000),
    )
    def near(key: str, share: float, bus_khz: float, seed: int) -> None:
        try_near(worst, key, share, bus_khz, seed)

    near()
    print({what: SEEN[worst.row, what] for what in ("drawn", "accepted", "refused")})


@EACH
def test_what_is_accepted_keeps_its_promise(worst: Worst) -> None:
    draw(worst, ORDINARY[worst.slow])


@pytest.mark.soak
@pytest.mark.timeout(3600)
@EACH
def test_what_is_accepted_keeps_its_promise_in_a_large_size(worst: Worst) -> None:
    draw(worst, LARGE[worst.slow])


@pytest.mark.parametrize(("worst", "key"), KEYS, ids=lambda each: each if isinstance(each, str) else each.row)
def test_no_bound_is_absurdly_tight(worst: Worst, key: str) -> None:
    got, can = stood(worst, tried(worst, key, 2.0 * NEARLY))
    assert can / SLACK <= got <= can + ROUNDING
