"""How fast the physics is, beside the dense reference integration; exits 1 when a promise is broken.

Run by `make bench`. Times are the best of several rounds, so that a busy machine does not spoil them.
"""

from __future__ import annotations

import importlib.util
import math
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

from halocline.physics.membrane import Membrane, lumped, project

PROJECT_LIMIT_S = 1e-3
MONTH_LIMIT_S = 1.0
LUMPED_LIMIT_S = 60e-6


def load_dense_element() -> ModuleType:
    """The reference lives with the outside checks; test folders are no packages."""
    file = Path(__file__).parents[1] / "published" / "dense_element.py"
    spec = importlib.util.spec_from_file_location("dense_element", file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["dense_element"] = module
    spec.loader.exec_module(module)
    return module


def best_s(work: Callable[[], object], rounds: int, calls: int = 1) -> float:
    """Seconds for one call, in the best of several rounds."""
    best = math.inf
    for _ in range(rounds):
        start = time.perf_counter()
        for _ in range(calls):
            work()
        best = min(best, (time.perf_counter() - start) / calls)
    return best


def month(membrane: Membrane) -> float:
    """720 hours of changing sea; the litres made, so that the work cannot be left out."""
    litres = 0.0
    for hour in range(720):
        warm = 20.0 + 6.0 * math.sin(hour / 115.0) + math.sin(hour / 3.8)
        litres += project(membrane, 36.0 + 1.5 * math.sin(hour / 60.0), warm, 55.0, 340.0).product_flow_l_h
    return litres


def main() -> int:
    dense = load_dense_element()
    membrane = Membrane(1.60227, 0.192033, 2.6)
    reference = dense.DenseElement(dense.Element(1.60227, 0.192033, 2.6), 24.0)
    slow = best_s(lambda: reference.solve(38.0, 55.0, 340.0), rounds=3)
    fast = best_s(lambda: project(membrane, 38.0, 24.0, 55.0, 340.0), rounds=5, calls=200)
    node = best_s(lambda: lumped(membrane, 38.0, 24.0, 55.0, 340.0), rounds=5, calls=1000)
    whole_month = best_s(lambda: month(membrane), rounds=3)
    plate = best_s(lambda: Membrane.from_nameplate(2.4, 0.994, 2.6), rounds=3)
    rows = [
        ("project, one element", fast, PROJECT_LIMIT_S),
        ("lumped, one node", node, LUMPED_LIMIT_S),
        ("a month of hourly projections", whole_month, MONTH_LIMIT_S),
        ("from_nameplate", plate, None),
        ("dense reference integration (scipy)", slow, None),
    ]
    broken = 0
    for name, seconds, limit in rows:
        verdict = "" if limit is None else f"limit {limit * 1e3:g} ms: {'ok' if seconds <= limit else 'TOO SLOW'}"
        broken += limit is not None and seconds > limit
        print(f"{name:38s} {seconds * 1e3:10.3f} ms  {verdict}".rstrip())
    answer, truth = project(membrane, 38.0, 24.0, 55.0, 340.0), reference.solve(38.0, 55.0, 340.0)
    error = answer.product_flow_l_h / truth.product_l_h - 1.0
    print(f"project is {slow / fast:.0f} times as fast as the reference, {error:+.2%} in product flow")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
