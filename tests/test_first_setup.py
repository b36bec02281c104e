"""The first `make run` without internet says so in one line, and leaves nothing half made."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
NOBODY = "http://127.0.0.1:9"


@pytest.fixture
def copy(tmp_path):
    """A copy as it was fetched, on a computer that reaches nothing."""
    shutil.copytree(ROOT / ".ci", tmp_path / ".ci", ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "Makefile", "README.md"):
        shutil.copy(ROOT / name, tmp_path / name)
    return tmp_path


def test_without_internet_one_line_says_what_is_needed_and_when(copy):
    cut_off = {"PIP_INDEX_URL": NOBODY, "PIP_CONFIG_FILE": os.devnull}
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith("PIP_") and not name.lower().endswith("_proxy")
    }
    ran = subprocess.run(
        [".ci/setup", "run"], cwd=copy, env={**kept, **cut_off}, capture_output=True, text=True, check=False
    )
    assert (ran.returncode, ran.stdout) == (1, "")
    assert ran.stderr.splitlines()[-1] == (
        "setup: Python packages: no answer from the internet. "
        "It is needed once, to set this up; connect, then try again"
    )
    assert len(ran.stderr.splitlines()) <= 3
    assert not (copy / ".venv").exists()
