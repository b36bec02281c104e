"""Numbers for Prometheus, judged by the format's reference parser, by promtool, and by a Prometheus that scrapes."""

import json
import math
import os
import re
import shutil
import socket
import subprocess
import threading
import urllib.request
from typing import get_args

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families as openmetrics_parsed
from prometheus_client.parser import text_string_to_metric_families as text_parsed

from halocline.plant.alarms import DEFINITIONS
from halocline.plant.settings import ReportSettings, UnitSettings
from halocline.plant.vocabulary import CHANNELS, DERIVED, State
from halocline.report.http.metrics import OPENMETRICS, OPENMETRICS_TYPE, TEXT_TYPE, metrics
from halocline.report.mqtt.publisher import Health
from halocline.report.parts import OFF, Part
from halocline.report.public import Frame, snapshot
from halocline.report.public_types import ConditionId
from halocline.report.server import Report, ReportOptions
from live_snapshot import live_now, reading

RECORD = {"state": "ok", "held": 3, "lost": 2, "problem": None}
PARTS = {"control": Part("ok"), "record": Part("ok"), "mqtt": Part("waiting", "away")}
BROKER = Health(True, True, None, 4, 5, 6, 7, {"stale": 8, "malformed": 9})
RUN = {
    "id": "r1", "litres": 20.0, "target_l": 60.0, "seconds": 600.0, "energy_wh": 230.0, "energy_basis": "battery",
    "remaining_s": None,
}  # fmt: skip
LOW_FEED = {
    "id": "feed_pressure_low", "state": "unacknowledged", "priority": "high", "under": None, "since_s": 2.0,
    "values": {"pressure_bar": 0.2, "limit_bar": 0.3},
}  # fmt: skip


def whole(age_s=0.1, **changes):
    """A plant that measures everything, in a run, with an alarm."""
    readings = {channel.id: reading(0.2, channel.unit) for channel in CHANNELS.values()}
    now = {"readings": readings, "derived": dict.fromkeys(DERIVED, 0.25), "run": RUN, "alarms": [LOW_FEED]}
    told = live_now(**{"state": "producing", **now, **changes})
    return snapshot(told, age_s, Frame('The "Salt"\\Sea\n', UnitSettings(), simulated=True))


def told(now, openmetrics=True, parts=PARTS, broker=BROKER):
    return metrics(now, RECORD, parts, broker, openmetrics=openmetrics)


def families(now, **more):
    """By name, as the reference parser reads them; it raises at whatever is against the format."""
    return {family.name: family for family in openmetrics_parsed(told(now, **more))}


def value(found, name, **labels):
    (sample,) = [sample for sample in found[f"halocline_{name}"].samples if sample.labels == labels]
    return sample.value


def test_the_reference_parser_reads_all_of_it_in_every_state():
    for state in State:
        assert families(whole(state=str(state)))
    assert families(whole(age_s=60.0))
    assert families(snapshot(None, None, Frame("Cagarra", UnitSettings())), broker=None)


def test_a_unit_that_is_claimed_stands_last_in_the_name():
    found = families(whole())
    with_unit = [family for family in found.values() if family.unit]
    assert len(with_unit) > 10
    assert all(family.name.endswith(f"_{family.unit}") for family in with_unit)


def test_both_formats_tell_the_same_samples():
    def samples(parsed):
        return {
            (sample.name, *sorted(sample.labels.items()), sample.value)
            for family in parsed
            for sample in family.samples
        }

    now = whole()
    assert samples(openmetrics_parsed(told(now))) == samples(text_parsed(told(now, openmetrics=False)))


CONVERTED = {
    "measured_pressure_pascals": ("vessel_pressure", 55.0, 5.5e6),
    "measured_conductivity_siemens_per_metre": ("product_conductivity", 500.0, 0.05),
    "measured_temperature_celsius": ("sea_temperature", 21.5, 21.5),
    "measured_flow_cubic_metres_per_second": ("product_flow", 36.0, 1e-5),
    "measured_voltage_volts": ("battery_voltage", 12.7, 12.7),
    "measured_current_amperes": ("battery_current", -40.0, -40.0),
    "measured_fill_ratio": ("tank_fill", 62.0, 0.62),
}
"""Worked out by hand: 1 bar is 1e5 Pa, 1 µS/cm is 1e-4 S/m, 3600 L/h is 1e-3 m³/s (SI brochure)."""


@pytest.mark.parametrize("name", CONVERTED)
def test_measured_values_are_in_base_units(name):
    channel, measured, expected = CONVERTED[name]
    now = whole(readings={channel: reading(measured, CHANNELS[channel].unit)})
    assert value(families(now), name, channel=channel) == pytest.approx(expected, rel=1e-9)


COMPUTED = {
    "computed_product_dissolved_solids_grams_per_cubic_metre": ("product_tds_mg_l", 320.0, 320.0),
    "computed_filter_pressure_drop_pascals": ("filter_drop_bar", 0.4, 4e4),
    "computed_recovery_ratio": ("recovery", 0.18, 0.18),
    "computed_specific_energy_joules_per_cubic_metre": ("specific_energy_wh_l", 10.0, 3.6e7),
    "computed_pressure_rate_pascals_per_second": ("pressure_rate_bar_s", 0.5, 5e4),
    "computed_expected_flow_cubic_metres_per_second": ("expected_flow_l_h", 72.0, 2e-5),
    "computed_expected_dissolved_solids_grams_per_cubic_metre": ("expected_tds_mg_l", 250.0, 250.0),
    "computed_target_pressure_pascals": ("target_pressure_bar", 55.0, 5.5e6),
}
"""Worked out by hand: 10 Wh/L is 10 · 3600 J per 1e-3 m³; 1 mg/L is 1 g/m³."""


@pytest.mark.parametrize("name", COMPUTED)
def test_computed_values_are_in_base_units(name):
    key, computed, expected = COMPUTED[name]
    assert value(families(whole(derived={key: computed})), name) == pytest.approx(expected, rel=1e-9)


def test_everything_measured_and_computed_is_told():
    assert {key for key, _, _ in COMPUTED.values()} == set(DERIVED)
    found = families(whole())
    measured = {
        sample.labels["channel"]
        for name, family in found.items()
        if name.startswith("halocline_measured_")
        for sample in family.samples
    }
    assert measured == set(CHANNELS)
    assert value(found, "run_water_cubic_metres") == pytest.approx(0.020)
    assert value(found, "run_energy_joules") == pytest.approx(230 * 3600)


def test_a_reading_that_is_not_good_has_no_value_and_is_told_as_such():
    for quality in ("over", "stale", "missing", "open"):
        found = families(whole(readings={"feed_pressure": reading(0.2, "bar", quality)}))
        assert "halocline_measured_pressure_pascals" not in found
        assert value(found, "channel_good", channel="feed_pressure") == 0


def test_each_state_alarm_and_condition_has_its_own_series_whether_or_not_it_holds():
    found = families(whole())
    states = {sample.labels["halocline_state"]: sample.value for sample in found["halocline_state"].samples}
    assert {name for name, holds in states.items() if holds} == {"producing"}
    assert set(states) == set(map(str, State))
    standing = {sample.labels["alarm"]: sample.value for sample in found["halocline_alarm_standing"].samples}
    assert {name for name, holds in standing.items() if holds} == {"feed_pressure_low"}
    assert set(standing) == set(DEFINITIONS)
    conditions = {sample.labels["condition"] for sample in found["halocline_condition"].samples}
    assert conditions == set(get_args(ConditionId))


def test_with_the_link_lost_nothing_old_is_told_as_news():
    found = families(whole(age_s=60.0))
    assert value(found, "control_up") == 0
    gone = ("measured_", "computed_", "run_", "state", "alarm", "output_", "control_uptime")
    assert [name for name in found if name.removeprefix("halocline_").startswith(gone)] == []
    assert {sample.value for sample in found["halocline_channel_good"].samples} == {0}


def test_counters_of_record_and_broker_are_told():
    samples = {sample.name: sample.value for family in families(whole()).values() for sample in family.samples}
    assert samples["halocline_record_lost_total"] == 2
    assert samples["halocline_mqtt_connections_total"] == 4
    assert samples["halocline_mqtt_events_dropped_total"] == 6
    parts = {sample.labels["part"]: sample.value for sample in families(whole())["halocline_part_up"].samples}
    assert parts == {"control": 1, "record": 1, "mqtt": 0}
    off = families(whole(), parts={**PARTS, "mqtt": OFF})["halocline_part_up"]
    assert {sample.labels["part"] for sample in off.samples} == {"control", "record"}


def tool(name):
    found = shutil.which(name)
    assert found, "these tests ask a real Prometheus: apt-get install prometheus"
    return found


@pytest.mark.system
def test_promtool_finds_nothing_to_mend():
    done = subprocess.run(
        [tool("promtool"), "check", "metrics"],
        input=told(whole(), openmetrics=False),
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    spoilt = "# TYPE halocline_waiting_milliseconds counter\nhalocline_waiting_milliseconds 1\n"
    check = [tool("promtool"), "check", "metrics"]
    done = subprocess.run(check, input=spoilt, capture_output=True, text=True, check=False)
    assert done.returncode != 0


@pytest.fixture
def served(control, link_path, tmp_path, until):
    plant, ready = control(), []
    options = ReportOptions(
        settings=ReportSettings(), link_path=link_path, data_dir=tmp_path / "data", boat="Cagarra", port=0
    )
    report = Report(options, ready.append)
    thread = threading.Thread(target=report.serve)
    thread.start()
    until(lambda: ready and report.feed.connected)
    yield plant, ready[0].port
    report.end()
    thread.join(timeout=10)


def asked(url, **headers):
    with urllib.request.urlopen(urllib.request.Request(url, headers=headers), timeout=5) as answer:
        return answer.headers["Content-Type"], answer.read().decode()


@pytest.mark.system
def test_who_asks_for_openmetrics_gets_it_and_all_others_the_older_format(served):
    _, of_report = served
    url = f"http://127.0.0.1:{of_report}/metrics"
    assert asked(url)[0] == TEXT_TYPE
    kind, text = asked(url, Accept=f"{OPENMETRICS};version=1.0.0;q=0.5,text/plain;version=0.0.4;q=0.2")
    assert kind == OPENMETRICS_TYPE
    assert text.endswith("\n# EOF\n")
    assert list(openmetrics_parsed(text))


@pytest.mark.system
def test_a_real_prometheus_scrapes_the_pressure(served, tmp_path, until):
    plant, of_report = served
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    config = tmp_path / "prometheus.yml"
    config.write_text(
        "global: {scrape_interval: 1s}\n"
        f"scrape_configs: [{{job_name: plant, static_configs: [{{targets: ['127.0.0.1:{of_report}']}}]}}]\n"
    )
    engine = subprocess.Popen(
        [tool("prometheus"), f"--config.file={config}", f"--storage.tsdb.path={tmp_path / 'tsdb'}",
         f"--web.listen-address=127.0.0.1:{port}"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env={**os.environ, "GOMAXPROCS": "1"},
    )  # fmt: skip

    def query(what):
        plant.now(readings={"vessel_pressure": reading(55.0)})  # again and again: what is old is told no more
        try:
            found = json.loads(asked(f"http://127.0.0.1:{port}/api/v1/query?query={what}")[1])["data"]["result"]
        except OSError:
            return None
        return float(found[0]["value"][1]) if found else None

    try:
        pressure = until(lambda: query("halocline_measured_pressure_pascals"), timeout_s=60)
        assert math.isclose(pressure, 5.5e6)
        assert query("up") == 1
        assert query("halocline_state") is not None
    finally:
        engine.terminate()
        engine.wait(20)


def test_the_names_are_of_the_characters_that_every_reader_takes():
    assert all(re.fullmatch(r"halocline_[a-z0-9_]+", name) for name in families(whole()))
