import re
import shutil
import subprocess
from pathlib import Path

import pytest

from halocline.app import safe_outputs
from halocline_hw import OutputPin, Wiring, open_board

FOLDER = Path(__file__).parents[2] / "systemd"


@pytest.fixture(scope="module")
def made_safe(tmp_path_factory):
    """The program that needs no Python, built as the package builds it."""
    compiler = shutil.which("gcc") or shutil.which("cc")
    assert compiler, "these tests need a C compiler: apt-get install gcc libc6-dev"
    program = tmp_path_factory.mktemp("bin") / "halocline-safe"
    subprocess.run([compiler, "-Wall", "-Werror", "-o", str(program), str(FOLDER / "halocline-safe.c")], check=True)
    return lambda *arguments: subprocess.run([program, *arguments], capture_output=True, text=True, check=False)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Where control leaves what is needed; its last start did a good tick."""
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path))
    safe_outputs.prove()
    return tmp_path


def test_it_says_what_it_was_not_given(made_safe, folder):
    assert (made_safe().returncode, "usage" in made_safe().stderr) == (2, True)
    missing = made_safe(str(folder), "0")
    assert (missing.returncode, "No such file" in missing.stderr) == (2, True)


@pytest.mark.parametrize("contents", ["", "{device}\n", "{device}\n17\n", "{device}\n17=0\nx=1\n"])
def test_a_file_that_is_not_whole_is_never_called_success(contents, made_safe, folder):
    (folder / safe_outputs.NAME).write_text(contents.format(device="/dev/null"))
    assert made_safe(str(folder), "0").returncode == 2


def test_each_line_that_cannot_be_had_is_named(made_safe, folder):
    """The null device takes no line; that must keep none of the others from being asked for."""
    (folder / safe_outputs.NAME).write_text("/dev/null\n17=0\n27=0\n22=1\n")
    done = made_safe(str(folder), "0")
    assert done.returncode == 1
    assert re.findall(r"line (\d+)", done.stderr) == ["17", "27", "22"]


def test_a_chip_that_has_gone_is_named(made_safe, folder):
    (folder / safe_outputs.NAME).write_text(f"{folder}/gpiochip0\n17=0\n")
    done = made_safe(str(folder), "0")
    assert (done.returncode, "gpiochip0: No such file" in done.stderr) == (1, True)


@pytest.mark.parametrize("contents", [None, "", "/dev/null\n17=0\n"])
def test_what_it_cannot_make_safe_is_left_to_the_command(contents, made_safe, folder):
    if contents is not None:
        (folder / safe_outputs.NAME).write_text(contents)
    assert made_safe(str(folder), "0", "/bin/echo", "safe", "--config").stdout == "safe --config\n"


def test_a_command_that_is_not_there_does_no_harm(made_safe, folder):
    assert made_safe(str(folder), "0", str(folder / "nothing")).returncode == 2


def test_a_start_has_to_prove_itself_each_time(made_safe, folder):
    """The first end follows a good tick, the second one does not: the pause is told, and taken, only then."""
    first, second = made_safe(str(folder), "0"), made_safe(str(folder), "0")
    assert ("waits 0 s" in first.stderr, "waits 0 s" in second.stderr) == (False, True)


def test_it_reads_what_control_leaves(made_safe, folder, monkeypatch):
    """Active-low outputs have their safe level high."""
    monkeypatch.setattr(open_board, "find_header_chip", lambda: 9999)
    wiring = Wiring(
        adc_addresses=(0x48,),
        outputs={"feed_pump": OutputPin(17, True), "flush_valve": OutputPin(23, False, True)},
        contacts={},
        pulses={},
    )
    safe_outputs.leave(open_board.safe_levels(wiring))
    left = folder / safe_outputs.NAME
    assert left.read_text() == "/dev/gpiochip9999\n17=0\n23=1\n"
    assert "gpiochip9999" in made_safe(str(folder), "0").stderr
    left.write_text(left.read_text().replace("gpiochip9999", "null"))
    assert re.findall(r"line (\d+)", made_safe(str(folder), "0").stderr) == ["17", "23"]


def test_by_hand_there_is_nowhere_to_leave_it(monkeypatch, tmp_path):
    monkeypatch.delenv("RUNTIME_DIRECTORY", raising=False)
    monkeypatch.chdir(tmp_path)
    safe_outputs.leave("x")
    assert list(tmp_path.iterdir()) == []
