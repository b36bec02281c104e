"""What the plant still owes its membrane and its people, in words: a flush, a purge, and what blocks the flush.

At rest this leads; elsewhere it stands at the end of the sentence, and nothing else pushes it out.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from halocline.plant.words.filling import LONGEST, fill

Values = Mapping[str, Any]

LEADING: Mapping[str, str] = {
    "end_test": "The purge of {of} waits for its end test: start a run and test the product that flows overboard.",
    "purge": "A purge is owed: the next run sends its first water overboard, it may carry {of}.",
    "flush_blocked": "A flush is owed, but the flush water may carry chlorine: test it with a strip.",
    "flush": "A fresh-water flush is owed: sea water stands in the membrane.",
    "chlorine": "The flush water may carry chlorine: no flush until a strip reads 0.",
}
SHORT: Mapping[str, str] = {
    "end_test": "the end test of the purge of {of}",
    "purge": "a purge of {of}",
    "flush_blocked": "a flush, blocked by chlorine",
    "flush": "a flush",
}
"""One after another behind a single "Owed"."""
NO_FLUSH = "No flush: chlorine not ruled out."

LEADING_ROOM = LONGEST - len("At rest. ")

IN_A_RUN = frozenset({"priming", "pressurising", "diverting", "producing", "stopping", "flushing"})
"""States in which a flush that nothing blocks is under way or comes by itself."""

OF_A_PURGE = frozenset({"rinsing", "rinsing_open_regulator", "diverting_purge_running", "diverting_purge_to_confirm"})
"""Sentences that speak of the purge themselves."""


def owed(now: Mapping[str, Any]) -> list[str]:
    """What is owed in a live snapshot, by id, the gravest first."""
    found = now.get("owed")
    duties = found if isinstance(found, Mapping) else {}
    chlorine, flush = duties.get("chlorine") is True, duties.get("flush") is True
    purge = duties.get("purge")
    items = []
    if isinstance(purge, Mapping):
        items.append("end_test" if purge.get("confirm") is True else "purge")
    if flush:
        items.append("flush_blocked" if chlorine else "flush")
    elif chlorine:
        items.append("chlorine")
    return items


def leading(now: Mapping[str, Any]) -> str:
    """All of it, as sentences of their own; in few words where they would not fit."""
    items = owed(now)
    said = " ".join(fill(LEADING[item], _values(now)) for item in items)
    return said if len(said) <= LEADING_ROOM else _in_short(items, now)


def _in_short(items: Sequence[str], now: Mapping[str, Any]) -> str:
    duties = "; ".join(fill(SHORT[item], _values(now)) for item in items if item in SHORT)
    return " ".join([*([f"Owed: {duties}."] if duties else []), *([NO_FLUSH] if "chlorine" in items else [])])


def trailing(now: Mapping[str, Any], sentence_id: str) -> str:
    """What a sentence of this id does not say itself, in few words; empty where there is nothing to add."""
    unsaid = set(owed(now))
    if str(now.get("state")) in IN_A_RUN:
        unsaid.discard("flush")
    if sentence_id in OF_A_PURGE:
        unsaid -= {"purge", "end_test"}
    return _in_short([item for item in owed(now) if item in unsaid], now)


def _values(now: Mapping[str, Any]) -> Values:
    purge = now["owed"].get("purge")
    if not isinstance(purge, Mapping):
        return {}
    also = purge.get("also")
    kinds = [purge.get("of"), *(also if isinstance(also, list | tuple) else ())]
    return {"of": ", ".join(str(kind) for kind in kinds if kind)}
