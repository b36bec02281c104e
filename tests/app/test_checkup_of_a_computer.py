"""What `halocline check` makes of a computer: files as the kernel, systemd and dpkg leave them, below another root.

Paths and formats: Linux Documentation/ABI/testing/sysfs-class-watchdog, sysfs-bus-i2c, Documentation/devicetree;
JEDEC eMMC 5.0 for `life_time` and `pre_eol_info`; systemctl(1), timedatectl(1), dpkg(1); the firmware's flag and
`persist_gpio_outputs` as in Raspberry Pi's kernels, from memory.
"""

import hashlib
import os
import re
import stat
import string

import pytest

from halocline.app.checkup import (
    System,
    as_message,
    as_text,
    card_lines,
    computer_lines,
    is_a_boats,
    package_lines,
    released_line,
    service_lines,
)
from halocline.app.checkup.card import Mount, mount_of
from halocline.app.checkup.lines import Line
from halocline.app.checkup.rights import Need, User, hidden, lacking_lines
from halocline.plant.words.check_texts import CHECK_TEXTS

BUS = 1
FLAG = "sys/devices/platform/soc/soc:firmware/get_throttled"
FLAG_OF_A_LATER_MODEL = "sys/devices/platform/soc@107c000000/soc@107c000000:firmware/get_throttled"
SPEED = "sys/class/i2c-dev/i2c-1/device/of_node/clock-frequency"
WATCHDOG = "sys/class/watchdog/watchdog0"


class Computer:
    """A root to write into, and answers to give."""

    def __init__(self, root):
        self.root = root
        self.answers = {}

    def put(self, path, content=""):
        place = self.root / path
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content if isinstance(content, bytes) else content.encode())
        return place

    @property
    def system(self):
        return System(self.root, ask=lambda command: self.answers.get(command[0]))

    def looked(self, *, clock_set=True, reckoned_khz=100.0):
        lines = computer_lines(
            self.system, bus=BUS, reckoned_khz=reckoned_khz, clock_set=clock_set, wall_s=1.5 * 86_400.0
        )
        return {line.id: line for line in lines}


@pytest.fixture
def computer(tmp_path):
    return Computer(tmp_path)


# ---- every line ------------------------------------------------------------------------------------


@pytest.mark.parametrize("identifier", sorted(CHECK_TEXTS))
def test_a_line_says_what_to_do_wherever_something_is_wrong(identifier):
    text = CHECK_TEXTS[identifier]
    fields = {name for part in (text.found, text.do) for _, name, *_ in string.Formatter().parse(part) if name}
    line = Line(identifier, dict.fromkeys(fields, "x"))
    assert not re.search(r"[{}]", line.found + line.do)
    speaks_for_itself = {"configuration_problem", "wiring_finding", "wiring_cannot"}
    if line.state in {"warning", "problem"} and identifier not in speaks_for_itself:
        assert line.do, "a person has to know what to do"
    if line.state == "ok":
        assert not line.do


def test_text_and_message_say_the_same():
    lines = [
        Line("supply_good"),
        Line("bus_missing", {"path": "/dev/i2c-1"}),
        Line("configuration_usable", more=["note: x"]),
    ]
    text = list(as_text(lines, simulated=False))
    assert text[0] == "OK        Computer's supply: Never too low since the computer was started."
    assert text[1].startswith("problem   I2C bus: There is no /dev/i2c-1. Switch I2C on")
    assert text[3:] == ["            note: x", "1 problem."]
    message = as_message(lines, simulated=True, version="1")
    assert (message["problems"], message["warnings"], message["simulated"]) == (1, 0, True)
    assert [line["id"] for line in message["lines"]] == ["supply_good", "bus_missing", "configuration_usable"]
    assert next(as_text(lines, simulated=True)).startswith("SIMULATED")


# ---- supply, clock, bus, watchdog ------------------------------------------------------------------


@pytest.mark.parametrize("place", [FLAG, FLAG_OF_A_LATER_MODEL])
@pytest.mark.parametrize(
    ("flag", "said"),
    [("0", "supply_good"), ("50005", "supply_low"), ("50000", "supply_was_low"), ("x", "supply_unknown")],
)
def test_the_firmwares_flag_is_read_where_a_model_has_it(computer, place, flag, said):
    computer.put(place, f"{flag}\n")
    assert said in computer.looked()


def test_a_computer_that_tells_nothing_is_not_called_good(computer):
    said = computer.looked()
    assert {"supply_unknown", "clock_unknown", "bus_missing", "watchdog_hardware_none"} <= said.keys()
    assert not any(line.state == "ok" for line in said.values())


def test_an_unset_clock_says_what_the_computer_takes_it_for(computer):
    line = computer.looked(clock_set=False)["clock_unset"]
    assert "1970-01-02" in line.found
    assert "timedatectl set-time" in line.do


@pytest.mark.parametrize(
    ("answer", "said"),
    [("NTPSynchronized=yes\n", "clock_kept"), ("NTPSynchronized=no\n", "clock_alone"), (None, "clock_unknown")],
)
def test_a_set_clock_is_judged_by_whether_a_server_keeps_it(computer, answer, said):
    computer.answers["timedatectl"] = answer
    assert said in computer.looked()


def test_a_clock_chip_is_seen(computer):
    computer.answers["timedatectl"] = "NTPSynchronized=no\n"
    assert "no clock chip" in computer.looked()["clock_alone"].found
    computer.put("sys/class/rtc/rtc0/name", "rtc-ds1307")
    assert "no clock chip" not in computer.looked()["clock_alone"].found


@pytest.mark.parametrize(("hz", "said"), [(100_000, "bus_fit"), (400_000, "bus_fast"), (1_000_000, "bus_fast")])
def test_a_bus_too_fast_for_a_cable_is_told_with_the_line_to_write(computer, hz, said):
    computer.put("dev/i2c-1")
    computer.put(SPEED, hz.to_bytes(4, "big"))
    line = computer.looked()[said]
    assert f"{hz // 1000} kHz" in line.found
    assert ("i2c_arm_baudrate=100000" in line.do) == (said == "bus_fast")


@pytest.mark.parametrize(
    ("hz", "reckoned_khz", "said"),
    [
        (50_000, 100.0, "bus_slow"),
        (99_000, 100.0, "bus_fit"),  # what a divider makes of 100 kHz
        (50_000, 50.0, "bus_fit"),
        (100_000, 400.0, "bus_slow"),
        (400_000, 400.0, "bus_fast"),
        (50_000, None, "bus_fit"),
    ],
)
def test_a_bus_slower_than_the_configuration_reckons_with_is_told(computer, hz, reckoned_khz, said):
    """The time from a pressure to a stop was checked for the speed in the configuration."""
    computer.put("dev/i2c-1")
    computer.put(SPEED, hz.to_bytes(4, "big"))
    line = computer.looked(reckoned_khz=reckoned_khz)[said]
    if said == "bus_slow":
        assert f"plant.adc_bus_khz = {hz // 1000}" in line.do
        assert f"{reckoned_khz:.0f} kHz" in line.found


def test_a_bus_whose_speed_is_not_told_is_there_all_the_same(computer):
    computer.put("dev/i2c-1")
    assert "bus_silent" in computer.looked()


@pytest.mark.parametrize(
    ("state", "said"),
    [("active", "watchdog_hardware"), ("inactive", "watchdog_hardware_off"), (None, "watchdog_hardware_hidden")],
)
def test_the_hardware_watchdog_counts_only_when_it_is_fed(computer, state, said):
    computer.put(f"{WATCHDOG}/identity", "Broadcom BCM2835 Watchdog timer\n")
    computer.put(f"{WATCHDOG}/timeout", "12\n")
    if state is not None:
        computer.put(f"{WATCHDOG}/state", f"{state}\n")
    line = computer.looked()[said]
    assert "Broadcom" in line.found
    assert ("12 s" in line.found) == (state == "active")


@pytest.mark.parametrize(
    ("tried", "parameter", "said"),
    [
        (True, None, "released_stays"),
        (False, "Y", "released_low"),  # what was tried counts more than what is said
        (None, "Y", "released_stays"),
        (None, "N", "released_falls"),
        (None, None, "released_unknown"),
    ],
)
def test_what_becomes_of_released_pins(computer, tried, parameter, said):
    if parameter is not None:
        computer.put("sys/module/pinctrl_bcm2835/parameters/persist_gpio_outputs", f"{parameter}\n")
    assert released_line(computer.system, tried).id == said


# ---- the card --------------------------------------------------------------------------------------


def mounted(computer, kind="ext4", options="rw,noatime", device=None):
    number = os.stat(computer.root).st_dev if device is None else device
    at = f"{os.major(number)}:{os.minor(number)}"
    computer.put("proc/self/mountinfo", f"24 1 {at} / / rw,noatime shared:1 - {kind} /dev/root {options}\n")
    return at


def looked_at_card(computer, record_mb=1.0, grows_to_mb=2.0):
    lines = card_lines(computer.system, computer.root, record_mb=record_mb, grows_to_mb=grows_to_mb)
    return {line.id: line for line in lines}


def test_a_sound_card_says_that_it_does_not_tell_its_wear(computer):
    mounted(computer)
    assert "does not tell its wear" in looked_at_card(computer)["card_fit"].found


@pytest.mark.parametrize(
    ("kind", "options", "said"),
    [
        ("ext4", "ro,errors=remount-ro", "card_read_only"),
        ("tmpfs", "rw", "card_in_memory"),
        ("vfat", "rw", "card_foreign"),
        ("nfs4", "rw", "card_foreign"),
    ],
)
def test_a_file_system_that_cannot_keep_a_record_is_a_problem(computer, kind, options, said):
    mounted(computer, kind, options)
    assert looked_at_card(computer)[said].state == "problem"


def test_a_service_that_sees_its_folders_read_only_does_not_take_the_card_for_it(computer):
    at = os.stat(computer.root).st_dev
    number = f"{os.major(at)}:{os.minor(at)}"
    computer.put("proc/self/mountinfo", f"24 1 {number} / / ro,noatime - ext4 /dev/root rw\n")
    assert mount_of(computer.system, at) == Mount(number, "ext4", read_only=False)


def test_room_is_measured_against_what_the_record_may_take(computer):
    mounted(computer)
    assert "card_small" in looked_at_card(computer, grows_to_mb=1e9)


def emmc(computer, life, pre_eol="0x01"):
    at = mounted(computer)
    disk = computer.root / "sys/devices/mmc0/block/mmcblk0"
    computer.put("sys/devices/mmc0/block/mmcblk0/mmcblk0p2/partition", "2")
    computer.put("sys/devices/mmc0/block/mmcblk0/device/life_time", f"{life}\n")
    computer.put("sys/devices/mmc0/block/mmcblk0/device/pre_eol_info", f"{pre_eol}\n")
    link = computer.root / f"sys/dev/block/{at}"
    link.parent.mkdir(parents=True, exist_ok=True)
    link.symlink_to(disk / "mmcblk0p2")


@pytest.mark.parametrize(
    ("life", "pre_eol", "said"),
    [
        ("0x01 0x02", "0x01", "card_fit"),
        ("0x02 0x09", "0x01", "card_wearing"),
        ("0x01 0x01", "0x02", "card_wearing"),
        ("0x0b 0x01", "0x01", "card_worn"),
        ("0x01 0x01", "0x03", "card_worn"),
    ],
)
def test_a_card_that_tells_its_wear_is_believed_at_its_worst(computer, life, pre_eol, said):
    emmc(computer, life, pre_eol)
    found = looked_at_card(computer)
    assert said in found
    if said == "card_fit":
        assert "at most 20 %" in found[said].found


def test_errors_that_the_file_system_has_met_are_told(computer):
    emmc(computer, "0x01 0x01")
    computer.put("sys/fs/ext4/mmcblk0p2/errors_count", "3\n")
    assert "3 errors" in looked_at_card(computer)["card_errors"].found


# ---- rights ----------------------------------------------------------------------------------------

CONTROL = User("halocline-control", 4242, frozenset({4242, 4300}))


@pytest.mark.parametrize(
    ("uid", "gid", "mode", "wanted", "may"),
    [
        (0, 4300, 0o660, 6, True),
        (0, 4300, 0o640, 6, False),
        (0, 0, 0o666, 6, True),
        (0, 0, 0o600, 6, False),
        (4242, 0, 0o066, 6, False),  # an owner has the owner's rights, no others (path_resolution(7))
        (0, 4300, 0o606, 6, False),
    ],
)
def test_rights_are_those_of_the_first_class_that_fits(uid, gid, mode, wanted, may):
    found = os.stat_result((stat.S_IFCHR | mode, 0, 0, 1, uid, gid, 0, 0, 0, 0))
    assert CONTROL.may(found, wanted) is may


def test_who_lacks_what_is_told_with_the_remedy(computer):
    device = computer.put("dev/gpiochip0")
    device.chmod(0o600)
    (line,) = lacking_lines(computer.system, [Need(CONTROL, "/dev/gpiochip0", 6, "gpio")])
    assert line.found == "halocline-control may not use /dev/gpiochip0."
    assert "udevadm trigger" in line.do
    device.chmod(0o666)
    assert not list(lacking_lines(computer.system, [Need(CONTROL, "/dev/gpiochip0", 6, "gpio")]))


def test_devices_that_a_service_hides_are_not_taken_for_missing(computer):
    assert not hidden(computer.system, BUS)
    computer.put("sys/class/i2c-dev/i2c-1/name", "bcm2835")
    assert hidden(computer.system, BUS)
    assert "bus_missing" not in computer.looked()


# ---- services and package --------------------------------------------------------------------------

SOUND = {
    "LoadState": "loaded",
    "ActiveState": "active",
    "SubState": "running",
    "UnitFileState": "enabled",
    "FragmentPath": "/usr/lib/systemd/system/halocline-control.service",
    "DropInPaths": "",
    "NeedDaemonReload": "no",
    "WatchdogUSec": "1.2s",
}


def services(computer, **changes):
    computer.answers["systemctl"] = "".join(f"{key}={value}\n" for key, value in {**SOUND, **changes}.items())
    return [line.id for line in service_lines(computer.system)]


def test_sound_services_are_two_lines_and_the_watchdog(computer):
    assert services(computer) == ["service_sound", "service_sound", "watchdog_service"]


def test_of_a_service_that_does_not_run_systemd_tells_no_watchdog(computer):
    """systemd 252 says infinity then, as the rig in tests/aboard shows; a fresh installation is fit all the same."""
    said = services(computer, ActiveState="inactive", SubState="dead", WatchdogUSec="infinity")
    assert "watchdog_service_off" not in said


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"ActiveState": "inactive", "SubState": "dead"}, "service_stopped"),
        ({"ActiveState": "activating", "SubState": "auto-restart"}, "service_failing"),
        ({"ActiveState": "failed", "SubState": "failed"}, "service_failing"),
        ({"UnitFileState": "disabled"}, "service_disabled"),
        ({"LoadState": "masked"}, "service_masked"),
        ({"FragmentPath": "/etc/systemd/system/halocline-control.service"}, "service_shadowed"),
        ({"DropInPaths": "/etc/systemd/system/halocline-control.service.d/override.conf"}, "service_drop_in"),
        ({"NeedDaemonReload": "yes"}, "service_stale"),
        ({"WatchdogUSec": "0"}, "watchdog_service_off"),
        ({"LoadState": "not-found"}, "services_none"),
    ],
)
def test_what_is_wrong_with_a_service_is_told(computer, changes, said):
    assert said in services(computer, **changes)


def test_a_systemd_that_does_not_answer_is_no_good_news(computer):
    assert [line.id for line in service_lines(computer.system)] == ["services_hidden"]


def test_the_packages_files_are_compared_with_what_was_installed(computer):
    names = ("usr/lib/systemd/system/halocline-control.service", "opt/halocline/bin/halocline-safe")
    for name in names:
        computer.put(name, name)
    sums = "".join(f"{hashlib.md5(name.encode()).hexdigest()}  {name}\n" for name in names)
    computer.put("var/lib/dpkg/info/halocline.md5sums", sums)
    assert [line.id for line in package_lines(computer.system)] == ["files_sound"]
    computer.put(names[0], "[Service]\nWatchdogSec=0\n")
    (computer.root / names[1]).unlink()
    assert {(line.id, line.values["path"]) for line in package_lines(computer.system)} == {
        ("file_changed", f"/{names[0]}"),
        ("file_missing", f"/{names[1]}"),
    }


@pytest.mark.parametrize(
    ("path", "content"),
    [
        ("usr/lib/systemd/system/halocline-control.service", ""),
        ("sys/firmware/devicetree/base/model", "Raspberry Pi 4 Model B Rev 1.4\0"),
    ],
)
def test_a_boats_computer_is_told_from_a_desk(computer, path, content):
    assert not is_a_boats(computer.system)
    computer.put(path, content)
    assert is_a_boats(computer.system)
