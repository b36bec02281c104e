import subprocess
import sys

PLATFORM = (
    "adafruit_blinka",
    "adafruit_platformdetect",
    "board",
    "busio",
    "circuitpython_typing",
    "micropython",
    "sysv_ipc",
)
NOT_INSTALLED = f"""
import sys
class NotInstalled:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {PLATFORM!r}:
            raise ModuleNotFoundError(name)
sys.meta_path.insert(0, NotInstalled())
"""


def run(script):
    return subprocess.run([sys.executable, "-c", NOT_INSTALLED + script], capture_output=True, text=True, check=False)


def test_the_converters_are_driven_with_none_of_the_platforms_packages_installed():
    done = run("from halocline_hw.ads1115 import Converters; import halocline_hw; print('driven')")
    assert done.stdout == "driven\n", done.stderr[-600:]


def test_nothing_stands_in_for_anything_once_the_driver_is_there():
    done = run(f"import halocline_hw.driver, sys; print([name for name in {PLATFORM!r} if name in sys.modules])")
    assert done.stdout == "[]\n", done.stderr[-600:]
