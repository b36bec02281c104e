"""The services are locked in: report sees no /proc/cpuinfo (`ProcSubset=pid`), a container may see no /sys either.

Nothing may ask, while it is imported, what computer it runs on: a library that did, deep below a helper that report
needed for simulated boats only, kept the service from starting on a real system.
"""

import os
import shutil
import signal
import socket
import subprocess
import sys
import threading

import pytest

HIDE = 'mount -t proc -o subset=pid proc /proc && mount -t tmpfs none /sys && exec "$@"'
DENY = """
import errno, os, sys
def look(event, arguments):
    if event in ("open", "os.listdir", "os.scandir") and isinstance(arguments[0], (str, bytes)):
        path = os.fsdecode(arguments[0])
        if path.startswith(("/proc/cpuinfo", "/proc/device-tree", "/sys/")):
            raise FileNotFoundError(errno.ENOENT, "hidden", path)
sys.addaudithook(look)
"""
EVERYTHING = """
import importlib, pkgutil
import halocline, halocline_hw
for package in (halocline, halocline_hw):
    for module in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
        if module.name not in {"halocline.__main__", "halocline_hw.lgpio_pins"}:
            importlib.import_module(module.name)
print("imported")
"""
"""All but the program itself, and the module that needs the system's GPIO library, which is opened at run time."""
HARDWARE = ("halocline_hw", "gpiozero", "smbus2", "adafruit_ads1x15", "busio", "board", "adafruit_platformdetect")


def rooms():
    """What to put before a command so that it sees neither: the kernel's own means for whoever may use them."""
    ways = [["unshare", "--mount"], ["unshare", "--mount", "--pid", "--fork", "--map-root-user"]]
    for way in ways if shutil.which("unshare") else []:
        prefix = [*way, "sh", "-c", HIDE, "sh"]
        if subprocess.run([*prefix, "true"], capture_output=True, check=False).returncode == 0:
            return prefix
    return []


@pytest.fixture(scope="module")
def hidden(tmp_path_factory):
    """Command and environment of a Python that cannot see what computer it runs on."""
    prefix = rooms()
    environment = dict(os.environ)
    if not prefix:
        folder = tmp_path_factory.mktemp("hiding")
        (folder / "sitecustomize.py").write_text(DENY)
        environment["PYTHONPATH"] = str(folder)
    probe = "import os\ntry: open('/proc/cpuinfo')\nexcept OSError: print('hidden')"
    command = [*prefix, sys.executable]
    assert subprocess.check_output([*command, "-c", probe], env=environment, text=True) == "hidden\n"
    return command, environment


def test_every_module_can_be_imported(hidden):
    command, environment = hidden
    done = subprocess.run([*command, "-c", EVERYTHING], env=environment, capture_output=True, text=True, check=False)
    assert done.stdout == "imported\n", done.stderr[-600:]


def test_nothing_looks_at_the_computer_while_it_is_imported(tmp_path):
    """Also where a library would forgive what it does not find, it has no business to look."""
    script = DENY.replace("raise FileNotFoundError", "looked.append(path); raise FileNotFoundError") + EVERYTHING
    script = "looked = []\n" + script + "print(*looked)\n"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.stdout == "imported\n\n", done.stderr[-600:]


@pytest.mark.parametrize("module", ["report_process", "faults", "status", "orders", "running"])
def test_what_has_no_hardware_carries_no_hardware_library(module):
    script = (
        "import sys; from halocline.cli.main import build_parser; build_parser([sys.argv[1]]);"
        f"print([name for name in {HARDWARE!r} if name in sys.modules])"
    )
    assert subprocess.check_output([sys.executable, "-c", script, module], text=True) == "[]\n"


def test_the_converters_driver_comes_without_its_platform_detection():
    script = (
        "import sys; import halocline_hw; asking = 'busio', 'board', 'adafruit_blinka', 'adafruit_platformdetect';"
        "print([name for name in asking if name in sys.modules])"
    )
    assert subprocess.check_output([sys.executable, "-c", script], text=True) == "[]\n"


@pytest.mark.system
def test_report_serves_its_page_there(hidden, tmp_path):
    command, environment = hidden
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    report = subprocess.Popen(
        [*command, "-m", "halocline", "report", "--simulated", "--data", str(tmp_path / "boat"), "--port", str(port)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**environment, "PYTHONUNBUFFERED": "1"},
        start_new_session=True,
    )
    patience = threading.Timer(60.0, lambda: os.killpg(report.pid, signal.SIGKILL))
    patience.start()
    try:
        said = []
        for line in report.stdout:
            said.append(line)
            if line.startswith("http://"):
                break
        assert said, "it ended without a word"
        assert said[-1].startswith("http://"), said
    finally:
        patience.cancel()
        os.killpg(report.pid, signal.SIGKILL)
        report.wait()
        report.stdout.close()
