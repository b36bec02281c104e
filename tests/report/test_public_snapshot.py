import json

from hypothesis import given
from hypothesis import strategies as st

from halocline.cli.status import status_lines
from halocline.config import Problem
from halocline.link.snapshot import completed
from halocline.plant.alarms import DEFINITIONS
from halocline.plant.settings import UnitSettings
from halocline.report.conditions import report_configuration
from halocline.report.http.models import PublicSnapshot
from halocline.report.http.page import plain_page
from halocline.report.public import Frame, iso, snapshot

FRAME = Frame("Cagarra", UnitSettings())
PROMISED = {
    "schema",
    "boat",
    "simulated",
    "link",
    "boot",
    "seq",
    "time",
    "uptime_s",
    "state",
    "since_s",
    "sentence",
    "first_out",
    "readings",
    "derived",
    "outputs",
    "run",
    "alarms",
    "owed",
    "locked",
    "allowed_commands",
    "refused",
}
RECORD = {"state": "ok", "held": 0, "lost": 0}


def alarm(name="feed_pressure_low", priority="high"):
    values = {"pressure_bar": 0.21, "limit_bar": 0.3}
    of = {"id": name, "state": "unacknowledged", "priority": priority}
    return {**of, "since_s": 12.0, "under": None, "values": values}


def test_the_public_snapshot_has_every_name_others_rely_on(live_now):
    public = snapshot(live_now(), 0.1, FRAME)
    assert PROMISED - set(public) == set()
    assert public["schema"] == 1
    assert public["link"] == {"control": "live", "age_s": 0.1}
    assert public["time"] == "2026-09-21T14:13:20.000Z"
    assert public["sentence"].startswith("At rest, ready to start.")
    assert public["allowed_commands"] == ["start", "stop"]
    assert public["last"] is None


def test_an_alarm_says_what_it_means_what_happens_if_ignored_and_what_to_do(live_now):
    (told,) = snapshot(live_now(alarms=[alarm()]), 0.1, FRAME)["alarms"]
    assert told["means"].startswith("Pump inlet pressure is 0.21 bar")
    assert told["ignored"]
    assert told["do"]
    assert told["since"] == "2026-09-21T14:13:08.000Z"
    assert told["since_s"] == 12.0


def test_an_acknowledged_trip_asks_for_the_reset_only(live_now):
    trip = alarm("feed_pressure_low_low")
    (new,) = snapshot(live_now(alarms=[trip]), 0.1, FRAME)["alarms"]
    (seen,) = snapshot(live_now(alarms=[{**trip, "state": "latched"}]), 0.1, FRAME)["alarms"]
    assert new["do"].endswith("Then acknowledge and reset.")
    assert seen["do"].endswith("is the usual cause. Then reset.")


def test_the_gravest_alarm_comes_first(live_now):
    alarms = [alarm("clock_unset", "log"), alarm("flush_due", "low"), alarm("bilge_wet", "urgent"), alarm()]
    told = snapshot(live_now(alarms=alarms), 0.1, FRAME)["alarms"]
    assert [one["priority"] for one in told] == ["urgent", "high", "low", "log"]


def test_without_a_clock_there_are_no_times(live_now):
    public = snapshot(live_now(wall_s=None, alarms=[alarm()]), 0.1, FRAME)
    assert public["time"] is None
    assert public["alarms"][0]["since"] is None
    assert public["alarms"][0]["since_s"] == 12.0


def test_refusals_are_told_in_words_and_as_ids(live_now):
    refused = {"start": [{"id": "too_many_commands", "values": {}}]}
    public = snapshot(live_now(refused=refused), 0.1, FRAME)
    assert public["refused"] == {"start": ["Too many commands at once. Wait a second and try again."]}
    assert public["refused_ids"] == {"start": ["too_many_commands"]}


def test_old_news_is_never_shown_as_news(live_now):
    public = snapshot(live_now(alarms=[alarm()], run={"id": "r1", "litres": 3.0}), 12.3, FRAME)
    assert public["link"] == {"control": "lost", "age_s": 12.3}
    assert public["sentence"].startswith("Nothing heard from the control process for 12 s: it does not run.")
    for name in ("boot", "seq", "time", "uptime_s", "state", "since_s", "first_out", "run", "alarms", "owed", "locked"):
        assert public[name] is None
    assert {reading["value"] for reading in public["readings"].values()} == {None}
    assert set(public["outputs"].values()) == set(public["derived"].values()) == {None}
    assert public["allowed_commands"] == []
    assert public["refused_ids"]["stop"] == ["link_lost"]
    assert public["last"]["state"] == "standby"
    assert public["last"]["readings"]["vessel_pressure"]["value"] == 0.2


def test_three_seconds_are_the_limit(live_now):
    assert snapshot(live_now(), 3.0, FRAME)["link"]["control"] == "live"
    assert snapshot(live_now(), 3.01, FRAME)["link"]["control"] == "lost"


def test_before_control_was_ever_heard_the_page_says_what_to_look_at():
    public = snapshot(None, None, FRAME)
    assert public["state"] is None
    assert public["last"] is None
    assert "has not been heard yet" in public["sentence"]
    assert "halocline check" in public["sentence"]


def test_every_snapshot_fits_the_published_schema(live_now):
    run = {"id": "r1", "litres": 3.0, "target_l": 40.0, "seconds": 60.0, "energy_wh": 9.0, "remaining_s": None}
    run["energy_basis"] = "configured"
    purge = {"of": "glycol", "rinsed_l": 1.0, "rinse_l": 40.0, "left_s": 3600.0, "confirm": False, "also": []}
    against = [{"id": "purge_not_over", "values": {"seconds": 3600.0}}]
    owed = {"flush": True, "chlorine": False, "purge": {**purge, "tests": ["ph_strip"], "not_now": against}}
    many = [alarm(name) for name in DEFINITIONS]
    full = live_now(run=run, owed=owed, alarms=many, locked={"name": "Ana", "reason": "filters"}, ask="raise_pressure")
    for now, age_s in ((full, 0.1), (full, 9.0), (None, None), (live_now(), 0.0)):
        public = json.loads(json.dumps(snapshot(now, age_s, FRAME)))
        assert PublicSnapshot.model_validate(public).model_dump(mode="json", by_alias=True) == public


def test_a_snapshot_of_another_version_is_told_as_far_as_it_goes():
    public = snapshot(completed({"state": "producing", "seq": 3}), 0.1, FRAME)
    assert (public["state"], public["seq"], public["readings"], public["refused"]) == ("producing", 3, {}, {})
    assert public["sentence"]


def test_the_plain_page_says_the_same_and_escapes_what_people_wrote(live_now):
    broken = report_configuration([Problem("boat.toml", "http.<port>", "<i>", "a number", "write one")])
    frame = Frame("<b>Cagarra</b>", UnitSettings(), simulated=True, conditions=[broken])
    page = plain_page(snapshot(live_now(alarms=[alarm()]), 0.1, frame))
    assert "<b>" not in page
    assert "&lt;b&gt;Cagarra&lt;/b&gt; · SIMULATED" in page
    assert "http.&lt;port&gt;: found &lt;i&gt;; allowed: a number; write one" in page
    assert "<script" not in page
    assert "Pump inlet pressure is 0.21 bar" in page
    assert "the last known, now past" in plain_page(snapshot(live_now(), 60.0, frame))


@given(st.none() | st.floats(allow_nan=False, allow_infinity=False))
def test_a_clock_gone_mad_gives_a_time_or_none(wall_s):
    assert iso(wall_s) is None or iso(wall_s).endswith("Z")


RUN = {"id": "r1", "litres": 20.0, "target_l": 60.0, "seconds": 600.0, "energy_wh": 230.0, "energy_basis": "battery"}


def test_what_a_run_still_takes_is_foreseen_by_the_pumps_power_and_told_only_while_its_end_is(live_now):
    def told(age_s=0.1, left_s=1800.0, **changes):
        run = {**RUN, "remaining_s": left_s}
        now = completed(live_now(**{"run": run, "limits": {"pump_power_w": 1400.0}, **changes}))
        return snapshot(now, age_s, FRAME)["run_takes_wh"]

    assert told() == 700.0
    assert told(left_s=None) is None
    assert told(run=None) is None
    assert told(limits={}) is None
    assert told(age_s=60.0) is None


def test_a_consent_to_flushes_is_told_with_its_times(live_now):
    now = live_now()
    now["flush_alone"] = {
        "flush_l": 12.0,
        "tank_percent": 30.0,
        "next_s": 3600.0,
        "notice_left_s": None,
        "consent": {"name": "Ana", "until_wall_s": now["wall_s"] + 86400.0, "left_l": 24.0, "failures": 1},
        "not_now": [{"id": "flush_not_due", "values": {"seconds": 3600.0}}],
    }
    told = snapshot(now, 0.1, FRAME)["flush_alone"]
    assert (told["by"], told["left_l"], told["failures"]) == ("Ana", 24.0, 1)
    assert told["until"] == "2026-09-22T14:13:20.000Z"
    assert told["next"] == "2026-09-21T15:13:20.000Z"
    assert told["not_now"] == ["No flush is due yet. The next is due in 60 min."]
    lines = "\n".join(status_lines(snapshot(now, 0.1, FRAME), UnitSettings()))
    assert "Ana consented until 2026-09-2" in lines
