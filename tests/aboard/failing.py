"""Parts of the story: what breaks, from a process to a card, and what the plant and the page make of it."""

import time

from boat import AT_REST, let_go
from rig import RigError
from telling import BRIDGE, CONFIGURATION, CONTROL, GPIO, I2C, PINS_LOW_WITHIN_S, REPORT, ROUNDS, Story, inline

CRASHES = (("killed", "KILL"), ("frozen", "STOP"))
CRASH_STATES = ("standby", "diverting", "producing", "flushing")
REPORT_STATES = ("standby", "producing", "flushing")
BACK_WITHIN_S = 3.0
"""Control's next good tick after it was struck, killed or frozen."""

HOG_S = 5.0
AS_CONTROL = "cd /var/lib/halocline-control; runuser -u halocline-control -- halocline check --data ."
GPIO_AGAIN = f"rmmod rig_gpio; modprobe rig_gpio label=pinctrl-bcm2711; udevadm settle; echo 183060 >{GPIO}/low"
ERRORS = (
    ("pins open to root alone", "chmod 600 /dev/gpiochip0", "open to root alone", "chmod 660 /dev/gpiochip0"),
    ("no bus", "rmmod rig_i2c", "switch I2C on", f"modprobe rig_i2c; cat /opt/rig/rest.uv >{I2C}/uv; udevadm settle"),
    ("a bus open to root alone", "chmod 600 /dev/i2c-1", "open to root alone", "chmod 660 /dev/i2c-1"),
    (
        "another computer's pins",
        "rmmod rig_gpio; modprobe rig_gpio label=foreign; udevadm settle",
        "no GPIO chip of a Raspberry Pi's header",
        GPIO_AGAIN,
    ),
    (
        "a chip that reports no edges",
        f"rmmod rig_gpio; modprobe rig_gpio label=pinctrl-bcm2711 edges=0; udevadm settle; echo 183060 >{GPIO}/low",
        "its chip reports no edges",
        GPIO_AGAIN,
    ),
    (
        "a pin that another program holds",
        "systemd-run -q --unit holder gpioset -m signal gpiochip0 17=0; sleep 1",
        "another program holds it",
        "systemctl stop holder",
    ),
    ("a converter that does not answer", f"echo 2 >{I2C}/nack", "0x49", f"echo 0 >{I2C}/nack"),
    (
        "a clock that is not set",
        "date +%s >/var/tmp/now; date -s 1970-01-02",
        "Not set: the computer takes it for",
        "date -s @$(cat /var/tmp/now)",
    ),
    (
        "a card that is read-only",
        "sync; mount -o bind /var/lib/halocline-control /var/lib/halocline-control;"
        "mount -o remount,bind,ro /var/lib/halocline-control",
        "Read-only file system",
        "umount /var/lib/halocline-control",
    ),
)
"""What is wrong, how it is brought about, what `halocline check` has to say, how it is mended."""

CHIP_FAULTS = (
    ("a converter missing", "nack", 1),
    ("a converter that finishes nothing", "hang", 1),
    ("the bus held low", "stuck", 1),
)
CRASHING = (
    ("that raises an error at its start", 'raise RuntimeError("broken")'),
    ("that raises an error in each tick", "Core.tick = None"),
)


def errors(story: Story) -> None:
    """What is wrong with a real computer becomes one sentence of `halocline check`, with its remedy."""
    rig = story.rig
    rig.ask(f"systemctl stop {CONTROL} rig-bridge")
    try:
        for what, broken, said, mended in ERRORS:
            rig.ask(broken)
            told = rig.tell(AS_CONTROL)
            rig.ask(mended)
            story.claim(said in told.stdout and "Traceback" not in told.stderr, f"{what}: {told.stdout}{told.stderr}")
        pin = rig.tell("halocline pin </dev/null")
        story.claim("| halocline pin" in pin.stderr, pin.stderr)
    finally:
        rig.ask(f"systemctl start {CONTROL}; {BRIDGE}")
        story.at_rest_again()


def watchdog(story: Story) -> None:
    """Control killed and frozen in four states: when it lets go, when it is back."""
    story.keep_beats(True)
    try:
        for state in CRASH_STATES * ROUNDS:
            for word, kill in CRASHES:
                _strike_control(story, state, word, inline(f"sudo systemctl kill -s {kill}"))
        _stopped(story)
    finally:
        story.keep_beats(False)


def _strike_control(story: Story, state: str, word: str, script: str) -> None:
    rig, boat = story.rig, story.boat
    boat.reach(state)
    boot = boat.now()["boot"]
    high = boat.high()
    story.claim(bool(high) is (state != "standby"), f"{state}, but pins {sorted(high)} are high")
    struck_s = story.strike(script)
    after = story.came_back(boot)
    edges, beats = rig.edges(struck_s), story.beats(struck_s)
    back_s = next(beat for before, beat in zip([struck_s, *beats], beats, strict=False) if beat - before > 0.4)
    low_s = let_go(edges, high)
    story.claim(not high or low_s is not None, f"{word} while {state}: pins {sorted(high)} stayed high")
    story.claim(not boat.high(), f"{word} while {state}: a pin is high afterwards")
    story.claim(after["state"] in AT_REST, f"{word} while {state}: control came back {after['state']}")
    low = f"pins low after {low_s - struck_s:.1f} s, " if low_s is not None else ""
    story.tell(f"control {word}, plant {state}", f"{low}first good tick after {back_s - struck_s:.1f} s")
    story.claim(low_s is None or low_s - struck_s <= PINS_LOW_WITHIN_S, f"{word} while {state}: {low}")
    story.claim(back_s - struck_s <= BACK_WITHIN_S, f"{word} while {state}: back after {back_s - struck_s:.1f} s")


def _stopped(story: Story) -> None:
    """In good order, in the middle of a run."""
    rig, boat = story.rig, story.boat
    boat.reach("producing")
    high = boat.high()
    struck_s = story.strike(inline("sudo systemctl stop halocline-control"))
    low_s = let_go(rig.edges(struck_s), high)
    rig.ask(f"systemctl start {CONTROL}")
    if low_s is None:
        raise RigError(f"control was stopped, and pins {sorted(high)} stayed high")
    story.tell("control stopped, plant producing", f"pins low after {low_s - struck_s:.1f} s")
    story.at_rest_again()
    story.claim(not boat.high(), "stopped and started: a pin is high")


def starved(story: Story) -> None:
    """A program of higher priority takes the whole processor: the relay opens, and control comes back at rest."""
    rig, boat = story.rig, story.boat
    boat.reach("producing")
    boot, high = boat.now()["boot"], boat.high()
    story.gap_ms(anew=True)
    struck_s = story.strike(f"chrt -f 70 timeout {HOG_S:.0f} chrt -f 60 sh -c 'while :; do :; done' || true")
    after = story.came_back(boot)
    low_s = let_go(rig.edges(struck_s), high)
    story.claim(low_s is not None, f"starved: pins {sorted(high)} stayed high")
    story.claim(after["state"] in AT_REST and not boat.high(), f"starved: {after['sentence']}")
    # The relay is told by the kernel's times alone: the plant behind the pins is a program, and was starved as well.
    gap_s, low_after_s = story.gap_ms() / 1000.0, (low_s or 0.0) - struck_s
    story.tell(
        f"control starved for {HOG_S:.0f} s by a program of higher real-time priority, water being made",
        f"no heartbeat for {gap_s:.1f} s, so the relay opens after one; pins low after {low_after_s:.1f} s",
    )
    story.claim(gap_s > 1.0, f"it was not starved: the heartbeat paused for {gap_s:.1f} s")
    story.claim(low_after_s <= HOG_S + PINS_LOW_WITHIN_S, f"pins low only after {low_after_s:.1f} s")


def crashing(story: Story) -> None:
    """A control that cannot come up, for whatever reason, is tried again slowly, and the page says so."""
    rig, boat = story.rig, story.boat
    good = f"cp -p {CONFIGURATION} /var/tmp/good.toml; "
    bad = f"echo 'nonsense = 1' | cat - /var/tmp/good.toml >{CONFIGURATION}"
    _tried_slowly(story, "whose configuration cannot be used", good + bad, f"cat /var/tmp/good.toml >{CONFIGURATION}")
    core = rig.ask("ls /opt/halocline/lib/python3*/site-packages/halocline/control/core.py")
    for what, line in CRASHING:
        broken = f"cp -p {core} /var/tmp/core.py; echo '{line}' >>{core}"
        _tried_slowly(story, what, broken, f"cp /var/tmp/core.py {core}")
    boat.reach("standby")


def _tried_slowly(story: Story, what: str, broken: str, mended: str) -> None:
    rig, boat = story.rig, story.boat
    boat.reach("standby")
    tried = f"systemctl show -P NRestarts {CONTROL}"
    try:
        rig.ask(f"{broken}; systemctl restart {CONTROL} || true")
        before = int(rig.ask(tried))
        time.sleep(30.0)
        tries = int(rig.ask(tried)) - before
        boat.until("the page to say it", lambda now: bool(now["problems"]) or now["link"]["control"] != "live")
        story.claim(not boat.high(), f"a control {what}: a pin is high")
    finally:
        rig.ask(f"{mended}; systemctl restart {CONTROL}")
    story.tell(f"tries a minute of a control {what}", f"{2 * tries}")
    story.claim(0 < tries <= 9, f"{tries} tries in 30 s")
    story.at_rest_again()


def services(story: Story) -> None:
    """Report killed and frozen in three states: the plant does not notice, the page comes back by itself."""
    for state in REPORT_STATES * ROUNDS:
        for word, kill in CRASHES:
            _strike_report(story, state, word, kill)


def _strike_report(story: Story, state: str, word: str, kill: str) -> None:
    rig, boat = story.rig, story.boat
    boat.reach(state)
    boot, before = boat.now()["boot"], story.pid(REPORT)
    story.gap_ms(anew=True)
    began_s = time.monotonic()
    rig.ask(f"systemctl kill -s {kill} {REPORT}")
    story.until("another report", lambda: story.pid(REPORT) not in ("0", before), 60.0)
    now = boat.until("the page", lambda now: now["link"]["control"] == "live", 90.0)
    back_s = time.monotonic() - began_s
    story.claim(now["state"] != "tripped" and now["boot"] == boot, f"report {word}: {now['sentence']}")
    story.tell(
        f"report {word}, plant {state}",
        f"page back after {back_s:.0f} s, longest heartbeat gap {story.gap_ms():.0f} ms",
    )


def converters(story: Story) -> None:
    """A converter missing, hung, reset, and a bus that is stuck, while water is made."""
    rig, boat = story.rig, story.boat
    for what, knob, value in CHIP_FAULTS:
        boat.reach("producing")
        high = boat.high()
        struck_s = story.strike(f"echo {value} >{I2C}/{knob}")
        try:
            now = boat.until_state("tripped", within_s=30.0)
            low_s = let_go(rig.edges(struck_s), high)
        finally:
            rig.ask(f"echo 0 >{I2C}/{knob}")
        if low_s is None:
            raise RigError(f"{what}: pins {sorted(high)} stayed high")
        story.tell(f"{what}, water being made", f"pins low after {low_s - struck_s:.1f} s: *{now['sentence']}*")
        story.claim(low_s - struck_s <= PINS_LOW_WITHIN_S, f"{what}: pins low after {low_s - struck_s:.1f} s")
    boat.reach("producing")
    for _ in range(5):
        rig.ask(f"echo 3 >{I2C}/reset; sleep 0.5")
    now = boat.now()
    story.claim(now["state"] == "producing", f"converters reset: {now['sentence']}")
    pressure = now["readings"]["vessel_pressure"]
    story.claim(pressure["quality"] == "good" and pressure["value"] > 40.0, f"converters reset: {pressure}")
    story.tell("both converters reset five times, water being made", "the run goes on, every reading good")


def disk(story: Story) -> None:
    """The card full, and freed: the plant does not notice, the page says so, the record goes on."""
    rig, boat = story.rig, story.boat
    boat.reach("producing")
    rig.ask("fallocate -l $(df --output=avail -B1 / | tail -1) /full")
    try:
        said = boat.until("the page to say it", lambda now: "full" in str(now["conditions"]), 180.0)
        story.claim(said["state"] != "tripped", f"the card full: {said['sentence']}")
        story.tell("the card full", f"*{said['conditions'][0]['means']}*")
    finally:
        rig.ask("rm /full")
    boat.until("the page to be content", lambda now: "full" not in str(now["conditions"]), 180.0)
    boat.reach("standby")


def read_only(story: Story) -> None:
    """The card fails and turns read-only: the plant is kept, no run starts, the page says so; a restart mends it."""
    rig, boat = story.rig, story.boat
    boat.reach("standby")
    # What the file system does by itself once the card gives an error (errors=remount-ro). Remounting by hand is not
    # the same: what overwrites a file would go on without an error.
    rig.ask("sync; echo story >/sys/fs/ext4/ubda/trigger_fs_error; ! touch /here 2>/dev/null")
    said = boat.until("the page to say it", lambda now: "record_unavailable" in str(now["conditions"]), 180.0)
    refused = rig.tell(boat.starting(1.0))
    story.claim(refused.returncode == 1, f"a start with a card that is read-only: {refused.stdout}{refused.stderr}")
    story.claim(boat.now()["link"]["control"] == "live", "control is gone")
    sentence = (refused.stdout + refused.stderr).strip().splitlines()[-1].strip(" -")
    story.tell("the card read-only", f"*{said['conditions'][0]['means']}* A start is refused: *{sentence}*")
    rig.cut()
    rig.start()
    story.at_rest_again()
    story.claim(not boat.now()["conditions"], f"after a restart: {boat.now()['conditions']}")
    rig.ask(BRIDGE)


def clock(story: Story) -> None:
    """The clock set back an hour and a year, and to 1970: nothing ends, nothing trips."""
    rig, boat = story.rig, story.boat
    boat.reach("producing")
    running = [story.pid(unit) for unit in (CONTROL, REPORT)]
    before_s, began_s = float(rig.ask("date +%s.%N")), rig.now_s()
    for back in ("-1 hour", "-1 year", "1970-01-02"):
        rig.ask(f"date -s '{back}'")
        time.sleep(5.0)
        now = boat.now()
        story.claim(now["link"]["control"] == "live" and now["state"] != "tripped", f"{back}: {now['sentence']}")
    rig.ask(f"date -s @{before_s + rig.now_s() - began_s:.0f}")
    story.claim([story.pid(unit) for unit in (CONTROL, REPORT)] == running, "a process ended")
    story.tell("the clock set back an hour, a year and to 1970 in a run", "nothing ends, nothing trips")
    boat.reach("standby")
