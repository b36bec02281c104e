"""What the broker's client has to say to people."""

from collections.abc import Mapping

REFUSALS: Mapping[str, str] = {
    "not_allowed": (
        "This command is not taken from the broker. Give it on the plant's page or at the boat's computer; only stop, "
        "silence, acknowledge and those named under commands in the table [mqtt] are taken here."
    ),
    "stale": (
        "The command is older than 10 s or its age is not known, so nothing was done. Send it again with sent_at set "
        "to the present time; if it is refused again, compare the sender's clock with the boat's."
    ),
    "flooded": "Too many commands at once; this one was not looked at. Send it again in a second.",
    "link_lost": (
        "The control process cannot be reached, so nothing was done. Stop the pump by hand if it runs, then look "
        "whether halocline-control is running."
    ),
}

CONNECTED = "Connected to the broker at {where}."
LOST = "The broker at {where} is not reached: {why} Next try in {seconds:.0f} s. The plant is not affected."
BROKEN = "the connection broke"
BROKEN_BY = "{why} while {topic} was on its way, {bytes} bytes: does the broker limit the size of a message?"
STALLED = "it has not confirmed what was published; it has stalled, or dropped the confirmation in a flood"
THREAD_ENDED = "the network thread has ended"
STUMBLED = "an error of the program, see its log"
DEAF = "what is published under command does not come back from it"
DEAF_NOW = (
    "The broker at {where} takes what is published, but commands do not come back from it, so a stop given there does "
    "not arrive and status says offline. Stop on the plant's page or at the plant. If it stays so, look at the access "
    "rules of the broker: {prefix}/command has to be readable and writable for this user."
)
IN_DOUBT = (
    "The broker at {where} drops messages, or may, because so many are published there; a stop may be among them, so "
    "status says offline. Repeat a stop until it is answered, or stop on the plant's page or at the plant. If it stays "
    "so, find out which client floods {prefix}."
)
UNCONFIRMED = (
    "The broker at {where} has not confirmed what was published more than {seconds:.0f} s ago, so status says offline. "
    "The connection is made anew if that lasts. If it stays so, look whether the broker is overloaded, and which "
    "client floods it."
)
DEVICE_MODEL = "Sea-water reverse-osmosis plant"
DEVICE_SIMULATED = "{boat} (SIMULATED)"
STATE_NAME = "state"
SENTENCE_NAME = "in one sentence"
RUNNING_NAME = "run"
PROBLEM_NAME = "alarm"
FIGURE_NAMES: Mapping[str, str] = {
    "product_tds_mg_l": "salt in the product (computed)",
    "recovery": "recovery (computed)",
    "run_litres": "water into the tank, this run",
    "run_energy": "energy of this run",
    "run_remaining": "rest of this run (foreseen)",
}
ANNOUNCED_UNKNOWN = (
    "{path} cannot be read ({why}), so what was announced to home hubs before is not taken away; remove it at the "
    "broker with an empty retained message."
)
ANNOUNCED_NOT_KEPT = (
    "{path} cannot be written ({why}), so what is announced to home hubs will not be taken away by itself when it is "
    "switched off."
)
TOO_LARGE = "larger than the {bytes} bytes it takes"
REFUSED = (
    "The broker refused a publication under {topic} ({why}). Look at its access rules: it has to be writable for this "
    "user."
)
SUBSCRIPTION_REFUSED = (
    "The broker refused a subscription to {topic} ({why}). Look at its access rules: it has to be readable for this "
    "user."
)
RETAINED_COMMAND = (
    "A command is retained at the broker under {topic}. It is never carried out; remove it by publishing an empty "
    "retained message there, and send commands without the retain flag."
)
