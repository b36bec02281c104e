"""How a command is defined: a dataclass whose fields carry their own meaning and bounds, as those of settings do."""

from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from enum import StrEnum
from typing import Any, ClassVar, TypeVar, dataclass_transform, get_args, get_type_hints

LONGEST_TEXT = 500
LONGEST_NAME = 80
MOST_ITEMS = 20
MOST_POINTS = 4

Point = list[float | None]
"""What is true now; or what was shown (None: now) and what was true; or bar, °C, L/h and mg/L of the membrane."""


class OverMqtt(StrEnum):
    """Whether a broker may bring it. What can move machinery or undo a protection wants a person whose presence is
    known: it never comes from a broker, whatever the owner writes."""

    ALWAYS = "always"
    NAMED = "if the owner names it"
    NEVER = "never"


class OnPage(StrEnum):
    """What the page's API asks for, from other devices than the boat's computer."""

    OPEN = "nothing"
    SESSION = "a session"
    PIN_AGAIN = "a session, and the PIN once more"


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e9


def _is_point(value: Any) -> bool:
    return isinstance(value, list) and 1 <= len(value) <= MOST_POINTS and all(n is None or _is_number(n) for n in value)


@dataclass(frozen=True, slots=True)
class Form:
    """What a value of one type looks like on the link: in a word, in words, and as a test."""

    short: str
    wanted: str
    fits: Callable[[Any], bool]


FORMS: Mapping[Any, Form] = {
    float: Form("number", "a number", _is_number),
    str: Form("text", "text", lambda value: isinstance(value, str) and len(value) <= LONGEST_TEXT),
    list[str]: Form(
        "texts",
        "a list of texts",
        lambda value: isinstance(value, list) and all(isinstance(item, str) for item in value),
    ),
    bool: Form("flag", "true or false", lambda value: isinstance(value, bool)),
    list[Point]: Form(
        "points",
        "a list of points, each a list of numbers: what was shown and what was true, or what is true now",
        lambda value: isinstance(value, list) and len(value) <= MOST_POINTS and all(map(_is_point, value)),
    ),
}
"""By the type that an argument is declared with."""


def argument(
    doc: str,
    *,
    default: Any = MISSING,
    most: float | None = None,
    longest: int = LONGEST_TEXT,
    a_name: bool = False,
    pattern: str | None = None,
    choices: tuple[str, ...] = (),
    positional: bool = False,
    from_control: bool = False,
    from_zero: bool = False,
) -> Any:
    """A field of a command. Without a default it must be given; a number is above 0 and at most `most`.

    from_zero: the number may be 0 too. longest: characters of a text. a_name: the text, or each in the list, is an id
    or a name: short, never empty. positional: on the command line it stands without `--`. from_control: control adds it
    itself, no client gives it.
    """
    metadata: Mapping[str, Any] = {
        "doc": doc,
        "most": most,
        "longest": LONGEST_NAME if a_name else longest,
        "shortest": 1 if a_name else 0,
        "pattern": pattern,
        "choices": choices,
        "positional": positional,
        "from_control": from_control,
        "from_zero": from_zero,
    }
    return field(default=default, metadata=metadata)


@dataclass(frozen=True, slots=True)
class Argument:
    """One argument of a command, as its field describes it."""

    name: str
    type: Any
    default: Any
    doc: str
    most: float | None
    longest: int
    shortest: int
    pattern: str | None
    choices: tuple[str, ...]
    positional: bool
    from_control: bool
    from_zero: bool

    @property
    def form(self) -> Form:
        """What a value looks like."""
        return FORMS[self.type]

    @property
    def needed(self) -> bool:
        """Whether it must be given."""
        return self.default is MISSING

    @property
    def text(self) -> str:
        """What it is, with what counts where it is left out."""
        return self.doc if self.needed or not isinstance(self.default, float) else f"{self.doc} ({self.default:g})"


@dataclass(frozen=True, kw_only=True)
class Order:
    """A command as it is given."""

    definition: ClassVar["Definition"]

    def message(self) -> dict[str, Any]:
        """As the link carries it: its name beside what is given."""
        given = {argument.name: getattr(self, argument.name) for argument in self.definition.arguments.values()}
        named = {"command": self.definition.name}
        return named | {name: value for name, value in given.items() if value is not None}


OneOrder = TypeVar("OneOrder", bound=Order)


@dataclass(frozen=True, slots=True)
class Definition:
    """What is known of a command beside its arguments."""

    name: str
    order: type[Order]
    does: str
    mqtt: OverMqtt
    page: OnPage
    takes_more: bool
    own_parser: bool
    arguments: Mapping[str, Argument]

    @property
    def sentence(self) -> str:
        """What it does, as a sentence."""
        return f"{self.does[:1].upper()}{self.does[1:]}."

    @property
    def typed(self) -> str:
        """Its name on the command line."""
        return self.name.replace("_", "-")

    @property
    def given(self) -> tuple[Argument, ...]:
        """The arguments that a client may give."""
        return tuple(argument for argument in self.arguments.values() if not argument.from_control)


DEFINED: dict[str, Definition] = {}
"""What `command` has made so far."""


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(argument,))
def command(
    name: str,
    *,
    mqtt: OverMqtt = OverMqtt.NEVER,
    page: OnPage = OnPage.SESSION,
    takes_more: bool = False,
    own_parser: bool = False,
) -> Callable[[type[OneOrder]], type[OneOrder]]:
    """Makes a class of arguments the command `name`. takes_more: beside its own it carries what only the simulated
    boat can check. own_parser: its line does more than to give it, so a module of `cli` parses it."""

    def define(cls: type[OneOrder]) -> type[OneOrder]:
        made = dataclass(frozen=True, kw_only=True)(cls)
        hints = get_type_hints(made)
        arguments = {
            one.name: Argument(name=one.name, type=_bare(hints[one.name]), default=one.default, **one.metadata)
            for one in fields(made)
        }
        made.definition = Definition(name, made, str(made.__doc__), mqtt, page, takes_more, own_parser, arguments)
        DEFINED[name] = made.definition
        return made

    return define


def _bare(hint: Any) -> Any:
    """The type without its None."""
    return hint if hint in FORMS else next(part for part in get_args(hint) if part in FORMS)
