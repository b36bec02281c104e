"""The boat's own plan: asked anew every few minutes, kept while it holds, told as one message to every face."""

import json
import threading
import time
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from halocline.plant import words
from halocline.plant.regular_file import OURS_MOST_BYTES, read_regular
from halocline.plant.settings import PlanSettings, UnitSettings
from halocline.report.database_open import StoreError, reading
from halocline.report.planning.answer import answer_of, iso_minute
from halocline.report.planning.boat import Asked, NotPlannable, Remembered, boat_question
from halocline.report.planning.choosing import Chosen, choose
from halocline.report.planning.keeping import Shown, kept
from halocline.report.planning.question import Forecast, Question, Unaskable, forecast_of, question_of
from halocline.report.planning.remembered import remembered
from halocline.report.watched_file import WatchedFile

ANEW_S = 300.0
"""A plan is a matter of hours; asked more often the small computer would do little else."""
DRAWN_MIN = 30.0
"""One point of the bands that the page draws."""

Told = dict[str, Any]


def offset_of(wall_s: float) -> float:
    """What the clock of the boat's computer is ahead of UTC, s."""
    offset = datetime.fromtimestamp(wall_s).astimezone().utcoffset()
    return 0.0 if offset is None else offset.total_seconds()


def read_forecast(path: Path) -> tuple[Forecast | None, tuple[str, ...]]:
    """The forecast in a file, or why it cannot be used."""
    try:
        return forecast_of(json.loads(read_regular(path, OURS_MOST_BYTES))), ()
    except Unaskable as error:
        return None, error.lines
    except OSError as error:
        return None, (error.strerror or "it cannot be read",)
    except (ValueError, RecursionError):
        return None, ("it is no JSON",)


class Planner:
    """Used by several threads: a second one waits for the first one's plan instead of making it again."""

    def __init__(
        self, record: Path | None, settings: PlanSettings, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._record, self._settings, self._clock = record, settings, clock
        self._forecast = WatchedFile(Path(settings.forecast), read_forecast) if settings.forecast else None
        self._lock = threading.Lock()
        self._made: tuple[float, Told] | None = None
        self._shown: Shown | None = None

    def message(self, now: Mapping[str, Any] | None, units: UnitSettings, wall_s: float) -> Told:
        """The plan of the days ahead with its words; `missing` says in words why there is none."""
        with self._lock:
            at_s = self._clock()
            known = self._made
            if known is None or at_s - known[0] >= ANEW_S or (known[1]["answer"] is None):
                self._made = known = (at_s, self._plan(now, units, wall_s))
            return known[1]

    def _plan(self, now: Mapping[str, Any] | None, units: UnitSettings, wall_s: float) -> Told:
        began, offset_s = time.perf_counter(), offset_of(wall_s)
        forecast, problems = (None, ()) if self._forecast is None else self._forecast()
        told: Told = {
            "answer": None,
            "missing": [],
            "problems": [words.forecast_problem(problem) for problem in problems],
            "says": "",
            "changed": None,
            "reasons": [],
            "what_ifs": [],
            "rests_on": [],
            "drawn": None,
        }
        try:
            asked = boat_question(now, self._remember(wall_s, offset_s), self._settings, forecast, wall_s, offset_s)
            question = question_of(asked.message)
            chosen, self._shown = kept(self._shown, question, choose(question))
        except NotPlannable as error:
            return {**told, "missing": [words.plan_needs(each) for each in error.ids]}
        except Unaskable as error:
            return {**told, "missing": list(error.lines)}
        answer = answer_of(question, chosen, began)
        return {
            **told,
            "answer": answer,
            "says": words.next_run_text(answer, units),
            "changed": words.plan_change(self._shown.changed),
            "reasons": words.reason_texts(answer, units),
            "what_ifs": words.what_if_texts(answer, units),
            "rests_on": words.plan_sources(asked.rests_on),
            "drawn": drawn(question, chosen, asked),
        }

    def _remember(self, wall_s: float, offset_s: float) -> Remembered:
        if self._record is None:
            return Remembered()
        try:
            with reading(self._record) as connection:
                return remembered(connection, wall_s, offset_s)
        except StoreError:
            return Remembered()


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
