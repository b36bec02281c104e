"""Parts of the story: the computer starts anew, in good order or because its power was cut."""

import time

from telling import BRIDGE, CONTROL, REPORT, ROUNDS, Story

CUT_STATES = ("standby", "priming", "pressurising", "diverting", "producing", "stopping", "flushing")
RUNNING = frozenset(CUT_STATES) - {"standby", "flushing"}
"""States of a run: what is left of it has to be looked at by a person before the next one."""

CARD = "/mnt/card"
LOST_S = 5.0


def reboot(story: Story) -> None:
    """The computer is started anew in the middle of a run."""
    story.boat.reach("producing")
    story.rig.reboot()
    _came_up_safe(story, "a restart of the computer in a run")


def power(story: Story) -> None:
    """The power is cut at rest and in six states of a run."""
    for state in CUT_STATES * ROUNDS:
        _reach(story, state)
        story.rig.cut()
        story.rig.start()
        _came_up_safe(story, f"the power cut, plant {state}", cut_off=state in RUNNING)


def _reach(story: Story, state: str) -> None:
    boat = story.boat
    if state != "stopping":
        boat.reach(state)
        return
    boat.reach("producing")
    boat.stop()
    boat.until_state("stopping")


def _came_up_safe(story: Story, what: str, *, cut_off: bool = False) -> None:
    rig = story.rig
    story.at_rest_again()
    up_s = rig.now_s()
    story.nothing_moved(what)
    whole = rig.ask("sqlite3 -readonly /var/lib/halocline/record.sqlite3 'pragma integrity_check'")
    story.claim(whole == "ok", f"{what}: the record: {whole}")
    rig.ask(BRIDGE)
    if cut_off:
        refused = rig.tell(story.boat.starting(1.0))
        story.claim(refused.returncode == 1, f"{what}: a start without a look: {refused.stdout}{refused.stderr}")
    story.tell(what, f"at rest, record whole; page live {up_s:.0f} s after the kernel's start")


def forgetful_card(story: Story) -> None:
    """Power cut with a card that said of its last seconds' writes that they are safe, and had dropped them all."""
    rig, boat = story.rig, story.boat
    boat.reach("standby")
    # A disk of its own for what both services keep. The mapping is one to one, so that the next start needs none.
    rig.ask(
        f"systemctl stop {CONTROL} {REPORT} rig-bridge || true; modprobe dm-flakey;"
        f"echo 0 $(blockdev --getsz /dev/ubdb) linear /dev/ubdb 0 | dmsetup create card; mkdir -p {CARD};"
        f"mount /dev/mapper/card {CARD}; cp -a /var/lib/halocline /var/lib/halocline-control {CARD}/;"
        f"for one in halocline halocline-control; do mount -o bind {CARD}/$one /var/lib/$one;"
        f' printf "%s\\n" "{CARD}/$one /var/lib/$one none bind 0 0"; done >/var/tmp/binds;'
        f"(echo '/dev/ubdb {CARD} ext4 defaults 0 2'; cat /var/tmp/binds) >>/etc/fstab;"
        f"systemctl daemon-reload; systemctl start {CONTROL} {REPORT}; {BRIDGE}"
    )
    boat.reach("producing")
    time.sleep(3.0)
    rows = "sqlite3 -readonly /var/lib/halocline/record.sqlite3 'select count(*) from events'"
    rig.ask(
        "echo 0 $(blockdev --getsz /dev/ubdb) flakey /dev/ubdb 0 0 3600 1 drop_writes | dmsetup reload card;"
        "dmsetup suspend --nolockfs --noflush card; dmsetup resume card"
    )
    boat.stop()
    boat.until_state("flushing")
    time.sleep(LOST_S)
    told = rig.ask(rows)
    rig.cut()
    rig.start()
    story.claim("/dev/ubdb" in rig.ask(f"findmnt -n -o SOURCE {CARD}"), "the card was not mounted")
    _came_up_safe(story, "the power cut with all writes since the stop dropped by the card", cut_off=True)
    story.claim(int(rig.ask(rows)) <= int(told), "the card dropped nothing")
    rig.ask(
        f"systemctl stop {CONTROL} {REPORT}; umount /var/lib/halocline /var/lib/halocline-control;"
        f"sed -i '\\|{CARD}|d' /etc/fstab; cp -a {CARD}/halocline {CARD}/halocline-control /var/lib/; umount {CARD};"
        f"systemctl daemon-reload; systemctl start {CONTROL} {REPORT}"
    )
    story.at_rest_again()
