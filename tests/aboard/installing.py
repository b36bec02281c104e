"""Parts of the story: from the package's file to a running plant, line by line as the handbook says, and away again."""

import re
import shlex
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from boat import AT_REST
from rig import ADDRESS
from telling import BRIDGE, CONFIGURATION, CONTROL, REPORT, ROOT, Story, handbook, handbook_file, inline

QUICK = f"""[Service]
ExecStart=
ExecStart=/opt/halocline/bin/halocline control --quick --config {CONFIGURATION} \
--data /var/lib/halocline-control --socket /run/halocline/control.sock --group halocline
"""
HAND = """#!/bin/sh
# The hand of a person in an editor: the story starts the motor more often than a motor likes.
sed -i 's/^\\[sequence\\]/[sequence]\\nmotor_starts = 20\\nmotor_starts_window_s = "60s"/' "$1"
"""
RECORD = "/var/lib/halocline/record.sqlite3"
PIN = "271828"
LATER = "9.9.9"
LATER_RECORD = {
    "report/schema.py": 'MIGRATIONS = (*MIGRATIONS, "story")\nLISTS = {**LISTS, "runs": (*LISTS["runs"], "story")}\n',
    "report/migrations.py": (
        "@migrations()\ndef story(db: Database) -> None:\n"
        '    """A later version."""\n    db.table("runs").add_column("story", str)\n'
    ),
}
"""What a later version's program has behind the text of this one: one change of the record more."""


def install(story: Story) -> None:
    """apt install on a fresh computer, by the handbook's lines: the page answers, nothing can move."""
    rig, boat = story.rig, story.boat
    apt = handbook("Install")[0]
    rig.cut()
    rig.fresh()
    story.tell("the computer boots", f"{rig.start():.0f} s")
    rig.put(story.package, story.package.name)
    began_s = time.monotonic()
    rig.ask(apt, within_s=300.0)
    story.tell("apt install", f"{time.monotonic() - began_s:.0f} s")
    boat.until("the page", lambda now: bool(now["problems"]))
    story.claim(b"<title>" in boat.get("/"), "the page has no title")
    story.tell("from apt install to a page that says what is missing", f"{time.monotonic() - began_s:.0f} s")
    story.claim(rig.tell(f"systemctl is-active {CONTROL}").returncode != 0, "control was started")
    story.nothing_moved("installing")
    refused = rig.tell("halocline check").returncode
    story.claim(refused == 2, f"check without a configuration ended with {refused}")


def configure(story: Story) -> None:
    """The handbook's other lines: the example, check, enable, start, PIN; in the quick profile from then on."""
    rig, boat = story.rig, story.boat
    _, copy, edit, check, enable, restart, pin = handbook("Install")
    rig.ask(copy)
    said = rig.ask("halocline check")
    story.claim("Every sensor answers." in said, said)
    rig.ask(f"cat >/usr/local/bin/nano <<'END'\n{HAND}END\nchmod +x /usr/local/bin/nano")
    for line in (edit, check, enable, restart):
        rig.ask(line)
    story.at_rest_again()
    story.tell("control from its start to ready", _started(story, CONTROL))
    story.tell("report from its start to ready", _started(story, REPORT))
    story.claim(not boat.high(), "a pin is high after the start")
    said = rig.converse(pin, [("New PIN", PIN), ("Once more", PIN)])
    story.claim("The PIN is set." in said, said)
    _quick(story)


def _quick(story: Story) -> None:
    story.rig.ask(
        f"mkdir -p /etc/systemd/system/{CONTROL}.service.d;"
        f"cat >/etc/systemd/system/{CONTROL}.service.d/quick.conf <<'END'\n{QUICK}END\n"
        f"systemctl daemon-reload; systemctl restart {CONTROL};" + BRIDGE
    )
    story.at_rest_again()


def _started(story: Story, unit: str) -> str:
    shown = story.rig.ask(f"systemctl show -P ExecMainStartTimestampMonotonic -P ActiveEnterTimestampMonotonic {unit}")
    begun, ready = (int(number) / 1e6 for number in shown.split())
    return f"{ready - begun:.1f} s"


def by_hand(story: Story) -> None:
    """Each other line of the handbook does what it says: name, port, https, groups, watchdog, bus, priority."""
    rig = story.rig
    naming = inline("sudo hostnamectl set-hostname")
    rig.ask(f"{naming}; {inline('sudo systemctl restart avahi-daemon')}")
    name = naming.split()[-1]
    story.claim(rig.ask("hostname") == name, "the computer has another name")
    rig.ask("systemctl is-active -q avahi-daemon; grep -q _http._tcp /etc/avahi/services/halocline.service")
    story.until("the name on the network", lambda: ADDRESS in rig.tell(f"avahi-resolve -4 -n {name}.local").stdout)
    asked = f"curl -s --resolve {name}.local:8080:{ADDRESS} http://{name}.local:8080/"
    story.until("the page by its name", lambda: "<title>" in rig.tell(asked).stdout)

    rig.ask("useradd -m sailor; USER=sailor; " + inline("sudo usermod"))
    story.claim("state" in rig.ask("runuser -u sailor -- halocline status --json"), "a sailor may not ask")
    story.claim(rig.tell("useradd stranger; runuser -u stranger -- halocline status").returncode != 0, "a stranger may")

    found = rig.ask(inline("sudo -u halocline-control i2cdetect"))
    story.claim(" 48 49 " in found, found)
    found = rig.ask(inline("chrt -p"))
    story.claim("SCHED_FIFO" in found and found.endswith("50"), found)
    rig.ask(f"{inline('journalctl -u halocline-control')} -n 1 -q | grep -q .")
    found = rig.ask(inline("gpioinfo"))
    story.claim(re.search(r"line +17:.*\[used\]", found) is not None, found)

    # A drop-in as `systemctl edit` would write it, a port below 1024, https with a certificate of one's own.
    make, give = handbook("https, if you want it")
    rig.ask(make)
    rig.ask(give)
    drop_in = handbook_file("[Service]", holding="CAP_NET_BIND_SERVICE") + handbook_file(
        "[Service]", holding="IPAddressAllow"
    )
    edited = re.sub(
        r"^\[http\]$",
        '[http]\nport = 443\ncertificate = "/etc/halocline/page.crt"\nkey = "/etc/halocline/page.key"',
        rig.ask(f"cp -p {CONFIGURATION} /var/tmp/plain.toml; sed '/^\\[http\\]/,/^\\[/{{/^port/d}}' {CONFIGURATION}"),
        flags=re.M,
    )
    rig.ask(
        f"mkdir -p /etc/systemd/system/{REPORT}.service.d; cat >/etc/systemd/system/{REPORT}.service.d/port.conf"
        f" <<'END'\n{drop_in}END\ncat >{CONFIGURATION} <<'END'\n{edited}\nEND\n"
        f"halocline check; systemctl daemon-reload; systemctl restart {REPORT}"
    )
    asked = f"curl -s --cacert /etc/halocline/page.crt --resolve {name}.local:443:127.0.0.1 https://{name}.local/"
    story.until("the page over https", lambda: "<title>" in rig.tell(asked).stdout)
    rig.ask(
        f"cat /var/tmp/plain.toml >{CONFIGURATION}; rm /etc/systemd/system/{REPORT}.service.d/port.conf;"
        f"systemctl daemon-reload; systemctl restart {REPORT}"
    )
    story.at_rest_again()

    # The computer's own watchdog: there is none here, but what is written has to be what systemd takes.
    watchdog = handbook_file("[Manager]", holding="RuntimeWatchdogSec")
    rig.ask(
        "mkdir -p /etc/systemd/system.conf.d;"
        f"cat >/etc/systemd/system.conf.d/halocline.conf <<'END'\n{watchdog}END\nsystemctl daemon-reexec"
    )
    story.claim(rig.ask("systemctl show -P RuntimeWatchdogUSec") == "12s", "systemd did not take the watchdog's time")
    rig.ask(inline("journalctl -b | grep -i watchdog"))
    rig.ask("rm -r /etc/systemd/system.conf.d; systemctl daemon-reexec")


def year(story: Story) -> None:
    """A later version is installed over a record of a year; back again, by the words that the refusal says."""
    rig, boat = story.rig, story.boat
    sys.path.insert(0, str(ROOT / "tests/bench"))
    import made_record  # noqa: PLC0415 - a maker of records, kept with the benchmarks

    back = f"apt-get install -y -q --allow-downgrades ./{story.package.name}"
    boat.reach("standby")
    with tempfile.TemporaryDirectory() as folder:
        made_record.NOW_S = int(time.time()) - 60
        record = Path(folder, "record.sqlite3")
        made_record.make_record(record, 1.0)
        later = _later_package(story.package, Path(folder))
        story.tell("a record of a year", f"{record.stat().st_size / 1e6:.0f} MB")
        rig.ask(f"systemctl stop {REPORT}; rm -f {RECORD}*; {back}", within_s=600.0)
        rig.ask(f"systemctl stop {REPORT}; rm -rf {RECORD}* /var/lib/halocline/backups /var/tmp/away")
        rig.put(record, RECORD)
        rig.put(later, "/var/tmp/later.deb")
    rig.ask(f"chown halocline-report: {RECORD}; chmod 600 {RECORD}; systemctl start {REPORT}")
    story.at_rest_again()
    counted = f"sqlite3 -readonly {RECORD} 'SELECT count(*) FROM rollup_60s'"
    kept = int(rig.ask(counted))

    boat.reach("producing")
    refused = rig.tell("apt-get install -y -q /var/tmp/later.deb", within_s=300.0)
    said = refused.stdout + refused.stderr
    story.claim(refused.returncode != 0 and "the plant is running (producing)" in said, said[-500:])
    story.claim(boat.now()["state"] in ("producing", "stopping"), "the run did not go on")
    boat.reach("standby")
    calibrations, retained = _kept_files(story)
    began_s = time.monotonic()
    rig.ask("apt-get install -y -q /var/tmp/later.deb", within_s=600.0)
    boat.until("the later version", lambda now: now["version"] == LATER and now["link"]["control"] == "live")
    story.tell("upgrade over a record of a year, to a live page", f"{time.monotonic() - began_s:.0f} s")
    story.claim(int(rig.ask(counted)) >= kept, "the record lost rows")
    story.claim(_kept_files(story)[0] == calibrations, "calibrations were lost")
    story.claim(bool(retained), "there was no latch")

    refused = rig.tell(back, within_s=300.0)
    said = refused.stdout + refused.stderr
    story.claim(refused.returncode != 0 and "changed by a later version (story)" in said, said[-800:])
    story.claim("halocline restore COPY" in said, said[-800:])
    boat.until("the later version again", lambda now: now["version"] == LATER and now["link"]["control"] == "live")
    began_s = time.monotonic()
    rig.ask(f"systemctl stop {REPORT}; mkdir /var/tmp/away; mv {RECORD}* /var/tmp/away/")
    rig.ask(back, within_s=600.0)
    copies = rig.ask("ls /var/lib/halocline/backups/*").split()
    story.claim(len(copies) == 1, f"going back made copies that push out the one that is wanted: {copies}")
    rig.ask(f"systemctl stop {REPORT}")
    rig.ask(f"runuser -u halocline-report -- halocline restore {copies[0]} --data /var/lib/halocline", within_s=600.0)
    rig.ask(f"systemctl start {REPORT}; rm -r /var/tmp/away")
    boat.until("the former version", lambda now: now["version"] != LATER and now["link"]["control"] == "live")
    story.tell("back to the version before, with the copy of the record", f"{time.monotonic() - began_s:.0f} s")
    story.claim(int(rig.ask(counted)) >= kept, "the copy lacks rows")


def older(story: Story) -> None:
    """From the package of an earlier commit, with a record of a year in the form of that day, to this one; and back."""
    rig, boat = story.rig, story.boat
    before = rig.folder / "older"
    story.claim((before / "made").exists(), "there is no older package yet: tests/aboard/build-older")
    rig.cut()
    rig.fresh()
    rig.start()
    rig.put(before / "older.deb", "older.deb")
    rig.put(before / "record.sqlite3", "/var/tmp/record.sqlite3")
    rig.put(story.package, story.package.name)
    rig.ask("apt-get install -y -q ./older.deb", within_s=300.0)
    rig.ask(f"install -m640 -g halocline /etc/halocline/example.toml {CONFIGURATION}; echo '# mine' >>{CONFIGURATION}")
    rig.ask(
        f"systemctl stop {REPORT}; rm -f {RECORD}*; install -m600 -o halocline-report -g halocline-report"
        f" /var/tmp/record.sqlite3 {RECORD}; rm /var/tmp/record.sqlite3;"
        f"systemctl enable -q {CONTROL}; systemctl start {CONTROL} {REPORT}"
    )
    story.at_rest_again()
    _quick(story)
    # A value may be given once it was good for ten seconds.
    story.until(
        "a calibration", lambda: rig.tell("halocline calibrate feed_pressure --now 0 --initials AB").returncode == 0
    )
    boat.rearm()
    boat.start(2.0)
    boat.until_state("producing")
    boat.stop()
    boat.until_state("flushing")
    boat.until_state("standby")
    version = boat.now()["version"]
    kept = _of_a_boat(story)

    began_s = time.monotonic()
    rig.ask(f"apt-get install -y -q ./{story.package.name}", within_s=600.0)
    boat.until("this version", lambda now: now["version"] != version and now["link"]["control"] == "live", 180.0)
    story.tell(
        f"upgrade from a package of an earlier commit ({(before / 'made').read_text()[:7]}), to a live page",
        f"{time.monotonic() - began_s:.0f} s",
    )
    _same_boat(story, kept, "the upgrade")
    boat.rearm()
    story.claim(boat.now()["state"] == "standby", boat.now()["sentence"])

    back = "apt-get install -y -q --allow-downgrades ./older.deb"
    refused = rig.tell(back, within_s=300.0)
    said = refused.stdout + refused.stderr
    story.claim(refused.returncode != 0 and "changed by a later version" in said, said[-800:])
    story.claim("halocline restore COPY" in said, said[-800:])
    rig.ask(f"systemctl stop {REPORT}; mkdir /var/tmp/away; mv {RECORD}* /var/tmp/away/")
    copies = rig.ask("ls -t /var/lib/halocline/backups/*").split()
    rig.ask(back, within_s=600.0)
    rig.ask(f"systemctl stop {REPORT}")
    rig.ask(f"runuser -u halocline-report -- halocline restore {copies[0]} --data /var/lib/halocline", within_s=600.0)
    rig.ask(f"systemctl start {REPORT}; rm -r /var/tmp/away")
    boat.until("the older version", lambda now: now["version"] == version and now["link"]["control"] == "live", 180.0)
    _same_boat(story, kept, "the way back")


def _of_a_boat(story: Story) -> tuple[int, str, str, str]:
    """What is this boat's own: rows of its record, configuration, calibrations, the number of its last run."""
    rig = story.rig
    return (
        int(rig.ask(f"sqlite3 -readonly {RECORD} 'SELECT count(*) FROM rollup_60s'")),
        rig.ask(f"cat {CONFIGURATION}"),
        rig.ask("cat /var/lib/halocline-control/calibrations"),
        rig.ask("grep -o '\"run_number\": *[0-9]*' /var/lib/halocline-control/latch"),
    )


def _same_boat(story: Story, kept: tuple[int, str, str, str], what: str) -> None:
    rows, *others = _of_a_boat(story)
    story.claim(rows >= kept[0], f"{what} lost rows: {rows} of {kept[0]}")
    for before, after in zip(kept[1:], others, strict=True):
        story.claim(before == after, f"{what}: {before!r} became {after!r}")


def _kept_files(story: Story) -> tuple[str, str]:
    said = story.rig.ask("cd /var/lib/halocline-control; cat calibrations 2>/dev/null || true; echo =; cat latch")
    calibrations, _, retained = said.partition("=")
    return calibrations, retained


def _later_package(package: Path, folder: Path) -> Path:
    """The same package with a higher number and a record that it has changed once more."""
    tree = folder / "tree"
    subprocess.run(["dpkg-deb", "-R", str(package), str(tree)], check=True)
    (program,) = tree.glob("opt/halocline/lib/python*/site-packages/halocline")
    for name, text in LATER_RECORD.items():
        with (program / name).open("a", encoding="utf-8") as file:
            file.write(f"\n\n{text}")
    version = program / "__init__.py"
    version.write_text(re.sub(r'(__version__ = )".*"', rf'\1"{LATER}"', version.read_text("utf-8")), "utf-8")
    control = tree / "DEBIAN/control"
    control.write_text(re.sub(r"^Version: .*$", f"Version: {LATER}", control.read_text("utf-8"), flags=re.M), "utf-8")
    preinst = tree / "DEBIAN/preinst"
    preinst.write_text(re.sub(r'^known="(.*)"$', r'known="\1 story"', preinst.read_text("utf-8"), flags=re.M), "utf-8")
    later = folder / "later.deb"
    subprocess.run(["dpkg-deb", "-b", "-Zgzip", "-z1", str(tree), str(later)], check=True, stdout=subprocess.DEVNULL)
    return later


def purge(story: Story) -> None:
    """Purge takes all but the record, which goes by the handbook's own words."""
    rig, boat = story.rig, story.boat
    boat.reach("standby")
    runs = rig.ask("halocline runs --data /var/lib/halocline | wc -l")
    began_s = time.monotonic()
    rig.ask(f"apt-get install -y -q --reinstall {shlex.quote(f'./{story.package.name}')}", within_s=300.0)
    story.at_rest_again()
    story.tell("installing the package again, to a live page", f"{time.monotonic() - began_s:.0f} s")
    story.claim(boat.now()["state"] in AT_REST, "it came up otherwise than at rest")
    story.claim(rig.ask("halocline runs --data /var/lib/halocline | wc -l") == runs, "runs were lost")
    rig.ask(f"{inline('sudo apt purge')} -y", within_s=300.0)
    left = rig.ask(
        "find /opt/halocline /etc/halocline /var/lib/halocline-control /var/lib/halocline /run/halocline"
        " /etc/systemd/system -name '*' 2>/dev/null | grep -i halocline || true"
    ).split()
    strange = [path for path in left if not re.match(r"/var/lib/halocline(/record.*|/backups.*)?$", path)]
    story.claim(RECORD in left, "the record was purged")
    story.claim(not strange, f"purge left {strange}")
