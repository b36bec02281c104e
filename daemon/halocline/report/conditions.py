"""What is wrong with the computer's side, as opposed to the plant: each condition with an id, what it means and what
to do, so that every face can tell them apart and none has to guess from a sentence."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from halocline.config import Problem
from halocline.report import texts
from halocline.report.public_types import ConditionId, PublicCondition

LINK_IDS = frozenset({"control_configuration", "control_cannot_start", "control_down", "control_silent"})
"""Exactly one of these holds while nothing is heard from control, none otherwise."""


@dataclass(frozen=True, slots=True)
class Condition:
    """One thing wrong; `problems` lists a configuration's, key by key."""

    id: ConditionId
    means: str
    do: str
    problems: tuple[Problem, ...] = ()

    @property
    def lines(self) -> list[str]:
        """The same for people who read lines: one for each thing to mend."""
        if self.problems:
            return [str(problem) for problem in self.problems]
        return [f"{self.means} {self.do}".rstrip()]

    def message(self) -> PublicCondition:
        """As the API tells it."""
        return {
            "id": self.id,
            "means": self.means,
            "do": self.do,
            "problems": [
                {
                    "file": problem.file,
                    "line": problem.line,
                    "key": problem.key,
                    "found": problem.found,
                    "allowed": problem.allowed,
                    "do": problem.remedy,
                }
                for problem in self.problems
            ],
        }


@dataclass(frozen=True, slots=True)
class Hearing:
    """How control is heard: how long ago (None: never), and whether its socket stands."""

    lost: bool
    age_s: float | None
    there: bool


class Watch:
    """What is wrong with control and with the settings now, gravest first. `control_problems` says what is wrong with
    control's tables in the file as it is now, `last_words` what control said when it could not start; `standing` is
    true for as long as this process lives."""

    def __init__(
        self,
        *,
        standing: Sequence[Condition] = (),
        control_problems: Callable[[], Sequence[Problem]] = tuple,
        last_words: Callable[[], Sequence[str]] = tuple,
    ) -> None:
        self._standing = tuple(standing)
        self._control_problems = control_problems
        self._last_words = last_words

    def __call__(self, hearing: Hearing) -> tuple[Condition, ...]:
        """The conditions of this moment."""
        return (*self._of_control(hearing), *self._standing)

    def _of_control(self, hearing: Hearing) -> tuple[Condition, ...]:
        problems = tuple(self._control_problems())
        if not hearing.lost:
            return (_configuration(problems, running=True),) if problems else ()
        if hearing.there:
            return (_silent(hearing.age_s),)
        if problems:
            return (_configuration(problems, running=False),)
        said = tuple(self._last_words())
        if said:
            means = texts.CONTROL_CANNOT_START.format(said="; ".join(said))
            return (Condition("control_cannot_start", means, texts.CONTROL_CANNOT_START_DO),)
        return (not_running(hearing.age_s),)


def not_running(age_s: float | None) -> Condition:
    """Nothing answers where control should be; nothing has been heard for `age_s`, or ever."""
    means = texts.CONTROL_NEVER if age_s is None else texts.CONTROL_DOWN.format(age=texts.age(age_s))
    return Condition("control_down", means, texts.CONTROL_DOWN_DO)


def report_configuration(problems: Sequence[Problem]) -> Condition:
    """Report's own tables are broken, and defaults serve."""
    return _to_mend("report_configuration", texts.REPORT_CONFIGURATION, texts.REPORT_CONFIGURATION_DO, problems)


def certificate_condition(problems: Sequence[Problem], *, served: bool) -> Condition:
    """The owner's certificate wants a person; `served` when https is spoken all the same."""
    if served:
        return _to_mend("certificate", texts.CERTIFICATE_WARNED, texts.CERTIFICATE_WARNED_DO, problems)
    return _to_mend("certificate", texts.CERTIFICATE_REFUSED, texts.CERTIFICATE_REFUSED_DO, problems)


def _configuration(problems: Sequence[Problem], *, running: bool) -> Condition:
    if running:
        return _to_mend("configuration_next", texts.CONFIGURATION_NEXT, texts.CONFIGURATION_DO, problems)
    return _to_mend("control_configuration", texts.CONTROL_CONFIGURATION, texts.CONFIGURATION_DO, problems)


def _to_mend(name: ConditionId, means: str, remedy: str, problems: Sequence[Problem]) -> Condition:
    file = problems[0].file if problems else texts.CONFIGURATION_FILE
    return Condition(name, means, remedy.format(file=file), tuple(problems))


def _silent(age_s: float | None) -> Condition:
    means = texts.CONTROL_STARTING if age_s is None else texts.CONTROL_SILENT.format(age=texts.age(age_s))
    return Condition("control_silent", means, texts.CONTROL_SILENT_DO)
