"""The process that keeps the plant safe loads nothing that serves, stores or publishes."""

import subprocess
import sys

import pytest

LOAD = """
import sys
from halocline.cli.main import build_parser
build_parser([{module!r}])
print(*[name for name in {unwanted!r} if name in sys.modules])
print(sum(name.partition('.')[0] == 'halocline' for name in sys.modules))
"""
SOFT = (
    "sqlite3",
    "sqlite_utils",
    "fastapi",
    "starlette",
    "uvicorn",
    "paho",
    "pydantic",
    "asyncio",
    "http",
    "ssl",
    "numpy",
)


def loaded(module, unwanted):
    script = LOAD.format(module=module, unwanted=unwanted)
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60)
    return done.stdout.splitlines()


@pytest.mark.parametrize("module", ["control_process", "sea_process"])
def test_control_and_sea_carry_no_network_and_no_database(module):
    found, ours = loaded(module, SOFT)
    assert found == ""
    assert int(ours) > 30


def test_control_carries_neither_report_nor_the_simulated_boat():
    found, _ = loaded(
        "control_process", ("halocline.report", "halocline.simulation", "halocline.rehearsal.scenario_runner")
    )
    assert found == ""


def test_a_quick_question_does_not_load_the_web_server():
    assert loaded("status", ("fastapi", "uvicorn", "numpy"))[0] == ""
    assert loaded("orders", (*SOFT, "halocline.report", "halocline.config"))[0] == ""
