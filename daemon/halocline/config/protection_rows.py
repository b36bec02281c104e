"""The table of protections with one boat's figures, as rows of a document."""

from collections.abc import Iterator, Sequence

from halocline.config.checks.lookup import with_unit
from halocline.config.checks.protecting import ABOARD, Part, Parts, Protection
from halocline.config.checks.protections import PROTECTIONS
from halocline.config.problems import number
from halocline.plant.settings import Settings

Row = Sequence[str]

HEAD: Row = ("protects", "causes that act", "stands", "gets here", "made of", "from", "otherwise")


def rows(settings: Settings) -> Iterator[Row]:
    """Of each protection: what the protected thing stands, what it gets to stand here, and what happens otherwise."""
    for protection in PROTECTIONS:
        stands, gets, parts = _figures(settings, protection)
        causes = ", ".join(f"`{cause}`" for cause in protection.causes) or "–"
        made_of = "; ".join(_term(part) for part in parts if part.amount) or "–"
        yield protection.what, causes, stands, gets, made_of, protection.source, protection.otherwise


def _figures(settings: Settings, protection: Protection) -> tuple[str, str, Parts]:
    unit, parts = protection.unit, protection.parts(settings, ABOARD)
    if parts is None:
        return _amount(protection.limit(settings), unit), "not fitted", ()
    if protection.stands == 0.0:  # what is needed less what is set: both tell more than their difference
        needed = sum(part.amount for part in parts if part.amount > 0.0)
        given = -sum(part.amount for part in parts if part.amount < 0.0)
        return f"≥ {_amount(needed, unit)}", _amount(given, unit), parts
    gets = sum(part.amount for part in parts)
    return f"≤ {_amount(protection.limit(settings), unit)}", _amount(gets, unit), parts


def _term(part: Part) -> str:
    return f"{part.what} {number(round(abs(part.amount), 3))}" + (f" (`{part.key}`)" if part.key else "")


def _amount(value: float, unit: str) -> str:
    return with_unit(float(f"{value:.3g}"), "") + (f" {unit}" if unit else "")
