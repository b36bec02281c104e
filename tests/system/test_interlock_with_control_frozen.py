"""Control frozen under pressure and the outlet blocked: the comparator interlock stops the pump by itself."""

import os
import signal

import pytest

from halocline.config import demo_text

pytestmark = [pytest.mark.system, pytest.mark.timeout(180)]

INTERLOCK = "\n[interlock]\naddress = 0x4a\nopens_bar = 65\n"


@pytest.fixture(scope="module")
def guarded(a_boat, tmp_path_factory):
    """A boat with an interlock; its pressure switch stands higher."""
    config = tmp_path_factory.mktemp("config") / "halocline.toml"
    text = demo_text().replace("pressure_switch_bar = 66", "pressure_switch_bar = 68")
    config.write_text(text + INTERLOCK)
    return a_boat("--config", str(config)).wait_ready()


def test_it_opens_before_the_time_out_relay_would_and_closes_by_a_person_only(guarded):
    assert guarded.order("start", litres=5)["accepted"]
    guarded.wait(lambda now: (now["readings"]["vessel_pressure"]["value"] or 0) > 53)
    before_s = guarded.truth()["time_s"]
    pid = guarded.kill("control", signal.SIGSTOP)
    try:
        guarded.fault("brine_blocked", rate_bar_per_ms=0.05)
        safe_s = guarded.safe_after()
        truth = guarded.truth()
        assert not truth["relay_closed"]
        assert truth["pins"]["high_pressure_pump"]  # the pin stands where control left it
        assert safe_s < 0.9
        assert truth["time_s"] - before_s < 10.0
    finally:
        os.kill(pid, signal.SIGCONT)
    guarded.fault("brine_blocked", clear=True)
    now = guarded.wait_state("tripped")
    assert now["first_out"] in ("pressure_switch", "vessel_pressure_high_high", "scan_overrun")
    guarded.wait(lambda now: (now["readings"]["vessel_pressure"]["value"] or 99) < 2)
    assert guarded.now()["contacts"]["pressure_switch"]
    assert not guarded.truth()["relay_closed"]
    assert guarded.order("acknowledge")["accepted"]
    guarded.wait(lambda now: not now["contacts"]["pressure_switch"] and "reset" in now["allowed_commands"])
    assert not guarded.truth()["relay_closed"]
    assert guarded.cli("reset").returncode == 0
    guarded.wait_ready()  # the simulated hand has pressed the time-out relay's button
