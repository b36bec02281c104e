"""The reference of all keys is complete and current."""

import re
import subprocess
import sys
from dataclasses import fields

from halocline.config import load_control
from halocline.config.reference import REFERENCE_FILE, reference
from halocline.config.tables import hints
from halocline.config.values import without_none
from halocline.plant.sensors import INPUT_KINDS
from halocline.plant.settings import ReportSettings, Settings
from halocline.plant.vocabulary import CHANNELS


def test_the_reference_is_current() -> None:
    assert REFERENCE_FILE.read_text(encoding="utf-8") == reference(), "run: python -m halocline.config.reference"


def test_every_key_has_a_row() -> None:
    rows = reference().splitlines()
    for owner in (Settings, ReportSettings):
        for table in fields(owner):
            if table.name in {"inputs", "contacts", "outputs"}:
                continue
            for field in fields(without_none(hints(owner)[table.name])):
                assert sum(row.startswith(f"| {table.name} | `{field.name}` |") for row in rows) == 1
    for kind, sensor in INPUT_KINDS.items():
        for field in fields(sensor):
            assert sum(row.startswith(f"| inputs.‹channel› {kind} | `{field.name}` |") for row in rows) == 1


def test_the_file_to_begin_with_is_accepted_as_it_stands(tmp_path) -> None:
    (block,) = re.findall(r"```toml\n(.*?)```", REFERENCE_FILE.read_text(encoding="utf-8"), re.DOTALL)
    own = tmp_path / "own.toml"
    own.write_text(block, encoding="utf-8")
    assert load_control(own).drive.pump == "relay"
    remote = block.replace('pump = "relay"', 'pump = "watch_only"').replace(
        "[outputs.high_pressure_pump]\npin = 27\n", ""
    )
    own.write_text(remote, encoding="utf-8")
    assert load_control(own).drive.pump == "watch_only"


def test_every_unit_kind_and_choice_is_told_in_words() -> None:
    text = reference()
    for channel in CHANNELS.values():
        assert f"- `{channel.id}` in {channel.unit}: " in text
    for kind in INPUT_KINDS:
        assert f"- `{kind}`: " in text
    rows = {row.split(" | ")[1]: row.split(" | ")[-1] for row in text.splitlines() if row.startswith("| drive |")}
    for choice in ("relay", "permissive", "watch_only"):
        assert f"{choice}, " in rows["`pump`"]
    for choice in ("hand_each_run", "left_set"):
        assert f"{choice}, " in rows["`regulator`"]


def test_a_row_says_unit_default_range_and_meaning() -> None:
    assert (
        '| sequence | `quality_hold_s` | duration | "1min" | "1s" to "30min" | good quality without a break |'
        in reference().splitlines()
    )


def test_every_row_has_six_cells() -> None:
    assert {row.count(" | ") for row in reference().splitlines() if row.startswith("| ")} == {5}


def test_loading_a_configuration_imports_nothing_slow() -> None:
    code = (
        "import sys, halocline.config as c; c.load_demo(); "
        "print(sorted({'pydantic', 'sqlite3', 'asyncio', 'http', 'numpy', 'fastapi'} & set(sys.modules)))"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"
