"""What first water is purged of, and the test that ends each purge: one table.

A person takes the tests from flowing product. Conductivity shows neither preservative nor cleaner, and each of them
has a test of its own (common practice; suppliers' sheets prevail): chemical cleaners are told by pH and by nothing
else, because lye and acid burn tongue and nose; sulphite by its strip, and only where that reads nil by smell and,
last, taste; glycol, which no strip aboard shows, by taste; what a new membrane is preserved with, its supplier's sheet
tells.
"""

from collections.abc import Iterable, Mapping

END_TESTS: Mapping[str, tuple[str, ...]] = {
    "preservative": ("sulphite_strip", "no_smell", "no_taste"),
    "glycol": ("no_glycol",),
    "new_element": ("supplier_sheet", "sulphite_strip", "no_smell", "no_taste"),
    "cleaning": ("ph_strip",),
}
"""Kind of purge → the tests that end it. Words for each stand in `words.purge_texts`."""

ORDER = ("ph_strip", "supplier_sheet", "sulphite_strip", "no_smell", "no_glycol", "no_taste")
"""Strips before noses, noses before tongues: nobody smells or tastes what a strip would have shown."""


def end_test(kinds: Iterable[str]) -> tuple[str, ...]:
    """The tests that end a purge of all these kinds, in the order in which they are done."""
    wanted = {test for kind in kinds for test in END_TESTS[kind]}
    return tuple(test for test in ORDER if test in wanted)
