"""The year's work as one table: what is done by hand, when it is due again, how it is judged, what it uses up.

Numbers of the trade are common practice unless `source` names another; rating plates, suppliers' sheets and local rules
prevail. What each duty is called and why it is done stands in `words/duty_texts.py`, when it is due is worked out in
`report/duties`. What every run needs (seacocks, strainer, a look at the sea) is asked at the start and is no row here;
the flush and the time in preservative are counted by control, which warns of them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

COMMON_PRACTICE = "common practice"
WHO_SHIPS = "WHO Guide to Ship Sanitation; interval common practice"
WARM_C = 25.0
"""Sea water above this counts as warm: what grows in it grows faster (common practice)."""
HALF_YEAR_D, YEAR_D = 182.0, 365.0
SOON_SHARE, OVERDUE_SHARE = 0.85, 1.1
"""Of the interval: from when on it is worth planning, and from when on it is late (chosen)."""
CHLORINE_FREE_MG_L = 0.05
"""Free chlorine destroys the membrane (common practice: flush only below it)."""


class While(StrEnum):
    """When the calendar of a duty counts."""

    ALWAYS = "always"
    USED = "used"
    """Only once the plant has made water since it was last done."""
    LAID_UP = "laid_up"


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What a test shows if all is well: `value` and beyond, or within `tolerance` of it, in `unit`. `setting` names the
    setting that holds it instead, where one does. What a person expected counts where nothing here can know better, and
    where it is stricter: a bound is not moved by whoever is measured against it."""

    sense: Literal["near", "at_most", "at_least"]
    value: float
    unit: str
    tolerance: float = 0.0
    setting: tuple[str, str] | None = None

    def bound(self, told: float | None, set_to: float | None) -> float:
        """What the reading is judged by: `told` by the person, `set_to` in this plant's settings; None: neither."""
        own = self.value if set_to is None else set_to
        if told is None or (self.sense == "near" and self.setting is not None):
            return own
        if self.sense == "near":
            return told
        return min(told, own) if self.sense == "at_most" else max(told, own)

    def holds(self, measured: float, expected: float) -> bool:
        """Whether the reading is as it has to be."""
        if self.sense == "at_most":
            return measured <= expected
        return measured >= expected if self.sense == "at_least" else abs(measured - expected) <= self.tolerance


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """One row. It is due by whichever comes first of `days` (`warm_days` in warm water), `pump_h` (`first_pump_h` the
    first time) and `product_l`. `kinds`: entries of the log that say it is done, besides `duty_done`. `after`: entries
    that make it due at once. `uses`: part → pieces. `task`: the page's guided task. `begins`: only what is fitted: it
    counts from its first entry on. `motor`: only with such a motor."""

    id: str
    days: float | None = None
    warm_days: float | None = None
    pump_h: float | None = None
    first_pump_h: float | None = None
    product_l: float | None = None
    counts: While = While.ALWAYS
    kinds: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    uses: Mapping[str, float] | None = None
    task: str | None = None
    minutes: float
    expected: Expected | None = None
    begins: bool = False
    motor: str | None = None
    source: str = COMMON_PRACTICE


PROOF = "prove_trips"
"""The one duty that a start asks about when it is overdue."""
PROOF_DAYS = OVERDUE_SHARE * HALF_YEAR_D
"""A proof test that is older is overdue."""
TURNOVER = "tank_turnover"
"""The one duty that the plant's own water may meet without a hand."""

DUTIES: tuple[Duty, ...] = (
    Duty(id="strainer", days=7, counts=While.USED, kinds=("strainer_cleaned",), minutes=10),
    Duty(id="gauge", days=7, counts=While.USED, kinds=("gauge_read",), minutes=2),
    Duty(id="hand_meter", days=7, counts=While.USED, kinds=("hand_meter",), minutes=5),
    Duty(id="bucket", days=7, counts=While.USED, kinds=("bucket_test",), minutes=5),
    Duty(id="oil_look", days=7, counts=While.USED, minutes=2),
    Duty(id="seacocks", days=7, minutes=5),
    Duty(
        id="cartridges",
        days=30,
        warm_days=14,
        counts=While.USED,
        kinds=("filter_changed",),
        uses={"coarse_cartridge": 1, "fine_cartridge": 1},
        task="filters",
        minutes=30,
    ),
    Duty(id="hoses_and_earths", days=30, minutes=15),
    Duty(
        id="pump_oil",
        days=YEAR_D,
        pump_h=200,
        first_pump_h=50,
        counts=While.USED,
        kinds=("oil_changed",),
        uses={"oil_fill": 1},
        minutes=40,
    ),
    Duty(id="motor_brushes", pump_h=25, counts=While.USED, motor="brush", minutes=20),
    Duty(
        id=PROOF,
        days=PROOF_DAYS,
        task="proof",
        minutes=60,
        expected=Expected(sense="at_most", value=1.0, unit="s"),
    ),
    Duty(
        id="prove_pressure_switch",
        days=HALF_YEAR_D,
        task="proof",
        minutes=20,
        expected=Expected(
            sense="near", value=66.0, unit="bar", tolerance=2.0, setting=("plant", "pressure_switch_bar")
        ),
    ),
    Duty(
        id="prove_time_out_relay",
        days=HALF_YEAR_D,
        task="proof",
        minutes=15,
        expected=Expected(sense="at_most", value=1.0, unit="s"),
    ),
    Duty(id="prove_diverter", days=HALF_YEAR_D, task="proof", minutes=10),
    Duty(
        id="prove_check_valves",
        days=HALF_YEAR_D,
        task="proof",
        minutes=15,
        expected=Expected(sense="at_most", value=0.0, unit="L"),
    ),
    Duty(
        id="relief_valve",
        days=YEAR_D,
        minutes=60,
        expected=Expected(sense="at_most", value=69.0, unit="bar", setting=("plant", "relief_bar")),
    ),
    Duty(
        id="gauge_against_test_gauge",
        days=YEAR_D,
        task="sensor",
        minutes=30,
        expected=Expected(sense="near", value=55.0, unit="bar", tolerance=3.0),
    ),
    Duty(id="by_hand_drill", days=YEAR_D, minutes=30),
    Duty(
        id=TURNOVER,
        days=14,
        warm_days=7,
        minutes=0,
        source="7 days in warm water common practice; 14 else chosen",
    ),
    Duty(
        id="disinfect_tank",
        days=HALF_YEAR_D,
        kinds=("tank_chlorinated",),
        after=("shore_water_taken",),
        uses={"hypochlorite_dose": 1, "chlorine_strip": 1},
        task="flush_water",
        minutes=240,
        source=WHO_SHIPS,
    ),
    Duty(
        id="residual",
        days=7,
        kinds=("chlorine_read",),
        uses={"chlorine_strip": 1},
        minutes=5,
        expected=Expected(sense="near", value=0.35, unit="mg/L", tolerance=0.15),
        begins=True,
        source="0.2 to 0.5 mg/L: WHO Guidelines for Drinking-water Quality, from memory",
    ),
    Duty(
        id="carbon_filter",
        days=HALF_YEAR_D,
        product_l=5000,
        uses={"carbon_cartridge": 1},
        minutes=20,
        begins=True,
    ),
    Duty(id="uv_lamp", days=YEAR_D, uses={"uv_lamp": 1}, minutes=20, begins=True),
    Duty(id="calcite", days=HALF_YEAR_D, product_l=10000, uses={"calcite_fill": 1}, minutes=30, begins=True),
    Duty(id="bare_metal", days=YEAR_D, minutes=20),
    Duty(id="laboratory", days=YEAR_D, uses={"sample_bottle": 1}, minutes=60, source=WHO_SHIPS),
    Duty(
        id="preservative",
        days=30,
        counts=While.LAID_UP,
        kinds=("lay_up",),
        uses={"metabisulphite_dose": 1},
        task="lay_up",
        minutes=60,
        expected=Expected(sense="at_least", value=3.5, unit="pH"),
    ),
)
"""In the order in which people are shown those that are due on the same day."""

DUTY_IDS = tuple(duty.id for duty in DUTIES)
BY_ID: Mapping[str, Duty] = {duty.id: duty for duty in DUTIES}

PARTS: Mapping[str, float] = {
    "coarse_cartridge": 2,
    "fine_cartridge": 2,
    "filter_seal": 2,
    "oil_fill": 1,
    "motor_brush_pair": 1,
    "pump_seal_kit": 1,
    "membrane": 0,
    "high_pressure_hose": 1,
    "carbon_cartridge": 0,
    "uv_lamp": 0,
    "calcite_fill": 0,
    "chlorine_strip": 5,
    "ph_strip": 5,
    "sulphite_strip": 5,
    "hypochlorite_dose": 1,
    "metabisulphite_dose": 1,
    "cleaner_lye_dose": 0,
    "cleaner_acid_dose": 0,
    "sample_bottle": 0,
}
"""Spares and stuff that are counted → how many should be aboard until the owner says another number (common
practice)."""

CLEANING_USES: Mapping[str, float] = {"cleaner_lye_dose": 1, "cleaner_acid_dose": 1, "ph_strip": 2}
USED_BY: Mapping[str, Mapping[str, float]] = {
    **{kind: duty.uses for duty in DUTIES if duty.uses for kind in duty.kinds},
    "cleaned": CLEANING_USES,
    "element_changed": {"membrane": 1},
    "chlorine_strip_zero": {"chlorine_strip": 1},
}
"""Kind of entry → what was used up with it."""
