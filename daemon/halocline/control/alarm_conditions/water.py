"""Causes of the product: its salt, its flow, and what the membrane should have made of the sea."""

from collections.abc import Callable

from halocline.control.alarm_conditions.condition import (
    Condition,
    Level,
    Notes,
    Values,
    below,
    known,
    noted,
    over,
)
from halocline.control.situation import Situation, product_cap_l_h, wetted_flow_l_h

QUALITY_BREAKS = 3
"""Within half an hour: once is a wave or a hand at the regulator, three times is a cause that stays (chosen)."""
SALTY_AFTER_L = 3.0
"""By then the product line of 0.6 L, by default, has been washed out five times (computed)."""
SALTY_AFTER_S = 180.0
"""Salt that went through the membrane while it stood is gone within minutes (from memory)."""
UNSEEN_DIVERTER_S = 60.0
"""A valve has turned in seconds and a cell has answered in ten: what is still bad after a minute may be on its way to
the tank, for no contact tells (chosen)."""
RUSHING = 1.5
"""Times the expected flow: so much only comes through a way that is no membrane. Brine through exchanged hoses comes at
about four times it (computed, at a fifth of recovery; where between: chosen)."""

FLOW_LOW, FLOW_HIGH, SALT_HIGH = 0.75, 1.25, 1.75
"""Shares of what the membrane should give from which it is worth a look (common practice for flow: 10 to 15 % is worth
a cleaning, and the meters of small plants are good to 5 %; for salt from memory)."""

FLOW_JUMP, SALT_JUMP = 0.15, 0.35
"""Sudden relative change that is worth a look: meters of small plants are good to 5 %, cells to 15 % (common
practice)."""

SETTLED_HOLDS = 10.0
"""Quality holds (60 s aboard) at working pressure after which salt tells of the membrane, not of the standstill before
(common practice: some minutes)."""

UNACCOUNTED, LOST = 0.1, 0.3
"""Shares of the feed that may be missing in brine and product. The first is worth a look: meters of small plants are
good to 5 % each. The second is more than meters and a worn pump come to, so nobody is sent to look for it under
pressure (from memory)."""

TDS = ("tds_mg_l", "limit_mg_l")
FLOW = ("flow_l_h", "limit_l_h")
SHARE = ("share", "limit")


def _salt(now: Situation) -> float | None:
    return now.tds_mg_l


def _expected_or_cap(now: Situation) -> float:
    expected = now.expectation.flow_l_h
    return product_cap_l_h(now.settings) if expected is None else expected


def _is_rushing(now: Situation, _notes: Notes) -> bool:
    flow_l_h = now.known("product_flow")
    return flow_l_h is not None and flow_l_h > RUSHING * _expected_or_cap(now)


def _first_salt_is_gone(now: Situation, notes: Notes) -> bool:
    gone_by = now.clocks.working_product_l >= SALTY_AFTER_L and now.clocks.working_s >= SALTY_AFTER_S
    return gone_by and "tds_falling" not in notes.standing


def _quality_not_reached(now: Situation, _notes: Notes) -> Values | None:
    limit_s = now.settings.sequence.divert_limit_s
    if _diverter_is_not_seen(now):
        limit_s = min(limit_s, UNSEEN_DIVERTER_S)
    if now.clocks.diverting_s < limit_s:
        return None
    return {"seconds": limit_s, "tds_mg_l": now.tds_mg_l, "limit_mg_l": now.settings.limits.accept_tds_mg_l}


def _diverter_is_not_seen(now: Situation) -> bool:
    """Bad water that was on its way to the tank, and no contact to say that the valve has turned: end the run soon."""
    fitted = now.inputs.active.keys() & {"diverter_at_tank", "diverter_overboard"}
    bad = now.tds_mg_l is None or now.tds_mg_l > now.settings.limits.accept_tds_mg_l
    return not fitted and bad and now.clocks.quality_breaks > 0


def _missing_l_h(now: Situation) -> float | None:
    """With a brine meter: what the pump should deliver and what comes out neither as brine nor as product."""
    brine_l_h, product_l_h = now.value("brine_flow"), now.flow_l_h
    if brine_l_h is None or product_l_h is None:
        return None
    return now.settings.plant.feed_flow_l_h - brine_l_h - product_l_h


def _quality_returns(now: Situation, _notes: Notes) -> Values | None:
    breaks = now.clocks.quality_breaks
    return {"times": breaks} if breaks >= QUALITY_BREAKS else None


def _flow_share(now: Situation) -> float | None:
    expected, flow_l_h = now.expectation.flow_l_h, now.flow_l_h
    if expected is None or flow_l_h is None or min(expected, flow_l_h) < wetted_flow_l_h(now.settings):
        return None
    return flow_l_h / expected


def _salt_share(now: Situation) -> float | None:
    """Measured over expected, once first water has gone by."""
    expected, tds_mg_l = now.expectation.tds_mg_l, now.tds_mg_l
    settled = now.clocks.working_s >= SETTLED_HOLDS * now.settings.sequence.quality_hold_s
    good = now.value("product_conductivity") is not None
    return tds_mg_l / expected if settled and good and expected and tds_mg_l is not None else None


def _flow_numbers(now: Situation, _notes: Notes) -> Values:
    return {"flow_l_h": now.flow_l_h, "expected_l_h": now.expectation.flow_l_h}


def _flow_against_model(limit: float, *, above: bool) -> Level:
    return Level(_flow_share, lambda _now: limit, SHARE, above=above, more=_flow_numbers)


def _recovery(limit: Callable[[Situation], float]) -> Level:
    return Level(lambda now: now.recovery, limit, ("recovery", "limit"), more=_assumed_feed_and_salt)


def _assumed_feed_and_salt(now: Situation, notes: Notes) -> Values:
    """Without a brine meter the feed is a setting, and the recovery is no measurement."""
    assumed = {} if now.value("brine_flow") is not None else {"assumed_feed_l_h": now.settings.plant.feed_flow_l_h}
    return {**assumed, **_salt_with_it(now, notes)}


def _salt_with_it(now: Situation, _notes: Notes) -> Values:
    """The salt in so much product; only where it is known to be low has all of it come through a tight membrane."""
    tds_mg_l = now.tds_mg_l
    low = tds_mg_l is not None and tds_mg_l <= now.settings.limits.accept_tds_mg_l
    return {"tds_mg_l": tds_mg_l, "salt_is_low": low}


def _missing(share: float) -> Level:
    return Level(
        _missing_l_h,
        lambda now: share * now.settings.plant.feed_flow_l_h,
        ("missing_l_h", "limit_l_h"),
        more=lambda now, _notes: {"expected_l_h": now.settings.plant.feed_flow_l_h},
    )


def _distance(change: float | None) -> float | None:
    return None if change is None else abs(change)


WATER: dict[str, Condition] = {
    "product_pressure_high": over(
        "product_pressure", lambda now: now.settings.limits.product_pressure_high_bar, ("pressure_bar", "limit_bar")
    ),
    "product_salty_at_once": Level(
        _salt,
        lambda now: now.settings.limits.product_salty_at_once_mg_l,
        TDS,
        when=_is_rushing,
        more=lambda now, _notes: {"flow_l_h": now.known("product_flow"), "expected_l_h": _expected_or_cap(now)},
    ),
    "water_unaccounted": _missing(UNACCOUNTED),
    "water_lost": _missing(LOST),
    "quality_not_reached": _quality_not_reached,
    "quality_returns_repeatedly": _quality_returns,
    "product_salty": Level(
        _salt,
        lambda now: now.settings.limits.product_salty_mg_l,
        TDS,
        when=_first_salt_is_gone,
        more=lambda now, _notes: {"litres": now.clocks.working_product_l},
    ),
    "product_flow_too_high": Level(
        known("product_flow"), lambda now: product_cap_l_h(now.settings), FLOW, more=_salt_with_it
    ),
    "recovery_high": _recovery(lambda now: now.settings.limits.recovery_stop),
    "recovery_near_limit": _recovery(lambda now: now.settings.limits.recovery_warn),
    "water_too_warm": over(
        "sea_temperature", lambda now: now.settings.limits.water_too_warm_c, ("temperature_c", "limit_c")
    ),
    "water_warm": over("sea_temperature", lambda now: now.settings.limits.water_warm_c, ("temperature_c", "limit_c")),
    "water_too_cold": below(
        "sea_temperature", lambda now: now.settings.limits.water_too_cold_c, ("temperature_c", "limit_c")
    ),
    "quality_lost": noted("quality_lost"),
    "product_salt_noisy": noted("product_salt_noisy"),
    "product_flow_missing": Level(
        known("product_flow"), lambda now: wetted_flow_l_h(now.settings), FLOW, above=False, unknown_holds=True
    ),
    "product_flow_jumped": Level(
        lambda now: _distance(now.departure.flow),
        lambda _now: FLOW_JUMP,
        SHARE,
        more=lambda now, _notes: {"flow_l_h": now.flow_l_h, "usual_l_h": now.departure.usual_flow_l_h},
    ),
    "product_salt_jumped": Level(
        lambda now: _distance(now.departure.salt),
        lambda _now: SALT_JUMP,
        SHARE,
        more=lambda now, _notes: {"tds_mg_l": now.tds_mg_l, "usual_mg_l": now.departure.usual_tds_mg_l},
    ),
    "product_salt_high": Level(
        _salt_share,
        lambda _now: SALT_HIGH,
        SHARE,
        more=lambda now, _notes: {"tds_mg_l": now.tds_mg_l, "expected_mg_l": now.expectation.tds_mg_l},
    ),
    "product_flow_low": _flow_against_model(FLOW_LOW, above=False),
    "product_flow_high": _flow_against_model(FLOW_HIGH, above=True),
}
