"""Tables of a file made into settings dataclasses: unknown, missing and unfit keys all reported at once.

A field that could not be read stays unset, so that what depends on it is not judged on a guess; such a
dataclass is handed to the consistency checks only and never leaves this package.
"""

from collections.abc import Mapping, Sequence
from dataclasses import Field, fields
from functools import cache
from typing import Any, TypeVar, cast, get_type_hints

from halocline.config.problems import Finding, dotted, nearest, shown
from halocline.config.values import UnfitError, allowed, convert, has_default
from halocline.plant.former_names import successor
from halocline.plant.sensors import INPUT_KINDS, AnalogueInput, ContactInput, Input, OutputPin
from halocline.plant.vocabulary import CHANNELS, CONTACTS, OUTPUTS

T = TypeVar("T")
Table = Mapping[str, object]
Findings = list[Finding]

SECRETS = frozenset({"password", "pin_code", "token", "secret"})


@cache
def hints(cls: type) -> dict[str, Any]:
    """The types of a dataclass's fields."""
    return get_type_hints(cls)


def as_table(raw: object, key: str, findings: Findings) -> Table | None:
    """The table under a key: empty where it is left out, None (and a finding) where it is no table."""
    if raw is None:
        return {}
    if isinstance(raw, dict):
        return raw
    findings.append(Finding(key, shown(raw), "a table", f"write [{key}] on a line of its own and its keys below"))
    return None


def read_table(cls: type[T], raw: object, key: str, findings: Findings, also: Sequence[str] = ()) -> T:
    """The dataclass from the table under `key`; the table may have the keys in `also` besides."""
    table = as_table(raw, key, findings)
    if table is None:
        return unset(cls)
    known = [field.name for field in fields(cls)]  # type: ignore[arg-type]
    report_unknown(table, [*also, *known], key, findings)
    values = {}
    for field in fields(cls):  # type: ignore[arg-type]
        try:
            values[field.name] = _read_field(cls, field, table)
        except UnfitError as unfit:
            where = dotted(*key.split("."), field.name)
            findings.append(Finding(where, unfit.found, unfit.allowed, unfit.remedy))
    return build(cls, values)


def _read_field(cls: type, field: Field[Any], table: Table) -> Any:
    hint = hints(cls)[field.name]
    if field.name in table:
        return convert(field, hint, table[field.name])
    if has_default(field):
        return field.default
    raise UnfitError("nothing", allowed(field, hint), f"add the key: {field.metadata['doc']}")


def build(cls: type[T], values: Mapping[str, Any]) -> T:
    """The dataclass; fields without a value stay unset and raise AttributeError when they are asked for."""
    instance = unset(cls)
    for name, value in values.items():
        object.__setattr__(instance, name, value)
    return instance


def unset(cls: type[T]) -> T:
    """An instance of which nothing is known but its kind."""
    return object.__new__(cls)


def report_unknown(table: Table, known: Sequence[str], key: str, findings: Findings) -> None:
    """A finding for every key the table should not have, with the nearest one it could have."""
    for name in table:
        if name not in known:
            findings.append(_unknown(name, known, key))


def _unknown(name: str, known: Sequence[str], key: str) -> Finding:
    where = dotted(*key.split("."), name)
    near, present = nearest(name, known), successor(name, known)
    if present:
        remedy = f"renamed: write {present}"
    elif name.lower() in SECRETS:
        remedy = "move it to report.secrets.toml, which only the report process may read"
    else:
        remedy = f"did you mean {near}?" if near else "remove it"
    return Finding(where, "an unknown key", f"the keys of [{key}]", remedy)


def read_inputs(raw: object, findings: Findings) -> tuple[dict[str, Input], dict[str, ContactInput]]:
    """The channels and the contacts of the inputs table."""
    channels: dict[str, Input] = {}
    contacts: dict[str, ContactInput] = {}
    for name, wiring in _named(raw, "inputs", (*CHANNELS, *CONTACTS), "a channel or contact", findings):
        if name in CONTACTS:
            contacts[name] = read_table(ContactInput, wiring, f"inputs.{name}", findings)
        else:
            channels[name] = _read_channel(wiring, f"inputs.{name}", findings)
    return channels, contacts


def read_outputs(raw: object, findings: Findings) -> dict[str, OutputPin]:
    """The outputs table."""
    named = _named(raw, "outputs", OUTPUTS, "an output", findings)
    return {name: read_table(OutputPin, wiring, f"outputs.{name}", findings) for name, wiring in named}


def _named(raw: object, key: str, known: Sequence[str], noun: str, findings: Findings) -> list[tuple[str, object]]:
    table = as_table(raw, key, findings) or {}
    for name in table:
        if name not in known:
            near, present = nearest(name, known), successor(name, known)
            remedy = f"did you mean {key}.{near}?" if near else "remove it"
            remedy = f"renamed: write {key}.{present}" if present else remedy
            findings.append(Finding(dotted(key, name), "an unknown name", f"the name of {noun}", remedy))
    return [(name, wiring) for name, wiring in table.items() if name in known]


def _read_channel(wiring: object, key: str, findings: Findings) -> Input:
    unknown = cast(Input, unset(AnalogueInput))
    table = as_table(wiring, key, findings)
    if table is None:
        return unknown
    kind = table.get("kind")
    if isinstance(kind, str) and kind in INPUT_KINDS:
        return read_table(INPUT_KINDS[kind], table, key, findings, also=("kind",))
    near = nearest(kind, list(INPUT_KINDS)) if isinstance(kind, str) else None
    remedy = f'did you mean "{near}"?' if near else "choose one (4–20 mA: current_loop)"
    found = "nothing" if kind is None else shown(kind)
    findings.append(Finding(f"{key}.kind", found, _words(INPUT_KINDS), remedy))
    return unknown


def _words(words: Mapping[str, object]) -> str:
    listed = [f'"{word}"' for word in words]
    return f"{', '.join(listed[:-1])} or {listed[-1]}"
