"""The boat's own plan: asked anew every few minutes, kept while it holds, told as one message to every face."""

import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from halocline.plant import words
from halocline.plant.settings import PlanSettings, UnitSettings
from halocline.report.database_open import StoreError, reading
from halocline.report.planning.answer import answer_of, iso_minute
from halocline.report.planning.boat import Asked, NotPlannable, Remembered, boat_question
from halocline.report.planning.choosing import Chosen, choose
from halocline.report.planning.foreseen import NAME, Foreseen, Outlook, reaches_to_s
from halocline.report.planning.keeping import Shown, kept
from halocline.report.planning.question import Question, Unaskable, question_of
from halocline.report.planning.remembered import remembered
from halocline.report.planning.what_if import WhatIf, changed

ANEW_S = 300.0
"""A plan is a matter of hours; asked more often the small computer would do little else."""
DRAWN_MIN = 30.0
"""One point of the bands that the page draws."""

Told = dict[str, Any]


def offset_of(wall_s: float) -> float:
    """What the clock of the boat's computer is ahead of UTC, s."""
    offset = datetime.fromtimestamp(wall_s).astimezone().utcoffset()
    return 0.0 if offset is None else offset.total_seconds()


@dataclass(frozen=True, slots=True)
class _Made:
    """A plan, when it was made, what was foreseen then, and the question that it answers."""

    at_s: float
    outlook: Outlook
    told: Told
    asked: Asked | None


class Planner:
    """Used by several threads: a second one waits for the first one's plan instead of making it again. `foreseen` is
    where forecasts and forbidden waters are kept, beside the record."""

    def __init__(
        self, record: Path | None, settings: PlanSettings, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._record, self._settings, self._clock = record, settings, clock
        self.foreseen = Foreseen(
            None if record is None else record.with_name(NAME), Path(settings.forecast) if settings.forecast else None
        )
        self._lock = threading.Lock()
        self._made: _Made | None = None
        self._shown: Shown | None = None

    def message(self, now: Mapping[str, Any] | None, units: UnitSettings, wall_s: float) -> Told:
        """The plan of the days ahead with its words; `missing` says in words why there is none."""
        with self._lock:
            return self._newest(now, units, wall_s).told

    def what_if(self, change: WhatIf, now: Mapping[str, Any] | None, units: UnitSettings, wall_s: float) -> Told:
        """What would be planned if this were otherwise, and how that differs. Nothing of it is kept."""
        with self._lock:
            known = self._newest(now, units, wall_s)
            if known.asked is None:
                return known.told
            began = time.perf_counter()
            told = {**known.told, "changed": None, "what_ifs": [], "rests_on": []}
            try:
                question = changed(question_of(known.asked.message), change)
                chosen = choose(question)
            except Unaskable as error:
                return {**told, **UNTOLD, "missing": list(error.lines)}
            answer = answer_of(question, chosen, began)
            against = words.plan_difference(known.told["answer"], answer, units)
            return {**told, **_in_words(question, chosen, answer, known.asked, units), "against": against}

    def _newest(self, now: Mapping[str, Any] | None, units: UnitSettings, wall_s: float) -> _Made:
        at_s, known, outlook = self._clock(), self._made, self.foreseen(wall_s)
        if known is None or at_s - known.at_s >= ANEW_S or known.asked is None or outlook != known.outlook:
            self._made = known = self._plan(at_s, outlook, now, units, wall_s)
        return known

    def _plan(
        self, at_s: float, outlook: Outlook, now: Mapping[str, Any] | None, units: UnitSettings, wall_s: float
    ) -> _Made:
        began, offset_s = time.perf_counter(), offset_of(wall_s)
        told: Told = {
            **UNTOLD,
            "missing": [],
            "problems": [words.forecast_problem(problem) for problem in outlook.problems],
            "changed": None,
            "what_ifs": [],
            "rests_on": [],
            "against": None,
            "forecast": _forecast_text(outlook, wall_s, offset_s),
            "forbidden": [
                {
                    "why": each.why,
                    "from": iso_minute(each.from_s),
                    "to": iso_minute(each.to_s),
                    "text": words.forbidden_text(each.why, each.to_s, each.place),
                }
                for each in outlook.forbidden
            ],
            "sun_wh_day": self._settings.sun_wh_day,
            "engine_w": self._settings.engine_w,
        }
        try:
            asked = boat_question(now, self._remember(wall_s, offset_s), self._settings, outlook, wall_s, offset_s)
            question = question_of(asked.message)
            chosen, self._shown = kept(self._shown, question, choose(question))
        except NotPlannable as error:
            return _Made(at_s, outlook, {**told, "missing": [words.plan_needs(each) for each in error.ids]}, None)
        except Unaskable as error:
            return _Made(at_s, outlook, {**told, "missing": list(error.lines)}, None)
        answer = answer_of(question, chosen, began)
        told |= {
            "changed": words.plan_change(self._shown.changed),
            "what_ifs": words.what_if_texts(answer, units),
            "rests_on": words.plan_sources(asked.rests_on),
        }
        return _Made(at_s, outlook, {**told, **_in_words(question, chosen, answer, asked, units)}, asked)

    def _remember(self, wall_s: float, offset_s: float) -> Remembered:
        if self._record is None:
            return Remembered()
        try:
            with reading(self._record) as connection:
                return remembered(connection, wall_s, offset_s)
        except StoreError:
            return Remembered()


UNTOLD: Mapping[str, Any] = {"answer": None, "says": "", "reasons": [], "drawn": None}
"""What is told of runs while there is no plan."""


def _in_words(question: Question, chosen: Chosen, answer: Told, asked: Asked, units: UnitSettings) -> Told:
    return {
        "answer": answer,
        "says": words.next_run_text(answer, units),
        "reasons": words.reason_texts(answer, units),
        "drawn": drawn(question, chosen, asked),
    }


def _forecast_text(outlook: Outlook, wall_s: float, offset_s: float) -> str | None:
    """Who said the forecast that counts, how old it is, and how far it reaches."""
    if outlook.forecast is None or outlook.taken_s is None:
        return None
    to_s = reaches_to_s(outlook.forecast, offset_s)
    return words.forecast_text(str(outlook.source), max(wall_s - outlook.taken_s, 0.0), to_s)


def drawn(question: Question, chosen: Chosen, asked: Asked) -> Told:
    """The bands of tank and battery for a drawing, a point for the end of each half-hour."""
    every = int(DRAWN_MIN / chosen.course.step_min)
    played, battery = chosen.played, question.battery

    def points(band: list[float], factor: float = 1.0) -> list[float]:
        return [round(value * factor, 1) for value in band[every - 1 :: every]]

    percent = 100 / battery.capacity_wh
    return {
        "step_min": DRAWN_MIN,
        "tank_l": points(played.tank_l),
        "tank_high_l": points(played.tank_high_l),
        "battery_percent": points(played.charge_wh, percent),
        "battery_low_percent": points(played.charge_low_wh, percent),
        "sun_w": [round(watts) for watts in question.sun_w],
        "blocked": [
            {"from": iso_minute(each.from_s), "to": iso_minute(each.to_s), "why": each.why} for each in question.blocked
        ],
        "tank_now_l": round(question.tank.now_l, 1),
        "battery_now_percent": round(battery.now_percent, 1),
        "capacity_l": question.tank.capacity_l,
        "reserve_l": question.tank.reserve_l,
        "min_percent": battery.min_percent,
        "battery_from": asked.rests_on["battery"],
    }
