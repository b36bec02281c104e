"""How first water is tested at the end of a purge: each test as the statement that a person confirms."""

from collections.abc import Mapping

from halocline.plant.words.names import plain

END_TEST_TEXTS: Mapping[str, str] = {
    "ph_strip": "pH strip: the flowing product and the flush water give the same colour. Smell and taste nothing: "
    "lye and acid burn.",
    "supplier_sheet": "Supplier's sheet of the new membrane: its rinse is done, and it allows what follows here.",
    "sulphite_strip": "Sulphite strip in the flowing product: it reads nil.",
    "no_foam": "Shake the flowing product in a clear bottle, and flush water in another: no foam that stays, no colour "
    "against white. After any antifreeze but food-grade propylene glycol confirm nothing.",
    "no_smell": "Only after a strip that read nil: no smell. Nobody with asthma smells or tastes it.",
    "no_glycol": "Only after food-grade propylene glycol: no smell, and last a drop on the tongue, not sweet. After "
    "any other antifreeze taste nothing and confirm nothing.",
    "no_taste": "Last, a drop on the tongue: no taste. Nobody with asthma tastes: another person does, or half an hour "
    "more goes overboard and the strip reads nil again.",
}
"""What is confirmed, in full."""

END_TEST_NAMES: Mapping[str, str] = {
    "ph_strip": "pH strip like the flush water",
    "supplier_sheet": "supplier's sheet",
    "sulphite_strip": "sulphite strip nil",
    "no_foam": "no foam, no colour in a bottle",
    "no_smell": "no smell",
    "no_glycol": "no smell or taste of glycol",
    "no_taste": "last no taste (never with asthma)",
}
"""The same within a sentence."""


def end_test_text(test: str) -> str:
    """The statement that a person confirms at the end of a purge."""
    return END_TEST_TEXTS.get(test, plain(test))


def end_test_name(test: str) -> str:
    """The test within a sentence."""
    return END_TEST_NAMES.get(test, plain(test))
