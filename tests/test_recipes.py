"""The recipes of DEVELOPERS.md, followed in a copy of the program with the files they name and no other."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
LARGEST_BYTES = 9000
MOST_FILES = {"A sensor": 3, "An alarm": 4, "A setting": 1, "A command": 4, "A field of the snapshot": 3}

SENSOR = {
    "daemon/halocline/plant/vocabulary.py": [
        ('Channel("tank_fill",', 'Channel("brine_temperature", "°C", -20, 100, needed=False),\n        '),
    ],
    "daemon/halocline/plant/words/names.py": [
        ('"tank_fill": "tank level",', '"brine_temperature": "brine temperature",\n    ')
    ],
    "daemon/halocline/simulation/sea.py": [
        ('"tank_fill": lambda', '"brine_temperature": lambda plant, _ahead_s: plant.temperature_c + 3.0,\n    '),
    ],
}
SENSOR_WORKS = """
import tomllib
from halocline.plant import words
from halocline.rehearsal.scenario import from_document
from halocline.rehearsal.scenario_runner import ScenarioRunner

stage = ScenarioRunner(from_document(tomllib.loads('''
duration = "10s"
[settings.inputs.brine_temperature]
kind = "current_loop"
address = 0x4A
mux = 0
low = -2
high = 50
error = 0.3
'''), "brine.toml"), 1)
stage.live_until(8.0)
seen = {name: stage.core.last.inputs.readings[name] for name in ("brine_temperature", "sea_temperature")}
assert seen["brine_temperature"].quality == "good", seen
assert abs(seen["brine_temperature"].value - seen["sea_temperature"].value - 3.0) < 0.5, seen
assert words.alarm_name("sensor_fault_brine_temperature") == "Sensor fault: brine temperature"
"""

ALARM = {
    "daemon/halocline/plant/alarms.py": [
        (
            'AlarmDefinition("flush_failed"',
            'AlarmDefinition("water_icy", W, HIGH, RUNNING, delay_s=5.0, dead_band=0.5),\n    ',
        ),
    ],
    "daemon/halocline/control/alarm_conditions/water.py": [
        (
            '"water_too_cold": below(',
            '"water_icy": below("sea_temperature", lambda _now: 2.0, ("temperature_c", "limit_c")),\n    ',
        ),
    ],
    "daemon/halocline/plant/words/notice_texts.py": [
        (
            '"water_too_cold": AlarmText(',
            '"water_icy": AlarmText("Ice", "the water is {temperature_c}", "Ice.", "Ice.", "Stop.", "Stop."),\n    ',
        ),
    ],
    "tests/rehearsals": [],
}
ALARM_WORKS = """
from pathlib import Path
from halocline.plant import words
from halocline.rehearsal.scenario import load
from halocline.rehearsal.scenario_runner import rehearse

cold = Path("tests/rehearsals/water_cold.toml").read_text("utf-8")
icy = Path("tests/rehearsals/water_icy.toml")
icy.write_text(cold.replace("value = 2.5", "value = 0.5").replace("water_too_cold", "water_icy"), "utf-8")
result = rehearse(load(icy), 1)
assert result["ok"], result
assert words.alarm_name("water_icy") == "Ice"
"""

SETTING = {
    "daemon/halocline/plant/settings.py": [
        ("water_warm_c: float", 'water_icy_c: float = setting("ice", default=1.0, unit="°C", low=-2, high=4)\n    '),
    ],
}
SETTING_WORKS = """
from pathlib import Path
from halocline.config import ConfigError, load_control, load_example
from halocline.config.reference import reference

demo = Path("daemon/halocline/config/demo.toml").read_text("utf-8")
own = Path("own.toml")
assert load_example().limits.water_icy_c == 1.0
own.write_text(demo.replace("[limits]", "[limits]\\nwater_icy_c = 3"), "utf-8")
assert load_control(own).limits.water_icy_c == 3.0
own.write_text(demo.replace("[limits]", "[limits]\\nwater_icy_c = 9"), "utf-8")
try:
    load_control(own)
except ConfigError as error:
    assert "limits.water_icy_c" in str(error), error
else:
    raise AssertionError("taken")
assert "`water_icy_c`" in reference()
"""

COMMAND = {
    "daemon/halocline/plant/command_definitions.py": [
        (
            '@command("silence"',
            '@command("ring")\nclass Ring(Order):\n    """ring the bell"""\n\n'
            '    times: float | None = argument("how often", default=None, most=8)\n\n\n',
        ),
    ],
    "daemon/halocline/plant/words/names.py": [('"silence": "silence",', '"ring": "ring the bell",\n    ')],
    "daemon/halocline/control/permissives/__init__.py": [('"silence": (),', '"ring": (need_is_positive,),\n    ')],
    "daemon/halocline/control/commands.py": [
        (
            '"silence": self._silence,',
            '"ring": lambda _command, _now, orders: orders.events.append({"kind": "bell"}),\n',
        ),
    ],
}
COMMAND_WORKS = """
import sys
sys.path.insert(0, "tests/control")
from hand_driven_plant import Plant
from halocline.plant import words

plant = Plant()
assert plant.give("ring", times=2.0) == []
assert {"kind": "bell"} in [{"kind": event["kind"]} for event in plant.events]
assert plant.give("ring", times="x") == ["argument_wrong"]
assert words.command_name("ring") == "ring the bell"
"""

FIELD = {
    "daemon/halocline/link/snapshot.py": [("first_out: str | None", "moon: float\n    ")],
    "daemon/halocline/control/hmi/snapshot_builder.py": [
        ('"first_out": at.position.first_out,', '"moon": 0.5,\n        ')
    ],
    "daemon/halocline/report/public_types.py": [("first_out: str | None", "moon: float | None\n    ")],
}
FIELD_WORKS = """
import sys
sys.path.insert(0, "tests/control")
from hand_driven_plant import Plant
from halocline.link.snapshot import completed
from halocline.plant.settings import UnitSettings
from halocline.report.http.schema import document
from halocline.report.public import Frame, snapshot

plant = Plant()
plant.wait(1)
frame = Frame("Cagarra", UnitSettings())
assert snapshot(completed(plant.snapshot()), 0.0, frame)["moon"] == 0.5
assert snapshot(None, None, frame)["moon"] is None
assert "moon" in document()["components"]["schemas"]["PublicSnapshot"]["properties"]
"""

FOLLOWED = {
    "A sensor": (SENSOR, SENSOR_WORKS),
    "An alarm": (ALARM, ALARM_WORKS),
    "A setting": (SETTING, SETTING_WORKS),
    "A command": (COMMAND, COMMAND_WORKS),
    "A field of the snapshot": (FIELD, FIELD_WORKS),
}


def files_of(recipe: str) -> list[str]:
    """What stands at the head of each of its steps."""
    text = DEVELOPERS.split(f"**{recipe}**")[1].split("\n\n")[0]
    return re.findall(r"\b\d\. `([^`]+)`", text)


@pytest.mark.parametrize("recipe", FOLLOWED)
def test_a_recipe_works_with_the_files_it_names(recipe: str, tmp_path: Path) -> None:
    edits, works = FOLLOWED[recipe]
    assert files_of(recipe) == list(edits)
    assert len(edits) <= MOST_FILES[recipe]
    for part in ("daemon", "hw/halocline_hw", "tests/rehearsals", "tests/control"):
        shutil.copytree(ROOT / part, tmp_path / part, ignore=shutil.ignore_patterns("__pycache__"))
    for name, insertions in edits.items():
        for anchor, inserted in insertions:
            path = tmp_path / name
            before, found, after = path.read_text(encoding="utf-8").partition(anchor)
            assert found, f"{name} has no {anchor!r} any more"
            path.write_text(before + inserted + found + after, encoding="utf-8")
    paths = os.pathsep.join([str(tmp_path / "daemon"), str(tmp_path / "hw")])
    ran = subprocess.run(
        [sys.executable, "-c", works],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": paths},
        capture_output=True,
        text=True,
        timeout=100,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr


def test_the_map_can_be_held() -> None:
    assert len(DEVELOPERS.encode()) <= LARGEST_BYTES


def test_every_place_on_the_map_exists() -> None:
    named = {name for name in re.findall(r"[`(]([\w./-]+)[`)]", DEVELOPERS) if "/" in name and name[0] != "/"}
    places = (ROOT, ROOT / "daemon" / "halocline", ROOT / "daemon" / "halocline" / "plant" / "words")
    assert not {name for name in named if not any((place / name).exists() for place in places)}
