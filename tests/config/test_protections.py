"""The table of protections: complete, its keys exist, refused just beyond each bound and accepted just inside."""

from collections.abc import Iterator
from typing import Any

import pytest

from halocline.config import ConfigError, demo_document, load_example, settings_from_document, with_overrides
from halocline.config.checks.lookup import field_of, named
from halocline.config.checks.protecting import ABOARD, Part, Protection
from halocline.config.checks.protections import FIXED, PROTECTIONS
from halocline.config.protection_rows import rows
from halocline.plant.alarms import ROWS, Effect
from halocline.plant.settings import Settings

MORE: dict[str, Any] = {
    "inputs": {
        "product_pressure": {"kind": "current_loop", "address": 0x4A, "mux": 0, "low": 0, "high": 4, "error": 0.02},
        "pump_motor_temperature": {
            "kind": "current_loop",
            "address": 0x4A,
            "mux": 1,
            "low": 0,
            "high": 150,
            "error": 1.0,
        },
        "brine_flow": {"kind": "pulses", "pin": 4, "pulses_per_l": 450, "high": 1500, "error": 10},
    }
}
"""What the example does not have, so that every row has something to protect."""

FITTED = with_overrides(demo_document(), MORE)
SETTINGS = settings_from_document(FITTED, "x")


def keyed_parts() -> Iterator[tuple[Protection, Part]]:
    for protection in PROTECTIONS:
        yield from ((protection, part) for part in protection.parts(SETTINGS, ABOARD) or () if part.key)


EACH = pytest.mark.parametrize(
    ("protection", "part"), list(keyed_parts()), ids=lambda each: getattr(each, "key", None) or each.id
)


def written(key: str, value: float) -> dict[str, Any]:
    """The difference that sets a key, as a file writes it."""
    *tables, last = key.split(".")
    unit = field_of(SETTINGS, key).metadata["unit"]
    change: dict[str, Any] = {last: f"{value:.9f}s" if unit == "s" else value}
    for table in reversed(tables):
        change = {table: change}
    return change


def bound_of(protection: Protection, part: Part) -> float:
    """The value of the part at which the protected thing gets to stand just what it can."""
    parts = protection.parts(SETTINGS, ABOARD) or ()
    over = sum(each.amount for each in parts) - protection.limit(SETTINGS)
    return part.value - over / part.factor


def refused(change: dict[str, Any]) -> list[str]:
    reasoned = with_overrides(change, {"limits": {"accept_reason": "tried"}})
    try:
        settings_from_document(with_overrides(FITTED, reasoned), "x")
    except ConfigError as error:
        return [problem.key for problem in error.problems]
    return []


def test_every_cause_that_acts_has_its_row_or_nothing_that_a_file_can_change() -> None:
    acting = {row.id for row in ROWS if row.effect is not Effect.WARN}
    with_a_row = {cause for protection in PROTECTIONS for cause in protection.causes}
    assert with_a_row | FIXED.keys() == acting
    assert not with_a_row & FIXED.keys()


def test_every_row_has_a_figure_a_source_and_a_consequence_in_the_document() -> None:
    for row in rows(SETTINGS):
        protects, _causes, stands, gets, made_of, source, otherwise = row
        assert all((protects, stands, gets, made_of, source, otherwise)), row
        assert gets != "not fitted", row


def test_the_example_leaves_every_protected_thing_a_margin_or_what_it_needs() -> None:
    assert refused({}) == []


@EACH
def test_the_key_of_every_part_exists_and_has_its_value(protection: Protection, part: Part) -> None:
    found = named(SETTINGS, part.key)
    assert found is not None
    assert found.value == part.value


@EACH
def test_beyond_its_bound_a_key_is_refused_and_named(protection: Protection, part: Part) -> None:
    bound, outward = bound_of(protection, part), 1.0 if part.factor > 0 else -1.0
    beyond = bound + outward * max(1e-3, 0.02 * abs(bound))
    assert part.key in refused(written(part.key, beyond))


def inside(protection: Protection, part: Part) -> bool:
    """Whether the row is what bounds the key: neither its own range nor another row or ladder is nearer."""
    bound, inward = bound_of(protection, part), -1.0 if part.factor > 0 else 1.0
    return not refused(written(part.key, bound + inward * max(1e-3, 0.02 * abs(bound))))


def test_nearly_every_row_can_be_the_one_that_decides() -> None:
    decided = {protection.id for protection, part in keyed_parts() if inside(protection, part)}
    stricter = {protection.id for protection in PROTECTIONS} - decided
    assert stricter == {
        "pressure lost",  # a hand that turns too fast wants a faster pressure than a burst hose does
        "first water held",  # a torn membrane wants a longer hold; on a simulated boat this row decides
        "sea water in the product",  # the tank wants a faster cell than the hoses do
        "sea too warm",  # nothing in the key's own range is long enough
        "tank full",
    }


CANNOT_PROTECT: dict[str, dict[str, Any]] = {
    "limits.feed_pressure_low_low_bar": {"limits": {"feed_pressure_low_low_bar": -0.4}},
    "inputs.product_conductivity.smoothing_s": {"inputs": {"product_conductivity": {"smoothing_s": "1min"}}},
    "limits.reject_tds_mg_l": {"limits": {"reject_tds_mg_l": 1200, "reject_at_once_tds_mg_l": 1600}},
    "inputs.vessel_pressure.high": {"inputs": {"vessel_pressure": {"high": 1e308}}},
    "inputs.tank_fill.low": {"inputs": {"tank_fill": {"low": -1e308}}},
    "inputs.battery_current.error": {"inputs": {"battery_current": {"error": 1e308}}},
    "inputs.stop_button.debounce_s": {"inputs": {"stop_button": {"debounce_s": "5s"}}},
    "inputs.bilge_wet.debounce_s": {"inputs": {"bilge_wet": {"debounce_s": "5s"}}},
    "inputs.pressure_switch.debounce_s": {"inputs": {"pressure_switch": {"debounce_s": "5s"}}},
    "sequence.first_product_l": {"sequence": {"first_product_l": 0.05}},
    "sequence.feed_exchanges": {"sequence": {"feed_exchanges": 1}},
    "sequence.quality_hold_s": {"sequence": {"quality_hold_s": "1s"}},
    "inputs.vessel_pressure.smoothing_s": {"inputs": {"vessel_pressure": {"smoothing_s": "1min"}}},
    "inputs.feed_pressure.smoothing_s": {"inputs": {"feed_pressure": {"smoothing_s": "1min"}}},
}


@pytest.mark.parametrize("simulated", [False, True], ids=["aboard", "simulated"])
@pytest.mark.parametrize("key", CANNOT_PROTECT)
def test_what_cannot_protect_is_one_line_that_names_it(key: str, simulated: bool) -> None:
    with pytest.raises(ConfigError) as caught:
        settings_from_document(with_overrides(demo_document(), CANNOT_PROTECT[key]), "x", simulated=simulated)
    about = [problem for problem in caught.value.problems if problem.key == key]
    assert len(about) == 1 or key == "limits.reject_tds_mg_l"
    assert all(problem.remedy for problem in about)


def test_later_turning_away_wants_a_reason_like_letting_in() -> None:
    change = {"limits": {"reject_tds_mg_l": 800, "reject_at_once_tds_mg_l": 1100}}
    with pytest.raises(ConfigError) as caught:
        settings_from_document(with_overrides(demo_document(), change), "x")
    assert [problem.key for problem in caught.value.problems] == [
        "limits.reject_tds_mg_l",
        "limits.reject_at_once_tds_mg_l",
    ]
    change["limits"]["accept_reason"] = "the last weeks of an old element"  # type: ignore[assignment]
    assert settings_from_document(with_overrides(demo_document(), change), "x").limits.reject_tds_mg_l == 800


def test_the_example_is_what_the_tables_of_the_hardware_documents_show() -> None:
    assert isinstance(load_example(), Settings)
    assert load_example().sequence.attendance
