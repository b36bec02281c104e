"""Parts of the story: water is made, people look on, and what that costs."""

import contextlib
import json
import re
import threading
import time
import urllib.request

from boat import LINES, PAGE
from telling import CONFIGURATION, CONTROL, GAP_MS, REPORT, Story

CLIENTS = 16
PROGRAMS = 8
EXPOSED = {CONTROL: 1.0, REPORT: 1.5}
LARGEST_MB = {CONTROL: 30.0, REPORT: 60.0}
SAFETY_LIST = (
    "mains_by_electrician relief_valve_set pressure_switch_fitted stop_button_in_reach two_people by_hand_card"
)
FEED_ALONE_S = 30
"""More than the quick profile's wait for air to leave an opened circuit."""


def run(story: Story) -> None:
    """Start, overboard, litres in the tank, stop from another computer, flush."""
    rig, boat = story.rig, story.boat
    boat.rearm()
    before, since_s = boat.truth(), rig.now_s()
    boat.start(2.0)
    boat.until_state("diverting")
    boat.until_state("producing")
    boat.until("litres", lambda now: now["run"] is None or now["run"]["litres"] > 0.2, 60.0)
    boat.stop()
    boat.until_state("flushing")
    boat.until_state("standby")
    after = boat.truth()
    first = {edge.line: edge.at_s for edge in reversed(rig.edges(since_s)) if edge.high}
    pump, tank = first[LINES["high_pressure_pump"]], first[LINES["product_to_tank"]]
    story.claim(first[LINES["feed_pump"]] < pump < tank < first[LINES["flush_valve"]], f"order of the pins: {first}")
    story.claim(after["tank_worst_tds_mg_l"] < 500.0, f"salt in the tank: {after['tank_worst_tds_mg_l']} mg/L")
    story.claim(not boat.high(), "a pin is high after the run")
    story.tell("water into the tank in a quick run", f"{after['tank_added_l'] - before['tank_added_l']:.2f} L")
    story.tell("its worst salt", f"{after['tank_worst_tds_mg_l']:.0f} mg/L")


def commissioning(story: Story) -> None:
    """The commissioning from its safety list to the report to keep, over a restart of control in between."""
    rig, boat = story.rig, story.boat

    def signed(step: str, more: str = "") -> bool:
        return rig.tell(f"halocline log add commissioned --step {step} {more}").returncode == 0

    def sign(step: str, more: str = "") -> None:
        story.until(f"{step} to be signed", lambda: signed(step, more), 60.0)

    def is_refused(step: str) -> None:
        story.claim(not signed(step), f"{step} was signed before anything of it was seen")

    boat.reach("standby")
    begun_s = rig.now_s()
    sign("begun")
    is_refused("safety")
    sign("safety", f"--confirmed {SAFETY_LIST}")
    sign("chain")
    rig.ask(f"systemctl restart {CONTROL}")
    story.at_rest_again()
    boat.rearm()
    told = json.loads(boat.get("/api/v1/commissioning"))
    story.claim(all(step["signed"] for step in told["steps"][:3]), "what was signed is gone after a restart")
    for step in [step["id"] for step in told["steps"] if step["id"].startswith("output_")]:
        is_refused(step)
        rig.ask(f"halocline bench {step.removeprefix('output_')} --seconds 1")
        boat.until_state("standby")
        sign(step)
    sign("zeros")
    is_refused("air")
    rig.ask(f"halocline bench feed_pump --seconds {FEED_ALONE_S}")
    boat.until_state("bench")
    boat.until_state("standby")
    for step in ("low_pressure", "air", "hoses_at_rest"):
        sign(step)
    is_refused("flush")
    rig.ask("halocline flush")
    boat.until_state("flushing")
    boat.until_state("standby")
    sign("flush")
    is_refused("hoses")
    boat.start(20.0)
    boat.until_state("producing")
    for step in ("high_pressure", "hoses", "protections", "first_water"):
        sign(step)
    is_refused("baseline")
    calibrate = "halocline calibrate membrane --initials MB"
    story.until("a steady membrane", lambda: rig.tell(calibrate).returncode == 0, 240.0)
    sign("baseline")
    boat.stop()
    boat.until_state("flushing")
    boat.until_state("standby")
    sign("closed")
    report = boat.get("/api/v1/commissioning?format=html").decode()
    story.claim("Nothing is left open." in report, "the report says that a step is open")
    story.tell("a commissioning, from the safety list to its report", f"{rig.now_s() - begun_s:.0f} s")


def crowd(story: Story) -> None:
    """The heartbeat's longest gap while report starts, records, and answers 16 clients; and beside other programs."""
    rig, boat = story.rig, story.boat
    boat.reach("producing")
    story.gap_ms(anew=True)
    rig.ask(f"systemctl restart {REPORT}")
    boat.until_state("producing", "stopping", "flushing", "standby")
    ended = threading.Event()
    served = [0]

    def ask_on() -> None:
        while not ended.is_set():
            with contextlib.suppress(OSError), urllib.request.urlopen(f"{PAGE}/api/v1/now", timeout=10) as answer:
                answer.read()
                served[0] += 1

    clients = [threading.Thread(target=ask_on, daemon=True) for _ in range(CLIENTS)]
    for client in clients:
        client.start()
    time.sleep(15.0)
    ended.set()
    for client in clients:
        client.join()
    gap_ms = story.gap_ms(anew=True)
    story.claim(served[0] > 0, "no client was served")
    story.tell(f"the heartbeat's longest gap while report starts and serves {CLIENTS} clients", f"{gap_ms:.0f} ms")
    story.claim(gap_ms < GAP_MS, f"the heartbeat paused for {gap_ms:.0f} ms")
    rig.ask(f"for n in $(seq {PROGRAMS}); do timeout 10 sh -c 'while :; do :; done' & done; wait", within_s=120.0)
    gap_ms = story.gap_ms(anew=True)
    story.tell(f"its longest gap beside {PROGRAMS} programs that want all of the processor", f"{gap_ms:.0f} ms")
    story.claim(gap_ms < GAP_MS, f"the heartbeat paused for {gap_ms:.0f} ms")
    boat.reach("standby")


def broker(story: Story) -> None:
    """A subscriber sees the plant."""
    rig = story.rig
    rig.ask(f"sed -i '/^\\[mqtt\\]/,/^$/s/enabled = false/enabled = true/' {CONFIGURATION}")
    rig.ask(f"halocline check; systemctl restart {REPORT}")
    said = rig.ask("mosquitto_sub -v -t 'halocline/#' -C 2 -W 60", within_s=90.0)
    story.claim("halocline/" in said, said)


def cost(story: Story) -> None:
    """Memory, processor time and what is written, at rest and making water; how little is exposed."""
    story.boat.reach("standby")
    time.sleep(20.0)
    _cost_of(story, "at rest", 60.0)
    story.boat.reach("producing")
    _cost_of(story, "making water", 15.0)
    story.boat.reach("standby")


def _cost_of(story: Story, when: str, lasts_s: float) -> None:
    rig = story.rig
    pids = {unit: story.pid(unit) for unit in EXPOSED}
    first = {unit: _used(story, pid) for unit, pid in pids.items()}
    time.sleep(lasts_s)
    for unit, pid in pids.items():
        lasted_s, used_s, written = (
            after - before for before, after in zip(first[unit], _used(story, pid), strict=True)
        )
        memory_mb = int(re.findall(r"Pss:\s+(\d+)", rig.ask(f"cat /proc/{pid}/smaps_rollup"))[0]) / 1024.0
        share = f"{memory_mb:.0f} MB (PSS), {100.0 * used_s / lasted_s:.0f} % of the core"
        day = f", {written / lasted_s * 86400 / 1e6:.0f} MB written a day" if when == "at rest" else ""
        service = unit.removeprefix("halocline-")
        story.tell(f"{service} {when}", share + day)
        story.claim(memory_mb <= LARGEST_MB[unit], f"{service} takes {memory_mb:.0f} MB")
        if when == "at rest":
            said = rig.ask(f"systemd-analyze security --no-pager {unit}")
            score = float(re.findall(r"Overall exposure level for \S+: ([\d.]+)", said)[0])
            story.tell(f"{service}: exposure while it serves", f"{score} of 10")
            story.claim(score <= EXPOSED[unit], f"{service} is exposed: {score}")


def _used(story: Story, pid: str) -> tuple[float, float, float]:
    """The guest's time, the process's time on the processor, bytes it had written."""
    read = f"cut -d' ' -f1 /proc/uptime; cut -d' ' -f14,15 /proc/{pid}/stat; grep ^write_bytes /proc/{pid}/io"
    at_s, user, system, written = (float(number) for number in re.findall(r"[\d.]+", story.rig.ask(read)))
    return at_s, (user + system) / 100.0, written
