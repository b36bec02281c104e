"""A plan that was shown stays shown: it changes only for a reason that is told."""

from dataclasses import dataclass, replace

from halocline.report.planning.choosing import Chosen
from halocline.report.planning.play import Run, play
from halocline.report.planning.question import Question

WORTH_WH = 100.0
"""What another plan has to spare before it takes the place of the one that was shown: less than a start costs."""
EASED_L = 2.0
"""A plan that was just enough stays while it falls short by no more: a level sensor moves by so much."""


@dataclass(frozen=True, slots=True)
class Shown:
    """Runs as moments (Unix seconds, minutes), and why they took the place of those before."""

    runs: tuple[tuple[float, float], ...]
    feasible: bool
    changed: str | None = None


def kept(before: Shown | None, question: Question, chosen: Chosen) -> tuple[Chosen, Shown]:
    """The plan to show: the one before while it still holds, else the new one with the reason for the change."""
    new = _shown(question, chosen)
    if before is None:
        return chosen, new
    ahead = [
        Run((start_s - question.from_s) / 60, minutes)
        for start_s, minutes in before.runs
        if start_s >= question.from_s and start_s + minutes * 60 <= question.to_s
    ]
    played = play(question, chosen.course, ahead)
    asked = [(start_s, minutes) for start_s, minutes in before.runs if start_s >= question.from_s]
    if list(new.runs) == asked:
        return chosen, replace(new, changed=None)
    if played.under_wh or played.over_l or _is_blocked(chosen, ahead):
        return chosen, replace(new, changed="no_longer_allowed")
    short = max(played.short_reserve_l, played.short_end_l)
    best_short = max(chosen.played.short_reserve_l, chosen.played.short_end_l)
    if short > best_short + EASED_L:
        return chosen, replace(new, changed="no_longer_enough")
    if not short and played.price > chosen.played.price + WORTH_WH:
        return chosen, replace(new, changed="cheaper")
    stays = replace(chosen, runs=ahead, played=played)
    return stays, replace(before, runs=tuple(asked), changed=None)


def _is_blocked(chosen: Chosen, runs: list[Run]) -> bool:
    course = chosen.course
    return any(
        any(course.blocked[int(run.start_min / course.step_min) : int(run.end_min / course.step_min)]) for run in runs
    )


def _shown(question: Question, chosen: Chosen) -> Shown:
    runs = tuple((question.from_s + run.start_min * 60, run.minutes) for run in chosen.runs)
    return Shown(runs, chosen.feasible)
