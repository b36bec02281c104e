"""Everything a person reads about the plant: one place for the page, the command line and MQTT.

The interfaces carry ids and numbers; here they become words, in the units the owner chose. Nothing here raises for
values that are missing or strange: they read "unknown".
"""

from halocline.plant.words.alarm_names import alarm_name
from halocline.plant.words.alarms import alarm_texts
from halocline.plant.words.commissioning_texts import safety_point, step_name
from halocline.plant.words.event_texts import event_text
from halocline.plant.words.fault_texts import fault_text
from halocline.plant.words.health_texts import (
    evidence_text,
    finding_text,
    health_evidence,
    health_figures,
    health_lines,
    health_sentence,
    tells_apart,
    tells_something,
)
from halocline.plant.words.names import (
    alarm_state_name,
    channel_name,
    command_name,
    contact_name,
    given_reason_text,
    origin_name,
    output_name,
    priority_name,
    purge_name,
    quality_text,
    question_text,
    state_name,
    work_name,
)
from halocline.plant.words.offer_texts import offer_texts, rests_on_text
from halocline.plant.words.plan_texts import (
    NO_ENGINE,
    forbidden_ended_text,
    forbidden_text,
    forecast_problem,
    forecast_text,
    marked_text,
    next_run_text,
    plan_change,
    plan_difference,
    plan_lines,
    plan_needs,
    plan_sources,
    reason_texts,
    what_if_texts,
)
from halocline.plant.words.purge_texts import end_test_name, end_test_text
from halocline.plant.words.reasons import reason, reason_alone
from halocline.plant.words.run_texts import FIGURES, PEAK_MEANS, SALT_MEANS, energy_basis, run_figure
from halocline.plant.words.sentences import AskPlace, ask, ask_place, asked, sentence
from halocline.plant.words.units import duration, quantity

__all__ = [
    "FIGURES",
    "NO_ENGINE",
    "PEAK_MEANS",
    "SALT_MEANS",
    "AskPlace",
    "alarm_name",
    "alarm_state_name",
    "alarm_texts",
    "ask",
    "ask_place",
    "asked",
    "channel_name",
    "command_name",
    "contact_name",
    "duration",
    "end_test_name",
    "end_test_text",
    "energy_basis",
    "event_text",
    "evidence_text",
    "fault_text",
    "finding_text",
    "forbidden_ended_text",
    "forbidden_text",
    "forecast_problem",
    "forecast_text",
    "given_reason_text",
    "health_evidence",
    "health_figures",
    "health_lines",
    "health_sentence",
    "marked_text",
    "next_run_text",
    "offer_texts",
    "origin_name",
    "output_name",
    "plan_change",
    "plan_difference",
    "plan_lines",
    "plan_needs",
    "plan_sources",
    "priority_name",
    "purge_name",
    "quality_text",
    "quantity",
    "question_text",
    "reason",
    "reason_alone",
    "reason_texts",
    "rests_on_text",
    "run_figure",
    "safety_point",
    "sentence",
    "state_name",
    "step_name",
    "tells_apart",
    "tells_something",
    "what_if_texts",
    "work_name",
]
