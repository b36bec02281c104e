"""What control carries: each module costs time at every start, and control has to be back within three seconds."""

import subprocess
import sys

NEVER_USED = ("colorzero", "importlib.metadata", "typing_extensions", "zipfile")


def imported(program):
    """The modules in a fresh interpreter after this program."""
    script = f"{program}\nimport sys\nprint(*sys.modules)"
    return set(
        subprocess.run([sys.executable, "-I", "-c", script], capture_output=True, text=True, check=True).stdout.split()
    )


def test_control_does_not_carry_what_it_never_uses():
    carried = imported("import halocline.cli.control_process")
    assert [module for module in NEVER_USED if module in carried] == []
    assert {"gpiozero", "adafruit_ads1x15.ads1115"} <= carried


def test_what_was_kept_out_is_there_when_it_is_asked_for():
    """A pin factory that the library chooses itself, and a colour, come from the real packages."""
    program = (
        "import halocline_hw, gpiozero.devices as devices, gpiozero.output_devices as outputs\n"
        "assert 'gpiozero_pin_factories' in devices.entry_points().groups\n"
        "assert outputs.Color('red').rgb == (1, 0, 0)"
    )
    assert {"colorzero", "importlib.metadata"} <= imported(program)
