import re
import shutil
import subprocess
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from halocline.plant.vocabulary import State
from halocline.report.database_open import connect_to_write
from halocline.report.schema import MIGRATIONS

FOLDER = Path(__file__).parents[2] / "systemd"
DEBIAN = FOLDER / "debian"
LEFT_OUT = {"adafruit-blinka", "adafruit-circuitpython-typing", "pip", "setuptools"}
"""What installs packages, and the platform layer that `halocline_hw.driver` does without."""


def plain(name):
    return re.sub(r"[-_.]+", "-", name).lower()


def needed(name, known):
    """Everything that a distribution wants at run time, without extras."""
    for requirement in map(Requirement, metadata.distribution(name).requires or ()):
        wanted = plain(requirement.name)
        if wanted in LEFT_OUT | known or (requirement.marker and not requirement.marker.evaluate({"extra": ""})):
            continue
        known.add(wanted)
        needed(wanted, known)
    return known


def test_the_package_carries_exactly_what_is_needed_at_run_time():
    lines = (DEBIAN / "python-packages.txt").read_text("utf-8").splitlines()
    assert [line for line in lines if not line.startswith("#")] == sorted(needed("halocline", set()))


def script(name):
    return (DEBIAN / f"halocline.{name}").read_text("utf-8")


@pytest.mark.parametrize("name", ["preinst", "postinst", "prerm", "postrm"])
def test_the_shell_understands_the_maintainer_script(name, tmp_path):
    subprocess.run(["sh", "-n", str(DEBIAN / f"halocline.{name}")], check=True)
    assert script(name).splitlines()[:1] == ["#!/bin/sh"]
    assert "\nset -e\n" in script(name)
    assert script(name).rstrip().endswith("#DEBHELPER#")


def test_the_states_at_rest_are_states():
    named = re.search(r"grep -v -x -E '(.*)'", script("prerm")).group(1).split("|")
    assert set(named) == {State.STANDBY, State.TRIPPED, State.LAID_UP}


def later(record, known, tmp_path):
    """What the preinst's own program says of a record."""
    program = re.search(r"<<'END'\n(.*?)\nEND", script("preinst"), re.DOTALL).group(1)
    done = subprocess.run(
        [shutil.which("python3") or "python3", "-", str(record), *known],
        input=program, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return done.stdout.split()


def test_a_record_changed_by_a_later_version_is_found_before_anything_is_unpacked(tmp_path):
    record = tmp_path / "record.sqlite3"
    connect_to_write(record).close()
    assert later(record, MIGRATIONS, tmp_path) == []
    assert later(record, MIGRATIONS[:-1], tmp_path) == [MIGRATIONS[-1]]


def test_a_file_that_is_no_record_keeps_nobody_from_installing(tmp_path):
    record = tmp_path / "record.sqlite3"
    record.write_bytes(b"")
    assert later(record, MIGRATIONS, tmp_path) == []
