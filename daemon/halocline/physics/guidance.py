"""Published figures for dissolved salt in drinking water: matters of taste, not of health.

Conductivity shows salt. It shows no germs, no boron (WHO guideline 2.4 mg/L; uncharged in water), no oil.
"""

from __future__ import annotations

from halocline.physics.errors import require

US_SECONDARY_TDS_MG_L = 500.0
"""Secondary (taste) standard for dissolved solids, 40 CFR 143.3."""


WHO_TASTE_MG_L: tuple[tuple[float, str], ...] = (
    (300.0, "excellent"),
    (600.0, "good"),
    (900.0, "fair"),
    (1200.0, "poor"),
)
"""Upper bounds of the taste panel's classes, WHO/SDE/WSH/03.04/16; above the last: unacceptable."""


def taste(tds_mg_l: float) -> str:
    """The WHO taste panel's word for this much dissolved salt (mg/L). Raises `OutOfRange`."""
    salt = require("dissolved salt", tds_mg_l, "mg/L", 0.0, 200_000.0)
    return next((word for bound, word in WHO_TASTE_MG_L if salt <= bound), "unacceptable")
