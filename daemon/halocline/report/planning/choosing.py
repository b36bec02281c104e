"""From the question to the runs: the cheapest by quarters of an hour, moved into the sun, and trimmed to minutes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil

from halocline.report.planning import play as playing
from halocline.report.planning import solver
from halocline.report.planning.course import Course, course_of
from halocline.report.planning.play import Played, Run, play
from halocline.report.planning.question import Question

MARGIN = 0.005
"""Water that is not counted on: two good models of one membrane differ by so much."""
SAME_WH = 1.0
"""Prices that make no difference: then the plan that leaves more in the battery with little sun is the better one."""
ROOM_L = 1.0
"""The quarters of an hour may overfill the tank by this: minutes are trimmed off afterwards, where a quarter of an hour
less would be much less water."""
MOVED_MIN = 30.0
ATTEMPTS = 4


@dataclass(frozen=True, slots=True)
class Chosen:
    """The runs, and whether they keep everything."""

    runs: list[Run]
    feasible: bool
    played: Played
    course: Course


def choose(question: Question) -> Chosen:
    """The best runs; where none keep everything, those that fall short the least. Raises `Unaskable`.

    A quarter of an hour may hide minutes in which a rule is broken; then the question is asked again a little stricter.
    """
    fine, coarse = course_of(question, playing.STEP_MIN), course_of(question, solver.STEP_MIN)
    runs: list[Run] = []
    feasible, asked, room_l = False, question, ROOM_L
    for _ in range(ATTEMPTS):
        runs, feasible = _solved(asked, coarse, room_l)
        runs = _moved(question, coarse, runs)
        runs = _trimmed(question, fine, runs) if feasible else runs
        played = play(question, fine, runs)
        if not (played.under_wh or played.over_l):
            break
        asked = asked if room_l else _stricter(asked, played)
        room_l = 0.0
    else:
        runs, feasible = [], False
    return Chosen(runs, feasible, play(question, fine, runs), fine)


def binding(question: Question, rules: Sequence[str]) -> list[str]:
    """Of these rules each without which alone everything could be kept; else the fewest first ones that do together;
    else none."""
    course = course_of(question, solver.STEP_MIN)

    def possible(without: Sequence[str]) -> bool:
        return solver.possible(solver.Bounds(question, course, frozenset(without)))

    alone = [rule for rule in rules if possible([rule])]
    if alone:
        return alone
    together = (rules[: many + 1] for many in range(1, len(rules)))
    return list(next((found for found in together if possible(found)), ()))


def _solved(question: Question, coarse: Course, room_l: float) -> tuple[list[Run], bool]:
    found = solver.cheapest(solver.Bounds(question, coarse, room_l=room_l), hard=True)
    least = found or solver.cheapest(solver.Bounds(question, coarse), hard=False)
    spans = [] if least is None else least.spans
    return [Run(s.start * coarse.step_min, s.length * coarse.step_min) for s in spans], found is not None


def _stricter(question: Question, played: Played) -> Question:
    battery, tank = question.battery, question.tank
    percent = battery.min_percent + 100 * (played.under_wh + 1) / battery.capacity_wh
    full = tank.full_percent - 100 * played.over_l / tank.capacity_l
    return replace(
        question,
        battery=replace(battery, min_percent=min(percent, battery.max_percent)),
        tank=replace(tank, full_percent=full),
    )


def _moved(question: Question, course: Course, runs: list[Run]) -> list[Run]:
    """Each run where the battery stays fullest with little sun, among starts of the same price."""
    best = play(question, course, runs)
    for place in range(len(runs)):
        for start_min in _other_starts(question, course, runs, place):
            tried = [*runs[:place], Run(start_min, runs[place].minutes), *runs[place + 1 :]]
            played = play(question, course, tried)
            fuller = min(played.charge_low_wh) > min(best.charge_low_wh) + SAME_WH
            if fuller and _as_good(played, best) and _may_start(question, course, played, tried):
                runs, best = tried, played
    return runs


def _as_good(played: Played, best: Played) -> bool:
    broken = played.under_wh > best.under_wh or played.over_l > best.over_l
    short = played.short_reserve_l > best.short_reserve_l or played.short_end_l > best.short_end_l
    return not broken and not short and played.price <= best.price + SAME_WH


def _may_start(question: Question, course: Course, played: Played, runs: Sequence[Run]) -> bool:
    """Whether the charge allows each start."""
    battery = question.battery
    charge = [battery.capacity_wh * battery.now_percent / 100, *played.charge_wh]
    least = battery.capacity_wh * battery.start_percent / 100
    return all(charge[int(run.start_min / course.step_min)] >= least for run in runs)


def _other_starts(question: Question, course: Course, runs: Sequence[Run], place: int) -> Iterator[float]:
    """Starts for a run between its neighbours, outside of what is forbidden."""
    run, step = runs[place], course.step_min
    start = runs[place - 1].end_min + _gap_min(question, course, runs[place - 1]) if place else 0.0
    after = runs[place + 1].start_min if place + 1 < len(runs) else course.steps * step
    while start + run.minutes + _gap_min(question, course, run) <= after:
        if not any(course.blocked[int(start / step) : int((start + run.minutes) / step)]):
            yield start
        start += MOVED_MIN


def _gap_min(question: Question, course: Course, run: Run) -> float:
    """The least time after a run: the motor's rest, its starts an hour."""
    plant, step = question.plant, course.step_min
    return ceil(max(plant.motor_rest_minutes, 60 / plant.starts_per_hour - run.minutes, step) / step - 1e-9) * step


def _trimmed(question: Question, course: Course, runs: list[Run]) -> list[Run]:
    """Minutes taken off the ends of runs where they are not needed and cost something, or do not fit into the tank."""
    plant = question.plant
    least = plant.start_up_minutes + plant.min_run_minutes
    margin = 0.0 if play(question, course, runs).over_l else MARGIN
    best = play(question, course, runs, margin=margin)
    for place in range(len(runs) - 1, -1, -1):
        while (minutes := runs[place].minutes - (1.0 if best.over_l else playing.STEP_MIN)) >= least:
            run = Run(runs[place].start_min, minutes)
            tried = [*runs[:place], run, *runs[place + 1 :]]
            played = play(question, course, tried, margin=margin)
            better = played.over_l < best.over_l or (played.keeps and played.price < best.price - SAME_WH)
            if not better or played.short_end_l or played.short_reserve_l:
                break
            runs, best = tried, played
    return runs
