"""What README says to type is typed as it stands there, in its order, in a copy that was never run before."""

import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = [pytest.mark.system, pytest.mark.timeout(420)]

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
STARTED = "make run ARGS=--quick"
"""README says itself that this plays the same, with a tenth of the time and water."""

TRIED = README.partition("## Try it without a boat")[2].partition("\n## ")[0]
COMMANDS = README.partition("\n## Commands")[2].partition("\n## ")[0]
TYPED = re.compile(r"^```\n(.*?)^```|`(halocline [a-z][^`]*)`", re.MULTILINE | re.DOTALL)
BLANKS = {"DIR": "copies", "scenario.toml": "tests/rehearsals/run_by_litres.toml"}
"""What a command leaves to the reader, and what this reader writes there."""

NOT_TYPED = ("make run", "halocline run ")
"""What started it all, and the list of all commands."""

SENTENCES = tuple(re.findall(r"\*([A-Z][^*]*?) …\*", TRIED))

SAYS = {
    "status": r"Cagarra, SIMULATED\n(?P<sentence>.+)(\n.*)*  membrane pressure ",
    "start": r"start: accepted\nPuts about 5 L into the tank\..*(\n.*)*\n(?P<sentence>.+)$",
    "wait": r"((?P<sentence>.+)(\n  - .+)*\n?)+$",
    "stop": r"stop: accepted\n(?P<sentence>.+)$",
    "fault": r"simulated fault: accepted\n|(.|\n)*Standing now:\n",
    "acknowledge": r"acknowledge: accepted\n(?P<sentence>Safety stop: .+)$",
    "reset": r"reset: accepted\n(?P<sentence>At rest\. .*flush is owed.*)$",
    "flush": r"flush: accepted\n(?P<sentence>Flush.+)$",
    "plan": r"(.|\n)*L",
    "health": r".+",
    "duties": r"(Due: .+|Nothing is due\.)\n",
    "stores": r"For the next harbour|Nothing has to be bought",
    "log": r"time +what, and who\n(.|\n)*Flush: accepted\.",
    "runs": r".*run\.html",
    "backup": r".*checked, \d+ samples, \d+ events, \d runs",
    "rehearse": r"(.|\n)*",
    "projection": r"The demonstration's plant with a new element",
    "curl -s localhost": r'\{.*"state":\s*"standby".*\}',
    "curl -s -H": r'\{"accepted":\s*true',
}
"""What each command answers; a sentence has to be one that the table of README explains."""


def typed(text):
    """The commands of a section, one after the other."""
    for block, inline in TYPED.findall(text):
        lines = block.splitlines() if block else [" ".join(inline.split())]
        yield from (line for line in lines if line and not line.startswith(NOT_TYPED))


@pytest.fixture(scope="module")
def copy(tmp_path_factory):
    """All files of the repository and what `.ci/setup run` makes of them, in a home where nothing was before."""
    home = tmp_path_factory.mktemp("home")
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    for name in filter(None, listed.split("\0")):
        if (ROOT / name).is_file():
            target = home / "halocline" / name
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, target)
    there = home / "halocline"
    shutil.copytree(ROOT / "web" / "dist", there / "web" / "dist")
    programs = there / ".venv" / "bin"
    programs.mkdir(parents=True)
    program = programs / "halocline"
    paths = f"{there / 'daemon'}:{there / 'hw'}"
    program.write_text(f'#!/bin/sh\nPYTHONPATH={shlex.quote(paths)} exec {sys.executable} -m halocline "$@"\n')
    program.chmod(0o755)
    for made in (there / ".venv" / ".ready-run", there / "web" / "dist" / "index.html"):
        made.touch()
    return there


@pytest.fixture(scope="module")
def in_the_copy(copy):
    kept = {name: value for name, value in os.environ.items() if name not in ("XDG_STATE_HOME", "PYTHONPATH")}
    return {"cwd": copy, "env": {**kept, "HOME": str(copy.parent)}, "text": True}


@pytest.fixture(scope="module")
def first_terminal(in_the_copy):
    """What `make run` prints up to its last line, while it runs."""
    running = subprocess.Popen(
        STARTED.split(), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, start_new_session=True, **in_the_copy
    )
    lines = []
    for line in running.stdout:
        lines.append(line.rstrip("\n"))
        if line.startswith("Ctrl-C here ends everything."):
            break
    yield lines
    os.killpg(running.pid, signal.SIGINT)
    running.wait(20)
    running.stdout.close()


@pytest.fixture(scope="module")
def played(first_terminal, in_the_copy):
    """Each command as it was typed, with its exit status and what it printed."""
    (address,) = [line for line in first_terminal if re.fullmatch(r"http://127\.0\.0\.1:\d+/", line)]
    port = address.rstrip("/").rpartition(":")[2]
    told = []
    for command in [*typed(TRIED), *typed(COMMANDS)]:
        words = command.replace("localhost:8080", f"localhost:{port}")
        for blank, written in BLANKS.items():
            words = re.sub(rf"(?<![\w/]){re.escape(blank)}\b", written, words)
        if words.startswith("halocline "):
            words = f".venv/bin/{words}"
        ran = subprocess.run(["sh", "-c", words], capture_output=True, timeout=120, check=False, **in_the_copy)
        told.append((command, ran.returncode, ran.stdout.strip(), ran.stderr.strip()))
        if ran.returncode:
            break
    return told


def test_the_first_terminal_says_the_address_and_that_nothing_is_real(first_terminal, copy):
    assert f"A new boat. It is kept in {copy.parent}/.local/state/halocline/simulated" in first_terminal[0]
    assert any(re.fullmatch(r"http://127\.0\.0\.1:\d+/", line) for line in first_terminal)
    assert "SIMULATED: no plant is connected; nothing here moves real water." in first_terminal


def unlike(command, status, out, err):
    """Whether a command came to something else than README says."""
    asked = command.removeprefix(".venv/bin/").removeprefix("halocline ")
    says = next((says for beginning, says in SAYS.items() if asked.startswith(beginning)), None)
    found = re.match(says, out) if says and (status, err) == (0, "") else None
    if found is None:
        return True
    sentence = found.groupdict().get("sentence")
    return sentence is not None and not sentence.startswith(SENTENCES)


def test_every_command_does_what_readme_says(played):
    assert [each for each in played if unlike(*each)] == []


def test_all_of_them_were_typed(played):
    commands = [command for command, *_ in played]
    assert commands == [*typed(TRIED), *typed(COMMANDS)]
    assert len(commands) > 25
    assert {".venv/bin/halocline wait producing", "halocline projection"} <= set(commands)
