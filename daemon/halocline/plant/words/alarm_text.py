"""The form of one alarm's words."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class AlarmText:
    """What people read about one alarm; templates as in `filling`.

    name: a title. brief: a clause that says what was measured, fit to follow "because". means: what that says about
    the plant. ignored: what happens if nobody acts. do: the steps to take. look: the first of them, a few words.
    opens_regulator: `look` says to open the regulator. breaker: `do` says to switch the breaker off.
    """

    name: str
    brief: str
    means: str
    ignored: str
    do: str
    look: str
    opens_regulator: bool = False
    breaker: bool = False
