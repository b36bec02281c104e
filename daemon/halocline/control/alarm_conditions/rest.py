"""Causes at rest and in a flush: standing water, preservative, frost, the flush valve."""

from halocline.control.alarm_conditions.condition import Condition, Level, Notes, Values, below, noted
from halocline.control.situation import Situation
from halocline.plant.thresholds import DAY_S
from halocline.plant.vocabulary import State

FROST_C = 2.0
"""What was flushed is fresh water and freezes at 0 °C; a night and a sender's error come to 2 K (chosen)."""
LEAK_L_H = 2.0
"""Two litres an hour empty a tank by 48 L a day (computed); less a usual turbine does not show (from memory)."""
PRESERVATIVE_S = 30 * DAY_S
"""Metabisulphite is used up by air within about a month (common practice; published texts say one to three)."""
FLUSHED_WARM_C, FLUSHED_COOL_C = 25.0, 15.0
"""Water temperatures between which growth in standing water goes from days to a week (common practice)."""
FLUSHED_WARM_S, FLUSHED_S, FLUSHED_COOL_S = 3 * DAY_S, 5 * DAY_S, 7 * DAY_S
"""How long flushed water may stand while it is warm, in between, and cool (common practice: 1 to 3, 3 to 5, 5 to 7
days)."""
PRESERVE_WARM_C = 28.0
"""Warmer than this, a plant that stands is laid up after a week (common practice)."""
PRESERVE_WARM_S, PRESERVE_S = 7 * DAY_S, 14 * DAY_S
"""How long a plant may stand with water in it before it is to be laid up, warm and otherwise (common practice)."""


def _flush_due(now: Situation, _notes: Notes) -> Values | None:
    limit_s = flush_interval_s(now)
    idle_s = now.clocks.idle_s
    return {"hours": idle_s / 3600, "limit_hours": limit_s / 3600} if idle_s > limit_s else None


def flush_interval_s(now: Situation) -> float:
    """How long fresh-flushed water may stand: 3, 5 or 7 days by temperature (common practice)."""
    temperature_c = now.temperature_c
    if temperature_c is None or temperature_c > FLUSHED_WARM_C:
        return FLUSHED_WARM_S
    return FLUSHED_S if temperature_c >= FLUSHED_COOL_C else FLUSHED_COOL_S


def _preservative_due(now: Situation, _notes: Notes) -> Values | None:
    laid_up = now.state is State.LAID_UP
    warm = now.temperature_c is None or now.temperature_c > PRESERVE_WARM_C
    limit_s = PRESERVATIVE_S if laid_up else PRESERVE_WARM_S if warm else PRESERVE_S
    stood_s = now.clocks.laid_up_s if laid_up else now.clocks.idle_s
    return {"days": stood_s / DAY_S, "limit_days": limit_s / DAY_S} if stood_s > limit_s else None


def _flush_flow() -> Level:
    return Level(lambda now: now.value("flush_flow"), lambda _now: LEAK_L_H, ("flow_l_h", "limit_l_h"))


REST: dict[str, Condition] = {
    "flush_failed": noted("flush_failed"),
    "automatic_flush_ended": noted("automatic_flush_ended"),
    "flush_due": _flush_due,
    "flush_valve_leaking": _flush_flow(),
    "flush_backflow": _flush_flow(),
    "preservative_due": _preservative_due,
    "frost_risk": below("sea_temperature", lambda _now: FROST_C, ("temperature_c", "limit_c")),
}
