"""Control that is told to end lets go of its pins by itself. A boat of its own: the motor takes four starts an hour."""

import signal
import time

import pytest

pytestmark = [pytest.mark.system, pytest.mark.timeout(200)]

LETS_GO_WITHIN_S = 1.3
"""The time-out relay's second and the time of a look."""

BACK_WITHIN_S = 15.0


def test_told_to_end_it_lets_go_of_every_pin_at_once_without_waiting_for_the_relay(ready):
    assert ready.order("start", litres=1)["accepted"]
    ready.wait(lambda now: (now["readings"]["vessel_pressure"]["value"] or 0) > 15)
    assert ready.truth()["pins"]["high_pressure_pump"]
    before = ready.now()
    ready.kill("control", signal.SIGTERM)
    driven = None
    until_s = time.monotonic() + LETS_GO_WITHIN_S
    while driven != [] and time.monotonic() < until_s:
        driven = [line for line, on in ready.truth()["pins"].items() if on]
    assert driven == []
    ready.wait(lambda now: now["boot"] != before["boot"], BACK_WITHIN_S)
    ready.wait_state("standby")
