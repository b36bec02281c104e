"""The story that `make aboard` plays: one boat, from the package's file to water in the tank, and what goes wrong then.

Each part is judged from outside: by what another computer gets over http, and by the times at which the kernel saw
each pin change. Figures go into systemd/README.md, between its two marks. Parts can be named to play them alone; the
first two are always played on a fresh disk unless --as-it-is keeps the guest of the last time.
"""

import argparse
import contextlib
import fcntl
import os
import platform
import re
import sys
import threading
import time
import urllib.request
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from boat import LINES, MOVES_WATER, PAGE, Boat, let_go
from rig import Rig, RigError, default_folder

ROOT = Path(__file__).parents[2]
MARKS = ("<!-- aboard: figures -->", "<!-- aboard: end -->")
QUICK = """[Service]
ExecStart=
ExecStart=/opt/halocline/bin/halocline control --quick --config /etc/halocline/halocline.toml \
--data /var/lib/halocline-control --socket /run/halocline/control.sock --group halocline
"""
OFTEN = r"[sequence]\nmotor_starts = 20\nmotor_starts_window_s = \"60s\""
CRASHES = (("killed", "KILL"), ("frozen", "STOP"))
BRIDGE = "systemd-run -q --unit rig-bridge -p Nice=-5 /opt/rig/bridge.py --quick"
ERRORS = (
    ("pins open to root alone", "chmod 600 /dev/gpiochip0", "open to root alone", "chmod 660 /dev/gpiochip0"),
    (
        "no bus",
        "rmmod rig_i2c",
        "switch I2C on",
        "modprobe rig_i2c; cat /opt/rig/rest.uv >/sys/module/rig_i2c/parameters/uv",
    ),
    ("a bus open to root alone", "chmod 600 /dev/i2c-1", "open to root alone", "chmod 660 /dev/i2c-1"),
    (
        "another computer's pins",
        "rmmod rig_gpio; modprobe rig_gpio label=foreign; udevadm settle",
        "no GPIO chip of a Raspberry Pi's header",
        "rmmod rig_gpio; modprobe rig_gpio label=pinctrl-bcm2711; udevadm settle;"
        " echo 183060 >/sys/module/rig_gpio/parameters/low",
    ),
    (
        "a pin that another program holds",
        "systemd-run -q --unit holder gpioset -m signal gpiochip0 17=0; sleep 1",
        "another program holds it",
        "systemctl stop holder",
    ),
)
AS_CONTROL = "cd /var/lib/halocline-control; runuser -u halocline-control -- halocline check --data ."
CHIP_FAULTS = (
    ("a converter missing", "nack", 1),
    ("a converter that finishes nothing", "hang", 1),
    ("the bus held low", "stuck", 1),
)
CRASH_STATES = ("standby", "diverting", "producing", "flushing")


class Story:
    """Plays the parts and keeps their figures."""

    def __init__(self, package: Path) -> None:
        self.package = package
        self.rig = Rig(default_folder())
        self.boat = Boat(self.rig)
        self.figures: list[tuple[str, str]] = []

    def tell(self, what: str, figure: str) -> None:
        """One figure, on the screen at once."""
        self.figures.append((what, figure))
        print(f"  {what}: {figure}", flush=True)

    def claim(self, true: bool, otherwise: str) -> None:
        """Raises RigError unless it is true."""
        if not true:
            raise RigError(otherwise)

    # ---- the parts ------------------------------------------------------------------------------

    def install(self) -> None:
        """apt install on a fresh computer: the page answers, nothing can move."""
        self.rig.cut()
        self.rig.fresh()
        self.tell("the computer boots", f"{self.rig.start():.0f} s")
        self.rig.put(self.package, "/root/halocline.deb")
        began_s = time.monotonic()
        self.rig.ask("apt-get install -y -q /root/halocline.deb", within_s=300.0)
        self.tell("apt install", f"{time.monotonic() - began_s:.0f} s")
        self.boat.until("the page", lambda now: bool(now["problems"]))
        self.claim(b"<title>" in self.boat.get("/"), "the page has no title")
        self.tell("from apt install to a page that says what is missing", f"{time.monotonic() - began_s:.0f} s")
        self.claim(self.rig.tell("systemctl is-active halocline-control").returncode != 0, "control was started")
        self.claim(not any(edge.high for edge in self.rig.edges() if edge.line in MOVES_WATER), "a pin went high")
        refused = self.rig.tell("halocline check").returncode
        self.claim(refused == 2, f"check without a configuration ended with {refused}")

    def configure(self) -> None:
        """The example as it is, check, enable; in the quick profile from then on."""
        self.rig.ask("install -m640 -g halocline /etc/halocline/example.toml /etc/halocline/halocline.toml")
        said = self.rig.ask("halocline check")
        self.claim("Every sensor answers." in said, said)
        # the story starts the motor more often than a motor likes
        self.rig.ask(f"sed -i 's/^\\[sequence\\]/{OFTEN}/' /etc/halocline/halocline.toml; halocline check")
        self.rig.ask("systemctl enable halocline-control; systemctl restart halocline-control halocline-report")
        self.tell("control from its start to ready", self._started("halocline-control"))
        self.boat.until_state("standby", "tripped")
        self.tell("report from its start to ready", self._started("halocline-report"))
        self.claim(not self.boat.high(), "a pin is high after the start")
        self.rig.ask(
            "mkdir -p /etc/systemd/system/halocline-control.service.d;"
            f"cat >/etc/systemd/system/halocline-control.service.d/quick.conf <<'END'\n{QUICK}END\n"
            "systemctl daemon-reload; systemctl restart halocline-control;" + BRIDGE
        )
        self.boat.until_state("standby", "tripped")

    def errors(self) -> None:
        """What is wrong with a real computer becomes one sentence of `halocline check`, with its remedy."""
        self.rig.ask("systemctl stop halocline-control rig-bridge")
        for what, broken, said, mended in ERRORS:
            self.rig.ask(broken)
            told = self.rig.tell(AS_CONTROL)
            self.claim(said in told.stdout and "Traceback" not in told.stderr, f"{what}: {told.stdout}{told.stderr}")
            self.rig.ask(mended)
        pin = self.rig.tell("halocline pin </dev/null")
        self.claim("| halocline pin" in pin.stderr, pin.stderr)
        self.rig.ask(f"systemctl start halocline-control; {BRIDGE}")
        self.boat.until_state("standby", "tripped")

    def run(self) -> None:
        """Start, overboard, litres in the tank, stop from another computer, flush."""
        self.boat.rearm()
        before, since_s = self.boat.truth(), self.rig.now_s()
        self.boat.start(2.0)
        self.boat.until_state("diverting")
        self.boat.until_state("producing")
        self.boat.until("litres", lambda now: now["run"] is None or now["run"]["litres"] > 0.2, 60.0)
        self.boat.stop()
        self.boat.until_state("flushing")
        self.boat.until_state("standby")
        after = self.boat.truth()
        first = {edge.line: edge.at_s for edge in reversed(self.rig.edges(since_s)) if edge.high}
        pump, tank = first[LINES["high_pressure_pump"]], first[LINES["product_to_tank"]]
        self.claim(first[LINES["feed_pump"]] < pump < tank < first[LINES["flush_valve"]], f"order of the pins: {first}")
        self.claim(after["tank_worst_tds_mg_l"] < 500.0, f"salt in the tank: {after['tank_worst_tds_mg_l']} mg/L")
        self.claim(not self.boat.high(), "a pin is high after the run")
        self.tell("water into the tank in a quick run", f"{after['tank_added_l'] - before['tank_added_l']:.2f} L")
        self.tell("its worst salt", f"{after['tank_worst_tds_mg_l']:.0f} mg/L")

    def watchdog(self) -> None:
        """Control killed and frozen in four states: when it lets go, when it is back."""
        self.rig.ask("echo 0 >/sys/module/rig_gpio/parameters/quiet")  # the heartbeat's edges count here
        for state in CRASH_STATES:
            for word, kill in CRASHES:
                self._crash(state, word, kill)
        self.rig.ask(f"echo {1 << LINES['heartbeat']} >/sys/module/rig_gpio/parameters/quiet")

    def _crash(self, state: str, word: str, kill: str) -> None:
        self.boat.reach(state)
        high = self.boat.high()
        struck_s = float(self.rig.ask(f"cut -d' ' -f1 /proc/uptime; systemctl kill -s {kill} halocline-control"))
        self.boat.until("control to answer", lambda _now: self._beats(struck_s + 0.5) != [], 30.0)
        edges, beats = self.rig.edges(struck_s), self._beats(struck_s)
        back_s = next(beat for before, beat in zip([struck_s, *beats], beats, strict=False) if beat - before > 0.4)
        low_s = let_go(edges, high)
        self.claim(not high or low_s is not None, f"{word} while {state}: pins {sorted(high)} stayed high")
        self.claim(not self.boat.high(), f"{word} while {state}: a pin is high afterwards")
        low = f"pins low after {low_s - struck_s:.1f} s, " if low_s is not None else ""
        self.tell(f"control {word}, plant {state}", f"{low}first good tick after {back_s - struck_s:.1f} s")

    def _beats(self, since_s: float) -> list[float]:
        """The heartbeat's edges: each is the end of a good tick."""
        return [edge.at_s for edge in self.rig.edges(since_s) if edge.line == LINES["heartbeat"] and edge.what == "w"]

    def crowd(self) -> None:
        """The heartbeat's longest gap while report starts, records, and answers 16 clients."""
        self.boat.reach("producing")
        self.rig.ask("echo 0 >/sys/module/rig_gpio/parameters/gap_us; systemctl restart halocline-report")
        self.boat.until_state("producing", "stopping", "flushing", "standby")
        ended = threading.Event()
        served = [0]

        def ask_on() -> None:
            while not ended.is_set():
                with contextlib.suppress(OSError), urllib.request.urlopen(f"{PAGE}/api/v1/now", timeout=10) as answer:
                    answer.read()
                    served[0] += 1

        clients = [threading.Thread(target=ask_on, daemon=True) for _ in range(16)]
        for client in clients:
            client.start()
        time.sleep(15.0)
        ended.set()
        gap_ms = int(self.rig.ask("cat /sys/module/rig_gpio/parameters/gap_us")) / 1000.0
        self.claim(served[0] > 0, "nobody was served")
        self.tell("the heartbeat's longest gap while report starts and serves 16 clients", f"{gap_ms:.0f} ms")
        self.boat.reach("standby")

    def services(self) -> None:
        """Report killed and frozen: the run does not notice, the page comes back by itself."""
        for word, kill in CRASHES:
            self.boat.reach("producing")
            self.rig.ask("echo 0 >/sys/module/rig_gpio/parameters/gap_us")
            began_s = time.monotonic()
            self.rig.ask(f"systemctl kill -s {kill} halocline-report")
            time.sleep(1.0)
            now = self.boat.until("the page", lambda now: now["link"]["control"] == "live", 90.0)
            back_s = time.monotonic() - began_s
            self.claim(now["state"] != "tripped", f"report {word}: {now['sentence']}")
            gap_ms = int(self.rig.ask("cat /sys/module/rig_gpio/parameters/gap_us")) / 1000.0
            self.tell(
                f"report {word} in a run", f"page back after {back_s:.0f} s, longest heartbeat gap {gap_ms:.0f} ms"
            )

    def broker(self) -> None:
        """A subscriber sees the plant."""
        self.rig.ask("sed -i '/^\\[mqtt\\]/,/^$/s/enabled = false/enabled = true/' /etc/halocline/halocline.toml")
        self.rig.ask("halocline check; systemctl restart halocline-report")
        said = self.rig.ask("mosquitto_sub -v -t 'halocline/#' -C 2 -W 60", within_s=90.0)
        self.claim("halocline/" in said, said)

    def converters(self) -> None:
        """A converter missing, hung, reset, and a bus that is stuck, while water is made."""
        for what, knob, value in CHIP_FAULTS:
            self.boat.reach("producing")
            high = self.boat.high()
            turn_knob = f"echo {value} >/sys/module/rig_i2c/parameters/{knob}"
            struck_s = float(self.rig.ask(f"cut -d' ' -f1 /proc/uptime; {turn_knob}"))
            now = self.boat.until_state("tripped", within_s=30.0)
            low_s = let_go(self.rig.edges(struck_s), high)
            self.claim(low_s is not None, f"{what}: pins {sorted(high)} stayed high")
            self.tell(
                f"{what}, water being made", f"pins low after {(low_s or 0) - struck_s:.1f} s: *{now['sentence']}*"
            )
            self.rig.ask(f"echo 0 >/sys/module/rig_i2c/parameters/{knob}")
            time.sleep(2.0)

    def disk(self) -> None:
        """The card full, and freed: the plant does not notice, the page says so, the record goes on."""
        self.boat.reach("standby")
        self.rig.ask("fallocate -l $(df --output=avail -B1 / | tail -1) /full")
        said = self.boat.until("the page to say it", lambda now: "full" in str(now["conditions"]), 180.0)
        self.tell("the card full", f"*{said['conditions'][0]['means']}*")
        self.rig.ask("rm /full")
        self.boat.until("the page to be content", lambda now: "full" not in str(now["conditions"]), 180.0)

    def clock(self) -> None:
        """The clock set back an hour and a year: nothing ends, nothing trips."""
        self.boat.reach("producing")
        pids = self.rig.ask("systemctl show -P MainPID halocline-control halocline-report")
        for back in ("-1 hour", "-1 year"):
            self.rig.ask(f"date -s '{back}'")
            time.sleep(5.0)
            now = self.boat.now()
            self.claim(now["link"]["control"] == "live" and now["state"] != "tripped", f"{back}: {now['sentence']}")
        self.rig.ask("date -s '+1 year'; date -s '+1 hour'")
        self.claim(self.rig.ask("systemctl show -P MainPID halocline-control halocline-report") == pids, "one ended")

    def mistakes(self) -> None:
        """A configuration that cannot be used is tried again slowly, and the page says so."""
        self.rig.ask(
            "cp -p /etc/halocline/halocline.toml /root/good.toml; echo 'nonsense = 1' >/root/bad.toml;"
            "cat /root/bad.toml /root/good.toml >/etc/halocline/halocline.toml; "
            "systemctl restart halocline-control || true"
        )
        before = int(self.rig.ask("systemctl show -P NRestarts halocline-control"))
        time.sleep(30.0)
        tries = int(self.rig.ask("systemctl show -P NRestarts halocline-control")) - before
        self.tell("tries a minute with a configuration that cannot be used", f"{2 * tries}")
        self.claim(0 < tries <= 8, f"{tries} tries in 30 s")
        self.boat.until("the page to say it", lambda now: bool(now["problems"]))
        self.rig.ask(
            "cat /root/good.toml >/etc/halocline/halocline.toml; systemctl restart halocline-control halocline-report"
        )
        self.boat.until_state("standby", "tripped")

    def cost(self) -> None:
        """Memory, processor time and what is written, at rest; how little is exposed."""
        self.boat.reach("standby")
        time.sleep(20.0)
        for service in ("control", "report"):
            unit = f"halocline-{service}"
            pid = self.rig.ask(f"systemctl show -P MainPID {unit}")
            read = f"cat /proc/uptime; cut -d' ' -f14,15 /proc/{pid}/stat; grep ^write_bytes /proc/{pid}/io"
            first = [float(number) for number in re.findall(r"[\d.]+", self.rig.ask(read))]
            time.sleep(60.0)
            last = [float(number) for number in re.findall(r"[\d.]+", self.rig.ask(read))]
            lasted_s = last[0] - first[0]
            share = (last[2] + last[3] - first[2] - first[3]) / 100.0 / lasted_s
            memory = int(re.search(r"Pss:\s+(\d+)", self.rig.ask(f"cat /proc/{pid}/smaps_rollup")).group(1)) / 1024.0
            written = (last[4] - first[4]) / lasted_s * 86400 / 1e6
            self.tell(
                f"{service} at rest",
                f"{memory:.0f} MB (PSS), {100 * share:.0f} % of the core, {written:.0f} MB written a day",
            )
            said = self.rig.ask(f"systemd-analyze security --no-pager {unit}")
            score = float(re.search(r"Overall exposure level for \S+: ([\d.]+)", said).group(1))
            self.tell(f"{service}: exposure while it serves", f"{score} of 10")
            self.claim(score <= {"control": 1.0, "report": 1.5}[service], f"{service} is exposed: {score}")

    def reboot(self) -> None:
        """The computer is started anew in the middle of a run."""
        self.boat.reach("producing")
        self.rig.reboot()
        self._came_up_safe("a restart of the computer in a run", cut=False)

    def power(self) -> None:
        """The power is cut in five states."""
        for state in ("standby", "diverting", "producing", "stopping", "flushing"):
            if state == "stopping":
                self.boat.reach("producing")
                self.boat.stop()
                self.boat.until_state("stopping")
            else:
                self.boat.reach(state)
            self._came_up_safe(f"the power cut, plant {state}", cut=True)

    def _came_up_safe(self, what: str, *, cut: bool) -> None:
        if cut:
            time.sleep(1.0)
            self.rig.cut()
            self.rig.start()
        self.boat.until_state("standby", "tripped")
        up_s = self.rig.now_s()
        self.claim(
            not any(edge.high for edge in self.rig.edges() if edge.line in MOVES_WATER), f"{what}: a pin went high"
        )
        whole = self.rig.ask("sqlite3 -readonly /var/lib/halocline/record.sqlite3 'pragma integrity_check'")
        self.claim(whole == "ok", f"{what}: the record: {whole}")
        self.tell(what, f"at rest, record whole; page live {up_s:.0f} s after the kernel's start")
        self.rig.ask(BRIDGE)

    def remove(self) -> None:
        """Upgrade in a run is refused; at rest it keeps everything; purge keeps the record."""
        self.boat.reach("producing")
        again = "apt-get install -y -q --reinstall /root/halocline.deb"
        refused = self.rig.tell(again, within_s=300.0)
        said = refused.stdout + refused.stderr
        self.claim(refused.returncode != 0 and "the plant is running (producing)" in said, said[-500:])
        self.claim(self.boat.now()["state"] in ("producing", "stopping"), "the run did not go on")
        self.boat.reach("standby")
        runs = self.rig.ask("halocline runs --data /var/lib/halocline | wc -l")
        began_s = time.monotonic()
        self.rig.ask(again, within_s=300.0)
        self.boat.until_state("standby", "tripped")
        self.tell("installing the package again, to a live page", f"{time.monotonic() - began_s:.0f} s")
        self.claim(self.rig.ask("halocline runs --data /var/lib/halocline | wc -l") == runs, "runs were lost")
        self.rig.ask("apt-get purge -y -q halocline", within_s=300.0)
        left = self.rig.ask(
            "find /opt/halocline /etc/halocline /var/lib/halocline-control /var/lib/halocline /run/halocline"
            " /etc/systemd/system -name '*' 2>/dev/null | grep -i halocline || true"
        ).split()
        strange = [path for path in left if not re.match(r"/var/lib/halocline(/record.*|/backups.*)?$", path)]
        self.claim("/var/lib/halocline/record.sqlite3" in left, "the record was purged")
        self.claim(not strange, f"purge left {strange}")

    def _started(self, unit: str) -> str:
        shown = self.rig.ask(
            f"systemctl show -P ExecMainStartTimestampMonotonic -P ActiveEnterTimestampMonotonic {unit}"
        )
        begun, ready = (int(number) / 1e6 for number in shown.split())
        return f"{ready - begun:.1f} s"


PARTS: tuple[Callable[[Story], None], ...] = (
    Story.install,
    Story.configure,
    Story.errors,
    Story.run,
    Story.watchdog,
    Story.crowd,
    Story.services,
    Story.broker,
    Story.converters,
    Story.disk,
    Story.clock,
    Story.mistakes,
    Story.cost,
    Story.reboot,
    Story.power,
    Story.remove,
)


def write_table(figures: list[tuple[str, str]]) -> None:
    """Put the figures between the marks of systemd/README.md."""
    page = ROOT / "systemd" / "README.md"
    text = page.read_text("utf-8")
    before, _, rest = text.partition(MARKS[0])
    _, _, after = rest.partition(MARKS[1])
    busy = os.getloadavg()[0] / (os.cpu_count() or 1)
    head = f"Measured on {datetime.now(UTC):%Y-%m-%d}, {platform.machine()}, host load {busy:.1f} for each core."
    rows = "\n".join(f"| {what} | {figure} |" for what, figure in figures)
    page.write_text(f"{before}{MARKS[0]}\n{head}\n\n| what | figure |\n|---|---|\n{rows}\n{MARKS[1]}{after}", "utf-8")


def main() -> int:
    """Play the parts; exit status 1 at the first that does not come out as it should."""
    parser = argparse.ArgumentParser(description=__doc__)
    names = [part.__name__ for part in PARTS]
    parser.add_argument("parts", nargs="*", choices=[*names, []], metavar="PART", help=", ".join(names))
    parser.add_argument("--package", type=Path, required=True)
    parser.add_argument("--as-it-is", action="store_true", help="go on with the guest of the last time")
    parser.add_argument("--keep", action="store_true", help="leave the guest running")
    arguments = parser.parse_args()
    story = Story(arguments.package)
    lock = (story.rig.folder / "lock").open("w")
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        parser.error("another story is being played on this rig")
    chosen = [part for part in PARTS if not arguments.parts or part.__name__ in arguments.parts]
    if not arguments.as_it_is:
        chosen = [*PARTS[:2], *(part for part in chosen if part not in PARTS[:2])]
    try:
        for part in chosen:
            print(f"{part.__name__}: {(part.__doc__ or '').strip()}", flush=True)
            part(story)
    except (RigError, OSError) as error:
        print(f"aboard: {part.__name__}: {error}", file=sys.stderr)
        return 1
    finally:
        if not arguments.keep:
            story.rig.cut()
    if len(chosen) == len(PARTS):
        write_table(story.figures)
    return 0


if __name__ == "__main__":
    sys.exit(main())
