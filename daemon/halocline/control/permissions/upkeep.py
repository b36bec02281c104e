"""Checks of looking after the plant: what is logged, what it is preserved with, chlorine, purges."""

from difflib import get_close_matches

from halocline.control.inputs import Reason
from halocline.control.permissions.forms import Context, not_running
from halocline.plant.vocabulary import LOG_KINDS, PURGES

PURGE_CONFIRMED = "purge_confirmed"
OPENS_CIRCUIT = frozenset({"filter_changed", "circuit_opened", "element_changed", "cleaned"})


def kind_known(at: Context) -> Reason | None:
    """The kind of entry is one that there is."""
    kind = at.command.arguments.get("kind", "note")
    if kind in LOG_KINDS:
        return None
    near = get_close_matches(str(kind), LOG_KINDS, 1)
    return Reason(
        "log_kind_unknown", {"kind": kind, "near": near[0] if near else "note", "known": ", ".join(LOG_KINDS)}
    )


def purge_is_over(at: Context) -> Reason | None:
    """A person confirms a purge only once all of it has gone overboard."""
    if at.command.arguments.get("kind") != PURGE_CONFIRMED:
        return None
    purge = at.latch.purge
    if purge is None:
        return Reason("no_purge_owed")
    return Reason("purge_not_over", {"seconds": purge.left_s}) if purge.left_s > 0 else None


def opens_nothing_under_way(at: Context) -> Reason | None:
    """A circuit that was opened owes priming and purge; that cannot begin in the middle of a run."""
    kind = at.command.arguments.get("kind")
    under_way = kind in OPENS_CIRCUIT and not_running(at) is not None
    return Reason("opened_while_running", {"kind": kind}) if under_way else None


def preservative_known(at: Context) -> Reason | None:
    """What it is laid up with is one of those whose purge is known."""
    return (
        None if at.command.arguments.get("preservative", "preservative") in PURGES else Reason("preservative_unknown")
    )


def no_chlorine(at: Context) -> Reason | None:
    """The flush water is not suspected of free chlorine."""
    return Reason("chlorine_suspected") if at.latch.chlorine_suspected else None
