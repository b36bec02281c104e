"""Test sizes: `make test` plays a fair sample, `make soak` a large one."""

import os

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "test", max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("soak", max_examples=3000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("soak" if os.environ.get("HALOCLINE_SOAK") else "test")

LONGEST_FIRST = (
    "test_exhaustive_search.py",
    "test_scenarios_come_true.py",
    "test_boat_under_random_faults.py",
    "test_configurations_near_their_bounds.py",
)
"""Files that take minutes. A file is played by one core: one that begins last leaves the other core idle."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Puts the longest files first; all others keep their order."""
    places = {name: place for place, name in enumerate(LONGEST_FIRST)}
    items.sort(key=lambda item: places.get(item.path.name, len(places)))
