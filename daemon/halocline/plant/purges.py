"""What first water is purged of, and the test that ends each purge: one table.

A person takes the tests from flowing product. Conductivity shows neither preservative nor cleaner, and each of them
has a test of its own (common practice; suppliers' sheets prevail): chemical cleaners are told by pH and by nothing
else, because lye and acid burn tongue and nose; sulphite by its strip, and only where that reads nil by smell and,
last, taste; glycol, which no strip aboard shows, by shaking it in a bottle (it foams and is dyed) and, last, by taste;
what a new membrane is preserved with, its supplier's sheet tells.

Where a cleaner was in the plant, nose and tongue stay out of it whatever else was there. Strips and bottle are left,
and the whole time overboard: of food-grade propylene glycol, which people eat (21 CFR 184.1666), traces hurt less than
a drop of lye.
"""

from collections.abc import Iterable, Mapping

END_TESTS: Mapping[str, tuple[str, ...]] = {
    "preservative": ("sulphite_strip", "no_smell", "no_taste"),
    "glycol": ("no_foam", "no_glycol"),
    "new_element": ("supplier_sheet", "sulphite_strip", "no_smell", "no_taste"),
    "cleaning": ("ph_strip",),
}
"""Kind of purge → the tests that end it. Words for each stand in `words.purge_texts`."""

ORDER = ("ph_strip", "supplier_sheet", "sulphite_strip", "no_foam", "no_smell", "no_glycol", "no_taste")
"""Strips before noses, noses before tongues: nobody smells or tastes what a strip would have shown."""

BY_NOSE_OR_TONGUE = frozenset({"no_smell", "no_glycol", "no_taste"})


def end_test(kinds: Iterable[str]) -> tuple[str, ...]:
    """The tests that end a purge of all these kinds, in the order in which they are done."""
    owed = frozenset(kinds)
    wanted = {test for kind in owed for test in END_TESTS[kind]}
    left_out = BY_NOSE_OR_TONGUE if "cleaning" in owed else frozenset()
    return tuple(test for test in ORDER if test in wanted - left_out)
