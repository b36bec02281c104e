"""How much faster than real a rehearsal plays; exits 1 below a hundred times. Run by `make bench`.

The best of several rounds counts, so that a busy machine does not spoil it.
"""

from __future__ import annotations

import sys
from pathlib import Path

from halocline.rehearsal.scenario import load
from halocline.rehearsal.scenario_runner import ScenarioRunner

LEAST_RATIO = 100.0
ROUNDS = 3
FILES = ("run_by_litres", "membrane_leaks", "run_in_a_tenth_of_the_time")
FOLDER = Path(__file__).parents[1] / "rehearsals"


def ratio(name: str) -> float:
    """Seconds played for each second on the wall, in the best round."""
    scenario = load(FOLDER / f"{name}.toml")
    return max(scenario.duration_s / ScenarioRunner(scenario, 1).play()["wall_s"] for _ in range(ROUNDS))


def main() -> int:
    """Measure and print."""
    ratios = {name: ratio(name) for name in FILES}
    for name, value in ratios.items():
        print(f"rehearsal {name}: {value:.0f} times as fast as real (at least {LEAST_RATIO:.0f})")
    return 0 if min(ratios.values()) >= LEAST_RATIO else 1


if __name__ == "__main__":
    sys.exit(main())
