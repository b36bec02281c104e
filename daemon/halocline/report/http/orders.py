"""The commands the API takes, each with its arguments."""

from typing import Annotated, Literal

from pydantic import AfterValidator, ConfigDict, Field

from halocline.plant.vocabulary import PURGES
from halocline.report.http.models import Name, Pin, StrictModel, Text


def _known_preservative(name: str) -> str:
    """Raises ValueError for what no first water is known for."""
    if name not in PURGES:
        raise ValueError(f"has to be one of {', '.join(PURGES)}")
    return name


Litres = Annotated[float, Field(gt=0, le=20_000)]
Minutes = Annotated[float, Field(gt=0, le=7 * 24 * 60)]
Preservative = Annotated[
    str, AfterValidator(_known_preservative), Field(json_schema_extra={"enum": list(PURGES)}, max_length=80)
]
UNTIL = r"^([01]\d|2[0-3]):[0-5]\d$|^\d{4}-\d\d-\d\dT([01]\d|2[0-3]):[0-5]\d(:[0-5]\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)?$"


class Order(StrictModel):
    """What all commands have in common. `pin` is asked again by the gravest ones."""

    pin: Pin | None = None


class Start(Order):
    """Make water: so many litres into the tank, so many minutes of producing, until a time, or until full."""

    command: Literal["start"]
    litres: Litres | None = None
    minutes: Minutes | None = None
    until: Annotated[str, Field(pattern=UNTIL)] | None = None
    confirmed: Annotated[list[Name], Field(max_length=20)] | None = None


class Stop(Order):
    """Stop in order."""

    command: Literal["stop"]


class Flush(Order):
    """Flush with fresh water."""

    command: Literal["flush"]
    litres: Litres | None = None


class Acknowledge(Order):
    """One alarm, or all."""

    command: Literal["acknowledge"]
    alarm: Name | None = None


class Reset(Order):
    """Out of `tripped`."""

    command: Literal["reset"]


class Silence(Order):
    """The buzzer."""

    command: Literal["silence"]


class Shelve(Order):
    """An alarm that only warns, for a while."""

    command: Literal["shelve"]
    alarm: Name
    minutes: Minutes | None = None


class LayUp(Order):
    """The plant is preserved."""

    command: Literal["lay_up"]
    preservative: Preservative | None = None


class Recommission(Order):
    """Out of lay-up."""

    command: Literal["recommission"]


class Bench(Order):
    """Try one output."""

    command: Literal["bench"]
    output: Name
    seconds: Annotated[float, Field(gt=0, le=600)] | None = None


class ServiceLock(Order):
    """Somebody has a housing open."""

    command: Literal["service_lock"]
    name: Name
    reason: Text


class ServiceUnlock(Order):
    """The housing is closed again."""

    command: Literal["service_unlock"]


CalibrationPoint = Annotated[list[float | None], Field(min_length=1, max_length=4)]
"""What is true now; or what was shown (null: now) and what was true; or bar, °C, L/h and mg/L of the membrane."""


class Calibrate(Order):
    """A channel against known values, or the membrane against what it does now."""

    command: Literal["calibrate"]
    channel: Name | None = None
    membrane: bool | None = None
    points: Annotated[list[CalibrationPoint], Field(max_length=4)] | None = None
    configured: bool | None = None
    initials: Annotated[str, Field(max_length=10)] | None = None


class Log(Order):
    """Work done by hand, or anything worth writing down."""

    command: Literal["log"]
    kind: Name
    note: Text | None = None
    alarm: Name | None = None
    confirmed: Annotated[list[Name], Field(max_length=20)] | None = None


class Fault(Order):
    """On a simulated boat: break something."""

    model_config = ConfigDict(extra="allow", strict=True, allow_inf_nan=False)
    __pydantic_extra__: dict[str, float | int | str | bool]

    command: Literal["fault"]
    fault: Name
    clear: bool | None = None


AnyOrder = Annotated[
    Start
    | Stop
    | Flush
    | Acknowledge
    | Reset
    | Silence
    | Shelve
    | LayUp
    | Recommission
    | Bench
    | ServiceLock
    | ServiceUnlock
    | Calibrate
    | Log
    | Fault,
    Field(discriminator="command"),
]
