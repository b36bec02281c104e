"""Causes at rest and in a flush: standing water, preservative, frost, the flush valve."""

from halocline.control.conditions.forms import Condition, Fact, Level, Notes, Values, below, noted
from halocline.control.situation import Situation
from halocline.plant.vocabulary import State

DAY_S = 86400.0
FROST_C = 2.0
LEAK_L_H = 2.0
PRESERVATIVE_S = 30 * DAY_S


def _flush_due(now: Situation, _notes: Notes) -> Values | None:
    limit_s = flush_interval_s(now)
    idle_s = now.clocks.idle_s
    return {"hours": idle_s / 3600, "limit_hours": limit_s / 3600} if idle_s > limit_s else None


def flush_interval_s(now: Situation) -> float:
    """How long fresh-flushed water may stand: 3, 5 or 7 days by temperature (common practice)."""
    temperature_c = now.temperature_c
    if temperature_c is None or temperature_c > 25:
        return 3 * DAY_S
    return (5 if temperature_c >= 15 else 7) * DAY_S


def _preservative_due(now: Situation, _notes: Notes) -> Values | None:
    laid_up = now.state is State.LAID_UP
    warm = now.temperature_c is None or now.temperature_c > 28
    limit_s = PRESERVATIVE_S if laid_up else (7 if warm else 14) * DAY_S
    stood_s = now.clocks.laid_up_s if laid_up else now.clocks.idle_s
    return {"days": stood_s / DAY_S, "limit_days": limit_s / DAY_S} if stood_s > limit_s else None


def _flush_flow() -> Level:
    return Level(lambda now: now.value("flush_flow"), lambda _now: LEAK_L_H, ("flow_l_h", "limit_l_h"))


REST: dict[str, Condition] = {
    "flush_failed": noted("flush_failed"),
    "flush_due": Fact(_flush_due),
    "flush_valve_leaking": _flush_flow(),
    "flush_backflow": _flush_flow(),
    "preservative_due": Fact(_preservative_due),
    "frost_risk": below("sea_temperature", lambda _now: FROST_C, ("temperature_c", "limit_c")),
}
