"""Writes the words into the page's fixtures, so that the gallery shows what the program says and nothing else.

Numbers stand in `web/fixtures`; here stands, for each, what control would say of them, as ids and values. The words
come from the program's own `snapshot`. Run by `make docs`; a test says when a fixture is stale.
"""

import json
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from halocline.config import Problem
from halocline.control.permissives.people import QUESTIONS
from halocline.link.snapshot import completed
from halocline.plant.alarms import DEFINITIONS
from halocline.plant.purges import end_test
from halocline.plant.settings import UnitSettings
from halocline.report.conditions import Hearing, Watch, report_configuration
from halocline.report.public import Frame, snapshot

FOLDER = Path(__file__).parents[1] / "web" / "fixtures"
FILE = "/etc/halocline/halocline.toml"
LIVE_S, LOST_S = 0.1, 134.0

LOW = {"pressure_bar": 0.1, "limit_bar": 0.15, "inlet_bar": 0.12, "suction": "supply"}
ALARMS: Mapping[str, Mapping[str, Any]] = {
    "feed_pressure_low_low": LOW,
    "feed_pressure_low": {"pressure_bar": 0.24, "limit_bar": 0.3, "inlet_bar": 0.9, "suction": "filters"},
    "pressure_not_released": {"pressure_bar": 8.2, "seconds": 10.0, "limit_bar": 3.0},
    "pressure_without_command": {"pressure_bar": 55.1, "limit_bar": 6.0},
    "sensor_fault_product_conductivity": {"quality": "open", "raw": 0.02},
    "filter_drop_high": {"drop_bar": 0.62, "limit_bar": 0.5},
    "battery_low": {"volts": 11.5, "limit_v": 11.6},
    "flush_due": {"hours": 75.0, "limit_hours": 72.0},
    "quality_returns_repeatedly": {"times": 3},
}

PRODUCING = ("producing", {"litres": 41.2, "target_l": 60.0, "remaining_s": 1180.0, "tds_mg_l": 312.0})
PURGE = {"of": "preservative", "also": ["cleaning"], "rinsed_l": 40.0, "rinse_l": 40.0, "left_s": 0.0, "confirm": True}
TO_CONFIRM = (
    "diverting_purge_to_confirm",
    {"of": "preservative, cleaning", "tests": ", ".join(end_test(["preservative", "cleaning"]))},
)
LAID_UP = {"of": "preservative", "also": [], "rinsed_l": 0.0, "rinse_l": 40.0, "left_s": 1800.0, "confirm": False}
TANK_FULL = {"id": "tank_is_full", "values": {"percent": 96.0, "limit_percent": 95.0}}
BATTERY = {"id": "battery_too_low", "values": {"volts": 12.1, "limit_v": 12.4}}
RESTING = {"id": "motor_needs_rest", "values": {"seconds": 420.0}}
STANDING = {"id": "cause_still_there", "values": {"causes": "bilge_wet"}}
NOT_SEEN = {"id": "trips_not_acknowledged", "values": {"causes": "feed_pressure_low_low"}}

SAID: Mapping[str, Mapping[str, Any]] = {
    "american": {"sentence": PRODUCING},
    "diverting": {
        "sentence": ("diverting_tds_above_accept", {"tds_mg_l": 612.0, "limit_mg_l": 500.0, "seconds": 60.0})
    },
    "flushing": {"sentence": ("flushing", {"litres": 7.4, "target_l": 12.0, "measured": True})},
    "hand_run": {"sentence": ("hand_run", {"pressure_bar": 55.1}), "ask": "switch_pump_off"},
    "laid_up": {"sentence": ("laid_up", {"of": "preservative", "days": 14.0}), "purge": LAID_UP},
    "locked": {"sentence": ("standby_locked", {"name": "Ilda", "reason": "filter housing is open"})},
    "long_texts": {"sentence": TO_CONFIRM, "purge": PURGE, "flush": True},
    "low_feed_warning": {"sentence": PRODUCING},
    "many_alarms": {
        "sentence": ("tripped", {"cause": "feed_pressure_low_low", **LOW, "membrane_bar": 8.2}),
        "ask": "open_regulator",
        "refused": {"reset": [NOT_SEEN, STANDING]},
        "flush": True,
    },
    "no_switches": {"sentence": ("producing", {**PRODUCING[1], "litres": 1.0, "remaining_s": 3580.0})},
    "pressurising": {
        "sentence": ("raise_pressure", {"pressure_bar": 31.4, "target_bar": 55.0, "rate_bar_s": 0.5}),
        "ask": "raise_pressure",
    },
    "priming": {"sentence": ("priming_waiting", {"pressure_bar": 0.38, "limit_bar": 0.5})},
    "producing": {"sentence": PRODUCING},
    "purge_to_confirm": {"like": "diverting", "sentence": TO_CONFIRM, "purge": PURGE},
    "rearm": {"sentence": ("standby_ready", {"why": "reset_accepted"}), "ask": "rearm_relay"},
    "record_unavailable": {"sentence": PRODUCING},
    "stale": {"sentence": PRODUCING},
    "standby": {"sentence": ("standby_ready", {"why": "flush_complete"})},
    "standby_flush_owed": {
        "sentence": ("standby_refused", {"reason": "tank_is_full", "more": 2, **TANK_FULL["values"]}),
        "refused": {"start": [TANK_FULL, BATTERY, RESTING]},
        "flush": True,
    },
    "still_there": {"sentence": ("producing", {**PRODUCING[1], "answer_left_s": 212.0}), "ask": "still_there"},
    "stopping": {
        "sentence": ("stopping_open_regulator", {"why": "target_litres", "litres": 60.1, "membrane_bar": 38.2}),
        "ask": "open_regulator",
    },
    "tripped": {
        "sentence": ("tripped", {"cause": "feed_pressure_low_low", **LOW, "membrane_bar": 1.2}),
        "refused": {"reset": [NOT_SEEN]},
    },
    "tripped_ready": {
        "sentence": ("tripped", {"cause": "feed_pressure_low_low", **LOW, "membrane_bar": 0.1}),
        "flush": True,
    },
}
"""What control says in each live fixture."""

WRONG = (
    Problem(
        file=FILE,
        line=42,
        key="limits.vessel_pressure_high_high_bar",
        found="70 bar",
        allowed="below plant.pressure_switch_bar (66 bar)",
        remedy="lower it",
    ),
    Problem(
        file=FILE,
        line=None,
        key="inputs.feed_pressure",
        found="nothing",
        allowed="one of the kinds of sensor",
        remedy="choose one (4–20 mA: current_loop)",
    ),
)
MISSPELT = Problem(
    file=FILE, line=7, key="http.prot", found="8080", allowed="one of the known keys", remedy="did you mean port?"
)
LOST: Mapping[str, Watch] = {
    "config_wrong": Watch(standing=(report_configuration([MISSPELT]),)),
    "control_configuration": Watch(control_problems=lambda: WRONG),
    "control_down": Watch(last_words=lambda: ("its data folder takes no writing.",)),
    "control_silent": Watch(),
    "lost": Watch(),
}
"""What report knows while nothing is heard from control."""

REFUSED_BY_STATE = ("start", "flush", "reset", "recommission")
OPEN_IN = {"start": "standby", "flush": "standby", "reset": "tripped", "recommission": "laid_up"}


def live(name: str, numbers: Mapping[str, Any]) -> dict[str, Any]:
    """The fixture with the program's words."""
    said = SAID[name]
    now = completed({**numbers, **_link_side(numbers, said)})
    frame = Frame(boat=numbers["boat"], units=UnitSettings(**numbers["units"]), simulated=numbers["simulated"])
    made = snapshot(now, LIVE_S, frame)
    kept = {key: numbers[key] for key in ("problems", "conditions", "version", "allowed_commands") if key in numbers}
    return {**made, **kept, "link": numbers["link"]}


def _link_side(numbers: Mapping[str, Any], said: Mapping[str, Any]) -> dict[str, Any]:
    identifier, values = said["sentence"]
    state = numbers["state"]
    refused = {
        command: [{"id": f"is_{state}", "values": {}}] for command in REFUSED_BY_STATE if OPEN_IN[command] != state
    }
    purge = said.get("purge")
    tests = {} if purge is None else {"tests": end_test([purge["of"], *purge["also"]]), "not_now": []}
    return {
        "sentence": {"id": identifier, "values": values},
        "ask": said.get("ask"),
        "alarms": [
            {**alarm, "values": ALARMS.get(alarm["id"], {}), "priority": DEFINITIONS[alarm["id"]].priority.value}
            for alarm in numbers["alarms"] or ()
        ],
        "owed": {
            "flush": said.get("flush", False),
            "chlorine": said.get("chlorine", False),
            "purge": None if purge is None else {**purge, **tests},
        },
        "refused": {**refused, "service_unlock": [{"id": "not_locked", "values": {}}], **said.get("refused", {})},
        "allowed": numbers["allowed_commands"],
        "given_reasons": {},
        "questions": list(QUESTIONS),
        "wall_s": datetime.fromisoformat(numbers["time"]).timestamp(),
    }


def lost(name: str, numbers: Mapping[str, Any], last: Mapping[str, Any] | None) -> dict[str, Any]:
    """A fixture in which nothing is heard, over what was heard last."""
    age_s = numbers["link"]["age_s"]
    there = name == "control_silent"
    conditions = LOST[name](Hearing(lost=True, age_s=age_s, there=there))
    units = UnitSettings(**numbers["units"])
    made = snapshot(None, age_s, Frame(numbers["boat"], units, numbers["simulated"], conditions))
    silent = last or {}
    return {
        **made,
        "readings": numbers["readings"],
        "contacts": dict.fromkeys(silent.get("contacts", ())),
        "derived": dict.fromkeys(silent.get("derived", ())),
        "outputs": dict.fromkeys(silent.get("outputs", ())),
        "version": numbers["version"],
        "last": last,
    }


def fixtures() -> dict[str, str]:
    """Every fixture's name → its content."""
    on_file = {path.stem: json.loads(path.read_text("utf-8")) for path in sorted(FOLDER.glob("*.json"))}
    made = {name: live(name, on_file[SAID[name].get("like", name)]) for name in SAID}
    for name in LOST:
        made[name] = lost(name, on_file[name], None if on_file[name]["last"] is None else made["producing"])
    return {name: json.dumps(made[name], indent=2, ensure_ascii=False) + "\n" for name in sorted(made)}


def main() -> None:
    """Write them."""
    for name, text in fixtures().items():
        (FOLDER / f"{name}.json").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
