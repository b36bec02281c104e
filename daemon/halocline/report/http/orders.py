"""The commands as the API takes them: a model of each definition, stricter than the link, with the PIN beside it."""

from collections.abc import Callable, Mapping
from functools import reduce
from operator import or_
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import AfterValidator, ConfigDict, Field, create_model

from halocline.plant.command_definitions import COMMANDS
from halocline.plant.command_fields import LONGEST_NAME, MOST_ITEMS, MOST_POINTS, Argument, Definition, Point
from halocline.report.http.models import Name, Pin, StrictModel


class Order(StrictModel):
    """What all commands have in common. `pin` is asked again by the gravest ones."""

    command: str
    pin: Pin | None = None


class OpenOrder(Order):
    """A command that carries more than is defined."""

    model_config = ConfigDict(extra="allow", strict=True, allow_inf_nan=False)
    __pydantic_extra__: dict[str, float | int | str | bool]


def _text(argument: Argument) -> Any:
    if argument.choices:
        return Annotated[
            str,
            AfterValidator(_one_of(argument.choices)),
            Field(json_schema_extra={"enum": list(argument.choices)}, max_length=LONGEST_NAME),
        ]
    bounds = Field(min_length=argument.shortest or None, max_length=argument.longest, pattern=argument.pattern)
    return Annotated[str, bounds]


def _one_of(choices: tuple[str, ...]) -> Callable[[str], str]:
    def known(text: str) -> str:
        if text not in choices:
            raise ValueError(f"has to be one of {', '.join(choices)}")
        return text

    return known


CalibrationPoint = Annotated[Point, Field(min_length=1, max_length=MOST_POINTS)]

TYPES: Mapping[Any, Callable[[Argument], Any]] = {
    float: lambda argument: Annotated[
        float, Field(ge=0, le=argument.most) if argument.from_zero else Field(gt=0, le=argument.most)
    ],
    str: _text,
    list[str]: lambda _argument: Annotated[list[Name], Field(max_length=MOST_ITEMS)],
    bool: lambda _argument: bool,
    list[Point]: lambda _argument: Annotated[list[CalibrationPoint], Field(max_length=MOST_POINTS)],
}
"""By the type an argument is declared with."""


def model_of(definition: Definition) -> type[Order]:
    """The model of one command. What is left out is left to control, so a default is none of the model's."""
    taken: dict[str, Any] = {"command": (Literal[definition.name], ...)}
    for one in definition.given:
        kind, about = TYPES[one.type](one), Field(description=one.text)
        taken[one.name] = (
            Annotated[kind, about] if one.needed else Annotated[kind | None, about],
            ... if one.needed else None,
        )
    base = OpenOrder if definition.takes_more else Order
    return create_model(definition.order.__name__, __base__=base, __doc__=definition.sentence, **taken)


if TYPE_CHECKING:
    AnyOrder = Order
else:
    AnyOrder = Annotated[reduce(or_, map(model_of, COMMANDS.values())), Field(discriminator="command")]
