"""What report itself has to say to people: about the link, the PIN and the record. The plant's words stand in
`plant.words`."""

CONTROL_NEVER = "The control process has not been heard yet. It may still be starting."
CONTROL_DOWN = (
    "Nothing heard from the control process for {age}: it does not run. What the plant does now is not known here: "
    "look at the plant itself. Without its control process the time-out relay switches the pumps and valves off."
)
CONTROL_DOWN_DO = (
    "If this stays, look whether it runs (systemctl status halocline-control, or the terminal that runs halocline) "
    "and what `halocline check` says."
)
CONTROL_STARTING = "The control process is there but has not said anything yet. It may still be starting."
CONTROL_SILENT = (
    "The control process is there but has said nothing for {age}: it hangs. What the plant does now is not known "
    "here: look at the plant itself. Without its heartbeat the time-out relay switches the pumps and valves off."
)
CONTROL_SILENT_DO = "If this stays, start it anew: sudo systemctl restart halocline-control"
CONTROL_CONFIGURATION = (
    "The plant's settings cannot be used, so the control process does not start, and without it the time-out relay "
    "keeps the pumps and valves off."
)
CONFIGURATION_NEXT = (
    "The configuration file has been changed and cannot be used as it is. Control goes on with the settings it has "
    "read, but would not start again."
)
CONFIGURATION_FILE = "the configuration file"
CONFIGURATION_DO = "Mend {file} until `halocline check` finds nothing in it. Control tries again by itself."
CERTIFICATE_REFUSED = (
    "The certificate for https cannot be used, so the page is served over plain http, and no PIN is taken: it would "
    "cross the network for everybody to read. Stop and Silence work."
)
CERTIFICATE_REFUSED_DO = (
    "Mend what {file} names for it, then start the page anew: sudo systemctl restart halocline-report"
)
CERTIFICATE_WARNED = "The certificate for https needs attention."
CERTIFICATE_WARNED_DO = "See what {file} names for it; the page works meanwhile."
CONTROL_CANNOT_START = "The control process cannot start: {said}"
CONTROL_CANNOT_START_DO = (
    "Mend this; control tries again by itself. Without it the time-out relay keeps the pumps and valves off."
)
REPORT_CONFIGURATION = (
    "The settings of page, record and broker cannot be used, so their defaults serve. The plant is not affected."
)
REPORT_CONFIGURATION_DO = (
    "Mend {file} until `halocline check` finds nothing in it, then start the page anew: "
    "sudo systemctl restart halocline-report"
)
COMMAND_NO_LINK = (
    "The control process cannot be reached, so nothing was done. Stop the pump by hand if it runs, then look "
    "whether halocline-control is running."
)
NO_HEADER = "The header X-Halocline: 1 is missing. It keeps other web pages from giving commands."
WRONG_ORIGIN = "The command comes from another web page ({origin}). Give it from the plant's own page."
WRONG_HOST = (
    "This name ({host}) is not one the page is known by. Use the address printed at the start, or add the name to "
    "allowed_hosts in the table [http]."
)
NO_PIN = (
    "No PIN is set, so only Stop and Silence work from here. Set one of at least six digits on the boat's computer: "
    "halocline pin"
)
NO_SESSION = "Enter the PIN first. Stop and Silence work without it."
READ_NEEDS_SESSION = "Enter the PIN to see the plant. Stop and Silence work without it."
PIN_NOT_OVER_HTTP = (
    "https is configured but cannot be served, so no PIN is taken over plain http. Mend the certificate or take it out "
    "of the table [http]. Stop and Silence work without it."
)
PIN_AGAIN = "Enter the PIN once more for this command."
PIN_WRONG = "That is not the PIN."
PIN_WAIT = "Too many wrong PINs. Try again in {seconds:.0f} s. Stop and Silence work meanwhile."
TOO_MANY_COMMANDS = "Too many commands at once. Wait a second and try again."
TOO_MANY_STREAMS = "Too many live pages are open from this address. Close some and reload."
BODY_TOO_LARGE = "The request is too large: at most 64 kB."
BODY_TOO_SLOW = "The request did not arrive within 10 s."
RECORD_UNREADABLE = "The record cannot be read now; the plant and the live page are not affected. {problem}"
RECORD_FAILING = "Nothing is being recorded: {problem}. The plant is not affected."
RECORD_REMEDIES = {
    "full": "Make room on the card.",
    "read_only": "Let it be written again; a card that became read-only by itself is failing: replace it.",
    "in_use": "End that program.",
    "later": "Install that version again, or move the record out of its folder: a new one is begun then.",
    "damaged": (
        "It cannot be moved out of the way, or each new one is damaged at once: the card is failing. Replace it."
    ),
    "program": "The log says more: journalctl -u halocline-report",
    "other": "See to the disk and its folder; a card that gives errors is failing: replace it.",
}
"""By what the trouble is. Damage is told as such only where beginning anew did not help."""
RECORD_KEPT_MEANWHILE = "Control keeps the last hour; what is older by the time this is mended is lost."
RECORD_BEHIND = "The card is slower than the plant. What the record has not got yet is fetched from control."
RECORD_BEHIND_DO = "If this stays for an hour, rows are lost: the card may be failing."
RECORD_LOST = "{count} rows or events are missing from the record."
RECORD_LOST_DO = "`halocline runs --holes` says where."
RECORD_ALTERED = "{count} rows of the record say something else than was written: the card has changed them."
RECORD_ALTERED_DO = (
    "`halocline runs --holes` says where; `halocline salvage` leaves them out. The card may be failing: make a backup."
)
RECORD_DAMAGED = "The record was damaged. It was set aside as {aside} and a new one was begun."
RECORD_DAMAGED_DO = "What can be saved of it: halocline salvage {aside}"
RECORD_ASIDE = "Parts of the record were damaged and lie beside it: {names}. What they hold may be missing from it."
RECORD_ASIDE_DO = (
    "What can be saved of a record: halocline salvage NAME. This is told until these files are moved away or removed."
)
RECORD_MENDED = (
    "The end of the record's journal was damaged, {commits} commits of it. It was mended, and the whole record was "
    "read and found whole."
)
RECORD_CUT = (
    "The end of the record's journal was damaged: {commits} commits could not be read, minutes of rows and events at "
    "most. `halocline runs --holes` says where."
)
RECORD_MENDED_DO = "The journal as it was is beside the record: {kept}. The card may be failing: make a backup."
RECORD_MENDED_NO_ROOM_DO = "The card may be failing: make a backup."
RECORD_UPGRADED = "The record was made by an earlier version and was brought up to date. Every number in it stayed."
RECORD_UPGRADED_DO = "A copy of before is beside it: {copy}. Delete that once the record looks right."
RECORD_UPGRADED_NO_ROOM_DO = "There was no room on the card for a copy of before."
RECORD_GAVE_UP = "The disk was full, so the oldest second-by-second rows were given up; their minutes are kept."
RECORD_GAVE_UP_DO = "Make room on it."
REACHED = (
    "Any device on the boat's network can open the page. The number works on every phone but may change with the "
    "router; the name stays, but some phones do not know names that end in .local."
)
REACHED_FROM_HERE_ONLY = (
    "No other device can reach the page now: this computer is on no network, or `host` in the table [http] names "
    "this computer only."
)
NOT_SIMULATED = "This is no simulated boat: nothing can be broken by command here. Use `halocline run --simulated`."
NO_SIMULATED_BOAT = "The simulated boat does not answer ({problem}). Look whether `halocline run --simulated` goes on."
CONVERTER = "converter at {address:#x}"
NO_OFFER = "The control process does not say what an offer could rest on. Look whether halocline-control is running."
NOT_KEPT = "It could not be kept: {problem}. Nothing was changed."
FORECAST_NO_JSON = "what the broker brought is no JSON"
FORECAST_TAKEN = "The forecast is taken; the plan goes by it at once."
FORECAST_FORGOTTEN = "The forecast of page and broker is forgotten."
NO_SUCH_RUN = "There is no run {run} in the record."
NO_PAGE = "There is nothing under this address."
NO_COMPARISON = "The settings on record allow no comparison: {problem}"


HOLE_REASONS = {
    "gone": "control no longer had them",
    "damaged": "the record was damaged",
    "unreadable": "the record could make no sense of what was told",
}


def hole_text(from_seq: int, to_seq: int | None, reason: str) -> str:
    """What a hole of the record is, by the numbers that control gives its rows and events."""
    if to_seq is None and reason == "restart":
        return f"control was started anew; what it told last before that, from number {from_seq} on, may be missing"
    why = HOLE_REASONS.get(reason, reason)
    if to_seq is None:
        return f"what control told from number {from_seq} on is missing, and how much that was is not known: {why}"
    which = f"number {from_seq} is" if to_seq == from_seq else f"numbers {from_seq} to {to_seq} are"
    return f"{which} missing: {why}"


def age(age_s: float) -> str:
    """A time that has passed, in the largest unit that fits."""
    if age_s < 90:
        return f"{age_s:.0f} s"
    if age_s < 5400:
        return f"{age_s / 60:.0f} min"
    return f"{age_s / 3600:.0f} h"


CHECK_FAILED = "halocline check could not be run: {problem}."
NO_CHECK = "No check-up is made by this page. In a terminal: halocline check."
