"""Checks of looking after the plant: what is logged, what it is preserved with, chlorine, purges."""

from collections.abc import Sequence
from difflib import get_close_matches

from halocline.control.inputs import Reason
from halocline.control.permissives.permissive import Context, not_running, still_open, unasked
from halocline.control.retained.retained_state import Purge
from halocline.control.situation import wetted_flow_l_h
from halocline.plant.duties import BY_ID, DUTY_IDS, PARTS
from halocline.plant.purges import ORDER, end_test
from halocline.plant.readings import ALL, NEEDED, PUBLISHED, READINGS, SALINITY_WAYS
from halocline.plant.vocabulary import FINDINGS, LOG_KINDS, PURGES, Origin, State

PURGE_CONFIRMED = "purge_confirmed"
FINDING_ASIDE = "finding_aside"
DUTY_DONE = "duty_done"
STORES_COUNTED = "stores_counted"
READ_BY_A_PERSON = frozenset({PURGE_CONFIRMED, "chlorine_strip_zero", "chlorine_read", "commissioned", DUTY_DONE})
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


def readings_fit(at: Context) -> Sequence[Reason]:
    """A reading belongs to what it was read with, and what was read is told; a published figure names its source."""
    given, kind = at.command.arguments, at.command.arguments.get("kind", "note")
    own, needed = READINGS.get(kind, ()), NEEDED.get(kind, ())
    strange = [name for name in ALL if name in given and name not in own]
    missing = [name for name in needed if name not in given]
    return [
        *(Reason("reading_misplaced", {"reading": name, "kind": kind}) for name in strange),
        *(Reason("reading_missing", {"reading": name, "kind": kind}) for name in missing),
        *_of_the_salinity(given.get("by"), given.get("note")),
    ]


def _of_the_salinity(by: str | None, note: str | None) -> list[Reason]:
    if by is not None and by not in SALINITY_WAYS:
        return [Reason("salinity_way_unknown", {"by": by, "known": ", ".join(SALINITY_WAYS)})]
    return [Reason("source_missing")] if by == PUBLISHED and not (note or "").strip() else []


def finding_put_aside(at: Context) -> Reason | None:
    """Only what can be found is put aside, and with a reason: whoever comes next has to know it."""
    given = at.command.arguments
    if given.get("kind") != FINDING_ASIDE:
        return None
    if given.get("finding") not in FINDINGS:
        return Reason("finding_unknown", {"finding": given.get("finding", ""), "known": ", ".join(FINDINGS)})
    return None if (given.get("note") or "").strip() else Reason("aside_without_reason")


def duty_told(at: Context) -> Sequence[Reason]:
    """A duty is one of the table, and a test tells what it measured: without the number nobody can judge it later."""
    given = at.command.arguments
    duty, done = given.get("duty"), given.get("kind") == DUTY_DONE
    if not done:
        return [Reason("reading_misplaced", {"reading": "duty", "kind": given.get("kind", "note")})] if duty else []
    if not isinstance(duty, str) or duty not in BY_ID:
        return [Reason("duty_unknown", {"duty": duty or "", "known": ", ".join(DUTY_IDS)})]
    expected = BY_ID[duty].expected
    if expected is not None and "measured" not in given:
        return [Reason("duty_not_measured", {"duty": duty, "unit": expected.unit})]
    return []


def part_known(at: Context) -> Reason | None:
    """What is counted is one of the parts there are."""
    given = at.command.arguments
    part, counted = given.get("part"), given.get("kind") == STORES_COUNTED
    if not counted:
        return Reason("reading_misplaced", {"reading": "part", "kind": given.get("kind", "note")}) if part else None
    return None if part in PARTS else Reason("part_unknown", {"part": part or "", "known": ", ".join(PARTS)})


def purge_is_over(at: Context) -> Sequence[Reason] | None:
    """A person confirms a purge once all of it has gone overboard, by its own end test, from product that flows."""
    if at.command.arguments.get("kind") != PURGE_CONFIRMED:
        return None
    purge = at.retained.purge
    if purge is None:
        return [Reason("no_purge_owed")]
    if purge.left_s > 0:
        return [Reason("purge_not_over", {"seconds": purge.left_s})]
    return [reason for check in (_product_flows, _tester_there, _tests_done) if (reason := check(at, purge))]


def _product_flows(at: Context, _purge: Purge) -> Reason | None:
    """What stands in a hose or a glass tells nothing of the water that comes next."""
    flow_l_h, limit_l_h = at.now.flow_l_h, wetted_flow_l_h(at.now.settings)
    if at.now.state is State.DIVERTING and flow_l_h is not None and flow_l_h >= limit_l_h:
        return None
    return Reason("end_test_wants_product")


def _tester_there(at: Context, _purge: Purge) -> Reason | None:
    return Reason("end_test_wants_presence") if at.misses_a_person else None


def _tests_done(at: Context, purge: Purge) -> Reason | None:
    return unasked(at, ORDER) or still_open(at, end_test(purge.kinds), "end_test_open", "tests")


def read_by_a_person(at: Context) -> Reason | None:
    """No broker dips a strip, smells or tastes."""
    by_broker = at.command.origin is Origin.MQTT and at.command.arguments.get("kind") in READ_BY_A_PERSON
    return Reason("never_from_mqtt", {"command": at.command.name}) if by_broker else None


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
    return Reason("chlorine_suspected") if at.retained.chlorine_suspected else None
