"""The lines of `halocline check`: how grave each is, what it is about, what was found, what to do.

Not seen is never good news: a line that could not be looked at says so, and why.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

CheckState = Literal["ok", "warning", "problem", "not_seen"]

CHECK_LABELS: Mapping[CheckState, str] = {
    "ok": "OK",
    "warning": "warning",
    "problem": "problem",
    "not_seen": "not seen",
}


@dataclass(frozen=True, slots=True)
class CheckText:
    """One kind of line. `found` and `do` take the line's values."""

    state: CheckState
    about: str
    found: str
    do: str = ""


FIT: Final = "ok"
LOOK: Final = "warning"
MEND: Final = "problem"
UNSEEN: Final = "not_seen"

REINSTALL = "Put the package's own back: sudo apt install --reinstall, with the package's file."

CHECK_TEXTS: Mapping[str, CheckText] = {
    # the configuration
    "configuration_missing": CheckText(
        MEND,
        "Configuration",
        "There is no configuration at {path} yet.",
        "Put yours there (README, Aboard), name another file with --config, or look at the demonstration boat with"
        " --simulated.",
    ),
    "configuration_problem": CheckText(MEND, "Configuration", "{text}"),
    "configuration_usable": CheckText(FIT, "Configuration", "The configuration can be used."),
    "configuration_of_example": CheckText(
        LOOK,
        "Configuration",
        "Still as the example has it: {tables}. That boat is invented.",
        "Put in what your own plates say (relief_bar, pressure_switch_bar, lowest_rated_part_bar, [membrane]); take"
        " water_permeability_lmh_bar and salt_permeability_lmh out until you have calibrated the membrane.",
    ),
    "configuration_waits": CheckText(
        LOOK,
        "Configuration",
        "Changed since control was started; control still runs with the former settings.",
        "Restart control with the plant at rest.",
    ),
    "version": CheckText(FIT, "Version", "Halocline {version} reads configuration version {configuration}."),
    "version_running": CheckText(
        LOOK,
        "Version",
        "Halocline {version} is installed, and control still runs {running}.",
        "Restart control with the plant at rest.",
    ),
    # sensors at rest
    "wiring_direct": CheckText(
        FIT, "Sensors", "No control is running: looked at the wiring directly, as of a plant at rest without pressure."
    ),
    "wiring_heard": CheckText(FIT, "Sensors", "Looked at by the running control."),
    "wiring_heard_running": CheckText(
        FIT,
        "Sensors",
        "The plant is running: zeros, contacts and exchanged wires are judged at rest only.",
    ),
    "wiring_fits": CheckText(FIT, "Sensors", "Every sensor answers."),
    "wiring_finding": CheckText(MEND, "Sensors", "{text}"),
    "wiring_simulated": CheckText(
        UNSEEN,
        "Sensors",
        "The wiring was not looked at: the control that runs in {place} is a simulated boat's ({boat}), and has no"
        " wire of this plant.",
        "Stop it, or look at that boat with --simulated.",
    ),
    "wiring_real": CheckText(
        UNSEEN,
        "Sensors",
        "The wiring was not looked at: the control that runs in {place} is a real boat's ({boat}).",
        "Leave out --simulated to look at that one.",
    ),
    "wiring_of_another": CheckText(
        UNSEEN,
        "Sensors",
        "The wiring was not looked at: the control that runs in {place} measures by another wiring ({boat}) than this"
        " file's.",
        "Name the file it runs with, or restart it with this one, with the plant at rest.",
    ),
    "wiring_unasked": CheckText(
        UNSEEN, "Sensors", "The wiring was not looked at: {text}.", "Run halocline check on the boat's computer."
    ),
    "wiring_not_looked": CheckText(UNSEEN, "Sensors", "The wiring was not looked at: {text}"),
    "wiring_cannot": CheckText(MEND, "Sensors", "The wiring was not looked at: {text}"),
    "relay_drives": CheckText(FIT, "Time-out relay", "Closed: pumps run."),
    "relay_open": CheckText(
        LOOK,
        "Time-out relay",
        "Control asks for it to be re-armed; until then nothing runs.",
        "Press its button at the plant.",
    ),
    "relay_stopped": CheckText(
        UNSEEN,
        "Time-out relay",
        "It is open while no control beats.",
        "Press its button at the plant once control runs.",
    ),
    "relay_unmeasured": CheckText(
        UNSEEN,
        "Time-out relay",
        "Control beats and asks for nothing; nothing measures at rest whether the relay is closed.",
        "Its lamp at the plant tells.",
    ),
    # pins, bus, supply
    "computer_elsewhere": CheckText(
        UNSEEN,
        "Computer",
        "This one has neither the plant's pins nor its services; pins, bus, supply, clock, watchdogs and services were"
        " not looked at.",
        "Run halocline check on the boat's computer.",
    ),
    "pins_opened": CheckText(FIT, "Pins", "The header's chip is {chip}, and every pin of the plant could be had."),
    "pins_held": CheckText(FIT, "Pins", "The running control holds them."),
    "released_low": CheckText(FIT, "Released pins", "The kernel lets a released pin fall back; that was tried."),
    "released_falls": CheckText(FIT, "Released pins", "The kernel lets a released pin fall back, as it says."),
    "released_stays": CheckText(
        LOOK,
        "Released pins",
        "The kernel keeps a released pin at its last level.",
        "Put dtparam=strict_gpiod into /boot/firmware/config.txt and start the computer again; until then"
        " halocline-safe and the time-out relay alone make up for it.",
    ),
    "released_unknown": CheckText(
        UNSEEN,
        "Released pins",
        "Whether the kernel lets a released pin fall back can be tried only while control is stopped.",
        "Stop control with the plant at rest, then try again.",
    ),
    "bus_fit": CheckText(FIT, "I2C bus", "{path} runs at {khz} kHz."),
    "bus_silent": CheckText(FIT, "I2C bus", "{path} is there; its speed is not told."),
    "bus_fast": CheckText(
        LOOK,
        "I2C bus",
        "{path} runs at {khz} kHz, too fast for a cable.",
        "Put dtparam=i2c_arm_baudrate=100000 into /boot/firmware/config.txt and start the computer again.",
    ),
    "bus_slow": CheckText(
        LOOK,
        "I2C bus",
        "{path} runs at {khz} kHz; the configuration reckons with {reckoned} kHz, so readings come later than it says.",
        "Put plant.adc_bus_khz = {khz} into the configuration, or dtparam=i2c_arm_baudrate=100000 into"
        " /boot/firmware/config.txt and start the computer again.",
    ),
    "bus_missing": CheckText(
        MEND,
        "I2C bus",
        "There is no {path}.",
        "Switch I2C on (dtparam=i2c_arm=on in /boot/firmware/config.txt), or correct the bus in the configuration.",
    ),
    "supply_good": CheckText(FIT, "Computer's supply", "Never too low since the computer was started."),
    "supply_low": CheckText(
        MEND,
        "Computer's supply",
        "Too low at this moment.",
        "Measure 5 V at the computer under load: a thicker or shorter wire, a stronger converter.",
    ),
    "supply_was_low": CheckText(
        LOOK,
        "Computer's supply",
        "Too low at least once since the computer was started.",
        "Measure 5 V at the computer under load: a thicker or shorter wire, a stronger converter.",
    ),
    "supply_unknown": CheckText(UNSEEN, "Computer's supply", "This computer does not tell whether it is too low."),
    # clock and card
    "clock_unset": CheckText(
        LOOK,
        "Clock",
        "Not set: the computer takes it for {date}. The plant is protected; the record is dated later.",
        "Give the computer a time server (the router, a GPS receiver), a clock chip, or the time by hand:"
        " sudo timedatectl set-time.",
    ),
    "clock_alone": CheckText(
        LOOK,
        "Clock",
        "Set, but no time server keeps it right{chip}.",
        "Let the boat's router or a GPS receiver serve the time (systemd-timesyncd).",
    ),
    "clock_kept": CheckText(FIT, "Clock", "Set, and kept right by a time server."),
    "clock_unknown": CheckText(UNSEEN, "Clock", "Set; what keeps it right is not told here."),
    "card_fit": CheckText(FIT, "Card", "{place}: {free} free, {kind}; {wear}."),
    "card_gone": CheckText(
        MEND, "Card", "{place}: cannot be looked at: {text}.", "Look whether the card or the disk is there: findmnt."
    ),
    "card_read_only": CheckText(
        MEND,
        "Card",
        "{place} lies on a card that is read-only ({kind}): nothing is recorded, no start is taken.",
        "Look for the kernel's reason: journalctl -k -p err. Start the computer again; a card that does it twice is"
        " worn: change it.",
    ),
    "card_full": CheckText(
        MEND, "Card", "{place}: {free} free.", "Remove what is not needed, or take a larger card: du -xh / | sort -h."
    ),
    "card_small": CheckText(
        LOOK,
        "Card",
        "{place}: {free} free, and the record may grow by {grows} more.",
        "Make room, or lower record.max_size_mb.",
    ),
    "card_in_memory": CheckText(
        MEND,
        "Card",
        "{place} is kept in memory ({kind}): the record is gone after each start of the computer.",
        "Put it on the card.",
    ),
    "card_foreign": CheckText(
        MEND,
        "Card",
        "{place} lies on {kind}, which a power cut can spoil or which cannot lock files.",
        "Put it on ext4, btrfs, xfs or f2fs.",
    ),
    "card_errors": CheckText(
        LOOK,
        "Card",
        "The file system of {place} has met {count} errors.",
        "Back up (halocline backup), then have it checked at the next start: fsck.mode=force in cmdline.txt.",
    ),
    "card_wearing": CheckText(
        LOOK, "Card", "The card of {place} says that up to {percent} % of its life is used.", "Have a new one ready."
    ),
    "card_worn": CheckText(
        MEND, "Card", "The card of {place} says that its life is over.", "Back up now, and change the card."
    ),
    # permissions
    "rights_fit": CheckText(FIT, "Permissions", "{user} may use pins, bus and folders."),
    "rights_lacking": CheckText(MEND, "Permissions", "{user} may not use {path}.", "{remedy}."),
    "rights_open": CheckText(MEND, "Permissions", "Everybody may write to {path}.", "sudo chmod o-w {path}"),
    "rights_readable": CheckText(MEND, "Permissions", "Everybody may read the PIN in {path}.", "sudo chmod 640 {path}"),
    "rights_hidden": CheckText(
        UNSEEN,
        "Permissions",
        "Devices and owners are hidden from the page's process.",
        "In a terminal: sudo halocline check.",
    ),
    # broker and record
    "broker_unasked": CheckText(
        UNSEEN, "Broker", "Not asked, for its password cannot be read: {text}.", "Put sudo before the command."
    ),
    "broker_off": CheckText(FIT, "Broker", "Not used (mqtt.enabled is false)."),
    "broker_reached": CheckText(FIT, "Broker", "{host} port {port} takes us."),
    "broker_files": CheckText(MEND, "Broker", "{text}.", "{remedy}"),
    "broker_unreachable": CheckText(MEND, "Broker", "{host} port {port}: {text}.", "{remedy}"),
    "broker_refuses": CheckText(MEND, "Broker", "{host} port {port} refuses us: {text}.", "{remedy}"),
    "record_none": CheckText(FIT, "Record", "There is none yet in {folder}; report makes it."),
    "record_sound": CheckText(FIT, "Record", "{path} is sound, {size}."),
    "record_opened": CheckText(
        FIT, "Record", "{path} can be read, {size}; a terminal's halocline check looks at all of it."
    ),
    "record_long": CheckText(
        UNSEEN, "Record", "{path} can be read, {size}; it was too large to look at all of it in {seconds} s."
    ),
    "record_earlier": CheckText(
        LOOK, "Record", "{path} was made by an earlier version.", "Start report; it is brought up to date."
    ),
    "record_later": CheckText(
        MEND,
        "Record",
        "{path} was made by a later version.",
        "Install that version again, or restore the copy made before it: halocline restore.",
    ),
    "record_damaged": CheckText(
        MEND, "Record", "{text}.", "Report keeps it aside and begins anew; what is in it: halocline salvage."
    ),
    "record_aside": CheckText(
        LOOK,
        "Record",
        "Parts of the record were damaged and lie beside it in {folder}: {names}. What they hold may be missing from"
        " it.",
        "What can be saved of a record: halocline salvage NAME. Then move these files away or remove them.",
    ),
    "record_unreadable": CheckText(UNSEEN, "Record", "{text}.", "Run the command as root, or as the folder's owner."),
    "record_stands": CheckText(
        MEND,
        "Record",
        "Nothing has been written to {path} for {age}, though control runs.",
        "Look at the page's Health, and at journalctl -u halocline-report.",
    ),
    # services, package, watchdogs
    "services_none": CheckText(UNSEEN, "Services", "Halocline is not installed as a service here."),
    "services_hidden": CheckText(UNSEEN, "Services", "systemd does not answer here."),
    "service_sound": CheckText(FIT, "Services", "{unit} is enabled and runs."),
    "service_disabled": CheckText(
        LOOK,
        "Services",
        "{unit} will not start with the computer.",
        "sudo systemctl enable {unit}",
    ),
    "service_stopped": CheckText(LOOK, "Services", "{unit} is not running.", "sudo systemctl start {unit}"),
    "service_failing": CheckText(
        MEND, "Services", "{unit} cannot start, and is tried again and again.", "journalctl -u {unit} -n 20"
    ),
    "service_masked": CheckText(MEND, "Services", "{unit} is masked.", "sudo systemctl unmask {unit}"),
    "service_shadowed": CheckText(
        LOOK, "Services", "{unit} is started from {path}, not from the package's unit.", "Remove {path} if it is old."
    ),
    "service_drop_in": CheckText(
        LOOK, "Services", "{unit} is changed by {path}.", "Know why; sudo systemctl revert {unit} takes it back."
    ),
    "service_stale": CheckText(
        LOOK, "Services", "systemd still works with an older {unit}.", "sudo systemctl daemon-reload"
    ),
    "files_sound": CheckText(FIT, "Package", "Its {count} files of the system are as they were installed."),
    "file_changed": CheckText(LOOK, "Package", "{path} is not as it was installed.", REINSTALL),
    "file_missing": CheckText(MEND, "Package", "{path} is gone.", REINSTALL),
    "watchdog_service": CheckText(FIT, "Watchdog", "systemd replaces a control that hangs for {after}."),
    "watchdog_service_off": CheckText(
        MEND, "Watchdog", "systemd does not watch over control.", "Take back what changed it: WatchdogSec=750ms."
    ),
    "watchdog_hardware": CheckText(FIT, "Hardware watchdog", "{name} starts a computer that hangs anew after {after}."),
    "watchdog_hardware_off": CheckText(
        LOOK,
        "Hardware watchdog",
        "The computer has one ({name}), and nothing feeds it: a kernel that hangs stays so.",
        "Put RuntimeWatchdogSec=12 into /etc/systemd/system.conf.d/halocline.conf, below [Manager].",
    ),
    "watchdog_hardware_none": CheckText(
        LOOK,
        "Hardware watchdog",
        "The computer has none: a kernel that hangs stays so.",
        "On a Raspberry Pi: dtparam=watchdog=on in /boot/firmware/config.txt.",
    ),
    "watchdog_hardware_hidden": CheckText(UNSEEN, "Hardware watchdog", "{name}: its state is not told here."),
}
