"""Test sizes: `make test` plays a fair sample, `make soak` a large one."""

import os

from hypothesis import HealthCheck, settings

settings.register_profile(
    "test", max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("soak", max_examples=3000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("soak" if os.environ.get("HALOCLINE_SOAK") else "test")
