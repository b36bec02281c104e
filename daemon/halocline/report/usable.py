"""What report serves with when something is wrong with its settings or its certificate."""

from collections.abc import Sequence
from dataclasses import dataclass

from halocline.config import Problem
from halocline.plant.settings import ReportSettings
from halocline.report.conditions import Condition, certificate_condition, report_configuration
from halocline.report.http.certificate import examine


@dataclass(frozen=True, slots=True)
class Usable:
    """Settings to serve with, what is wrong with those that were given, and whether a PIN would cross in the clear
    although https was wanted."""

    settings: ReportSettings
    standing: tuple[Condition, ...] = ()
    pin_closed: bool = False

    @property
    def https(self) -> bool:
        """Whether https is spoken."""
        return bool(self.settings.http.certificate) and not self.pin_closed


def usable(given: ReportSettings | Sequence[Problem], *, config_name: str, https_wanted: bool, wall_s: float) -> Usable:
    """Settings to serve with, from those that were given or from the list of what is wrong with them. `wall_s`:
    Unix seconds."""
    if not isinstance(given, ReportSettings):
        return Usable(ReportSettings(), (report_configuration(given),), https_wanted)
    examined = examine(given.http, config_name, wall_s)
    if examined.refused:
        return Usable(given, (certificate_condition(examined.refused, served=False),), pin_closed=True)
    if examined.warned:
        return Usable(given, (certificate_condition(examined.warned, served=True),))
    return Usable(given)
